"""Groups of a site's layers in a desktop's project, their order, and which are visible in which map theme."""

from __future__ import annotations

from gistools.site.schema import RESULT_PREFIX
from gistools.steps.catalogue import GROUPS, STEPS, find, step_of_layer

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


def placing(table: str, *, raster: bool, spatial: bool, chosen: str = "") -> tuple[str, str, bool]:
    """Return the title of a layer, its group, and whether it is switched on first.

    ``chosen`` says in the title which rows are shown.
    """
    name = table.removeprefix(RESULT_PREFIX)
    declared = step_of_layer(name)
    words = name.replace("_", " ")
    title = f"{words} ({chosen})" if chosen else words
    if table in SURVEY or table == "terrain":
        return title, GROUND, True
    visible = bool(declared and declared[1].visible and not raster)
    if raster or not spatial:
        return title, MAPS if raster else TABLES, visible
    return title, declared[0].group if declared else OTHERS, visible


THEMES = ("Client", "Strategy", "Safety", "Construction")


def theme_layers(theme: str) -> tuple[str, ...]:
    """Return the result layers that a map theme shows beside the survey, as their steps declare it."""
    return tuple(w.layer for name in STEPS for w in find(name).writes if theme in w.themes)
