"""The least haul on ground whose answer is known, and beside a general-purpose earth mover's distance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import wasserstein_distance

import gistools as gt
from gistools.base.errors import InputError
from gistools.compute.terrain.haul import least_haul
from gistools.compute.terrain.surface import Surface


def grounds(change: np.ndarray, cell: float = 10.0) -> tuple[Surface, Surface]:
    before = Surface(np.zeros(change.shape), 0.0, change.shape[0] * cell, cell)
    return before, before.with_heights(change)


def test_one_cut_to_one_fill():
    change = np.zeros((3, 12))
    change[1, 1], change[1, 11] = -2.0, 2.0
    haul = least_haul(*grounds(change))
    assert haul.volume_m3 == pytest.approx(200.0) and haul.mean_m == pytest.approx(100.0)
    assert haul.borrow_m3 == pytest.approx(0.0, abs=1e-3) and haul.spoil_m3 == pytest.approx(0.0, abs=1e-3)
    assert haul.moves[0].start == pytest.approx((15, 15)) and haul.moves[0].end == pytest.approx((115, 15))


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_haul_along_a_line_is_the_earth_movers_distance(seed):
    """In one dimension the least moment is that of scipy.stats.wasserstein_distance."""
    rng = np.random.default_rng(seed)
    change = np.zeros((2, 30))
    change[0] = rng.normal(size=30)
    change[0] -= change[0].mean()
    haul = least_haul(*grounds(change))
    x = (np.arange(30) + 0.5) * 10
    mean = wasserstein_distance(x, x, np.clip(-change[0], 0, None), np.clip(change[0], 0, None))
    assert haul.mean_m == pytest.approx(mean, rel=1e-3)
    assert haul.volume_m3 == pytest.approx(np.clip(change, 0, None).sum() * 100, rel=1e-3)


@pytest.mark.parametrize(("cut", "fill", "borrow", "spoil"), [(3.0, 1.0, 0.0, 200.0), (1.0, 4.0, 300.0, 0.0)])
def test_what_is_short_and_what_is_left(cut, fill, borrow, spoil):
    change = np.zeros((3, 8))
    change[1, 0], change[1, 7] = -cut, fill
    haul = least_haul(*grounds(change))
    assert (haul.borrow_m3, haul.spoil_m3) == pytest.approx((borrow, spoil), abs=1e-3)
    assert haul.volume_m3 == pytest.approx(100 * min(cut, fill))


def test_shrinkage_takes_more_cut():
    change = np.zeros((3, 8))
    change[1, 0], change[1, 7] = -1.25, 1.0
    haul = least_haul(*grounds(change), bank_share=1.25)
    assert haul.volume_m3 == pytest.approx(125.0) and haul.borrow_m3 == pytest.approx(0.0, abs=1e-3)


def test_nothing_to_carry_and_refusals():
    change = np.zeros((3, 8))
    assert np.isnan(least_haul(*grounds(change)).mean_m)
    change[0, 0] = 1.0
    assert least_haul(*grounds(change)).borrow_m3 == pytest.approx(100.0)
    with pytest.raises(InputError):
        least_haul(*grounds(change), block_m=0.0)


def test_many_blocks_are_gathered_into_fewer():
    rng = np.random.default_rng(3)
    fine = least_haul(*grounds(rng.normal(size=(60, 60)), cell=5.0), block_m=5.0)
    assert 0 < fine.mean_m < 60 and fine.volume_m3 > 0


def test_the_step_tells_haul_borrow_and_spoil():
    """On the hole of the hand-off tests: volumes add up with the balance of the same row."""
    from tests.handoff.conftest import METRES, make_site

    site = make_site(METRES)
    result = gt.quantities(site, hole=1)
    total = result["quantities"].set_index("shape_kind").loc["total"]
    lines = result["haul"]
    assert lines["haul_volume_m3"].sum() == pytest.approx(total["haul_volume_m3"], rel=1e-3)
    assert total["haul_volume_m3"] == pytest.approx(min(total["cut_m3"], total["fill_m3"]), rel=0.02)
    mean = (lines["haul_volume_m3"] * lines["haul_m"]).sum() / lines["haul_volume_m3"].sum()
    assert total["haul_mean_m"] == pytest.approx(mean, rel=1e-3)
    assert np.allclose(lines.geometry.length, lines["haul_m"], atol=0.01)


def test_shrinkage_of_the_step_asks_for_more_cut():
    """Fill that shrinks by a fifth takes 1 / 0.8 of its volume in the cut, as far as there is cut."""
    from tests.handoff.conftest import METRES, make_site

    site = make_site(METRES)
    firm, shrunk = (
        gt.quantities(site, hole=1, shrink_pct=pct)["quantities"].set_index("shape_kind").loc["total"]
        for pct in (0.0, 20.0)
    )
    bank = min(shrunk["cut_m3"], shrunk["fill_m3"] / 0.8)
    assert shrunk["haul_volume_m3"] == pytest.approx(bank, rel=0.02)
    assert firm["haul_volume_m3"] == pytest.approx(min(firm["cut_m3"], firm["fill_m3"]), rel=0.02)
    assert firm["fill_m3"] < firm["cut_m3"] or shrunk["haul_volume_m3"] >= firm["haul_volume_m3"]
