"""What a position is worth: outcome tables, expected strokes, approaches, ranking, brief, what-if."""
