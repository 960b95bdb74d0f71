"""Choice of club and aim for a zone, ellipses, what stands in the way."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, box

from gistools.base.cover_classes import Kind
from gistools.base.errors import InputError
from gistools.compute.ballistics.air import CALM, Wind
from gistools.compute.ballistics.flight import NO_OBSTACLES, fly, obstacles_for
from gistools.compute.ballistics.players import built_in
from gistools.compute.ballistics.tee_shot import Teeing, best_shot, cells_in, ellipse, inside, target_for
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.terrain.obstacles import Obstacle, cylinders
from gistools.compute.terrain.surface import Surface


def teeing(surface, kinds=Kind.FAIRWAY, player="scratch man", wind=CALM, obstacles=NO_OBSTACLES) -> Teeing:
    return Teeing(turf_grid(surface, kinds), obstacles, (0.0, 0.0, 0.0), built_in(player), wind)


def test_target_as_seen_from_the_tee(level) -> None:
    t = target_for(box(-10, 100, 10, 150), (0.0, 0.0), turf_grid(level, 1))
    assert t.near_m == pytest.approx(100) and t.far_m == pytest.approx(math.hypot(10, 150))
    assert t.bearings == pytest.approx(
        (-math.degrees(math.atan2(10, 100)), math.degrees(math.atan2(10, 100)))
    )
    assert t.cells.sum() == 20 * 50 * 4


def test_cells_partly_off_the_map(level) -> None:
    land = turf_grid(level, 1)
    assert cells_in(box(50, 290, 80, 400), land).sum() == 10 * 10 * 4
    assert cells_in(box(500, 500, 510, 510), land).sum() == 0


@pytest.mark.parametrize("distance, club", [(132, "7-iron"), (220, "driver"), (74, "sand wedge")])
def test_the_club_that_gets_there(level, distance, club) -> None:
    play = teeing(level)
    result = best_shot(play, target_for(box(-8, distance, 8, distance + 14), (0.0, 0.0), play.land))
    assert result is not None and result.club.name == club
    assert min(result.bearing_deg, 360 - result.bearing_deg) < 2.5


@pytest.mark.parametrize(("rise", "club"), [(-20.0, "8-iron"), (0.0, "7-iron"), (12.0, "6-iron")])
def test_the_club_that_gets_up_or_down_there(rise, club) -> None:
    """The same place on a step below and above the tee: clubs are those whose carry to that level gets there.

    Against a search over the whole bag. The 6-iron carries past the zone on the level and is the club for 12
    m of rise.
    """
    y = 300.0 - np.arange(700)[:, None] * 0.5
    step = Surface(np.where(y > 128.0, rise, 0.0) * np.ones((700, 200)), -50.0, 300.0, 0.5)
    play = teeing(step)
    target = target_for(box(-8, 132, 8, 146), (0.0, 0.0), play.land)
    result = best_shot(play, target)
    share = {
        other.name: max(
            inside(play.records(other, aim, 512), target.cells, play.land).mean() for aim in (-1.0, 0.0, 1.0)
        )
        for other in play.player.bag("tee")
    }
    assert target.level == rise and result is not None
    assert share[result.club.name] >= max(share.values()) - 0.03
    assert share[club] >= max(share.values()) - 0.06


def test_a_zone_without_ground_is_no_target_at_sea_level(level) -> None:
    z = level.z.copy()
    z[: z.shape[0] // 2] = np.nan
    play = teeing(Surface(z, level.x_west, level.y_north, level.cell))
    target = target_for(box(-8, 132, 8, 146), (0.0, 0.0), play.land)
    assert math.isnan(target.level) and best_shot(play, target) is None


def test_no_other_full_club_and_aim_is_better(level) -> None:
    """Against a plain search over every club and 21 aims with many shots."""
    play = teeing(level, wind=Wind("", 5.0, 60.0))
    target = target_for(box(10, 150, 34, 190), (0.0, 0.0), play.land)
    result = best_shot(play, target)
    best = max(
        float(inside(play.records(club, aim, 512), target.cells, play.land).mean())
        for club in play.player.bag("tee")
        for aim in np.linspace(-5, 20, 21)
    )
    assert result.in_zone.mean() >= best - 0.03


def test_it_aims_off_for_a_cross_wind(level) -> None:
    """From the right: right of a narrow zone straight ahead, by about what the wind moves the ball."""
    wind = Wind("", 8.0, 90.0)
    play = teeing(level, wind=wind)
    result = best_shot(play, target_for(box(-6, 130, 6, 160), (0.0, 0.0), play.land))
    drift = fly(result.club.launch, wind=wind)
    assert result.bearing_deg == pytest.approx(
        -math.degrees(math.atan2(drift.offset_m, drift.carry_m)), abs=2.0
    )
    assert result.bearing_deg > 2.0


def test_of_equals_the_safer(level) -> None:
    """A lake beside one half of a wide zone: the aim moves away from it."""
    kinds = np.full(level.z.shape, Kind.FAIRWAY, np.uint8)
    x, _ = level.centres()
    kinds[:, x > 22] = Kind.WATER
    zone = box(-25, 120, 22, 170)
    free = teeing(level)
    wet = teeing(level, kinds)
    one, two = (best_shot(t, target_for(zone, (0.0, 0.0), t.land)) for t in (free, wet))
    lost = [float(np.isin(t.shots(s.out).kind, (Kind.WATER,)).mean()) for t, s in ((wet, two),)]
    assert two.in_zone.mean() > 0.9 and lost[0] < 0.02 and one.in_zone.mean() > 0.9


def test_no_shot_is_best_for_a_target_out_of_reach(level) -> None:
    play = teeing(level, player="bogey woman")
    assert best_shot(play, target_for(box(-15, 250, 15, 280), (0.0, 0.0), play.land)) is None


@pytest.mark.parametrize("share", [0.5, 0.9])
def test_ellipse_holds_its_share(share) -> None:
    rng = np.random.default_rng(5)
    u = rng.normal(size=(4000, 2)) * [3.0, 12.0]
    turn = math.radians(30)
    x, y = (
        u[:, 0] * math.cos(turn) + u[:, 1] * math.sin(turn),
        -u[:, 0] * math.sin(turn) + u[:, 1] * math.cos(turn),
    )
    outline, long_m, wide_m, bearing = ellipse(x, y, share)
    assert shapely.contains_xy(outline, x, y).mean() == pytest.approx(share, abs=0.01)
    r = math.sqrt(-2 * math.log(1 - share))  # of a normal law in the plane
    assert long_m == pytest.approx(2 * 12 * r, rel=0.05) and wide_m == pytest.approx(2 * 3 * r, rel=0.05)
    assert bearing == pytest.approx(30.0, abs=2.0)
    assert outline.area == pytest.approx(math.pi / 4 * long_m * wide_m, rel=0.01)


def test_ellipse_of_one_place() -> None:
    outline, long_m, _, _ = ellipse(np.full(10, 3.0), np.full(10, 4.0), 0.9)
    assert outline.is_valid and long_m == pytest.approx(0.1)  # drawn as a dot of 10 cm


# ---------------------------------------------------------------- standing things


def test_a_tree_is_one_cylinder_on_its_ground(make_plane) -> None:
    surface = make_plane(north=0.1)
    c = cylinders(Obstacle(Point(10, 50), 8.0, 2.0, 6.0), surface)
    assert c == pytest.approx(np.array([[10, 50, 3, 7.0, 13.0]]))


def test_an_outline_is_filled(level) -> None:
    """Every place inside is covered, nothing further than a spacing outside."""
    area = shapely.affinity.rotate(box(0, 40, 25, 60), 20)
    c = cylinders(Obstacle(area, 6.0), level)
    cover = shapely.union_all([Point(x, y).buffer(r, quad_segs=32) for x, y, r, *_ in c])
    assert area.buffer(-1.5).difference(cover).area < 0.5
    assert cover.difference(area.buffer(2.2)).area < 1e-6


def test_small_houses_and_walls_are_not_lost(level) -> None:
    assert len(cylinders(Obstacle(box(0, 0, 1, 1), 3.0), level)) >= 1
    wall = cylinders(Obstacle(LineString([(0, 20), (30, 20)]), 1.5), level)
    for x in np.linspace(0, 30, 61):
        assert np.hypot(wall[:, 0] - x, wall[:, 1] - 20).min() <= wall[0, 2] + 1e-9


def test_a_wall_stops_a_low_ball(level) -> None:
    wall = obstacles_for(cylinders(Obstacle(LineString([(-30, 20), (30, 20)]), 10.0), level), level)
    play = teeing(level, obstacles=wall)
    shots = play.shots(play.records(built_in("scratch man").clubs[0], 0.0, 256))
    assert shots.stopped.all() and shots.land_y == pytest.approx(20.0, abs=0.6)


def test_missing_ground_and_upside_down(level) -> None:
    assert len(cylinders(Obstacle(Point(900, 900), 5.0), level)) == 0
    with pytest.raises(InputError, match="underside"):
        Obstacle(Point(0, 0), 5.0, 6.0)
