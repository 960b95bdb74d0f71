"""Survey layers, options, sources and cautions that the steps of shots share."""

from __future__ import annotations

from gistools.steps.catalogue import Option, Reads

READS = [
    Reads("tees", required=True),
    Reads("fairway"),
    Reads("greens"),
    Reads("play_lines"),
    Reads("bunkers"),
    Reads("burns"),
    Reads("water"),
    Reads("players"),
    Reads("winds"),
    Reads("zones"),
]
SOURCES = [
    (
        "flight: this project's fit in published forms (Smits & Smith 1994, Lyu et al. 2018, 2020), see"
        " gistools.compute.ballistics.flight"
    ),
    "bounce and run: Daish 1972, Penner 2002 and 2003 [second-hand], turf numbers assumptions",
    (
        "players: course rating definitions of scratch and bogey player; bags and spread assumptions"
        " beside published rows"
    ),
]
CAUTIONS = (
    (
        "Balls, players and turf differ: carries are good to about 5 %, runs to about a third; do not set"
        " safety distances by them."
    ),
)
Names = tuple[str, ...] | None
PLAYERS = Option("", "players by name; without it scratch man, bogey man and those of the site's table")
WINDS = Option("", "winds by name; without it calm and those of the site's table")
