"""Carries of the sample are the same wherever it lies, however it is turned, mirrored or measured."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.carries import Choices, carry_rows
from gistools.compute.layout.hole_plan import Feature, Hole, TeePlan
from gistools.hole import HoleModel
from gistools.site.sample import sample_site

US_FOOT_M = 1200 / 3937


def in_feet_and_back(h: Hole) -> Hole:
    """Coordinates in US survey feet, read as metres again: the last digits differ."""

    def go(g: shapely.Geometry) -> shapely.Geometry:
        feet = shapely.transform(g, lambda c: c / US_FOOT_M)
        return shapely.transform(feet, lambda c: c * US_FOOT_M)

    def feature(f: Feature) -> Feature:
        return Feature(f.feature, f.layer, f.fid, go(f.geometry))

    tees = [
        TeePlan(t.tee, t.fid, go(t.outline), Alignment(np.array(go(t.line.geometry).coords))) for t in h.tees
    ]
    return Hole(
        h.number, [feature(f) for f in h.fairways], go(h.green), [feature(f) for f in h.hazards], tees
    )


@pytest.mark.parametrize("number", [1, 2, 3])
def test_carries_do_not_hang_on_the_last_digits(number: int, plan: SimpleNamespace) -> None:
    def figures(h: Hole) -> dict[tuple[object, ...], tuple[float, float, float]]:
        rows = [row for tee in h.tees for row in carry_rows(h, tee, Choices())[0]]
        return {
            (r["tee"], r["feature"], r["crossing"], r["line"]): (
                r["reach_m"],
                r["carry_m"],
                r["chainage_m"],
            )
            for r in rows
        }

    h = HoleModel(sample_site(), number).plan
    drawn = figures(h)
    assert len(drawn) > 10 and any(key[1] == "rough to fairway" for key in drawn)
    copies = {
        "shifted": plan.moved(h, east=1000.0, north=-1000.0),
        "turned": plan.moved(h, turn_deg=90.0),
        "turned 37": plan.moved(h, turn_deg=37.0, east=300.0),
        "mirrored": plan.moved(h, mirror=True),
        "in feet": in_feet_and_back(h),
    }
    for name, copy in copies.items():
        again = figures(copy)
        assert again.keys() == drawn.keys(), name
        for key, values in drawn.items():
            assert again[key][1] == pytest.approx(values[1], abs=1e-3), (name, key)
            if name != "mirrored":  # of rays with one carry, a mirrored hole may name the other
                assert again[key] == pytest.approx(values, abs=1e-3), (name, key)
