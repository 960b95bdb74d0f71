"""What-ifs: what is asked changes, nothing else does."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from pandas.testing import assert_frame_equal

from gistools.base.errors import InputError
from gistools.design.compare import compare
from gistools.design.vary import sweep, vary


def test_a_tee_moved_back_lengthens_the_hole(straight_site):
    before = straight_site.layer("tees").copy()
    back = vary(straight_site, move_tee={(1, "back"): (0.0, -10.0)})
    changed = compare(straight_site, back, ["lengths.grid_m"], hole=1)
    assert changed["change"].iloc[0] == pytest.approx(10.0, abs=0.01)
    assert_frame_equal(straight_site.layer("tees"), before)


def test_a_burn_shifted_north_asks_more_carry(straight_site):
    other = vary(straight_site, shift={"Test Burn": (0.0, 12.0)})
    changed = compare(straight_site, other, ["carries.carry_m"], hole=1)
    on_line = changed[changed["line"] == "on line"]
    assert on_line["change"].iloc[0] == pytest.approx(12.0, abs=0.01)


def test_sweep_is_the_same_on_any_executor_and_resumes(straight_site, tmp_path):
    grid = {"move_tee": [None, {(1, "back"): (0.0, -10.0)}, {(1, "back"): (0.0, -20.0)}]}
    simple = sweep(straight_site, grid, ["lengths.grid_m"], hole=1, keep=tmp_path)
    assert list(np.diff(simple["value"])) == pytest.approx([10.0, 10.0], abs=0.01)
    assert len(list(tmp_path.glob("*.json"))) == 3
    with ThreadPoolExecutor(2) as pool:
        pooled = sweep(straight_site, grid, ["lengths.grid_m"], hole=1, executor=pool)
    assert_frame_equal(simple, pooled)
    assert_frame_equal(
        sweep(straight_site, grid, ["lengths.grid_m"], hole=1, keep=tmp_path), simple, check_dtype=False
    )


def test_a_stored_sweep_is_not_taken_for_an_edited_site(straight_site, tmp_path):
    """Same folder, other survey: the back tee stands 7 m further back."""
    grid = {"stimp_ft": [None]}
    first = sweep(straight_site, grid, ["lengths.grid_m"], hole=1, keep=tmp_path)
    edited = vary(straight_site, move_tee={(1, "back"): (0.0, -7.0)})
    second = sweep(edited, grid, ["lengths.grid_m"], hole=1, keep=tmp_path)
    back = [table.loc[table["tee"] == "back", "value"].iloc[0] for table in (first, second)]
    assert back[1] - back[0] == pytest.approx(7.0, abs=0.01)
    assert_frame_equal(
        sweep(straight_site, grid, ["lengths.grid_m"], hole=1, keep=tmp_path), first, check_dtype=False
    )


@pytest.mark.parametrize(
    "wrong",
    [
        {"move_tee": {(1, "gold"): (0, 1)}},
        {"shift": {"No Such Burn": (0, 1)}},
        {"raise_m": {"Test Burn": 1.0}},
        {"firmness": "concrete"},
        {"stimp_ft": 99.0},
    ],
)
def test_what_is_not_there_is_named(straight_site, wrong):
    with pytest.raises(InputError):
        vary(straight_site, **wrong)
