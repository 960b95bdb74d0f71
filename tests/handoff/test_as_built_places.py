"""Places of what was built, compared with the points that were staked: known offsets put in come out."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

import gistools as gt
from gistools.base.errors import GistoolsWarning
from gistools.cli.main import main
from gistools.handoff.csvfile import write_pnezd
from gistools.handoff.frame import Frame
from gistools.site.model import Site
from gistools.site.sample import sample_site

SITE = sample_site()
STAKES = gt.setting_out(SITE, hole=1).setting_out
EDGES = STAKES[STAKES["code"].isin(["GRN", "BKR", "TEE", "BNL", "PIN"])]


def measured(path: Path, stakes, east, north, names: str = "number") -> str:
    """Write stakes as measured, moved in plan, named by number, by name or in the description."""
    lines = []
    for r, e, n in zip(stakes.itertuples(), east, north, strict=True):
        point, words = {"number": (r.number, ""), "name": (r.point, ""), "words": ("7", f"top {r.point} ok")}[
            names
        ]
        lines.append(f"{point},{r.geometry.y + n:.6f},{r.geometry.x + e:.6f},{r.proposed_level_m},{words}")
    path.write_text("\n".join(lines))
    return str(path)


@settings(max_examples=10, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    limit=st.sampled_from([0.02, 0.1, 0.5]),
    size=st.sampled_from([0.01, 0.2, 3.0]),
)
def test_offsets_put_in_come_out(tmp_path_factory, seed: int, limit: float, size: float) -> None:
    rng = np.random.default_rng(seed)
    chosen = EDGES.iloc[np.sort(rng.choice(len(EDGES), 12, replace=False))]
    east, north = rng.normal(0, size, (2, len(chosen)))
    names = str(rng.choice(["number", "name", "words"]))
    path = measured(tmp_path_factory.mktemp("back") / "m.csv", chosen, east, north, names)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", GistoolsWarning)
        out = gt.as_built_check(SITE, points=path, plan_m=limit)
    got = out.as_built_check.set_index("stake").loc[list(chosen["point"])]
    off = np.hypot(east, north)
    assert got["delta_easting_m"].to_numpy() == pytest.approx(east, abs=0.0006)  # stored to the millimetre
    assert got["delta_northing_m"].to_numpy() == pytest.approx(north, abs=0.0006)
    assert got["delta_plan_m"].to_numpy() == pytest.approx(off, abs=0.0006)
    sure = np.abs(off - limit) > 0.001
    assert ((got["plan_status"] == "outside").to_numpy() == (off > limit))[sure].all()
    summary = out.as_built_summary
    assert summary["staked_count"].sum() == 12
    assert summary["worst_plan_m"].max() == pytest.approx(off.max(), abs=0.0006)
    assert summary["plan_outside_count"].sum() == (got["plan_status"] == "outside").sum()


def test_a_green_that_was_shifted_is_said_to_be(tmp_path: Path) -> None:
    green = STAKES[STAKES["code"] == "GRN"]
    path = measured(tmp_path / "m.csv", green, np.full(len(green), 0.15), np.full(len(green), -0.2))
    out = gt.as_built_check(SITE, hole=1, points=path)
    row = out.as_built_summary.iloc[0]
    assert (row["mean_easting_m"], row["mean_northing_m"]) == pytest.approx((0.15, -0.2), abs=0.001)
    assert row["worst_plan_m"] == pytest.approx(0.25, abs=0.001) and row["feature_status"] == "outside"
    words = gt.sentences(out.as_built_check)
    assert words[1].startswith(
        f"In plan: {len(green)} name a stake, 0 within 0.1 m of it, {len(green)} outside"
    )
    assert "0.250 m off (0.150 m east, 0.200 m south)" in words[1]
    assert (
        words[2] == f"Haar lies 0.150 m east, 0.200 m south of its stakes in the mean of {len(green)} points."
    )


def test_a_site_in_feet_is_compared_in_metres(tmp_path: Path, hand_site: Site) -> None:
    stakes = gt.setting_out(hand_site, hole=1).setting_out
    unit, frame = hand_site.unit_m, Frame.of(hand_site)
    rows = [
        (n, x * unit + 0.3, y * unit + 0.4, z, p)
        for n, x, y, z, p in zip(
            stakes["number"], stakes.geometry.x, stakes.geometry.y, stakes["proposed_level_m"],
            stakes["point"], strict=True,
        )
    ]  # fmt: skip
    path = write_pnezd(tmp_path / "m.csv", rows, frame)
    got = gt.as_built_check(hand_site, points=str(path)).as_built_check
    assert len(got) == len(stakes) and (got["plan_status"] == "outside").all()
    assert got["delta_plan_m"].to_numpy() == pytest.approx(0.5, abs=0.001)


def test_points_without_a_stake_are_checked_in_level_alone(tmp_path: Path) -> None:
    green = STAKES[STAKES["code"] == "GRN"].iloc[:3]
    lines = [
        f"{k},{r.geometry.y},{r.geometry.x},{r.proposed_level_m}," for k, r in enumerate(green.itertuples())
    ]
    (tmp_path / "m.csv").write_text("\n".join(lines))
    out = gt.as_built_check(SITE, points=str(tmp_path / "m.csv"))
    assert (out.as_built_check["plan_status"] == "no stake").all()
    assert out.as_built_check["delta_plan_m"].isna().all()
    assert out.as_built_summary["staked_count"].tolist() == [0]
    assert out.as_built_summary["feature_status"].tolist() == ["within"]
    assert "places in plan are not checked" in gt.sentences(out.as_built_check)[1]


def test_stakes_of_other_spacings_need_the_file_handed_out(tmp_path: Path) -> None:
    """The same names stand elsewhere when points are staked every 2 m."""
    stakes = gt.setting_out(SITE, hole=1, spacing_m=2.0).setting_out
    green = stakes[stakes["code"].isin(["GRN", "FWY"])]
    back = measured(tmp_path / "m.csv", green, np.full(len(green), 0.05), np.zeros(len(green)))
    handed = write_pnezd(
        tmp_path / "out.csv",
        [
            (
                r.number,
                r.geometry.x,
                r.geometry.y,
                np.nan if k == 1 else r.proposed_level_m,
                f"{r.code} {r.point} x",
            )
            for k, r in enumerate(green.itertuples())
        ],
        Frame.of(SITE),
        header=True,
    )
    with pytest.warns(GistoolsWarning, match="staked with other spacings or an older design"):
        gt.as_built_check(SITE, points=back)
    got = gt.as_built_check(SITE, points=back, stakes=str(handed)).as_built_check
    assert got["delta_plan_m"].to_numpy() == pytest.approx(0.05, abs=0.001)
    assert set(got["stake"]) == set(green["point"])
    assert (got["plan_status"] == "within").all()


def test_landxml_handed_out_serves_as_stakes(tmp_path: Path) -> None:
    coarse = {"tin_m": 0.5, "interval_m": 5.0, "by_feature": False}  # surfaces are not asked about
    folder = gt.hand_off(SITE, tmp_path / "out", hole=1, spacing_m=3.0, **coarse)
    stakes = gt.setting_out(SITE, hole=1, spacing_m=3.0).setting_out
    green = stakes[stakes["code"] == "GRN"]
    back = measured(tmp_path / "m.csv", green, np.full(len(green), 0.0), np.full(len(green), 0.12))
    got = gt.as_built_check(SITE, points=back, stakes=str(folder / "hole_01" / "hole_01.xml")).as_built_check
    assert got["delta_northing_m"].to_numpy() == pytest.approx(0.12, abs=0.001)
    assert set(got["stake"]) == set(green["point"])


def test_the_terminal_says_it_in_words(tmp_path: Path) -> None:
    site = str(tmp_path / "m.gpkg")
    assert CliRunner().invoke(main, ["sample", site]).exit_code == 0
    green = STAKES[STAKES["code"] == "GRN"]
    back = measured(tmp_path / "back.csv", green, np.full(len(green), 0.3), np.zeros(len(green)))
    done = CliRunner().invoke(main, ["as_built_check", site, "--points", back, "--plan-m", "0.25"])
    assert done.exit_code == 0, done.output
    assert f"In plan: {len(green)} name a stake, 0 within 0.25 m of it" in done.output
    assert "Haar lies 0.300 m east" in done.output
