"""Results in a notebook: the figures are those of the layer, and the picture is of the right place."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import gistools as gt
from gistools.base.errors import InputError
from gistools.sheets.styles import style_of
from gistools.site.model import Site
from gistools.site.results import Map


def test_table_has_titles_units_and_the_layers_figures(straight_site: Site) -> None:
    rows = gt.lengths(straight_site)
    output = gt.table(rows)
    assert "geometry" not in output and "Fid" not in output
    assert output.loc[0, "Ground [m]"] == pytest.approx(rows.loc[0, "ground_m"], abs=0.006)
    # the international yard: 0.9144 m exactly (1959 agreement)
    yards = gt.table(rows, units="yd")
    assert yards.loc[0, "Ground [yd]"] == pytest.approx(rows.loc[0, "ground_m"] / 0.9144, abs=0.006)
    assert list(output.index) == list(rows.index)


def test_table_keeps_the_figures_a_reader_needs() -> None:
    """Whatever else stands in the column: 4.5 m beside 250 m, and a factor of five figures."""
    rows = pd.DataFrame({"carry_m": [4.5, 250.0], "combined_factor": [0.99961, 1.0]})
    rows.attrs = {"step": "carries", "layer": "carries"}
    shown = gt.table(rows)
    assert list(shown["Carry [m]"]) == [4.5, 250.0]
    assert list(shown["Combined factor"]) == [0.99961, 1.0]


def test_plot_draws_the_layer_where_it_is(straight_site: Site) -> None:
    zones = gt.zones(straight_site)
    axes = gt.plot(zones, straight_site)
    west, south, east, north = zones["zones"].total_bounds
    assert axes.get_xlim()[0] < west < east < axes.get_xlim()[1]
    assert axes.get_ylim()[0] < south < north < axes.get_ylim()[1]
    assert {t.get_text() for t in axes.texts} == set(zones["zones"]["zone"])
    assert axes.get_title(loc="left") == "zones"
    carries = gt.plot(gt.carries(straight_site), layer="carries")
    drawn = carries.collections[0]
    expected = tuple(int(style_of("carries", "LineString").colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    assert tuple(drawn.get_edgecolor()[0][:3]) == pytest.approx(expected, abs=0.01)


def test_plot_of_shares_keeps_to_their_classes(straight_site: Site) -> None:
    views = gt.flag_views(straight_site, hole=1, mesh_m=25.0)
    axes = gt.plot(views, straight_site, layer="flag_views")
    points = next(c for c in axes.collections if c.get_zorder() == 5)
    assert points.norm.boundaries == pytest.approx(style_of("flag_views", "Point").steps)
    name, raster = next((n, t) for n, t in views.items() if isinstance(t, Map))
    image = gt.plot(views, straight_site, layer=name).images[-1]
    rows, cols = raster.values.shape
    assert image.get_extent() == pytest.approx(
        (
            raster.x_west,
            raster.x_west + cols * raster.cell,
            raster.y_north - rows * raster.cell,
            raster.y_north,
        )
    )


def test_what_cannot_be_drawn_says_so(straight_site: Site) -> None:
    with pytest.raises(InputError, match="no layer 'nothing'"):
        gt.plot(gt.zones(straight_site), layer="nothing")
    with pytest.raises(InputError, match="plain table"):
        gt.plot(pd.DataFrame({"x": np.arange(3)}))
    with pytest.raises(InputError, match="units"):
        gt.table(gt.lengths(straight_site), units="feet")
