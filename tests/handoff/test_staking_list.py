"""Staking lists: every point once, features whole, a walk that is no detour, figures of the points."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

import gistools as gt
from gistools.compute.layout.setting_out import walking_order
from gistools.handoff.frame import Frame
from gistools.handoff.staking_list import staking_lists
from gistools.site.model import Site
from gistools.site.sample import sample_site
from gistools.steps.catalogue import need


def length(xy: np.ndarray) -> float:
    return float(np.hypot(*np.diff(xy, axis=0).T).sum())


@given(st.integers(0, 10**6), st.integers(1, 6))
def test_every_point_once_and_polylines_whole(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    sizes = rng.integers(1, 7, count)
    names = np.repeat([f"L{k}" for k in range(count)], sizes)
    closed = np.repeat(rng.random(count) < 0.5, sizes)
    xy = rng.uniform(0, 100, (len(names), 2))
    order = walking_order(xy, names, closed)
    assert sorted(order) == list(range(len(names)))
    assert list(order[: sizes[0]]) == list(range(sizes[0]))  # the first as it is
    for name in set(names):
        at = np.flatnonzero(names[order] == name)
        assert list(at) == list(range(at[0], at[0] + len(at)))
        members = np.flatnonzero(names == name)
        steps = {(b - a) % len(members) for a, b in pairwise(np.searchsorted(members, order[at]))}
        assert steps <= {1 % len(members)} if closed[members[0]] else steps <= {1, len(members) - 1}
        if at[0] > 0:  # entered where it is nearest: anywhere on a ring, at an end of a line
            here = xy[order[at[0] - 1]]
            doors = members if closed[members[0]] else members[[0, -1]]
            nearest = np.hypot(*(xy[doors] - here).T).min()
            assert np.hypot(*(xy[order[at[0]]] - here)) == pytest.approx(nearest)


def test_the_next_feature_is_the_nearest() -> None:
    """A line of play northwards, a ring at its end, one half way: the far one comes first."""
    line = [(0.0, y) for y in (0, 100, 200, 300)]
    green = [(5, 300), (10, 305), (10, 295)]
    bunker = [(8, 150), (12, 155), (12, 145)]
    xy, names = np.array([*line, *bunker, *green], float), ["LOP"] * 4 + ["BKR1"] * 3 + ["GRN1"] * 3
    order = walking_order(xy, names, [False] * 4 + [True] * 6)
    assert [names[k] for k in order] == ["LOP"] * 4 + ["GRN1"] * 3 + ["BKR1"] * 3
    assert tuple(xy[order[4]]) == (5, 300) and tuple(xy[order[7]]) == (12, 155)


def test_the_walk_of_a_hole_is_shorter_than_by_numbers() -> None:
    site = sample_site()
    stakes = need(site, "setting_out", hole=1)["setting_out"]
    xy = np.column_stack([stakes.geometry.x, stakes.geometry.y])
    order = walking_order(xy, stakes["polyline_id"], stakes["closed"])
    assert length(xy[order]) < 0.9 * length(xy)


def test_lists_hold_the_figures_of_the_points(tmp_path: Path, hand_site: Site) -> None:
    folder = gt.hand_off(hand_site, tmp_path / "out", hole=1)
    stakes = gt.setting_out(hand_site, hole=1).setting_out.set_index("point")
    book = openpyxl.load_workbook(folder / "hole_01" / "hole_01_staking_lists.xlsx")
    head, *rows = book["Stakes"].iter_rows(values_only=True)
    unit = Frame.of(hand_site).unit
    assert len(rows) == len(stakes) and {r[3] for r in rows} == set(stakes.index)
    place = [head.index(f"{name} [{unit}]") for name in ("easting", "northing", "proposed level", "offset")]
    for row in rows:
        stake = stakes.loc[row[3]]
        expected = [stake.geometry.x, stake.geometry.y]
        expected += [stake["proposed_level_m"] / hand_site.unit_m, stake["offset_m"] / hand_site.unit_m]
        assert [row[k] for k in place] == pytest.approx(expected, abs=0.0011)
        change = stake["cut_fill_m"] / hand_site.unit_m
        says = row[head.index("stake says")]
        if says == "as it is":
            assert abs(stake["cut_fill_m"]) < 0.011
        else:
            words, figure = says.split()
            assert words == ("fill" if change > 0 else "cut")
            assert float(figure) == pytest.approx(abs(change), abs=0.0051)
    assert {"as it is", "fill", "cut"} <= {r[head.index("stake says")].rsplit(" ", 1)[0] for r in rows} | {
        "as it is"
    }
    walk = list(book["Walk"].iter_rows(min_row=2, values_only=True))
    assert sum(r[4] for r in walk) == len(rows) and [r[0] for r in walk] == list(range(1, len(walk) + 1))
    assert walk[0][2] == "LOP"


def test_names_that_bite_are_no_formulas(tmp_path: Path, metre_site: Site) -> None:
    folder = gt.hand_off(metre_site, tmp_path / "out", hole=1)
    book = openpyxl.load_workbook(folder / "hole_01" / "hole_01_staking_lists.xlsx")
    cells = [c for sheet in book for row in sheet.iter_rows() for c in row]
    assert not [c for c in cells if c.data_type == "f"]
    assert any(str(c.value).startswith("'=HYPERLINK") for c in cells)


def test_features_of_the_list_are_the_files_by_feature(metre_site: Site) -> None:
    stakes = need(metre_site, "setting_out", hole=1)["setting_out"]
    lists = staking_lists(stakes, Frame.of(metre_site))
    assert set(lists["Stakes"]["code"]) == set(stakes["code"])
    assert lists["Walk"]["points"].sum() == len(stakes)
