"""Survey layers and sources that the steps of plan geometry share."""

from __future__ import annotations

from gistools.steps.catalogue import Reads

_TEES = Reads("tees", required=True)
_GREENS = Reads("greens", required=True)
PLAN = [_TEES, _GREENS, Reads("fairway"), Reads("play_lines")]
HAZARDS = [Reads("bunkers"), Reads("burns"), Reads("water")]
PLANE = "plane geometry; no published constant"
MEASURING = "CONGU measuring rules, appendix A, and WHS Course Rating manual [published]"
