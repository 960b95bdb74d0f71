"""Plan geometry of a hole: lines of play, lengths, carries, corridors, diagonals, zones, set-backs."""
