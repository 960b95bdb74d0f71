"""Groups of a site's layers in a desktop's project, their order, and which layers are visible at first."""

from __future__ import annotations

#: layers that are visible in a fresh group
VISIBLE = (
    "pin_slopes",
    "lines_of_play",
    "diagonals",
    "zones",
    "setback_conflicts",
    "tees",
    "pins",
    "play_lines",
    "play_points",
    "greens",
    "bunkers",
    "burns",
    "water",
    "fairway",
    "mounds",
    "trees",
    "paths",
    "boundary",
    "structures",
    "terrain",
)
#: groups of result layers, from the top down
PARTS: dict[str, tuple[str, ...]] = {
    "Strategy": ("positions", "approaches", "best_shots"),
    "Shots": (
        "tee_shots",
        "finish_points",
        "shot_paths",
        "shot_ellipses",
        "played_carries",
        "played_zones",
    ),
    "Plan": (
        "lines_of_play",
        "lengths",
        "carries",
        "carry_fan",
        "diagonals",
        "corridors",
        "landing_widths",
        "zones",
        "zone_carries",
        "setback_conflicts",
        "setbacks",
    ),
    "Ground and sight": (
        "pin_slopes",
        "fair_areas",
        "green_parts",
        "green_slopes",
        "slopes",
        "screening",
        "flag_views",
        "sightlines",
        "zone_views",
        "sections",
        "section_points",
    ),
    "For the crew": ("setting_out", "control_check", "as_built_check", "contours", "quantities"),
}
OTHERS, MAPS, TABLES, GROUND = "Others", "Maps", "Tables", "Survey"
ORDER = (*PARTS, OTHERS, MAPS, TABLES, GROUND)
#: survey layers from the top down
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
