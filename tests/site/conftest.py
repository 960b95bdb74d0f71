"""Site files for the tests: the straight hole of the in-memory fixture, written out as a survey would be."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.affinity import affine_transform
from shapely.geometry import LineString, Point, Polygon, box

from gistools.compute.terrain.surface import Surface
from gistools.site import _raster, _vector

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))  # the recipe of the sample course

EAST, NORTH = 400_000.0, 300_000.0


def moved(shape: Any, east: float = EAST, north: float = NORTH, unit_m: float = 1.0) -> Any:
    """Put a shape drawn round (0, 0) in metres where the site is, in the units of its CRS."""
    if shape is None or shape.is_empty:
        return shape
    return affine_transform(shape, [1 / unit_m, 0, 0, 1 / unit_m, east, north])


def survey_tables() -> dict[str, gpd.GeoDataFrame]:
    """One straight hole due north, in metres round (0, 0): tee at the origin, green centre at (0, 340)."""

    def layer(shapes: list[Any], **fields: list[Any]) -> gpd.GeoDataFrame:
        return gpd.GeoDataFrame(fields, geometry=shapes)

    return {
        "tees": layer([box(-4, -3, 4, 3)], hole=[1], tee=["back"]),
        "fairway": layer([box(-20, 100, 20, 310)], hole=[1]),
        "greens": layer([Point(0, 340).buffer(14, quad_segs=32)], hole=[1], stimp_ft=[10.0]),
        "pins": layer([Point(0, 332), Point(3, 347)], hole=[1, 1], pin=["front", "back"]),
        "burns": layer([LineString([(-60, 140), (60, 260)])], hole=[1], name=["Test Burn"], width_m=[4.0]),
        "bunkers": layer(
            [Polygon([(-26, 318), (-16, 318), (-16, 326), (-26, 326)])], hole=[1], name=["Left"]
        ),
        "boundary": layer([box(-90, -50, 130, 410)]),
    }


def level_ground(level: float = 10.0, cell: float = 1.0) -> Surface:
    """Level ground under all of the hole, round (0, 0)."""
    rows, cols = round(480 / cell), round(240 / cell)
    return Surface(np.full((rows, cols), level), -100.0, 420.0, cell)


def write_survey(
    path: Path,
    tables: dict[str, Any] | None = None,
    *,
    crs: Any = 27700,
    unit_m: float = 1.0,
    origin: tuple[float, float] = (EAST, NORTH),
    ground: Surface | None = None,
    unit: str = "m",
    version: str | None = None,
) -> Path:
    """Write a survey as a GeoPackage, terrain in it where one is given."""
    for name, table in (survey_tables() if tables is None else tables).items():
        if isinstance(table, gpd.GeoDataFrame):
            shapes = [moved(g, *origin, unit_m) for g in table.geometry]
            table = table.set_geometry(gpd.GeoSeries(shapes, index=table.index, crs=table.crs))
            custom = crs if table.crs is None else table.crs
            _vector.write_layer(path, name, table.set_crs(custom, allow_override=True), version=version)
        else:
            _vector.write_layer(path, name, pd.DataFrame(table), version=version)
    if ground is not None:
        _raster.write_coverage(
            path,
            "terrain",
            ground.z,
            ground.x_west / unit_m + origin[0],
            ground.y_north / unit_m + origin[1],
            ground.cell / unit_m,
            crs,
            unit,
        )
    return path


@pytest.fixture(scope="session")
def kit() -> Any:
    """The helpers of this file."""
    return sys.modules[__name__]


@pytest.fixture
def survey(tmp_path: Path) -> Path:
    """A sound site file: survey layers and level terrain at 10 m, British National Grid."""
    return write_survey(tmp_path / "merrow.gpkg", ground=level_ground())


@pytest.fixture
def make_survey(tmp_path: Path) -> Callable[..., Path]:
    """Make a site file of changed layers: ``make_survey(tees=..., ground=...)``; None leaves a layer out."""

    def make(name: str = "site.gpkg", **changes: Any) -> Path:
        options = {
            k: changes.pop(k)
            for k in ("crs", "unit_m", "origin", "ground", "unit", "version")
            if k in changes
        }
        tables = {k: v for k, v in {**survey_tables(), **changes}.items() if v is not None}
        return write_survey(tmp_path / name, tables, **options)

    return make
