"""What --json prints is what the schema says, for every cheap step and the commands beside them."""

from __future__ import annotations

import json

import jsonschema
import pandas as pd
import pytest
from click.testing import CliRunner

from gistools.cli.main import main
from gistools.design.search import SearchResult
from gistools.site.sample import write_sample
from gistools.steps.catalogue import STEPS, find


@pytest.fixture(scope="module")
def schema():
    printed = CliRunner().invoke(main, ["schema"])
    document = json.loads(printed.stdout)
    jsonschema.Draft202012Validator.check_schema(document)
    return document


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    return write_sample(tmp_path_factory.mktemp("site") / "merrowby.gpkg")


def checked(schema, part, *words):
    """Run a command and hold what it prints to a part of the schema."""
    done = CliRunner().invoke(main, [*map(str, words), "--json", "--quiet"])
    assert done.exit_code in (0, 1), done.stderr
    printed = json.loads(done.stdout, parse_constant=pytest.fail)  # NaN and the like are no JSON
    jsonschema.validate(printed, {"$ref": f"#/$defs/{part}", "$defs": schema["$defs"]})
    jsonschema.validate(printed, schema)
    return printed


CHEAP = [n for n in STEPS if find(n).cost == "seconds" and n not in ("brief", "as_built_check")]


@pytest.mark.parametrize("step", CHEAP)
def test_json_of_every_cheap_step_fits_the_schema(schema, site, step):
    printed = checked(schema, "result", step, site, "--hole", 2, "--show-only")
    assert printed["step"] == step and printed["crs"] == "EPSG:27700"
    for layer in printed["layers"].values():
        assert all(set(row) == set(layer["columns"]) for row in layer["rows"])


def test_check_propose_tees_and_a_quick_study(schema, site, tmp_path):
    checked(schema, "findings", "check", site)
    checked(schema, "result", "propose_tees", site, "--hole", 1)
    study = checked(schema, "study", "study", site, "--hole", 2, "--quick", "--out", tmp_path / "out.gpkg")
    assert study["complete"] and "carries" in study["results"]


def test_json_of_search_and_compare_fits_the_schema(schema, site, monkeypatch, tmp_path):
    """A variant that cannot be made has no earth: null, which NaN is not in JSON."""
    nan = float("nan")
    tried = pd.DataFrame({"1.rise_m": [1.0], "margin": [-9.0], "earth_m3": [nan], "full": [False]})
    result = SearchResult((), False, nan, -0.1, nan, tried)
    monkeypatch.setattr("gistools.design.search.search_edits", lambda *_, **__: result)
    edits = tmp_path / "ranges.toml"
    edits.write_text('[[edit]]\naction = "raise"\nfeature = "Haar Knowe"\nrise_m = [0, 1]\n')
    words = ("--hole", 1, "--edits", edits, "--first", "beyond right", "--pin", "front left")
    printed = checked(schema, "search", "search", site, *words)
    assert printed["tried"][0]["earth_m3"] is None and printed["margin"] is None
    checked(schema, "result", "compare", site, "--hole", 1, "--no-play", "--raise", "Haar Knowe=1")


def test_the_schema_can_fail(schema):
    for wrong in ({}, {"format": 1}, [{"level": "bad"}], {"format": 2, "results": {}}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(wrong, schema)
