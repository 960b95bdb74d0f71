"""``--tee --player --wind --pin --zone``: what is shown is filtered, what is written stays whole."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import fiona
import pandas as pd
import pytest
from click.testing import CliRunner, Result

from gistools.base.errors import InputError
from gistools.cli.filters import filter_columns, filtered
from gistools.cli.main import main
from gistools.site.results import Layers
from gistools.site.sample import write_sample
from gistools.steps.catalogue import STEPS, find


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(write_sample(tmp_path_factory.mktemp("filters") / "merrowby.gpkg"))


def shown_rows(result: Result, layer: str) -> list[dict[str, Any]]:
    assert result.exit_code == 0, result.output
    rows: list[dict[str, Any]] = json.loads(result.stdout)["layers"][layer]["rows"]
    return rows


@pytest.mark.parametrize("name", STEPS)
def test_every_column_of_a_choice_has_an_option_spelled_alike(name: str) -> None:
    spec = find(name)
    flags = {flag for p in _command(name).params for flag in p.opts if not getattr(p, "hidden", False)}
    written = {c.name for w in spec.writes for c in w.columns} & {"tee", "player", "wind", "pin", "zone"}
    assert {f"--{column}" for column in written} <= flags
    assert not flags & {"--players", "--winds", "--pins", "--tees", "--zones"}


def _command(name: str) -> Any:
    import click

    return main.get_command(click.Context(main), name)


def test_filter_shows_one_tee_and_writes_the_whole_layer(sample: Path) -> None:
    every = shown_rows(run("carries", sample, "--hole", 1, "--json", "-q"), "carries")
    tees = list(dict.fromkeys(row["tee"] for row in every))
    assert len(tees) > 1
    one = shown_rows(
        run("carries", sample, "--hole", 1, "--tee", tees[1][:3].upper(), "--json", "-q"), "carries"
    )
    assert one == [row for row in every if row["tee"] == tees[1]]
    with fiona.open(sample, layer="study_carries") as layer:
        assert {f.properties["tee"] for f in layer} == set(tees)


def test_tee_and_zone_are_combined_with_commas(sample: Path) -> None:
    every = shown_rows(run("zones", sample, "--hole", 1, "--json", "-q"), "zones")
    names = list(dict.fromkeys(row["zone"] for row in every))
    two = shown_rows(
        run("zones", sample, "--hole", 1, "--zone", f"{names[2]}, {names[0]}", "--json", "-q"), "zones"
    )
    assert [row["zone"] for row in two] == [names[0], names[2]]


def test_player_by_the_beginning_of_a_name_is_computed_alone(sample: Path) -> None:
    words = ("effective_carries", sample, "--hole", 1, "--player", "Scratch M", "--wind", "CALM")
    result = run(*words, "--json", "--show-only", "-q")
    rows = shown_rows(result, "effective_carries")
    assert {(row["player"], row["wind"]) for row in rows} == {("scratch man", "calm")}
    assert json.loads(result.stdout)["options"]["players"] == ["Scratch M"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("carries", "--tee", "purple"), "there is no tee 'purple'; there are: back"),
        (("zones", "--zone", "beyond"), "landing zone 'beyond' may be any of: beyond left, beyond right"),
        (("tee_shots", "--player", "nobody"), "there is no player 'nobody'; there are: "),
        (("tee_shots", "--wind", "gale"), "there is no wind 'gale'; there are: prevailing, calm"),
        (("tee_shots", "--players", "scratch man"), "--players is called --player now"),
    ],
)
def test_a_name_that_cannot_be_meant_is_refused(sample: Path, words: tuple[str, ...], message: str) -> None:
    result = run(words[0], sample, "--hole", 1, *words[1:])
    assert result.exit_code == 2
    assert message in " ".join(result.output.split())


def test_a_beginning_has_to_be_unique_on_the_hole_alone(sample: Path) -> None:
    """Hole 1 has `front left` and `front right`, hole 2 one `front`."""
    words = ("slopes", sample, "--pin", "fr", "--json", "--show-only", "-q", "--hole")
    assert {row["pin"] for row in shown_rows(run(*words, 2), "pin_slopes")} == {"front"}
    refused = run(*words, 1)
    assert refused.exit_code == 2 and "may be any of: front left, front right;" in refused.output


def test_hidden_brief_row_still_decides_the_exit_code(sample: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    table = pd.DataFrame(
        {
            "hole": [1, 1],
            "tee": ["back", "forward"],
            "must": [True, True],
            "met": [True, False],
            "verdict": ["met", "not met"],
        }
    )
    table.attrs.update(step="brief", layer="brief")
    monkeypatch.setattr("gistools.steps.catalogue.run", lambda *_args, **_options: table)
    monkeypatch.setattr("gistools.steps.study.holds", lambda result: bool(result["met"].all()))
    result = run("brief", sample, "--tee", "back", "--show-only")
    assert result.exit_code == 1, result.output
    assert "forward" not in result.stdout


def test_a_layer_without_the_column_is_left_whole_and_attrs_stay() -> None:
    tees = pd.DataFrame({"tee": ["back", "forward", "back"], "pin": ["a", "a", None]})
    tees.attrs["step"] = "some step"
    other = pd.DataFrame({"figure": [1, 2]})
    out = filtered(Layers(tees=tees, other=other), {"tee": ("back",), "pin": ("A",), "zone": ()})
    assert list(out.tees.index) == [0]
    assert out.tees.attrs == tees.attrs
    assert len(out.other) == 2
    with pytest.raises(InputError, match="there are: none"):
        filtered(other, {"tee": ("back",)})


def test_a_step_filters_by_what_it_does_not_compute_by_name() -> None:
    assert filter_columns(find("positions")) == ["tee", "pin", "zone"]
    assert filter_columns(find("corridors")) == ["tee", "player"]
    assert filter_columns(find("contours")) == []
