"""Sections as pictures: what is drawn is what the layer holds, and how much too steep is told."""

from __future__ import annotations

import re

import numpy as np
import pytest

from gistools.sheets.results import HoleResults, collect_results
from gistools.sheets.section_figures import sections, vertical_exaggeration
from gistools.site.model import Site


def test_sections_of_the_straight_hole(straight_site: Site) -> None:
    results = collect_results(straight_site, 1, ("lines_of_play", "zones", "sections"))
    figure = sections(straight_site, results)
    top = figure.axes[0]
    ground = next(line for line in top.lines if len(line.get_xdata()) > 50)
    # flat ground at 10 m, tee at 0, green centre at 340 m
    assert np.allclose(ground.get_ydata(), 10.0) and ground.get_xdata()[-1] == pytest.approx(340.0)
    named = {t.get_text() for t in top.texts}
    assert {"Test Burn", "green"} <= named
    burn = next(
        line for line in top.lines if line.get_linewidth() == 3.0 and abs(np.mean(line.get_xdata()) - 200) < 1
    )
    # 4 m wide at 45 degrees to the line: 4 * sqrt(2) along it
    assert np.ptp(burn.get_xdata()) == pytest.approx(4 * 2**0.5, abs=0.2)
    output = re.search(r"exaggeration x(\d+)", top.get_title(loc="left"))
    assert output is not None
    box, (x0, x1), (y0, y1) = top.get_window_extent(), top.get_xlim(), top.get_ylim()
    assert float(output[1]) == pytest.approx((box.height / (y1 - y0)) / (box.width / (x1 - x0)), abs=0.51)
    zones, pins = results.table("zones")["zone"].nunique(), len(straight_site.layer("pins", 1))
    assert len(figure.axes) == 1 + zones * pins


def test_without_sections_it_says_so(straight_site: Site) -> None:
    results = HoleResults(1)
    results.reasons["sections"] = "the site has no terrain"
    assert "no terrain" in sections(straight_site, results).texts[0].get_text()


def test_with_yards_distances_are_in_yards_and_levels_in_feet(straight_site: Site) -> None:
    """The same ground: 340 m are 371.8 yd, 10 m are 32.8 ft, drawn at the same exaggeration."""
    results = collect_results(straight_site, 1, ("lines_of_play", "zones", "sections"))
    metres, yards = (sections(straight_site, results, units) for units in ("m", "yd"))
    ground = next(line for line in yards.axes[0].lines if len(line.get_xdata()) > 50)
    assert ground.get_xdata()[-1] == pytest.approx(340.0 / 0.9144)
    assert np.allclose(ground.get_ydata(), 10.0 / 0.3048)
    assert yards.axes[0].get_ylabel() == "level [ft]"
    steep = [vertical_exaggeration(f.axes[0], u) for f, u in ((metres, "m"), (yards, "yd"))]
    assert steep[0] == pytest.approx(steep[1], rel=0.05)
    room = [
        float(re.search(r"by ([\d.]+) (?:m|ft)$", t.get_text())[1])  # type: ignore[index]
        for f in (metres, yards)
        for t in f.axes[1].texts
        if re.search(r"by [\d.]+ (?:m|ft)$", t.get_text())
    ]
    assert len(room) == 2 and room[1] * 0.3048 == pytest.approx(room[0], abs=0.07)
