"""The sample as a file, and its page."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

import gistools as gt
from gistools.site import sample
from gistools.site.sample import sample_site, write_sample
from gistools.site.schema import SURVEY_LAYERS, TABLES

ROOT = Path(__file__).resolve().parents[2]
SITE = sample_site()
GROUND = SITE.surface()


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    return write_sample(tmp_path_factory.mktemp("sample") / "merrowby.gpkg")


def test_file_opens_without_findings(written):
    assert [str(f) for f in gt.check(written)] == []
    assert written.stat().st_size < 10e6


def test_file_holds_what_the_site_in_memory_holds(written):
    site = gt.open_site(written)
    assert site.holes == SITE.holes == [1, 2, 3]
    assert set(site.tables) == set(SITE.tables)
    for name, table in SITE.tables.items():
        other = site.tables[name]
        assert list(other.columns) == list(table.columns), name
        for column in table.columns:
            if column == "geometry":
                assert list(other.geometry.to_wkb()) == list(table.geometry.to_wkb()), name
                continue
            a, b = ([None if v is None or v != v else v for v in t[column]] for t in (table, other))
            assert a == b, (name, column)
    assert np.array_equal(site.surface().z, GROUND.z)
    assert site.surface().bounds == GROUND.bounds


def test_every_required_field_is_there_and_believable():
    for spec in (*SURVEY_LAYERS.values(), *TABLES.values()):
        table = SITE.tables.get(spec.name)
        for f in spec.all_fields if table is not None else ():
            values = [v for v in table[f.name] if v is not None and v == v]
            assert not f.required or len(values) == len(table), (spec.name, f.name)
            for v in values if f.kind in ("int", "float") else ():
                assert (f.low is None or v >= f.low) and (f.high is None or v <= f.high), (spec.name, f.name)


def test_writing_refuses_and_replaces(tmp_path):
    path = tmp_path / "a.gpkg"
    path.write_text("mine")
    with pytest.raises(gt.InputError, match="already there"):
        write_sample(path)
    assert path.read_text() == "mine"
    assert write_sample(path, replace=True) == path and path.stat().st_size > 1e6
    with pytest.raises(gt.InputError, match=r"ends in \.gpkg"):
        write_sample(tmp_path / "a.tif")
    with pytest.raises(gt.WriteError, match="no such folder"):
        write_sample(tmp_path / "none" / "a.gpkg")
    assert [p.name for p in tmp_path.iterdir()] == ["a.gpkg"]


def test_failed_writing_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "a.gpkg"
    path.write_text("mine")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(sample, "_build", full)
    with pytest.raises(gt.WriteError, match="No space"):
        write_sample(path, replace=True)
    assert path.read_text() == "mine" and [p.name for p in tmp_path.iterdir()] == ["a.gpkg"]


def script():
    spec = importlib.util.spec_from_file_location("make_sample", ROOT / "scripts" / "make_sample.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_page_is_current():
    page = (ROOT / "sample_course.gpkg.md").read_text(encoding="utf-8")
    assert script().refreshed(page) == page
    for name in (*SURVEY_LAYERS, *TABLES):
        assert f"### `{name}`" in page
    for layer in ("greens", "bunkers", "mounds", "burns", "water", "structures"):
        for name in SITE.layer(layer)["name"]:
            assert name in page
