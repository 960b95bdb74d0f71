"""Expected strokes on the generic hole beside published ones.

- Tour by distance and lie: Broadie 2012, Interfaces 42(2) 146-165, table 9 of the working paper of 8 April
2011
  [second-hand]. Every third row of fairway, rough and sand was kept out of the fit of scripts/fit_players.py.
- A 90-golfer from the tee: Broadie 2008, 2.79 + 0.0066 d yards [second-hand]; kept out of the fit of the
handicaps.
- Strokes from 100 yd by handicap: a shot-tracking survey in the press [second-hand]; fitted.
- Model players from the tee: course rating by length alone [from memory]. A rating leaves obstacles out and
stands
  for the better half of scores, so plain means on a hole with trees and bunkers lie above it.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

pytestmark = pytest.mark.slow

SCRIPTS = Path(__file__).resolve().parents[2] / "scripts"


@pytest.fixture(scope="module")
def tables():
    sys.path.insert(0, str(SCRIPTS))  # scripts import each other
    spec = importlib.util.spec_from_file_location("tables_of_strokes", SCRIPTS / "tables.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def tour_errors(tables):
    rows = [r for r in tables.rows_of("tour") if np.isfinite(r.error)]
    return {lie: np.array([r.error for r in rows if r.lie == lie]) for lie in {r.lie for r in rows}}


def rms(errors: np.ndarray) -> float:
    return float(np.sqrt((errors**2).mean()))


#: lie, limit of the root mean square, and the band about what is measured
TOUR = [
    pytest.param("tee", 0.05, (0.06, 0.10), marks=pytest.mark.xfail(strict=True, reason="0.077 measured")),
    pytest.param(
        "fairway", 0.05, (0.05, 0.07), marks=pytest.mark.xfail(strict=True, reason="0.053 measured")
    ),
    pytest.param("rough", 0.05, (0.03, 0.05)),
    pytest.param("sand", 0.10, (0.07, 0.10)),
    pytest.param(
        "recovery", 0.10, (0.15, 0.25), marks=pytest.mark.xfail(strict=True, reason="0.206 measured")
    ),
]


@pytest.mark.parametrize(("lie", "limit", "band"), TOUR)
def test_tour_player_within_the_limit(tour_errors, lie, limit, band) -> None:
    assert rms(tour_errors[lie]) <= limit


@pytest.mark.parametrize(("lie", "limit", "band"), [p.values for p in TOUR])
def test_tour_player_as_measured(tour_errors, lie, limit, band) -> None:
    """A band about our own figure, so that it does not drift unseen."""
    assert band[0] <= rms(tour_errors[lie]) <= band[1]
    assert abs(tour_errors[lie].mean()) < 0.13


@pytest.mark.xfail(strict=True, reason="limit 0.10 at every distance: 0.14 measured at 350 yd")
def test_ninety_golfer_from_the_tee_was_kept_out_of_the_fit(tables) -> None:
    errors = np.array([r.error for r in tables.rows_of("90-golfer")])
    assert np.abs(errors).max() < 0.10


def test_ninety_golfer_from_the_tee_as_measured(tables) -> None:
    """Mean -0.064, rms 0.081."""
    errors = np.array([r.error for r in tables.rows_of("90-golfer")])
    assert -0.09 < errors.mean() < -0.04 and rms(errors) < 0.10


@pytest.mark.parametrize("handicap", [0, 5, 10, 15, 20, 25])
def test_strokes_from_100_yards_by_handicap(tables, handicap) -> None:
    (row,) = tables.rows_of(f"handicap {handicap}")
    assert abs(row.error) < 0.10


@pytest.mark.parametrize(
    ("player", "low", "high"),
    [
        ("scratch man", 0.15, 0.40),
        ("scratch woman", 0.05, 0.30),
        ("bogey man", 0.25, 0.55),
        ("bogey woman", 0.30, 0.60),
    ],
)
def test_model_players_lie_above_the_rating_by_length(tables, player, low, high) -> None:
    """Obstacles and the worse half of scores come on top of the rating; a yard costs what it costs there."""
    errors = np.array([r.error for r in tables.rows_of(player)])
    assert low < errors.mean() < high
    assert np.ptp(errors) < 0.3
