"""The step of flag views."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.styles import SCALE, SHARES, MapColours, Style
from gistools.steps.terrain_inputs import ABOVE, AIM, PARTED, PLAN, SIGHT
from gistools.steps.writes import PageTable, Writes

if TYPE_CHECKING:
    from gistools.hole import HoleModel
    from gistools.site.model import Site
    from gistools.site.results import Map
    from gistools.steps.slope_rows import Row


@step(
    "flag_views",
    summary="How much of each flag is seen from where, and what hides it",
    reads=[*PLAN, *PARTED, *ABOVE, Reads("boundary")],
    writes=[
        Writes(
            "flag_views",
            "Point",
            columns(
                "hole tee zone viewpoint pin pin_distance_m flag_seen_pct flag_seen_band_pct foot_seen "
                "top_seen "
                "green_seen_pct hidden_by hidden_by_layer hidden_by_feature_id hidden_at_m "
                "clearance_m hidden_easting_crs hidden_northing_crs note"
            ),
            "what is seen of each flag from tees, zone centres and a mesh over the hole, and what hides it",
            style=Style("#00467f", 1.8, by="flag_seen_pct", steps=SHARES),
        ),
        Writes(
            "sightlines",
            "LineString",
            columns(
                "hole tee zone pin pin_distance_m flag_seen_pct flag_seen_band_pct foot_seen "
                "top_seen green_seen_pct "
                "hidden_by hidden_by_layer hidden_by_feature_id hidden_at_m clearance_m "
                "hidden_easting_crs hidden_northing_crs note"
            ),
            "lines of sight from tees and zone centres to each flag",
            style=Style("#00467f", 0.3, by="flag_seen_pct", steps=SHARES),
            page=PageTable(
                "The flag seen from the tee",
                "pin pin_distance_m flag_seen_pct foot_seen green_seen_pct hidden_by hidden_at_m",
                aside="tee",
                headings={
                    "pin_distance_m": "Tee to pin",
                    "flag_seen_pct": "Flag seen from the tee",
                    "foot_seen": "Foot seen",
                    "green_seen_pct": "Green seen",
                    "hidden_by": "Hidden from the tee by",
                    "hidden_at_m": "Hidden at",
                },
            ),
        ),
        Writes(
            "zone_views",
            "Polygon",
            columns(
                "hole zone pin flag_seen_mean_pct flag_seen_least_pct foot_share_pct top_share_pct "
                "hidden_by hidden_by_layer hidden_by_feature_id note"
            ),
            "what is seen of each flag from each landing zone as a whole",
            style=Style("#00467f", 0.3, 0.5, label="zone", by="flag_seen_mean_pct", steps=SHARES),
            page=PageTable(
                "The flag seen from each zone",
                "zone flag_seen_mean_pct flag_seen_least_pct foot_share_pct top_share_pct hidden_by",
                aside="pin",
                headings={
                    "flag_seen_mean_pct": "Flag seen, mean",
                    "flag_seen_least_pct": "Flag seen, worst place",
                    "foot_share_pct": "Sees the foot from",
                    "top_share_pct": "Sees the flag from",
                    "hidden_by": "Mostly hidden by",
                },
            ),
            compared="flag_seen_mean_pct foot_share_pct top_share_pct hidden_by",
            themes=("Strategy",),
        ),
        Writes(
            "tee_views",
            "",
            columns(
                "hole tee zone zone_seen_pct visibility hidden_by hidden_by_layer hidden_by_feature_id note"
            ),
            "how much of each landing zone is seen from each tee",
            page=PageTable(
                "Landing zones seen from the tee",
                "zone zone_seen_pct visibility hidden_by",
                aside="tee",
                headings={
                    "zone_seen_pct": "Zone seen",
                    "hidden_by": "Zone hidden by",
                },
            ),
            compared="zone_seen_pct",
        ),
        Writes(
            "flag_view",
            "raster",
            (),
            "share of the flagstick seen",
            style=MapColours(0.0, 100.0, SCALE),
        ),
    ],
    group="Ground and sight",
    loops="ground",
    sources=[*SIGHT, "seen, part seen, blind: assumption"],
)
def flag_views(
    site: Site,
    *,
    hole: int | None = None,
    aim: Annotated[str, AIM] = "top",
    mesh_m: Annotated[float, Option("m", "spacing of the mesh looked from", 2, 100)] = 10.0,
    mesh_margin_m: Annotated[
        float, Option("m", "the mesh reaches this far beside fairway and line of play", 0, 150)
    ] = 40.0,
    cell_m: Annotated[float, Option("m", "cells of the maps; at least the terrain's", 0.25, 20)] = 1.0,
    reach_m: Annotated[float, Option("m", "longest line of sight on the maps", 50, 2000)] = 600.0,
) -> dict[str, Any]:
    """Measure how much of each flag is seen from tees, zones and a mesh, what hides it, by how much.

    The lowest level seen at the flag is eye + D * max((z(s) - eye) / s) over the ground z between eye and
    flag at distance D, exact for ground that is bilinear between its cells; crowns with clear air below hide
    an interval of the stick. `hidden_by` is what hides most of the stick; nothing is named where no more than
    a ball at the foot is hidden. `green_seen_pct` is the share of the green where a ball would be seen.
    Viewers stand on the ground; within a crown or a house they see nothing. A map per pin shows the share of
    the stick seen from every cell. `tee_views` tells how much of each zone is seen from each tee. Earth
    curvature (17 mm at 500 m) is left out.
    """
    from gistools.hole import HoleModel
    from gistools.steps.view_rows import eyes_of, seen_from, tee_rows, zone_rows

    points: list[Row] = []
    lines: list[Row] = []
    zones: list[Row] = []
    tees: list[Row] = []
    maps: dict[str, Map] = {}
    numbers = site.selected_holes(hole)
    for k, n in enumerate(numbers):
        tick(k / len(numbers), f"flag views, hole {n}")
        h = HoleModel(site, n)
        look = h.look | {"aim": aim}
        eyes, keys = eyes_of(h, mesh_m, mesh_margin_m)
        for key, seen in zip(keys, seen_from(h, eyes, look), strict=True):
            for row in seen:
                points.append({"hole": n} | key | row)
                if (key["tee"] or key["zone"]) and row["line"] is not None:
                    lines.append({"hole": n} | key | row | {"geometry": row["line"]})
        zones.extend(zone_rows(h, look))
        tees.extend(tee_rows(h))
        maps |= _view_maps(h, max(cell_m, h.surface.cell), reach_m)
    return {
        "flag_views": points,
        "sightlines": lines,
        "zone_views": zones,
        "tee_views": tees,
        **maps,
    }


def _view_maps(hole: HoleModel, cell: float, reach_m: float) -> dict[str, Map]:
    import numpy as np

    from gistools.base.values import slug
    from gistools.site.results import Map
    from gistools.steps.view_rows import feet

    west, south, east, north = hole.surface.bounds
    cols, rows = int((east - west) / cell), int((north - south) / cell)
    x, y = west + (np.arange(cols) + 0.5) * cell, north - (np.arange(rows) + 0.5) * cell
    maps: dict[str, Map] = {}
    for k, (pin, foot) in enumerate(zip(hole.flags, feet(hole.flags), strict=True)):
        tick(k / len(hole.flags), f"flag view map, hole {hole.number}, {pin.name}")
        share = hole.scene.share_map(foot, x, y, **hole.look, reach_m=reach_m)
        share *= 100
        name = f"flag_view_h{hole.number}_{slug(pin.name)}"
        while name in maps:
            name += "_2"
        text = f"share of the flagstick of hole {hole.number} seen, hole location {pin.name}"
        maps[name] = Map(name, share, west, north, cell, "pct", text, {"hole": hole.number, "pin": pin.name})
    return maps
