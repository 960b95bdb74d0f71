"""Swell and shrinkage, worked: spikevm.com, swell-shrink list (citing FHWA 2007, Church 1981) [published].

"200 bank at 40 % swell = 280 loose; 90 compacted at 10 % shrink needs 100 bank, the other 100 bank leaves as
140 loose." Basalt swells by 64 % and takes 36 % *more* room in a fill than in the bank.
"""

from __future__ import annotations

import pytest

from gistools.compute.terrain.volumes import mass_balance


def test_worked_example() -> None:
    b = mass_balance(200, 90, swell_pct=40, shrink_pct=10)
    assert b.cut_loose_m3 == pytest.approx(280)
    assert b.fill_bank_m3 == pytest.approx(100)
    assert b.surplus_m3 == pytest.approx(100)
    assert b.surplus_loose_m3 == pytest.approx(140)


def test_rock_bulks_in_the_fill() -> None:
    b = mass_balance(100, 136, swell_pct=64, shrink_pct=-36)
    assert b.surplus_m3 == pytest.approx(0)
    assert b.cut_loose_m3 == pytest.approx(164)
