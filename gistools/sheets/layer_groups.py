"""Groups of a site's layers in a desktop's project, their order, and which are visible in which map theme."""

from __future__ import annotations

from gistools.steps.catalogue import GROUPS, STEPS, find

OTHERS, MAPS, TABLES, GROUND = "Others", "Maps", "Tables", "Survey"
ORDER = (*GROUPS, OTHERS, MAPS, TABLES, GROUND)
#: survey layers from the top down; they and the terrain are visible at first
SURVEY = (
    "pins",
    "tees",
    "structures",
    "boundary",
    "trees",
    "paths",
    "shapes",
    "mounds",
    "bunkers",
    "burns",
    "water",
    "greens",
    "fairway",
)

THEMES = ("Client", "Strategy", "Safety", "Construction")


def theme_layers(theme: str) -> tuple[str, ...]:
    """Return the result layers that a map theme shows beside the survey, as their steps declare it."""
    return tuple(w.layer for name in STEPS for w in find(name).writes if theme in w.themes)
