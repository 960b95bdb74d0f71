"""A sheet takes from the file what still holds.

The same page as from computing, and never an outdated figure.
"""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import pytest

import gistools as gt
from gistools.sheets import results as results_module
from gistools.sheets.page import page
from gistools.sheets.payload import payload
from gistools.sheets.plan import draw
from gistools.sheets.results import collect_results
from gistools.site.model import Site
from gistools.site.result_layers import read_result
from gistools.site.sample import write_sample
from gistools.steps.catalogue import need

STEPS = (
    "lines_of_play",
    "lengths",
    "carries",
    "corridors",
    "diagonals",
    "zones",
    "setbacks",
    "slopes",
    "flag_views",
)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = write_sample(tmp_path_factory.mktemp("kept") / "merrowby.gpkg")
    gt.study(gt.open_site(where), only=STEPS, hole=2)
    return where


def never(*_: Any) -> None:
    raise AssertionError("it was computed again")


def shown(site: Any, hole: int) -> Any:
    results = collect_results(site, hole, STEPS)
    return json.loads(json.dumps(payload(site, results, draw(site, hole, results))))


@pytest.mark.parametrize("hole", [2])
def test_same_page_as_from_computing(path: Path, hole: int, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(results_module, "_compute", never)
        from_file = shown(gt.open_site(path), hole)
    with monkeypatch.context() as patch:
        patch.setattr(results_module, "stored_result", lambda *_: "not now")
        computed = shown(gt.open_site(path), hole)
    assert set(from_file) == set(computed)
    for part in computed:
        if part == "maps":
            for kind, output in computed[part].items():
                assert {k: v for k, v in output.items() if k != "items"} == {
                    k: v for k, v in from_file[part][kind].items() if k != "items"
                }
                pins = [sorted(i["pin"] for i in t["items"]) for t in (output, from_file[part][kind])]
                assert pins[0] == pins[1] and pins[0]
        elif part == "tables":
            for name, output in computed[part].items():
                assert from_file[part][name]["columns"] == output["columns"], name
                for a, b in zip(from_file[part][name]["rows"], output["rows"], strict=True):
                    assert a == pytest.approx(b, nan_ok=True), name
        else:
            assert from_file[part] == computed[part], part


def test_outdated_results_are_not_shown(path: Path) -> None:
    site = gt.open_site(path)
    pins = site.layer("pins").copy()
    pins["pin"] = [f"{p} moved" for p in pins["pin"]]
    changed = site.replace(pins=pins)
    output = results_module.stored_result(changed, results_module.find("lengths"), 2)
    assert isinstance(output, str) and "changed" in output
    assert not isinstance(results_module.stored_result(site, results_module.find("lengths"), 2), str)


def test_what_was_not_played_out_is_said(path: Path) -> None:
    site = gt.open_site(path)
    results = collect_results(site, 2, ("lines_of_play", "zones", "strokes", "positions", "brief"))
    assert {"strokes", "positions", "brief"} <= set(results.reasons)
    assert "full study" in results.reasons["positions"]
    text = page(site, results, draw(site, 2, results))
    assert "Not computed" in text and text.count("full study") >= 3


def test_a_file_in_feet_comes_back_in_metres(straight_site: Site, tmp_path: Path) -> None:
    """EPSG:2225 has axes in US survey feet (1200/3937 m).

    The file holds feet, the page is drawn in metres.
    """
    feet = Site.from_tables(dict(straight_site.tables), 2225, straight_site.surface())
    computed = need(feet, "carries", hole=1)["carries"]
    out = feet.write(gt.carries(feet, hole=1), out=tmp_path / "feet.gpkg")
    stored = read_result(out, "carries")
    assert stored.geometry.iloc[0].length == pytest.approx(computed.geometry.iloc[0].length / (1200 / 3937))
    there = results_module.stored_result(
        dataclasses.replace(feet, path=out), results_module.find("carries"), 1
    )
    assert not isinstance(there, str)
    for output, known in zip(there["carries"].geometry, computed.geometry, strict=True):
        assert output.distance(known) < 1e-6 and output.length == pytest.approx(known.length, abs=1e-5)
    assert list(there["carries"]["carry_m"]) == pytest.approx(list(computed["carry_m"]), abs=5.1e-4)
