"""The picture of a change says what the table says."""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.errors import InputError
from gistools.design.compare import compare
from gistools.design.vary import vary
from gistools.sheets.change_figure import _on_cells_of, change
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.site.sample import sample_site


@pytest.fixture(scope="module")
def sites() -> tuple[Site, Site]:
    site = sample_site()
    return site, vary(site, raise_m={"Haar Knowe": 1.0})


def test_zones_carry_the_figures_of_the_table(sites: tuple[Site, Site]) -> None:
    figure = change(*sites, hole=1, pin="front left")
    output = {t.get_text() for t in figure.axes[2].texts}
    rows = compare(*sites, ["zone_views.flag_seen_mean_pct"], hole=1)
    rows = rows[rows["pin"] == "front left"]
    assert len(rows) >= 3
    for row in rows.to_dict("records"):
        assert f"{row['zone']}\n{row['before']:.0f} to {row['after']:.0f} %" in output
    assert "+1.0 m" in output
    fill = compare(*sites, hole=1, play=False).set_index("measure").loc["ground.fill_m3", "after"]
    assert f"fill {fill:.0f} m³" in figure.get_suptitle()


def test_the_flag_that_changes_most_is_drawn_by_default(sites: tuple[Site, Site]) -> None:
    rows = compare(*sites, ["zone_views.flag_seen_mean_pct"], hole=1)
    most = rows.groupby("pin")["change"].apply(lambda c: c.abs().mean()).idxmax()
    assert f"flag at {most}:" in change(*sites, hole=1).get_suptitle()


def test_unknown_pin_is_refused(sites: tuple[Site, Site]) -> None:
    with pytest.raises(InputError, match=r"it has .*back left"):
        change(*sites, hole=1, pin="nowhere")


def test_maps_on_shifted_cells_are_laid_over_each_other_by_place() -> None:
    values = np.arange(12, dtype=np.float32).reshape(3, 4)
    like = Map("a", values, 100.0, 200.0, 2.0, "pct", "")
    other = Map("b", values, 102.0, 198.0, 2.0, "pct", "")  # one column east, one row south
    laid = _on_cells_of(other, like)
    assert np.isnan(laid[0]).all() and np.isnan(laid[:, 0]).all()
    np.testing.assert_array_equal(laid[1:, 1:], values[:2, :3])
