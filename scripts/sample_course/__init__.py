"""Merrowby Links, the invented sample course: the recipe of its ground and layers (see make_sample.py)."""
