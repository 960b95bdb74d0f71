"""Sheets of greens: what is drawn for a hole location stands where the layers have it."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from matplotlib.colors import to_hex
from shapely.geometry import Point

from gistools.sheets.drawings.greens import DEAD, RANKED, greens
from gistools.sheets.drawings.ground import Subject
from gistools.sheets.results import HoleResults
from gistools.site.model import Site
from gistools.steps.catalogue import find
from gistools.steps.landing_areas import CARD_KEYS

PUTTER = {"next_club": "putter", "hold_pct": math.nan}


def card(zone: str, number: int, **more: object) -> dict[str, object]:
    """Return a card of the straight hole at its front hole location."""
    words = {"tee": "back", "player": "one", "wind": "calm", "from_zone": "", "pin": "front", "zone": zone}
    shot = {"next_club": "8-iron", "next_zone": "", "next_from": "finish", "club": "driver"}
    figures = {
        "shot_number": 1, "zone_number": number, "rank": number, "effective_distance_m": 131.0,
        "hold_pct": 61.0, "within_6_pct": 34.0, "hold_area_m2": 480.0, "feed_area_m2": 90.0,
    }  # fmt: skip
    return words | shot | figures | {"geometry": Point(0, 200)} | more


def drawn(site: Site, *cards: dict[str, object]) -> tuple[list[object], Subject, HoleResults]:
    """Return the sheets of some cards, each with its landing areas and a dead miss."""
    results = HoleResults(1, steps={"landing_areas": find("landing_areas")})
    keys = [{k: c[k] for k in CARD_KEYS} for c in cards]
    results.tables["landing_areas"] = pd.DataFrame(
        [
            k | {"landing_result": words, "geometry": Point(3, 330).buffer(radius)}
            for k in keys
            for words, radius in (("holds the green", 9.0), ("feeds to the pin", 4.0))
        ]
    )
    miss = {"miss_quarter": "left", "miss_verdict": "dead", "miss_pct": 12.4, "geometry": Point(-9, 338)}
    results.tables["misses"] = pd.DataFrame([k | miss for k in keys])
    subject = Subject.of(site, 1)
    return [made[0] for made in greens(subject, results, pd.DataFrame(cards), "m")], subject, results


def test_landing_areas_and_misses_are_drawn_in_their_place(straight_site: Site) -> None:
    (sheet,), subject, _ = drawn(straight_site, card("short", 1), card("beyond", 2), card("wide", 3))
    axes = next(a for a in sheet.figure.axes if any(p.get_alpha() == 0.25 for p in a.patches))
    tinted = [p for p in axes.patches if p.get_alpha() == 0.25]
    assert [to_hex(p.get_facecolor()) for p in tinted] == list(RANKED)
    middle = np.mean(tinted[0].get_xy()[:-1], axis=0)
    assert middle == pytest.approx([float(v) for v in subject.frame.page(3.0, 330.0)], abs=0.05)
    marks = [line for line in axes.lines if line.get_marker() == "X"]
    assert [line.get_color() for line in marks if line.get_zorder() == 8] == [DEAD]  # of the first zone alone
    assert [float(v[0]) for v in marks[0].get_data()] == pytest.approx(
        [float(v) for v in subject.frame.page(-9.0, 338.0)]
    )
    words = " ".join(t.get_text() for t in sheet.paper.texts)
    assert (
        "1 short: plays 131 m, 8-iron; 61 % hold, 34 % within 6 m; holds from 480 m², feeds from 90 m²"
        in words
    )
    assert "2 beyond: " in words and "3 wide" not in words
    assert "12 % left, dead" in {t.get_text() for t in axes.texts}


def test_zones_that_leave_a_putt_are_not_drawn(straight_site: Site) -> None:
    (sheet,), *_ = drawn(straight_site, card("short", 1, **PUTTER), card("beyond", 2))
    words = " ".join(t.get_text() for t in sheet.paper.texts)
    assert "2 beyond: " in words and "1 short" not in words and "nan" not in words
    assert drawn(straight_site, card("short", 1, **PUTTER))[0] == []
