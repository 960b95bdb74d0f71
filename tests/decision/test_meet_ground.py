"""Where samples land, looked up in loops over all of them, against NumPy in double precision."""

from __future__ import annotations

import numpy as np
import pytest

from gistools.compute.decision import outcome_kernels as kernels
from gistools.compute.decision.outcome_kernels import OUTCOME, ROW_LENGTH, Action, Place, Sampling
from gistools.compute.decision.shot_table import MANY, SETS

from .test_small_hole import small_hole

SAMPLES = SETS[-1]


def test_a_sample_buffer_has_room_for_the_largest_set():
    assert max(MANY, *SETS) <= ROW_LENGTH
    assert ROW_LENGTH * 4 % 4096


@pytest.mark.parametrize("heading", [0, 60, 80, 200])
def test_samples_land_where_levels_looked_up_twice_put_them(heading: int):
    s = small_hole()
    g, tables = s.ground, s.tables(0)
    shot = int(np.argmin(np.abs(tables.carry_m - 28.0)))
    x, y = 0.0, 0.0
    z = float(s.surface.height(x, y)) + 1.0  # ground lies lower all about: balls fly farther
    out = np.zeros(SAMPLES, OUTCOME)
    place = Place(x, y, z, g.obstacle_m[0])
    kernels.outcomes(g, tables, place, Action(shot, heading), Sampling(SAMPLES, 0.0, 0.0), out)
    buffer = kernels.make_sample_buffer()
    kernels.lay_out(tables, Action(shot, heading), kernels.first_of(SAMPLES), SAMPLES, 0.0, buffer.real)
    rows = buffer.real[: kernels.TABLE_ROWS, :SAMPLES].astype(float)
    offset, shift, curve = rows[0:2], rows[2:4], rows[4:6]
    at, off = np.array([[x], [y]]) + offset, np.zeros(SAMPLES, bool)
    for _ in range(3):
        i = np.floor((g.y_north - at[1]) / g.cell).astype(int)
        j = np.floor((at[0] - g.x_west) / g.cell).astype(int)
        off |= (i < 0) | (j < 0) | (i >= g.kind.shape[0]) | (j >= g.kind.shape[1])
        level = g.level[i.clip(0, g.kind.shape[0] - 1), j.clip(0, g.kind.shape[1] - 1)].astype(float)
        h = np.clip(level - z, tables.lowest_m[shot], tables.highest_m[shot])
        last, at = at, np.array([[x], [y]]) + offset + h * (shift + h * curve)
    assert off.any() == (heading > 0)
    assert (~off).sum() > 5
    assert np.array_equal(out["land_kind"] == kernels.KIND_OFF, off)
    assert out["land_x"][~off] == pytest.approx(last[0, ~off], abs=1e-3)
    assert out["land_y"][~off] == pytest.approx(last[1, ~off], abs=1e-3)
