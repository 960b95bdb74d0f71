"""Colours of maps: one scale for a kind of map, cut and fill parted at nought, the same in every file."""

from __future__ import annotations

import re

import pytest

from gistools.sheets.style_files import map_style
from gistools.sheets.styles import map_colours
from gistools.steps.catalogue import STEPS, find


def lightness(colour: str) -> float:
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


MAPS = [w.layer for n in STEPS for w in find(n).writes if w.geometry == "raster" and w.style]


@pytest.mark.parametrize("kind", MAPS)
def test_every_map_of_a_kind_has_the_same_scale(kind: str) -> None:
    one, other = map_colours(f"study_{kind}_h1_front_left"), map_colours(f"study_{kind}_h18")
    assert one == other and one[0][0] < one[-1][0]
    assert [v for v, _ in one] == sorted(v for v, _ in one)
    text = map_style(f"study_{kind}_h1")
    assert text is not None
    for value, colour in one:
        assert re.search(rf"{colour}", text) and f"{value:g}" in text


def test_cut_and_fill_colours_part_at_nought_and_darken() -> None:
    colours = dict(map_colours("study_cut_fill_h1"))
    assert set(colours) == {-1.0, -0.5, 0.0, 0.5, 1.0}
    light = [lightness(colours[v]) for v in sorted(colours)]
    assert light[2] == max(light) and light[0] < light[1] and light[4] < light[3]
    red = {v: int(c[1:3], 16) - int(c[5:7], 16) for v, c in colours.items()}
    assert red[-1.0] > 0 > red[1.0]  # amber below, blue above


def test_terrain_and_unknown_maps_have_none() -> None:
    assert map_colours("terrain") == map_colours("study_terrain_proposed_h1") == []
    assert map_style("study_terrain_proposed_h1") is None
