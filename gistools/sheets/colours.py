"""Colours that page, figures and drawings share; :mod:`gistools.sheets.styles` has those of the survey."""

from __future__ import annotations

INK, SOFT = "#1c272b", "#5b676b"
#: what is first choice or seen; a shot, and what is second; what is bad, blocked or carried; what is good
MARK, SHOT, BAD, GOOD = "#0b5563", "#54378a", "#94310c", "#1d5e3a"
PIN = "#b0413e"
#: ground in a section, its edge, and what stands on it
EARTH, EDGE, TREE = "#d8c9a6", "#6f5f4c", "#6f8b66"
