"""Plan geometry of a hole: line of play, carries, corridors, diagonals, zones, set-backs."""
