"""What every floor may use: errors, units, columns, grid, progress and the compiler door."""
