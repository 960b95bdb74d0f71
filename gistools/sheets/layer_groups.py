"""Groups of a site's layers in a desktop's project, their order, and which are visible in which map theme."""

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

#: theme -> result layers it shows beside the survey
THEMES = {
    "Client": ("where_to_play", "zones", "lines_of_play"),
    "Strategy": ("where_to_play", "zones", "zone_views", "lines_of_play", "carries", "pin_slopes"),
    "Safety": ("setbacks", "setback_conflicts", "lines_of_play"),
    "Construction": ("setting_out", "contours", "quantities", "hollows", "flow_paths", "control_check"),
}
