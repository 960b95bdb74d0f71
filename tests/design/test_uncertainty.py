"""How sure leads are: with totals that move by known amounts, and the sites that are played."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from gistools.base.errors import InputError, SiteError
from gistools.design import uncertainty as module
from gistools.design.trial_player import TRIAL, with_trial_player
from gistools.design.uncertainty import COMPUTING_STROKES, largest_band, uncertainty
from gistools.site.players import one_player
from gistools.site.sample import sample_site

SITE = sample_site()


def play(site, hole, _tee, player, _wind):
    """Totals by a rule: each unknown moves the lead of left over right, or both totals, by so much."""
    lead, both = 0.05, 0.0
    lead += {"soft": -0.04, "normal": 0.0, "firm": 0.02}.get(
        str(site.settings.get("firmness", "normal")), 0.0
    )
    lead += 0.001 * (site.setting("blind_dispersion_increase_pct", hole) - 10.0)
    lead += 0.002 * (site.setting("slope_dispersion_increase_pct", hole) - 3.0)
    who, base = one_player(site, player), one_player(site, "scratch man")
    driver, usual = (p.dispersion(p.clubs[0], "tee") for p in (who, base))
    both += 2.0 * (driver.direction_sd_deg / usual.direction_sd_deg - 1.0) * (who.skill.handicap == 0.0)
    both += 0.03 * who.skill.handicap
    return {"back left": {"left": 4.0 + both, "right": 4.0 + both + lead, "short": 4.5 + both}}


def test_bands_are_the_root_of_the_sum_of_the_squares(monkeypatch):
    monkeypatch.setattr(module, "zone_totals", play)
    rows = uncertainty(SITE, hole=1).set_index("zone")
    left, right = rows.loc["left"], rows.loc["right"]
    assert left["turf_band_strokes"] == pytest.approx(0.02)  # half of what a class of firmness does
    assert left["sight_band_strokes"] == pytest.approx(np.hypot(0.01, 0.006))
    assert left["player_band_strokes"] == pytest.approx(0.0, abs=1e-9)  # both totals move alike
    band = np.sqrt(COMPUTING_STROKES**2 + 0.02**2 + 0.01**2 + 0.006**2)
    assert (left["lead_strokes"], left["band_strokes"]) == pytest.approx((0.05, band))
    assert (right["lead_strokes"], right["band_strokes"]) == pytest.approx((-0.05, band))
    assert not left["level"] and left["other"] == "right" and rows.loc["short", "other"] == "left"
    total = np.sqrt(COMPUTING_STROKES**2 + 0.2**2 + 0.06**2)
    assert left["total_band_strokes"] == pytest.approx(total, abs=2e-3)
    assert largest_band(rows.reset_index()) == pytest.approx(band)
    assert left["reading"].startswith("flag at back left: left ahead of right, +0.05 +- 0.03 strokes (player")


def test_a_lead_within_its_band_is_level(monkeypatch):
    def nearer(*site):
        totals = play(*site)["back left"]
        return {"back left": totals | {"right": totals["right"] - 0.03}}

    monkeypatch.setattr(module, "zone_totals", nearer)
    rows = uncertainty(SITE, hole=1).set_index("zone")
    assert rows.loc["left", "level"] and "left level with right, +0.02 +- 0.03" in rows.loc["left", "reading"]
    assert not rows.loc["short", "level"]


def test_what_cannot_be_played_adds_nothing(monkeypatch):
    def fails(site, *rest):
        if str(site.settings.get("firmness")) == "soft":
            raise SiteError("no")
        return play(site, *rest)

    monkeypatch.setattr(module, "zone_totals", fails)
    assert uncertainty(SITE, hole=1).iloc[0]["turf_band_strokes"] == pytest.approx(0.01)


def test_a_single_zone_has_no_lead(monkeypatch):
    monkeypatch.setattr(module, "zone_totals", lambda *_: {"back left": {"left": 4.0}})
    with pytest.raises(InputError, match="no lead to be sure of"):
        uncertainty(SITE, hole=1)


def test_a_trial_player_is_another_but_for_figures_given():
    row = {
        "fid": 1,
        "player": "Ann",
        "based_on": "bogey woman",
        "driver_carry_m": 150.0,
        "direction_sd_deg": 6.0,
    }
    site = SITE.replace(players=pd.DataFrame([row]))
    ann, trial = (
        one_player(site, "Ann"),
        one_player(with_trial_player(site, "Ann", distance_sd_pct=9.0), TRIAL),
    )
    assert [c.carry_m for c in trial.clubs] == pytest.approx([c.carry_m for c in ann.clubs])
    spread, hers = trial.dispersion(trial.clubs[0], "tee"), ann.dispersion(ann.clubs[0], "tee")
    assert (spread.direction_sd_deg, spread.carry_sd_pct) == pytest.approx((6.0, 9.0), rel=1e-3)
    assert hers.carry_sd_pct != pytest.approx(9.0, abs=0.5)
    longer = one_player(with_trial_player(site, "Ann", driver_carry_m=165.0), TRIAL)
    assert longer.clubs[0].carry_m == pytest.approx(165.0)
