"""A hole with results written by hand, so that a page can be checked against figures known in advance."""

from __future__ import annotations

from collections.abc import Iterator

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

from gistools.base.columns import Column
from gistools.sheets.results import HoleResults
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.steps.catalogue import Step, find
from gistools.steps.tables import build_table
from gistools.steps.writes import Writes

NASTY = "<script>alert('x')</script> \"Best\" & 'last'"
UNITS = {
    "carry_m": "m",
    "reach_m": "m",
    "chainage_m": "m",
    "fairway_left_m": "m",
    "fairway_right_m": "m",
    "fairway_width_m": "m",
    "clear_width_m": "m",
    "separation_m": "m",
    "station_m": "m",
    "level_m": "m",
    "obstacle_top_m": "m",
    "sight_level_m": "m",
    "clearance_m": "m",
}


def declared(name: str, table: pd.DataFrame, cautions: tuple[str, ...] = (), layer: str = "") -> Step:
    """Declare a step that gave a table."""
    columns = tuple(Column(c, UNITS.get(c, ""), f"meaning of {c}") for c in table.columns if c != "geometry")
    geometry = table.geom_type.iloc[0] if "geometry" in table and len(table) else ""
    return Step(
        name,
        f"answers of {name}",
        (),
        (Writes(layer or name, geometry, columns, ""),),
        ("a source",),
        cautions,
        print,
    )


def lines(**columns: list[object]) -> gpd.GeoDataFrame:
    geometry = columns.pop("geometry")
    return gpd.GeoDataFrame(columns, geometry=geometry, crs=27700)


def cards() -> Iterator[dict[str, object]]:
    """Yield cards of where to play: the clubs of the scratch man have ellipses, the bogey man's have none."""
    ranked = [("short", 1, 4.02, "front"), ("beyond", 2, 4.11, "front"), ("short", 2, 4.2, "back")]
    ranked += [("beyond", 1, 4.13, "back"), ("short", 1, 5.1, "front"), ("beyond", 2, 5.3, "front")]
    ranked += [("short", 1, 5.2, "back"), ("beyond", 2, 5.4, "back")]
    for number, (zone, rank, total, pin) in enumerate(ranked):
        scratch = number < 4
        yield {
            "hole": 1,
            "tee": "back",
            "player": "scratch man" if scratch else "bogey man",
            "wind": "calm",
            "shot_number": 1,
            "from_zone": "",
            "pin": pin,
            "zone": zone,
            "zone_number": 1 if zone == "short" else 2,
            "rank": rank,
            "level_with_first": False,
            "order_changes": False,
            "total_strokes": total,
            "behind_strokes": 0.0 if rank == 1 else 0.1,
            "club": "iron" if zone == "short" else "driver",
            "ellipse_length_m": 40.0 if scratch else None,
            "ellipse_width_m": 30.0 if scratch else None,
            "axis_bearing_deg": 90.0,
            "pin_distance_m": 120.0,
            "effective_distance_m": 121.0,
            "hold_pct": 60.0,
            "next_club": "wedge",
            "reading": f"Reading number {number}.",
            "geometry": Point(0.0, 135.0 if zone == "short" else 270.0),
        }


@pytest.fixture
def results(straight_site: Site) -> HoleResults:
    """Results of the straight hole as some steps could have given them; the others gave a reason."""
    out = HoleResults(1)
    play = LineString([(0, 0), (0, 340)])
    tables = {
        "lines_of_play": lines(hole=[1], tee=["back"], geometry=[play]),
        "carries": lines(
            hole=[1, 1],
            tee=["back", "back"],
            feature=[NASTY, "Left"],
            layer=["burns", "bunkers"],
            line=["greatest", "least"],
            reach_m=[197.2, 318.4],
            carry_m=[202.8, 326.25],
            geometry=[LineString([(0, 0), (0, 202.8)]), LineString([(0, 0), (-21, 326)])],
        ),
        "zones": lines(
            hole=[1, 1],
            zone=["short", "beyond"],
            geometry=[box(-20, 100, 20, 170), box(-20, 230, 20, 310)],
        ),
        "corridors": lines(
            hole=[1] * 3,
            tee=["back"] * 3,
            chainage_m=[120.0, 130.0, 140.0],
            fairway_left_m=[20.0, 19.5, 20.0],
            fairway_right_m=[20.0, 20.0, 20.0],
            fairway_width_m=[40.0, 39.5, 40.0],
            clear_width_m=[40.0, 39.5, np.nan],
            narrowest=[False, True, False],
            geometry=[LineString([(-20, y), (20, y)]) for y in (120, 130, 140)],
        ),
    }
    for name, table in tables.items():
        out.add(declared(name, table), table)
    step = find("where_to_play")
    out.add(step, build_table(straight_site, step.writes[0], list(cards())))
    sights = pd.DataFrame(
        {
            "hole": [1] * 9,
            "section": ["line"] * 3 + ["a"] * 3 + ["b"] * 3,
            "section_kind": ["line of play"] * 3 + ["approach"] * 6,
            "tee": ["back"] * 3 + [""] * 6,
            "zone": [""] * 3 + ["short"] * 3 + ["beyond"] * 3,
            "pin": [""] * 3 + ["front"] * 3 + ["back"] * 3,
            "station_m": [0.0, 170.0, 340.0] + [0.0, 50.0, 100.0] * 2,
            "level_m": [10.0, 9.0, 11.0] + [10.0, 12.5, 10.0] * 2,
            "obstacle_top_m": [np.nan] * 9,
            "sight_level_m": [np.nan] * 3 + [11.6, 11.87, 12.13] + [11.6, 13.0, 12.13],
            "clearance_m": [np.nan] * 3 + [1.6, -0.63, 2.13] + [1.6, 0.5, 2.13],
        }
    )
    out.add(declared("sections", sights, (), "section_points"), sights)
    nearby = pd.DataFrame(
        {"hole": [1], "rule": ["line to structure"], "other": ["Strand <b>house</b>"], "separation_m": [12.5]}
    )
    out.add(declared("setbacks", nearby, ("Mind the neighbours.",), "setback_conflicts"), nearby)
    flags = Writes("flag_view", "raster", (), "share of the flagstick seen")
    step = Step("flag_views", "", (), (flags,), (), (), print)
    values = np.full((60, 40), np.nan, np.float32)
    values[5:50, 5:35] = np.linspace(0, 100, 45)[:, None]
    out.add(
        step,
        {
            "front": Map(
                "flag_view_1_front",
                values,
                -40.0,
                300.0,
                2.0,
                "pct",
                "share seen of the front pin",
                {"pin": "front"},
            ),
            "back": Map(
                "flag_view_1_back",
                100 - values,
                -40.0,
                300.0,
                2.0,
                "pct",
                "share seen of the back pin",
                {"pin": "back"},
            ),
        },
    )
    out.reasons["brief"] = "the site has nothing in `brief`"
    return out
