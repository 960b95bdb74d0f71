"""Before and after.

Volumes and slopes against closed forms and the quantities step, flags against their own step.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

import gistools as gt
from gistools.base.errors import InputError
from gistools.compute.layout.lengths import combined_factor
from gistools.design.compare import ground_rows
from gistools.site.model import Site
from gistools.site.sample import sample_site
from gistools.site.types import ArrayTerrain


def gaussian(site: Site, x0: float, y0: float, height: float, sigma: float) -> Site:
    """The site with a Gaussian mound laid on its ground."""
    s = site.surface()
    x, y = s.centres()
    z = s.z + height * np.exp(-((x[None, :] - x0) ** 2 + (y[:, None] - y0) ** 2) / (2 * sigma**2))
    return site.replace(ground=ArrayTerrain(type(s)(z, s.x_west, s.y_north, s.cell)))


def figures(table: pd.DataFrame) -> pd.DataFrame:
    return table.set_index("measure")[["before", "after", "change"]]


def test_ground_moved_for_a_gaussian_mound_in_closed_form(straight_site: Site) -> None:
    """V = 2 pi h sigma^2, steepest slope h / sigma e^(-1/2) at the distance sigma (derived).

    On the ground, not the grid.
    """
    west, south, east, north = straight_site.hole_bounds(1, 0.0)
    x0, y0, height, sigma = (west + east) / 2, (south + north) / 2, 2.0, 6.0
    after = gaussian(straight_site, x0, y0, height, sigma)
    result = figures(ground_rows(straight_site, after, hole=1))
    square = combined_factor(straight_site.crs_metric, x0, y0, 10.0) ** 2
    assert abs(square - 1.0) > 1e-4  # else nothing would be tested by it
    volume = 2 * math.pi * height * sigma**2 / square
    assert result.loc["ground.fill_m3", "after"] == pytest.approx(volume, rel=2e-5)
    assert result.loc["ground.net_m3", "change"] == pytest.approx(volume, rel=2e-5)
    assert "ground.cut_m3" not in result.index
    steepest = 100 * height / sigma * math.exp(-0.5)
    assert result.loc["ground.steepest_pct", "before"] == pytest.approx(0.0, abs=1e-9)
    assert result.loc["ground.steepest_pct", "after"] == pytest.approx(steepest, rel=0.01)
    back = figures(ground_rows(after, straight_site, hole=1))
    assert back.loc["ground.cut_m3", "after"] == pytest.approx(volume, rel=2e-5)
    assert back.loc["ground.most_lowered_m", "after"] == pytest.approx(height, rel=0.01)


def test_nothing_changes_nothing_is_listed(straight_site: Site) -> None:
    result = gt.compare(straight_site, gt.vary(straight_site), hole=1, play=False)
    assert list(result.columns) == ["measure", "before", "after", "change"] and result.empty


def test_proposed_ground_agrees_with_quantities() -> None:
    """Two ways to the same volumes.

    Over the window of the hole here, shape by shape on their own windows there.
    """
    site = sample_site()
    ahead = gt.proposed_site(site)
    result = gt.compare(site, ahead, hole=1, play=False)
    total = gt.quantities(site, hole=1, strip_m=0.0, respread_m=0.0)["quantities"]
    total = total[total["shape_kind"] == "total"].iloc[0]
    ground = figures(result[result["measure"].str.startswith("ground.")])
    assert ground.loc["ground.fill_m3", "after"] == pytest.approx(total["fill_m3"], rel=1e-4)
    assert ground.loc["ground.changed_m2", "after"] == pytest.approx(total["changed_area_m2"], rel=1e-3)
    views = [gt.flag_views(s, hole=1)["zone_views"] for s in (site, ahead)]
    seen = result[result["measure"] == "zone_views.flag_seen_mean_pct"]
    assert len(seen) >= 8
    for row in seen.to_dict("records"):
        for table, when in zip(views, ("before", "after"), strict=True):
            one = table[(table["zone"] == row["zone"]) & (table["pin"] == row["pin"])]
            assert row[when] == pytest.approx(float(one["flag_seen_mean_pct"].iloc[0]))
    # a mound raised can only hide more, and the other way round it shows as much again
    assert (seen["change"] < 0).all()
    back = gt.compare(ahead, site, ["zone_views.flag_seen_mean_pct"], hole=1)
    assert back["change"].tolist() == pytest.approx((-seen["change"]).tolist())


def test_sites_without_terrain_are_compared_in_plan(straight_site: Site) -> None:
    bare = Site.from_tables(straight_site.tables, 27700)
    result = gt.compare(bare, gt.vary(bare, move_tee={(1, "back"): (0.0, -10.0)}), hole=1, play=False)
    assert not result["measure"].str.startswith(("ground.", "zone_views.")).any()
    assert result.set_index("measure").loc["lengths.ground_m", "change"] == pytest.approx(10.0, abs=0.02)


def test_sites_on_two_grids_are_refused(straight_site: Site) -> None:
    other = Site.from_tables(straight_site.tables, 32630, straight_site.surface())
    with pytest.raises(InputError, match="different CRSs"):
        gt.compare(straight_site, other, hole=1)


def test_the_usual_table_leaves_out_what_rounds_to_nothing(straight_site: Site) -> None:
    """A tee 2 mm farther back: a difference when asked for by name, none in the table for people."""
    after = gt.vary(straight_site, move_tee={(1, "back"): (0.0, -0.002)})
    assert gt.compare(straight_site, after, hole=1, play=False).empty
    named = gt.compare(straight_site, after, ["lengths.grid_m"], hole=1)
    assert named["change"].iloc[0] == pytest.approx(0.002, rel=1e-6)


def test_ground_of_the_whole_site_has_no_hole_number(straight_site: Site) -> None:
    after = gaussian(straight_site, 0.0, 60.0, 3.0, 5.0)  # before the tee, in the way of every line of sight
    result = gt.compare(straight_site, after, play=False)
    ground = result["measure"].str.startswith("ground.")
    assert result.loc[ground, "hole"].isna().all() and (~ground).any()
    assert str(result["hole"].dtype) == "Int64" and (result.loc[~ground, "hole"] == 1).all()
