"""What every floor may use: errors, units, columns, grid, values, files, progress and the compiler door."""
