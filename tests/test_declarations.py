"""Tests over every step of the catalogue, no exclusions.

Declared, documented, and true to the declaration.
"""

from __future__ import annotations

import dataclasses
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
from pandas.testing import assert_frame_equal
from shapely import Point

import gistools
from gistools.base import renamed
from gistools.base.columns import REGISTRY, columns
from gistools.base.errors import InputError
from gistools.sheets.layer_groups import THEMES
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.site.schema import SURVEY_LAYERS
from gistools.steps import catalogue
from gistools.steps.brief_rows import target_of
from gistools.steps.catalogue import STEPS, Step, find, function, need
from gistools.steps.styles import Style
from gistools.steps.tables import DTYPES, build_table
from gistools.steps.writes import Writes

ALL = list(STEPS)
ROOT = Path(__file__).resolve().parents[1]
#: summary there and a sentence; parameters documented, none unknown, in order; a result
NUMPYDOC_CHECKS = {"GL08", "SS01", "SS03", "SS06", "PR01", "PR02", "PR03", "RT01"}


@pytest.fixture(scope="module")
def full_site() -> Site:
    """The straight hole with something in every layer that a step works on."""
    from gistools.site.sample import sample_site

    return sample_site()


def tables(result: object, spec: Step) -> dict[str, object]:
    return dict(result) if isinstance(result, dict) else {spec.writes[0].layer: result}


@pytest.mark.parametrize("name", ALL)
def test_declaration_is_complete(name: str) -> None:
    spec = find(name)
    assert spec.name == name and name == name.lower() and name.isidentifier()
    assert spec.sources, "name the sources, or say `plane geometry; no published constant`"
    assert len(spec.doc.splitlines()) > 3
    for reads in spec.reads:
        assert (
            reads.layer == "terrain"
            or reads.layer in SURVEY_LAYERS
            or reads.layer in ("players", "winds", "brief")
        )
    for choice in spec.choices:
        if choice.option.low is not None and choice.default is not None:
            assert choice.option.low <= choice.default <= choice.option.high
    assert getattr(gistools, name) is function(name)


def test_same_column_means_the_same_everywhere() -> None:
    """Name, unit, type and text.

    Every column of every layer is the one of the registry, and nothing there is unused.
    """
    used = {}
    for name in ALL:
        for layer in find(name).writes:
            assert len({c.name for c in layer.columns}) == len(layer.columns), layer.layer
            for column in layer.columns:
                assert used.setdefault(column.name, column) == column == REGISTRY[column.name], layer.layer
    assert used.keys() == REGISTRY.keys()
    assert len({c.text for c in REGISTRY.values()}) == len(REGISTRY), "one meaning has one name"
    assert "fid" not in REGISTRY


def test_style_page_and_comparison_name_columns_of_their_layer() -> None:
    for name in ALL:
        for layer in find(name).writes:
            style, page = layer.style, layer.page
            named = layer.compared.split()
            if isinstance(style, Style):
                named += [word for word in (style.label, style.by, style.metres) if word]
            if page:
                parts = [words for _, words in page.parts.values()]
                for words in (page.columns, page.aside, page.joined, *parts):
                    named += words.split()
                named += [word for word in (page.order, page.verdict, page.reading, page.total) if word]
            made_by_the_page = {"about"}
            assert set(named) <= {column.name for column in layer.columns} | made_by_the_page, layer.layer
            assert set(layer.themes) <= set(THEMES), layer.layer


def test_rows_become_tables_of_the_declared_types(straight_site: Site) -> None:
    """Full, missing and no rows give the same types; what is missing is an empty word, nan or NA."""
    named = "tee feature_id carry_m fair turns_count"
    writes = Writes("some", "Point", columns(named))
    full = dict(zip(named.split(), ("back", 3, 200.5, True, 2), strict=True)) | {"geometry": Point(1, 2)}
    types = {
        "tee": "str",
        "feature_id": "Int64",
        "carry_m": "float64",
        "fair": "boolean",
        "turns_count": "Int64",
    }
    for rows in ([full], [full, {"geometry": Point(0, 0)}], []):
        table = build_table(straight_site, writes, rows)
        assert {c: str(table[c].dtype) for c in types} == types and table.crs == straight_site.crs_metric
    table = build_table(straight_site, writes, [full, dict.fromkeys(full) | {"geometry": Point(0, 0)}])
    assert table["tee"].tolist() == ["back", ""] and table.drop(columns="tee").isna().sum(
        axis=1
    ).tolist() == [0, 4]
    assert isinstance(build_table(straight_site, Writes("plain", "", columns(named)), [full]), pd.DataFrame)


def test_old_names_are_refused_and_the_new_one_named() -> None:
    layers = {w.layer: {c.name for c in w.columns} for n in ALL for w in find(n).writes}
    for old, new in renamed.COLUMNS.items():
        layer, _, column = new.partition(".")
        assert column in layers[layer] and old.partition(".")[2] not in layers[layer], old
        with pytest.raises(InputError, match=f"is called '{new}' now"):
            target_of(old)
    with pytest.raises(InputError, match="is called 'effective_carries' now"):
        find("played_carries")
    with pytest.raises(InputError, match=r"'effective_carries\.carry_m' now"):
        target_of("played_carries.carry_m")


def test_no_two_steps_write_the_same_layer() -> None:
    layers = [w.layer for name in ALL for w in find(name).writes]
    assert len(layers) == len(set(layers))


@pytest.mark.parametrize("name", ALL)
def test_unknown_and_silly_options_are_refused(name: str, straight_site: Site) -> None:
    with pytest.raises(InputError, match="no option"):
        function(name)(straight_site, colour="red")
    for choice in find(name).choices:
        if choice.option.high is not None:
            with pytest.raises(InputError, match=choice.name):
                function(name)(straight_site, **{choice.name: choice.option.high * 1e6 + 1})


@pytest.mark.slow
@pytest.mark.parametrize("name", ALL)
def test_results_are_as_declared(name: str, full_site: Site) -> None:
    spec = find(name)
    before = {n: t.copy() for n, t in full_site.tables.items()}
    result = function(name)(full_site, hole=1)
    for layer, table in tables(result, spec).items():
        if isinstance(table, Map):
            assert any(w.geometry == "raster" and table.name.startswith(w.layer) for w in spec.writes)
            continue
        declared = next(w for w in spec.writes if w.layer == layer)
        geometry = ["geometry"] if declared.geometry else []
        assert list(table.columns) == [c.name for c in declared.columns] + geometry
        assert [str(table[c.name].dtype) for c in declared.columns] == [
            DTYPES[c.dtype] for c in declared.columns
        ]
        if declared.geometry:
            assert isinstance(table, gpd.GeoDataFrame)
            assert set(table.geom_type.dropna()) <= {declared.geometry, "Multi" + declared.geometry}
            assert table.crs == full_site.crs
        if "hole" in table and len(table):
            assert set(table["hole"]) == {1}
    for n, table in full_site.tables.items():
        assert_frame_equal(pd.DataFrame(table), pd.DataFrame(before[n]))


def test_readme_lists_the_steps_as_declared() -> None:
    import subprocess
    import sys
    from pathlib import Path

    script = Path(__file__).parent.parent / "scripts" / "pages.py"
    assert subprocess.run([sys.executable, str(script), "--check"]).returncode == 0


def test_public_docstrings_say_what_goes_in_and_what_comes_out() -> None:
    """By numpydoc's checks: a summary, every parameter in its order, a result."""
    from numpydoc.validate import validate

    wanting = []
    for name in set(gistools.__all__) & set(gistools._FUNCTIONS):
        module, _, source = gistools._FUNCTIONS[name].partition(":")
        errors = validate(f"{module}.{source or name}")["errors"]
        wanting += [f"{name}: {text}" for code, text in errors if code in NUMPYDOC_CHECKS]
    assert not wanting


def test_types_of_the_public_functions_are_current() -> None:
    done = subprocess.run(
        [sys.executable, ROOT / "scripts" / "stub.py", "--check"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout


def test_a_checker_sees_wrong_options(tmp_path: Path) -> None:
    script = tmp_path / "script.py"
    script.write_text(
        "import gistools as gt\n"
        "site = gt.open_site('merrowby.gpkg')\n"
        "carries = gt.carries(site, hole=1)\n"
        "gt.carries(site, hole='one')\n"
        "gt.slopes(site, edge=3.0)\n"
        "gt.slope(site)\n",
        encoding="utf-8",
    )
    words = [sys.executable, "-m", "mypy", "--config-file", str(ROOT / "pyproject.toml"), str(script)]
    done = subprocess.run(words, capture_output=True, text=True, check=False, cwd=ROOT)
    lines = {int(line.split(":")[1]) for line in done.stdout.splitlines() if ": error:" in line}
    assert lines == {4, 5, 6}, done.stdout


@pytest.mark.parametrize("name", ["lines_of_play", "lengths", "carries", "zones", "sections", "contours"])
def test_a_hole_out_of_all_is_the_hole_alone(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Contours of the whole site belong to no hole: those of a hole are computed."""
    from gistools.site.sample import sample_site

    every, alone = sample_site(), sample_site()
    need(every, name)
    results = [need(every, name, hole=1), need(alone, name, hole=1)]
    first, second = (list(r.values()) if isinstance(r, dict) else [r] for r in results)
    assert len(first[0])
    for a, b in zip(first, second, strict=True):
        assert_frame_equal(a, b)
    if name != "contours":
        spec = dataclasses.replace(find(name), compute=lambda *_, **__: pytest.fail("computed again"))
        monkeypatch.setitem(catalogue._declared, name, spec)
        need(every, name, hole=3)
