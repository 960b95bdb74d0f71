"""The page of a real hole, from the steps themselves: what it holds is what the layers hold."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path
from typing import Any

import pytest

from gistools.base.values import json_value
from gistools.sheets.page import page, write_sheets
from gistools.sheets.plan import draw
from gistools.sheets.results import collect_results
from gistools.site.model import Site
from gistools.steps.catalogue import need

PLAN = ("lines_of_play", "lengths", "carries", "corridors", "diagonals", "zones", "setbacks", "sections")


def figures(text: str) -> Any:
    results = re.search(r'id="figures">(.*?)</script>', text, re.S)
    assert results
    return json.loads(results[1])


def test_the_page_of_a_straight_hole_has_its_zones_in_place(straight_site: Site) -> None:
    results = collect_results(straight_site, 1, PLAN)
    assert not results.reasons
    output = figures(page(straight_site, results, draw(straight_site, 1, results)))
    # plane geometry: tee at (0, 0), green centre at (0, 340), burn through (0, 200) at 45 degrees, 4 m wide
    assert output["lines"][0]["d"] == "M0,0 340,0"
    burn = [
        dict(zip([c["name"] for c in output["tables"]["carries"]["columns"]], row, strict=True))
        for row in output["tables"]["carries"]["rows"]
    ]
    on_line = next(r for r in burn if r["feature"] == "Test Burn" and r["line"] == "on line")
    assert on_line["carry_m"] == pytest.approx(200 + 2 * 2**0.5, abs=0.01)
    assert set(output["widths"][0]["left"]) - {None} == {20.0}
    section = next(p for p in output["profiles"] if p["kind"] == "line")
    assert set(section["z"]) == {10.0} and section["s"][-1] == 340.0
    north_edge = [float(v) for v in output["zones"][0]["at"]]
    assert 100 < north_edge[0] < 310 and abs(north_edge[1]) < 20


def test_without_terrain_only_what_needs_it_is_missing(straight_site: Site) -> None:
    flat = dataclasses.replace(straight_site, ground=None, memo={})
    results = collect_results(flat, 1, PLAN)
    assert "terrain" in results.reasons["sections"]
    text = page(flat, results, draw(flat, 1, results))
    assert figures(text)["tables"]["carries"]["rows"] and figures(text)["profiles"] == []
    assert "terrain" in figures(text)["reasons"]["sections"]


@pytest.mark.slow
def test_sample_hole_whole(tmp_path: Path) -> None:
    from gistools.site.result_layers import stored_figures
    from gistools.site.sample import sample_site

    site = sample_site()
    written = write_sheets(site, hole=2, to=tmp_path, full=True)
    text = written[0].read_text(encoding="utf-8")
    assert len(text.encode()) < 3_000_000
    output = figures(text)
    for step, layer in SHOWN_LAYERS:
        result = need(site, step, hole=2)
        result = stored_figures(result[layer] if isinstance(result, dict) else result)
        table = output["tables"][layer]
        assert len(table["rows"]) == len(result)
        for j, column in enumerate(c["name"] for c in table["columns"]):
            if column == "reading_yd":
                continue
            if column == "about":  # several columns told in one
                assert all(str(v) in row[j] for v, row in zip(result["feature"], table["rows"], strict=True))
                continue
            assert [row[j] for row in table["rows"]] == [json_value(v, 4) for v in result[column]], (
                layer,
                column,
            )


SHOWN_LAYERS = (
    ("carries", "carries"),
    ("setbacks", "setback_conflicts"),
    ("flag_views", "tee_views"),
    ("slopes", "pin_slopes"),
    ("effective_carries", "effective_carries"),
    ("tee_shots", "tee_shots"),
    ("where_to_play", "where_to_play"),
    ("brief", "brief"),
)
