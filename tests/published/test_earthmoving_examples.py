"""Earthmoving examples.

issuhub.com/view/index?id=4050, page 80 [published]; cubic yards there, the ratios are the same.

1 000 bank yd3 of dense clay (swell 30 %) are 1 300 loose; 500 compacted yd3 of sand (factor 0.95) need 526
bank.
"""

from __future__ import annotations

import pytest

from gistools.compute.terrain.volumes import mass_balance


def test_dense_clay_on_the_lorry() -> None:
    loose = mass_balance(1000, 0, swell_pct=30).cut_loose_m3
    assert loose == pytest.approx(1300)
    assert loose / 7 == pytest.approx(186, abs=0.5)  # loads of 7 yd3, as printed


def test_sand_for_a_fill() -> None:
    assert mass_balance(0, 500, shrink_pct=5).fill_bank_m3 == pytest.approx(526, abs=0.5)
