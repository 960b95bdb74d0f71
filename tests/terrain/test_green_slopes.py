"""Greens: fair hole locations and parts, on shapes whose answer is known."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Point, box

from gistools.compute.terrain.green_slopes import green_parts, green_slopes, outline, place_name
from gistools.compute.terrain.surface import Surface

GREEN = Point(0, 0).buffer(14, quad_segs=64)


def ground(level, cell: float = 0.5) -> Surface:
    """Level is a function of easting and northing; the window is 60 m wide round (0, 0)."""
    n = int(60 / cell)
    x = -30 + (np.arange(n) + 0.5) * cell
    return Surface(level(*np.meshgrid(x, -x)) + 0.0, -30.0, 30.0, cell)


@pytest.mark.parametrize("cell", [0.5, 1.0])
@pytest.mark.parametrize(("slope", "fair"), [(0.03, True), (0.045, False)])
def test_tilted_green(cell: float, slope: float, fair: bool) -> None:
    """At 10 ft the limit is 3.90 %: all of the green four paces from its edge is fair, or none of it."""
    s = green_slopes(ground(lambda x, y: slope * y, cell), GREEN, stimp_ft=10)
    area = s.fair.sum() * s.cell_m2
    inner = np.pi * (14 - 4 * 0.9144) ** 2
    assert area == pytest.approx(inner, rel=0.01) if fair else area == 0
    assert np.nanmax(np.abs(s.slope_pct[s.inside] - 100 * slope)) < 1e-9
    assert outline(s.surface, s.fair).area == pytest.approx(area)


def test_bands_round_a_green_of_5000_square_feet() -> None:
    """A round 5000 sq ft green.

    39 % is left inside a 15-ft band, 56 % inside a 10-ft band, reference 6 [computed].
    """
    radius = np.sqrt(5000 / np.pi) * 0.3048
    green = Point(0, 0).buffer(radius, quad_segs=128)
    for feet, share in ((15, 0.39), (10, 0.56)):
        s = green_slopes(ground(lambda x, y: 0 * x, 0.25), green, edge_m=feet * 0.3048)
        assert s.fair.sum() * s.cell_m2 / green.area == pytest.approx(share, abs=0.006)


def test_no_hole_within_three_metres_of_critical_ground() -> None:
    s = green_slopes(ground(lambda x, y: np.clip(0.2 * y, 0, 0.4)), GREEN)  # a face of 20 % from y = 0 to 2
    _, north = np.meshgrid(*s.surface.centres())
    assert s.fair[(north < -4.5)].any() and s.fair[(north > 6.5)].any()
    assert not s.fair[(north > -3) & (north < 5)].any()


def test_fair_ground_with_a_given_limit_and_green_speed() -> None:
    g = ground(lambda x, y: 0.03 * y)
    assert green_slopes(g, GREEN, stimp_ft=14).fair.sum() == 0, "3 % is too much at 14 ft"
    assert green_slopes(g, GREEN, limit_pct=2.0).fair.sum() == 0
    assert green_slopes(g, GREEN, limit_pct=3.5, stimp_ft=14).fair.sum() > 0


def two_tiers(x, y):
    """A green played due north: false front, lower tier, face, upper tier, run-off to the east."""
    level = np.clip(0.15 * (y + 8), -1.5, 0)
    level = level + 0.1 * np.clip(y - 2, 0, 3)
    return level - 0.2 * np.clip(x - 11, 0, 6)


def test_parts_have_kinds_and_places() -> None:
    g = ground(two_tiers)
    s = green_slopes(g, GREEN)
    parts = {p.name: p for p in green_parts(s, GREEN, 0.0)}
    tiers = sorted((p.level_m, p.name) for p in parts.values() if p.kind == "tier")
    assert len(tiers) == 2 and tiers[0][0] < 0.05 and tiers[1][0] == pytest.approx(0.3, abs=0.05)
    assert "back" in tiers[1][1]
    front = parts["false front"]
    assert front.slope_pct == pytest.approx(15, abs=1.5) and front.falls_to_deg == pytest.approx(180, abs=10)
    face = [p for p in parts.values() if p.kind == "tier face"]
    assert len(face) == 1 and face[0].falls_to_deg == pytest.approx(180, abs=5)
    # the face is 3 m long and, short of the run-off, 24 m wide
    assert face[0].area_m2 == pytest.approx(3 * 24, rel=0.1)
    assert any(p.kind == "run-off" and p.place == "right" for p in parts.values())


def test_the_same_green_played_from_the_other_side() -> None:
    s = green_slopes(ground(two_tiers), GREEN)
    names = {p.name for p in green_parts(s, GREEN, 180.0)}
    assert "false front" not in names
    assert "back tier" not in names and "front tier" in names
    assert {n for n in names if n.endswith("run-off")} == {"front left run-off", "back left run-off"}


def test_banks_feed_and_hazards_are_left_out() -> None:
    s = green_slopes(ground(lambda x, y: 0.2 * np.clip(-x - 13, 0, 8)), GREEN)  # rises to the west
    assert [p.name for p in green_parts(s, GREEN, 0.0) if p.kind != "tier"] == ["left bank"]
    sand = box(-30, -30, -12.5, 30)
    assert [p.kind for p in green_parts(s, GREEN, 0.0, hazards=sand)] == ["tier"]


def test_dome_runs_off_all_round() -> None:
    s = green_slopes(ground(lambda x, y: -0.15 * np.clip(np.hypot(x, y) - 10, 0, 10)), GREEN)
    names = [p.name for p in green_parts(s, GREEN, 0.0)]
    assert sorted(names) == ["all-round run-off", "false front", "middle tier"]


@pytest.mark.parametrize(
    ("bearing", "line", "name"),
    [
        (0, 0, "back"),
        (180, 0, "front"),
        (90, 0, "right"),
        (90, 180, "left"),
        (225, 0, "front left"),
        (80, 35, "back right"),
    ],
)
def test_place_names(bearing: float, line: float, name: str) -> None:
    assert place_name(bearing, 0.8, line) == name
    assert place_name(bearing, 0.1, line) == "middle"
