"""The command line as a user meets it: results, messages, exit codes.

Every call is a process of its own or a runner.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from gistools.cli.main import main
from gistools.steps.catalogue import STEPS


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words], standalone_mode=True)


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("cli") / "merrowby.gpkg"
    assert run("sample", path).exit_code == 0
    return path


@pytest.fixture
def site(sample: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(sample, tmp_path / "merrowby.gpkg"))


HEAVY = (
    "numba",
    "scipy",
    "pandas",
    "geopandas",
    "shapely",
    "rasterio",
    "fiona",
    "pyproj",
    "matplotlib",
    "ezdxf",
)


def loaded_after(*calls: list[str]) -> tuple[str, str]:
    """Return what a new process prints for these commands, and the heavy libraries it loaded."""
    code = (
        "import sys; from gistools.cli.main import main\n"
        f"for words in {list(calls)}:\n"
        "    try: main(words)\n"
        "    except SystemExit as end: assert not end.code, end.code\n"
        f"print([m for m in {HEAVY} if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    output, _, loaded = out.rstrip().rpartition("\n")
    return output, loaded


def test_help_names_every_step_and_loads_nothing_heavy() -> None:
    output, loaded = loaded_after(["--help"])
    assert loaded == "[]"
    for name in STEPS:
        assert f"  {name} " in output


def test_help_of_every_command_needs_its_declaration_alone() -> None:
    """So it is there at once: the libraries that compute take a second to load."""
    output, loaded = loaded_after(*([name, "--help"] for name in [*main.commands, *STEPS]))
    assert output.count("--hole") >= len(STEPS)
    assert loaded == "[]"


@pytest.mark.parametrize("name", STEPS)
def test_every_step_has_a_help_with_its_options(name: str) -> None:
    done = run(name, "--help")
    assert done.exit_code == 0
    assert "--hole" in done.output and "writes study_" in " ".join(done.output.split())


def test_hyphens_do_for_underscores() -> None:
    assert run("lines-of-play", "--help").exit_code == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("study", "nowhere.gpkg"), "nowhere.gpkg"),
        (("carries", "nowhere.gpkg"), "nowhere.gpkg"),
    ],
)
def test_a_missing_file_is_one_line_and_code_2(words: tuple[str, ...], said: str) -> None:
    done = run(*words)
    assert done.exit_code == 2
    assert said in done.output and "Traceback" not in done.output


def test_text_that_is_no_geopackage(tmp_path: Path) -> None:
    path = tmp_path / "site.gpkg"
    path.write_text("not a database")
    for words in (("study", path), ("lengths", path)):
        done = run(*words)
        assert done.exit_code == 2
        assert "Traceback" not in done.output
    assert run("check", path).exit_code == 2
    assert path.read_text() == "not a database"


def test_sample_is_not_replaced_unasked(site: Path) -> None:
    before = site.read_bytes()
    done = run("sample", site)
    assert done.exit_code == 2
    assert site.read_bytes() == before
    assert run("sample", site, "--replace").exit_code == 0


def test_check_of_the_sample(site: Path) -> None:
    done = run("check", site, "--json")
    assert done.exit_code == 0
    assert all(f["level"] != "error" for f in json.loads(done.output))


def test_a_step_prints_and_writes(site: Path) -> None:
    from gistools.site.result_layers import read_result

    done = run("lengths", site, "--hole", 1, "--json", "-q")
    output = json.loads(done.output)
    assert output["format"] == 1 and output["step"] == "lengths" and output["crs"].startswith("EPSG:")
    layer = output["layers"]["lengths"]
    assert layer["columns"]["card_m"]["unit"] == "m" and layer["geometry"] == "LineString"
    rows = layer["rows"]
    assert set(rows[0]) == set(layer["columns"])
    assert {r["tee"] for r in rows} == {"back", "middle", "forward"}
    stored = read_result(site, "lengths")
    assert sorted(stored["card_m"]) == sorted(r["card_m"] for r in rows)


def test_show_only_writes_nothing(site: Path) -> None:
    before = site.read_bytes()
    assert run("lengths", site, "--show-only").exit_code == 0
    assert site.read_bytes() == before


def test_lengths_in_yards_are_the_same_lengths(site: Path) -> None:
    metres = json.loads(run("lengths", site, "--json", "-q", "--show-only").output)
    metres = metres["layers"]["lengths"]["rows"][0]["ground_m"]
    table = run("lengths", site, "--units", "yd", "-q", "--show-only").output
    assert "[yd]" in table
    assert f" {metres / 0.9144:.0f} " in table


def test_unknown_hole_and_silly_option(site: Path) -> None:
    done = run("lengths", site, "--hole", 7)
    assert done.exit_code == 2 and "no hole 7" in done.output
    done = run("corridors", site, "--spacing-m", -5)
    assert done.exit_code == 2 and "spacing_m" in done.output


def test_study_only_some_steps_to_another_file(site: Path, tmp_path: Path) -> None:
    before = site.read_bytes()
    other = tmp_path / "results.gpkg"
    done = run("study", site, "--only", "lengths", "--only", "carries", "--out", other, "-q")
    assert done.exit_code == 0, done.output
    assert "Hole 3" in done.output and other.exists()
    assert site.read_bytes() == before


def test_a_file_that_is_no_output_is_replaced_only_when_asked(site: Path, tmp_path: Path) -> None:
    """Found out before anything is computed; an earlier output gives way without asking."""
    other = tmp_path / "other.gpkg"
    shutil.copy(site, other)
    before = other.read_bytes()
    for words in (("lengths", site), ("study", site, "--only", "lengths")):
        done = run(*words, "--out", other, "-q")
        assert done.exit_code == 2 and "--replace" in done.output
        assert other.read_bytes() == before
    assert run("lengths", site, "--out", other, "--replace", "-q").exit_code == 0
    assert run("study", site, "--only", "lengths", "--out", other, "-q").exit_code == 0
    assert site.read_bytes() == before


def test_maps_as_geotiff_files(site: Path, tmp_path: Path) -> None:
    rasterio = pytest.importorskip("rasterio")
    words = ("slopes", site, "--hole", 2, "--show-only", "-q", "--maps", tmp_path / "green.tif")
    done = run(*words)
    assert done.exit_code == 0, done.output
    with rasterio.open(tmp_path / "green.tif") as made:
        assert made.units == ("pct",) and made.tags()["STEP"] == "slopes"
        assert made.crs.is_projected and (made.read(1, masked=True) >= 0).all()
    again = run(*words)
    assert again.exit_code == 2 and "exists" in again.output
    assert run(*words, "--replace").exit_code == 0
    assert run("lengths", site, "--maps", tmp_path).exit_code == 2  # a step without maps has no such option


def test_a_brief_of_its_own_file_and_the_code_it_ends_with(
    site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By a path from where the command is given.

    A row that binds and fails ends with 1, one that does not with 0.
    """
    monkeypatch.chdir(tmp_path)
    row = '[[brief]]\nhole = 2\nmeasure = "lengths.ground_m"\nat_most = 20\n'
    nowhere = 'tee = "nowhere"\n'  # no row of the result matches: without an answer it does not hold
    for more, code in (
        ("", 1),
        ("must = false\n", 0),
        (nowhere, 1),
        (nowhere + "must = false\n", 0),
        ("at_least = 900\n", 2),
    ):
        Path("wishes.toml").write_text(row + more, encoding="utf-8")
        done = run("brief", site, "--brief-file", "wishes.toml", "--show-only", "-q")
        assert done.exit_code == code, done.output
    assert "wishes.toml: row 1 asks at_least 900 and at_most 20" in done.output
    done = run("brief", site, "--brief-file", "nowhere.toml", "-q")
    assert done.exit_code == 2 and "nowhere.toml: the brief cannot be read" in done.output


def test_compare_tells_and_draws_what_a_raised_mound_changes(site: Path, tmp_path: Path) -> None:
    before, picture = site.read_bytes(), tmp_path / "change.png"
    words = ("compare", site, "--hole", 1, "--raise", "Haar Knowe=1.0", "--no-play", "--picture", picture)
    done = CliRunner().invoke(main, [str(w) for w in (*words, "--json", "-q")])
    assert done.exit_code == 0, done.output
    rows = {
        (r["measure"], r.get("pin"), r.get("zone")): r
        for r in json.loads(done.stdout)["layers"]["changes"]["rows"]
    }
    assert rows["ground.most_raised_m", None, None]["after"] == pytest.approx(1.0, abs=0.01)
    blinder = rows["zone_views.flag_seen_mean_pct", "front left", "short right"]
    assert blinder["change"] == pytest.approx(blinder["after"] - blinder["before"]) and blinder["change"] < -3
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert run(*words).exit_code == 2  # the picture is there
    assert site.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--raise", "Nowhere Hill=1"), "no feature 'Nowhere Hill'"),
        (("--raise", "Haar Knowe"), "a name and metres"),
        (("--picture", "change.png"), "--hole"),
        (("--hole", 1, "--picture", "change.gif"), ".png"),
        (("--raise", "Haar Knowe=1", "--other", "x.gpkg"), "one at a time"),
    ],
)
def test_what_compare_cannot_do_is_told(site: Path, words: tuple[object, ...], said: str) -> None:
    done = run("compare", site, "--no-play", *words)
    assert done.exit_code == 2 and said in done.output
