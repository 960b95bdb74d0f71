"""Terrain as arrays: surface, slopes, line of sight, shaping, volumes."""
