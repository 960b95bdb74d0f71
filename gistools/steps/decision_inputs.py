"""Survey layers, options, sources and cautions that the steps of strategy share."""

from __future__ import annotations

from gistools.steps.catalogue import Option, Reads

PLAYERS = Option("", "names of the players; without it the usual ones and those of the site")
#: how far behind the hole a backstop is looked for [m] (assumption)
BACKSTOP_M = 10.0
#: quarters of a miss about the hole location, as in :mod:`gistools.compute.decision.misses`
QUARTERS = ("short", "long", "left", "right")
MISSES = (
    "held_strokes "
    + " ".join(f"miss_{q}_{figure}" for q in QUARTERS for figure in ("pct", "strokes"))
    + " playable_misses dead_misses"
)
WINDS = Option("", "names of the winds; without it calm and those of the site")
READS = [
    Reads(n, required=n in ("greens", "tees", "terrain"))
    for n in (
        "terrain",
        "tees",
        "fairway",
        "greens",
        "pins",
        "play_lines",
        "bunkers",
        "burns",
        "water",
        "trees",
        "paths",
        "boundary",
        "mounds",
        "structures",
        "players",
        "winds",
        "zones",
    )
]
SOURCES = [
    (
        "Stauffer & Guillot 2023, arXiv 2309.00485 (stochastic shortest path over cells, clubs and aims)"
        " [second-hand]"
    ),
    "Broadie 2018 in Gelman's golf case study (putting) [published]",
]
CAUTION = (
    (
        "Expected strokes are those of a model player with the stated spread, who knows the hole and"
        " always chooses well."
    ),
)
