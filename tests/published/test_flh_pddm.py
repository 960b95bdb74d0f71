"""Two readings of a shrinkage.

FLH PDDM chapter 9, Eastern Federal Lands [published: yumpu.com 45945274, page 79].

Contractors: factor 1 - s (25 % -> 0.75). Federal lands: factor 1 / (1 + s) (25 % -> 0.80), swell 1 + s
(1.25). Balanced when factored cut equals fill.
"""

from __future__ import annotations

import pytest

from gistools.compute.terrain.volumes import mass_balance


@pytest.mark.parametrize(("convention", "factor"), [("of_bank", 0.75), ("of_fill", 0.80)])
def test_factor_of_25_per_cent(convention: str, factor: float) -> None:
    b = mass_balance(1000, 1000 * factor, shrink_pct=25, convention=convention)  # type: ignore[arg-type]
    assert b.surplus_m3 == pytest.approx(0)


def test_swell_of_25_per_cent() -> None:
    assert mass_balance(100, 0, swell_pct=25).cut_loose_m3 == pytest.approx(125)


def test_clay_in_the_contractors_form() -> None:
    """1 000 m3 of cut at s = 0.10 fill 900 m3."""
    assert mass_balance(1000, 900, shrink_pct=10).surplus_m3 == pytest.approx(0)
