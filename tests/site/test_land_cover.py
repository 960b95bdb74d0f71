from __future__ import annotations

import itertools

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, box

from gistools.base.cover_classes import Kind
from gistools.compute.terrain.surface import Surface
from gistools.site.land_cover import areas, cover, feature_names, hazards, in_bounds
from gistools.site.model import Site


def layer(shapes, **fields):
    return gpd.GeoDataFrame(fields, geometry=shapes)


def site_of(kit, ground=None, **changes):
    tables = {k: v for k, v in {**kit.survey_tables(), **changes}.items() if v is not None}
    return Site.from_tables(tables, 27700, ground or kit.level_ground())


def at(covered, surface, x, y):
    """Return kind and feature name of the cell at a point."""
    row, col = int((surface.y_north - y) / surface.cell), int((x - surface.x_west) / surface.cell)
    index = covered.feature[row, col]
    return Kind(covered.kind[row, col]), None if index < 0 else covered.names[index]


def test_each_kind_in_its_place(kit):
    site = site_of(
        kit,
        water=layer([box(40, 200, 60, 220)], hole=[1], name=["Mere"]),
        paths=layer([LineString([(30, 0), (30, 400)])], hole=[None], width_m=[3.0], name=["Way"]),
        trees=layer([Point(-40, 100)], hole=[None], crown_m=[8.0]),
    )
    surface = site.surface()
    result = cover(site, surface)
    assert result.kind.shape == result.feature.shape == surface.z.shape
    assert (result.kind.dtype, result.feature.dtype) == (np.uint8, np.int16)
    places = {
        (0.5, 0.5): (Kind.TEE, "back tee, hole 1"),
        (0.5, 150.5): (Kind.FAIRWAY, "fairway, hole 1"),
        (0.5, 340.5): (Kind.GREEN, "green, hole 1"),
        (-20.5, 320.5): (Kind.SAND, "Left"),
        (0.5, 200.5): (Kind.WATER, "Test Burn"),
        (50.5, 210.5): (Kind.WATER, "Mere"),
        (30.5, 50.5): (Kind.PATH, "Way"),
        (-40.5, 102.5): (Kind.TREES, "trees"),
        (-40.5, 105.5): (Kind.ROUGH, None),
        (-95.5, 100.5): (Kind.OUT, None),
    }
    for place, expected in places.items():
        assert at(result, surface, *place) == expected, place


ORDER = ["trees", "fairway", "tees", "paths", "greens", "bunkers", "water", "burns"]


@pytest.mark.parametrize(("below", "above"), list(itertools.pairwise(ORDER)))
def test_the_later_layer_wins_where_two_overlap(kit, below, above):
    """Sand and water are cut into the turf, crowns count only over unmown ground."""
    kinds = dict(
        zip(
            ORDER,
            (Kind.TREES, Kind.FAIRWAY, Kind.TEE, Kind.PATH, Kind.GREEN, Kind.SAND, Kind.WATER, Kind.WATER),
            strict=True,
        )
    )
    shape = layer([box(-10, 150, 10, 170)], hole=[1], tee=["x"], name=["Shared"])
    both = dict.fromkeys((below, above), shape)
    rest = {name: layer([], hole=[]) for name in ORDER if name not in both}
    site = Site.from_tables({**rest, **both}, 27700, kit.level_ground())
    kind, name = at(cover(site, site.surface()), site.surface(), 0.5, 160.5)
    assert kind == kinds[above]
    assert name == feature_names(site)[above][0]


def test_cells_without_height_are_off_the_map(kit):
    ground = kit.level_ground()
    z = ground.z.copy()
    z[100:110, 90:120] = np.nan
    site = site_of(kit, Surface(z, ground.x_west, ground.y_north, 1.0))
    result = cover(site, site.surface())
    assert (result.kind == Kind.OFF_MAP).tolist() == np.isnan(z).tolist()
    assert (result.feature[np.isnan(z)] == -1).all()


def test_remembered_by_grid_and_kept_from_change(kit):
    site = site_of(kit)
    surface = site.surface()
    result = cover(site, surface)
    assert cover(site, surface) is result
    assert cover(site, site.surface((0, 0, 50, 50))) is not result
    with pytest.raises(ValueError, match="read-only"):
        result.kind[0, 0] = 3
    z = surface.z.copy()
    z[0, 0] = np.nan
    assert cover(site, Surface(z, surface.x_west, surface.y_north, 1.0)).kind[0, 0] == Kind.OFF_MAP
    assert (
        cover(site.replace(bunkers=layer([], hole=[], fid=[], name=[])), surface).kind[100, 80] == Kind.ROUGH
    )


@settings(max_examples=15, deadline=None)
@given(st.floats(0, 180), st.floats(1.5, 12.0), st.integers(0, 10**6))
def test_area_of_a_burn_by_counting_cells(angle, width, seed):
    """A straight burn across a circle of land: cells times their area against length times width."""
    turn = np.radians(angle)
    shift = np.random.default_rng(seed).uniform(0, 1, 2)
    ends = np.array([[np.sin(turn), np.cos(turn)], [-np.sin(turn), -np.cos(turn)]]) * 90 + shift
    burn = gpd.GeoDataFrame({"width_m": [width], "hole": [None], "name": ["B"]}, geometry=[LineString(ends)])
    site = Site.from_tables({"burns": burn}, 27700, Surface(np.zeros((400, 400)), -100.0, 100.0, 0.5))
    (area,) = areas(site, "burns")
    assert area.area == pytest.approx(180 * width, rel=1e-9)
    cells = (cover(site, site.surface()).kind == Kind.WATER).sum()
    # a lattice count differs from the area by less than the outline's length times half a cell's diagonal
    assert abs(cells * 0.25 - area.area) < area.length * 0.36


def test_every_cell_against_point_in_polygon(kit):
    site = site_of(kit)
    surface = site.surface()
    result = cover(site, surface)
    x, y = np.meshgrid(*surface.centres())
    green = site.layer("greens").geometry.iloc[0]
    assert ((result.kind == Kind.GREEN) == shapely.contains_xy(green, x, y)).all()
    out = ~shapely.contains_xy(site.layer("boundary").geometry.iloc[0], x, y)
    assert ((result.kind == Kind.OUT) == out).all()


@pytest.mark.parametrize(
    ("lines", "inside", "outside"),
    [
        ([LineString([(60, -60), (60, 420)])], (0, 200), (70, 200)),
        ([LineString([(60, 100), (60, 200)])], (0, 390), (70, 390)),
        ([LineString([(-50, -20), (60, -20), (60, 380), (-50, 380), (-50, -20)])], (0, 200), (70, 200)),
        ([LineString([(60, -60), (60, 420)]), LineString([(-60, -60), (-60, 420)])], (0, 200), (-70, 200)),
    ],
    ids=["one side", "short line carried on", "ring of a line", "both sides"],
)
def test_boundary_lines(kit, lines, inside, outside):
    """A line parts the ground; the part with the tee, the fairway and the green is in bounds."""
    site = site_of(kit, boundary=layer(lines))
    area = in_bounds(site)
    assert area.covers(Point(inside))
    assert not area.covers(Point(outside))
    result = cover(site, site.surface())
    assert at(result, site.surface(), *inside)[0] != Kind.OUT
    assert at(result, site.surface(), *outside)[0] == Kind.OUT


def test_without_a_boundary_nothing_is_out(kit):
    site = site_of(kit, boundary=None)
    assert in_bounds(site) is None
    assert not (cover(site, site.surface()).kind == Kind.OUT).any()


def test_hazards_of_a_hole(kit):
    other = kit.survey_tables()
    site = site_of(
        kit,
        greens=layer([other["greens"].geometry.iloc[0], Point(200, 340).buffer(10)], hole=[1, 2]),
        bunkers=layer(
            [box(-26, 318, -16, 326), box(20, 318, 30, 326), box(150, 0, 160, 5), box(900, 900, 910, 905)],
            hole=[1, None, 2, None],
            name=["Left", None, "Far", "Away"],
        ),
        water=layer([box(40, 200, 60, 220)], hole=[None]),
    )
    result = hazards(site, 1)
    assert list(result.columns) == ["feature", "layer", "fid", "kind", "geometry"]
    assert result["feature"].tolist() == ["Left", "bunker 2", "water 1", "Test Burn"]
    assert result["fid"].tolist() == [1, 2, 1, 1]
    assert result["kind"].tolist() == [Kind.SAND, Kind.SAND, Kind.WATER, Kind.WATER]
    assert result.crs == site.crs_metric
    assert set(result.geom_type) == {"Polygon"}
    assert result["geometry"].iloc[3].area == pytest.approx(np.hypot(120, 120) * 4.0)
    names = cover(site, site.surface()).names
    assert set(result["feature"]) <= set(names), "cover and hazards call features by the same names"


def test_no_hazards_keep_the_columns(kit):
    result = hazards(site_of(kit, bunkers=None, burns=None), 1)
    assert list(result.columns) == ["feature", "layer", "fid", "kind", "geometry"]
    assert len(result) == 0


def test_names_are_unique_in_the_site(kit):
    squares = [box(40 + 10 * i, 0, 45 + 10 * i, 5) for i in range(7)]
    site = site_of(
        kit,
        bunkers=layer(
            squares,
            hole=[1, 1, 2, None, 1, 1, 1],
            name=["Left", "Left", "Left", "Left", "trees", " ", "bunker 6"],
        ),
        trees=layer([Point(0, 0), Point(9, 9)], hole=[None, None], name=[None, "Old Oak"]),
    )
    names = feature_names(site)
    assert names["bunkers"] == [
        "Left, hole 1",
        "Left, hole 1 (2)",
        "Left, hole 2",
        "Left",
        "trees (2)",
        "bunker 6",
        "bunker 6 (2)",
    ]
    assert names["trees"] == ["trees", "Old Oak"]
    every = [n for layer_names in names.values() for n in layer_names]
    assert len(every) == len(set(every))
