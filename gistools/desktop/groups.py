"""Groups of a site's layers in a desktop's project, and their order."""

from __future__ import annotations

from gistools.steps.catalogue import GROUPS

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
