"""Tests over every step of the catalogue, no exclusions: declared, documented, and true to the declaration."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
import pytest
from pandas.testing import assert_frame_equal

import gistools
from gistools.base.columns import Column
from gistools.base.errors import InputError
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.site.schema import SURVEY_LAYERS
from gistools.steps.catalogue import STEPS, Step, find, function

ALL = list(STEPS)


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
    seen: dict[str, tuple[str, Column]] = {}
    for name in ALL:
        for layer in find(name).writes:
            for column in layer.columns:
                other = seen.setdefault(column.name, (name, column))[1]
                assert column.unit == other.unit, f"{column.name} in {name} and {seen[column.name][0]}"


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
