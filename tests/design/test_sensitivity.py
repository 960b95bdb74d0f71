"""What a lead hangs on: with leads that are known, and the sites that are played."""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base.errors import InputError, SiteError
from gistools.design import sensitivity as module
from gistools.design.sensitivity import lead_sentence, sensitivity
from gistools.sheets.tornado_figure import tornado
from gistools.site.players import one_player
from gistools.site.sample import sample_site

SITE = sample_site()


def play(site, _hole, _tee, player, wind):
    """Totals by a rule: each thing moves the lead of left over right by a known amount."""
    lead = 0.05
    lead += {"soft": -0.2, "normal": 0.0, "firm": 0.1}.get(str(site.settings.get("firmness", "normal")), 0.0)
    lead += 0.3 * (site.setting("blind_dispersion_increase_pct", 1) - 10.0) / 100
    if player == "trial player":
        lead += (one_player(site, player).clubs[0].carry_m / 210.312 - 1) * 2
    if wind == "trial wind":
        row = site.layer("winds").set_index("wind").loc["trial wind"]
        lead += 0.01 * float(np.cos(np.radians(row["from_deg"] - 10.0)) > 0.99)
    return {"back left": {"left": 4.0, "right": 4.0 + lead, "short": 4.5}}


def test_leads_turns_and_order_of_the_rows(monkeypatch):
    monkeypatch.setattr(module, "zone_totals", play)
    table = sensitivity(SITE, pin="back l", hole=1)
    assert (table["zone"] == "left").all() and (table["other"] == "right").all()
    assert table["lead_strokes"].to_numpy() == pytest.approx(0.05)
    assert list(table["spread_strokes"]) == sorted(table["spread_strokes"], reverse=True)
    rows = table.set_index("factor")
    firm = rows.loc["firmness"]
    assert (firm["lead_low_strokes"], firm["lead_high_strokes"]) == pytest.approx((-0.15, 0.15))
    assert firm["turns"] and "right is first then" in firm["reading"]
    blind = rows.loc["aim widened by a blind flag"]
    assert (blind["lead_low_strokes"], blind["lead_high_strokes"]) == pytest.approx((0.02, 0.11))
    assert not blind["turns"]
    length = rows.loc["length of the player"]
    assert (length["lead_low_strokes"], length["lead_high_strokes"]) == pytest.approx((-0.15, 0.25), abs=1e-6)
    assert rows.loc["wind along play", "lead_low_strokes"] == pytest.approx(0.06)
    assert rows.loc["height of Haar Knowe", "low"] == "-1 m"
    assert rows.loc["place of Teasel Burn", "high"] == "5 m towards the green"
    assert "height of Haar Knowe" in rows.index and "bunker Bindweed" in rows.index
    assert "left leads right by +0.05 strokes." in lead_sentence(table, 0.02)
    assert "which is level" in lead_sentence(table, 0.06)


def test_what_cannot_be_made_or_played_is_said(monkeypatch):
    def fails(site, *rest):
        if str(site.settings.get("firmness")) == "soft":
            raise SiteError("no")
        return play(site, *rest)

    monkeypatch.setattr(module, "zone_totals", fails)
    rows = sensitivity(SITE, pin="back left", hole=1).set_index("factor")
    assert np.isnan(rows.loc["firmness", "lead_low_strokes"])
    assert "soft cannot be said" in rows.loc["firmness", "reading"]
    assert rows.loc["firmness", "spread_strokes"] == pytest.approx(0.1)


def test_the_picture_has_a_bar_for_each_end(monkeypatch):
    monkeypatch.setattr(module, "zone_totals", play)
    table = sensitivity(SITE, pin="back left", hole=1)
    axes = tornado(table, 0.02).axes[0]
    bars = [p for p in axes.patches if p.get_height() == pytest.approx(0.6)]
    ends = sorted(round(p.get_x() + p.get_width(), 6) for p in bars)
    known = table[["lead_low_strokes", "lead_high_strokes"]].to_numpy().ravel()
    assert ends == pytest.approx(sorted(np.round(known[np.isfinite(known)], 6)))
    assert [t.get_text() for t in axes.get_yticklabels()] == list(table["factor"])


@pytest.mark.parametrize(
    "choice, words",
    [
        ({"pin": "nowhere"}, "there is no hole location 'nowhere'"),
        ({"pin": "back left", "zone": "left", "other": "left"}, "both 'left'"),
        ({"pin": "back left", "player": "scratch man, bogey man"}, "one player is asked for, not 2"),
        ({"pin": "back left", "wind": "gale"}, "add winds in the table"),
        ({"pin": "back left", "tee": "moon"}, "there is no tee 'moon'"),
    ],
)
def test_sensitivity_says_what_it_cannot_answer(monkeypatch, choice, words):
    monkeypatch.setattr(module, "zone_totals", play)
    with pytest.raises(InputError, match=words):
        sensitivity(SITE, hole=1, **choice)
