"""Changing a design: edits, variants, comparison."""
