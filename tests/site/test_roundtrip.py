"""Random tables come back as they went in: any text, number, gap and shape."""

from __future__ import annotations

import uuid

import geopandas as gpd
import pandas as pd
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gistools import open_site
from gistools.site._vector import _text
from gistools.site.result_layers import read_result

EAST, NORTH = 400_000.0, 300_000.0
# what XML 1.0 and C strings cannot hold cannot be in a GeoPackage either: half surrogate pairs, and NUL
text = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=30)
names = st.from_regex(r"[A-Za-z_][A-Za-z0-9_ \"'é;-]{0,20}", fullmatch=True).filter(lambda n: n == n.strip())
coordinates = st.tuples(
    st.floats(-500, 500).map(lambda v: EAST + v), st.floats(-500, 500).map(lambda v: NORTH + v)
)
points = coordinates.map(shapely.Point)
lines = st.lists(coordinates, min_size=2, max_size=6).map(shapely.LineString)
polygons = st.lists(coordinates, min_size=3, max_size=7).map(shapely.Polygon)
kinds = {
    "whole": st.integers(-(2**63), 2**63 - 1),
    "real": st.floats(allow_nan=False, width=64),
    "truth": st.booleans(),
    "words": text,
}


@st.composite
def tables(draw):
    rows = draw(st.integers(0, 6))
    chosen = draw(st.lists(names, max_size=6, unique_by=str.lower))
    columns = {}
    for name in chosen:
        kind = draw(st.sampled_from(sorted(kinds)))
        gaps = draw(st.booleans())
        cell = st.none() | kinds[kind] if gaps else kinds[kind]
        values = draw(st.lists(cell, min_size=rows, max_size=rows))
        dtype = {"whole": "Int64", "real": "float64", "truth": "boolean", "words": object}[kind]
        columns[name] = pd.Series(values, dtype=dtype)
    shape = draw(st.sampled_from(["none", "points", "lines", "polygons", "mixed"]))
    frame = pd.DataFrame(columns, index=range(rows))
    if shape == "none" and chosen:
        return frame
    one = {"points": points, "lines": lines, "polygons": polygons}.get(shape, points | lines | polygons)
    if "geometry" in (c.lower() for c in chosen):
        frame = frame.drop(columns=[c for c in chosen if c.lower() == "geometry"])
    geometry = draw(st.lists(st.none() | one, min_size=rows, max_size=rows))
    return gpd.GeoDataFrame(frame, geometry=gpd.GeoSeries(geometry, index=frame.index, crs=27700))


def same(was, now) -> bool:
    if pd.isna(was) or pd.isna(now):
        return bool(pd.isna(was) and pd.isna(now))
    return bool(
        was == now
    )  # -0.0 comes back as 0.0: SQLite stores whole reals as integers (sqlite.org/datatype3.html, 2)


@pytest.fixture(scope="module")
def site(kit, tmp_path_factory):
    return open_site(kit.write_survey(tmp_path_factory.mktemp("site") / "s.gpkg"))


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
@given(table=tables())
def test_random_tables_come_back_unchanged(site, table):
    stored = table.copy(deep=True)
    table.attrs = {"layer": f"t{uuid.uuid4().hex[:8]}", "step": "round", "options": {}}
    site.write(table)
    back = read_result(site, table.attrs["layer"])
    assert type(back) is type(table)
    assert list(back.columns) == list(table.columns)
    assert len(back) == len(table)
    for name in back.columns:
        if name != "geometry":
            assert all(map(same, table[name].tolist(), back[name].tolist())), name
    if isinstance(table, gpd.GeoDataFrame):
        for was, now in zip(table.geometry, back.geometry, strict=True):
            assert (was is None) == (now is None)
            assert was is None or shapely.equals_exact(
                shapely.normalize(was), shapely.normalize(now), tolerance=0
            )
    for name in table.columns:  # the caller's table is as it was
        assert all(map(same, stored[name].tolist(), table[name].tolist())) or name == "geometry"


def test_minus_zero_comes_back_as_zero_every_time(site):
    for column in ([-0.0], [-0.0, 1.5], [1.0, -0.0, None]):
        table = pd.DataFrame({"A": column})
        table.attrs = {"layer": "zero"}
        site.write(table)
        (back,) = {str(v) for v in read_result(site, "zero")["A"] if v == 0.0}
        assert back == "0.0"


@settings(max_examples=40, deadline=None)
@given(text)
def test_text_of_any_kind_survives(text):
    assert _text(text) == text


def test_what_no_file_can_hold_is_marked():
    assert _text("a\0b") == "a�b"
    assert _text("a\ud800b") == "a?b"
    assert _text([1, "é"]) == '[1, "é"]'
