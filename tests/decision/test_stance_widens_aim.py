"""Slope under the feet widens the aim of the strokes that are solved for."""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.cover_classes import Kind
from gistools.compute.ballistics.air import CALM, STANDARD_DAY
from gistools.compute.ballistics.players import built_in
from gistools.compute.decision.hole_ground import HoleGround
from gistools.compute.terrain.surface import Surface
from gistools.hole import HoleModel, model
from gistools.site.sample import sample_site


@pytest.mark.parametrize(("rise", "slope"), [((0.0, 0.0), 0.0), ((0.10, 0.0), 0.10), ((-0.06, 0.08), 0.10)])
def test_a_plane_slopes_underfoot_but_on_tees_and_greens(rise, slope):
    y, x = np.mgrid[60:0:-1, 0:60] - 0.5
    surface = Surface(rise[0] * x + rise[1] * y, 0.0, 60.0, 1.0)
    kind = np.full(surface.z.shape, Kind.FAIRWAY, np.uint8)
    kind[:, :10], kind[:, 50:] = Kind.TEE, Kind.GREEN
    none = np.zeros(kind.shape, bool)
    ground = HoleGround(1, surface, kind, kind, (), None, STANDARD_DAY, none, None, (), np.empty((0, 2)))
    steep = ground.stance_slope_deg([30.0, 35.2, 5.0, 55.0], [30.0, 20.3, 30.0, 30.0])
    assert steep == pytest.approx([np.degrees(np.arctan(slope))] * 2 + [0.0, 0.0], abs=1e-6)


def test_a_face_counts_as_the_steepest_stance():
    surface = Surface(np.tile(np.arange(60.0) * 2.0, (60, 1)), 0.0, 60.0, 1.0)
    kind = np.full(surface.z.shape, Kind.ROUGH, np.uint8)
    none = np.zeros(kind.shape, bool)
    ground = HoleGround(1, surface, kind, kind, (), None, STANDARD_DAY, none, None, (), np.empty((0, 2)))
    assert ground.stance_slope_deg(30.0, 30.0) == 20.0


def scale_of(monkeypatch, **settings):
    """Return the increase of direction errors that strokes are solved with, and the hole."""
    taken = {}
    monkeypatch.setattr(model, "solve_on", lambda *_, **more: taken.update(more))
    monkeypatch.setattr(model.HoleModel, "_solved_before", lambda *_: {})
    hole = HoleModel(sample_site().with_settings(settings), 1)
    hole._solve(built_in("scratch man"), CALM)
    return taken["dispersion_scale"], hole


def test_blindness_and_slope_multiply(monkeypatch):
    where = np.array([[x, y, 0.0] for x, y in HoleModel(sample_site(), 1).tees_by_length[0].line])
    x0, y0, x1, y1 = *where[0, :2], *where[-1, :2]
    share = np.linspace(0.5, 0.9, 9)
    places = np.column_stack([x0 + share * (x1 - x0), y0 + share * (y1 - y0), 0.0 * share])
    both, hole = scale_of(monkeypatch, blind_dispersion_increase_pct=40.0, slope_dispersion_increase_pct=5.0)
    blind, _ = scale_of(monkeypatch, blind_dispersion_increase_pct=40.0, slope_dispersion_increase_pct=0.0)
    slope, _ = scale_of(monkeypatch, blind_dispersion_increase_pct=0.0, slope_dispersion_increase_pct=5.0)
    assert (1 + blind(places)) * (1 + slope(places)) - 1 == pytest.approx(both(places))
    degrees = hole.ground.stance_slope_deg(places[:, 0], places[:, 1])
    assert slope(places) == pytest.approx(np.repeat(0.05 * degrees[:, None], len(hole.pins), axis=1))
    assert degrees.max() > 1.0 and blind(places).max() > 0.05
    none, _ = scale_of(monkeypatch, blind_dispersion_increase_pct=0.0, slope_dispersion_increase_pct=0.0)
    assert none is None
