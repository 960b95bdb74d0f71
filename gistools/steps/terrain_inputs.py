"""Survey layers, options and sources that the steps of the ground share."""

from __future__ import annotations

from gistools.compute.terrain.defaults import AIMS
from gistools.steps.catalogue import Option, Reads

_TEES, _GREENS = Reads("tees", required=True), Reads("greens", required=True)
_TERRAIN = Reads("terrain", required=True)
PLAN = [_TEES, _GREENS, _TERRAIN, Reads("fairway"), Reads("pins"), Reads("play_lines"), Reads("zones")]
PARTED = [Reads("bunkers"), Reads("burns"), Reads("water")]
ABOVE = [Reads("mounds"), Reads("trees"), Reads("structures")]
READ = {reads.layer for reads in (*PLAN, *PARTED, *ABOVE)}
AIM = Option("", "point on the stick that the clearance is told for", choices=tuple(AIMS))
SIGHT = (
    "line of sight over bilinear ground, exact per cell [computed]",
    "flagstick 2.13 m: least height recommended, Rules of Golf [second-hand]",
    "eye 1.6 m: assumption",
)
