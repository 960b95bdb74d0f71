"""The words of a study say what its layers hold, and the layers what a second way of computing them gives."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
import shapely

from gistools.site.sample import sample_site
from gistools.steps.study import Study, study
from gistools.steps.summary import hole_summary


@pytest.fixture(scope="module")
def done() -> Study:
    return study(
        sample_site(), hole=1, only=("lengths", "zones", "flag_views", "carries", "diagonals"), write=False
    )


def totals_by_zone(done: Study, pin: str) -> dict[str, float]:
    line = next(x for x in done.summary().splitlines() if x.strip().startswith(f"Flag {pin},"))
    return {zone: float(share) for zone, share in re.findall(r"(?:: |, )([a-z][a-z ,]*?) (\d+) %", line)}


@pytest.mark.parametrize("pin", ["front left", "front right", "back left", "back right"])
def test_flag_shares_are_means_over_the_zones(done: Study, pin: str) -> None:
    """The map of the same pin, averaged over the cells in each zone: another set of viewpoints, 1 m apart."""
    view = done.table(f"flag_view_h1_{pin.replace(' ', '_')}")
    rows, cols = view.values.shape
    x = view.x_west + (np.arange(cols) + 0.5) * view.cell
    y = view.y_north - (np.arange(rows) + 0.5) * view.cell
    east, north = np.meshgrid(x, y)
    shares = totals_by_zone(done, pin)
    zones = done.table("zones")
    assert set(shares) == set(zones["zone"])
    for row in zones.itertuples():
        inside = shapely.contains_xy(row.geometry, east, north)
        assert shares[row.zone] == pytest.approx(float(np.nanmean(view.values[inside])), abs=3.0)


def test_matrix_marks_level_zones_and_where_the_order_turns() -> None:
    keys = {"hole": 1, "tee": "back", "player": "scratch man", "wind": "calm"}
    rows = [
        ("left", "a", 1, 1, False, 4.10, False),
        ("left", "b", 2, 2, False, 4.20, False),
        ("right", "b", 2, 1, True, 4.10, True),
        ("right", "a", 1, 2, True, 4.11, True),
    ]
    table = pd.DataFrame(
        [
            {
                **keys,
                "shot_number": 1,
                "from_zone": "",
                "pin": pin,
                "zone": zone,
                "zone_number": number,
                "rank": rank,
                "level_with_first": level,
                "total_strokes": total,
                "remaining_rank": 3 - number,
                "order_changes": turns,
                "flag_visibility": "blind",
            }
            for pin, zone, number, rank, level, total, turns in rows
        ]
    )
    lines = [" ".join(x.split()) for x in hole_summary({"where_to_play": table}, 1)]
    assert lines[1].startswith("Where to play: scratch man, back tee, calm.")
    assert lines[2:5] == [
        "left right*",
        "1 a 1 4.10 (2) blind = 4.11 (2) blind",
        "2 b 2 4.20 (1) blind = 4.10 (1) blind",
    ]


def test_a_zone_half_hidden_is_not_called_hidden(done: Study) -> None:
    """`short right` sees most of the flag beside the mound, from its centre and on the mean."""
    centre = done.table("flag_views").query("zone == 'short right' and pin == 'front left'")["flag_seen_pct"]
    assert 50.0 < centre.max() < 90.0
    assert 50.0 < totals_by_zone(done, "front left")["short right"] < 90.0


def test_shares_of_each_player_stand_in_one_line() -> None:
    key = {"hole": 1, "player": "scratch man", "tee": "back", "wind": "calm"}
    rows = [
        key | {"demand": "carry", "zone": "", "share_pct": 61.4},
        key | {"demand": "carry", "zone": "", "share_pct": 98.6},
        key | {"demand": "reach", "zone": "short left", "share_pct": 71.0},
        key | {"demand": "reach", "zone": "beyond left", "share_pct": 55.0},
        key | {"demand": "hold", "zone": "beyond left", "share_pct": float("nan")},
        key | {"demand": "hold", "zone": "beyond left", "share_pct": 48.0},
        key | {"demand": "carry", "zone": "", "share_pct": 5.0, "wind": "west"},
        key | {"demand": "hold", "zone": "", "share_pct": 33.0, "tee": "forward"},
    ]
    lines = hole_summary({"playability": pd.DataFrame(rows)}, 1)
    assert lines[2:] == [
        "    scratch man, back: carry 61 to 99, short left 71, beyond left 55, hold 48",
        "    scratch man, forward: hold 33",
    ]
    assert lines[1].startswith("  Of 100 shots, calm:")
