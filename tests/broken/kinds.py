"""Kinds of broken site files: each takes a sound survey and breaks one thing in it.

``KINDS`` maps a name to a function of the path of a fresh copy of the sound file. ``LATE`` are kinds whose
fault shows
only when a step runs.
"""

from __future__ import annotations

import functools
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box
from shapely.affinity import affine_transform, translate

from gistools.site import _raster, _vector
from gistools.site.schema import SURVEY_LAYERS

EAST, NORTH = 400_000.0, 300_000.0
Break = Callable[[Path], None]
KINDS: dict[str, Break] = {}


def shifted(shape: Any) -> Any:
    return translate(shape, EAST, NORTH)


def sound_tables() -> dict[str, Any]:
    """A sound hole with something in every layer, tee at the origin and green at (0, 340)."""

    def layer(shapes: list[Any], **fields: list[Any]) -> gpd.GeoDataFrame:
        return gpd.GeoDataFrame(fields, geometry=[shifted(s) for s in shapes], crs=27700)

    return {
        "tees": layer(
            [box(-4, -3, 4, 3), box(-4, 30, 4, 36)], hole=[1, 1], tee=["back", "front"], name=["a", "b"]
        ),
        "fairway": layer([box(-20, 100, 20, 310)], hole=[1], name=["f"], firmness=["normal"]),
        "greens": layer(
            [Point(0, 340).buffer(14, quad_segs=8)], hole=[1], stimp_ft=[10.0], firmness=["normal"]
        ),
        "pins": layer([Point(0, 332), Point(3, 347)], hole=[1, 1], pin=["low", "high"]),
        "bunkers": layer([box(-36, 318, -26, 326), box(24, 200, 32, 210)], hole=[1, 1], name=["Left", "Far"]),
        "burns": layer([LineString([(-60, 140), (60, 260)])], hole=[1], name=["Burn"], width_m=[4.0]),
        "water": layer([Point(70, 60).buffer(12, quad_segs=4)], hole=[1], name=["Pond"]),
        "mounds": layer([Point(-50, 300).buffer(9, quad_segs=4)], hole=[1], name=["Knowe"], rise_m=[2.0]),
        "trees": layer(
            [Point(60, 300)], name=["Ash"], height_m=[9.0], crown_m=[6.0], clear_m=[2.0], see_through=[False]
        ),
        "paths": layer([LineString([(90, -40), (90, 400)])], name=["Way"], kind=["public"], width_m=[2.0]),
        "boundary": layer([box(-90, -50, 130, 410)], name=["Edge"]),
        "play_lines": layer([LineString([(0, 0), (0, 180), (0, 340)])], hole=[1], tee=["back"]),
        "structures": layer([box(100, 100, 110, 110)], name=["Hut"], kind=["shelter"], height_m=[4.0]),
        "zones": layer([box(-15, 110, 15, 150), box(-15, 240, 15, 300)], hole=[1, 1], zone=["A", "B"]),
        "shapes": layer(
            [box(40, 330, 60, 350)],
            hole=[1],
            name=["S"],
            kind=["mound"],
            order=[1],
            rise_m=[1.0],
            side_slope_pct=[25.0],
            blend_m=[2.0],
            width_m=[2.0],
            fall_pct=[0.0],
            fall_to_deg=[0.0],
        ),
        "control": layer([Point(-80, 0)], point=["C1"], level_m=[10.0]),
        "players": pd.DataFrame({"player": ["Ann"], "driver_carry_m": [180.0], "handicap": [12.0]}),
        "winds": pd.DataFrame({"wind": ["west"], "speed_ms": [6.0], "from_deg": [270.0]}),
        "settings": pd.DataFrame({"name": ["stimp_ft"], "value": ["11"], "hole": [1]}),
    }


def write_sound(path: Path) -> Path:
    """Write the sound survey with level terrain."""
    for name, table in sound_tables().items():
        _vector.write_layer(path, name, table)
    x = np.arange(240) * 0.02
    z = 10.0 + np.broadcast_to(x, (480, 240))
    _raster.write_coverage(path, "terrain", z, EAST - 100, NORTH + 420, 1.0, 27700, "m")
    return path


def kind(name: str) -> Callable[[Break], Break]:
    def add(function: Break) -> Break:
        assert name not in KINDS, name
        KINDS[name] = function
        return function

    return add


def rewrite(path: Path, layer: str, change: Callable[[Any], Any]) -> None:
    """Write a layer again, changed."""
    table = change(sound_tables()[layer].copy())
    with closing(sqlite3.connect(path)) as link, link:
        assert link.execute("SELECT 1 FROM gpkg_contents WHERE table_name = ?", (layer,)).fetchone()
    _vector.remove_layer(path, layer)
    if table is not None:
        _vector.write_layer(path, layer, table)


def sql(path: Path, *statements: str) -> None:
    """Run statements on the file as a hostile or careless program would, triggers of the layers taken off."""
    with closing(sqlite3.connect(path)) as link, link:
        link.execute("PRAGMA synchronous = OFF")  # each statement by itself waited for the disk
        for (name,) in link.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            link.execute(f'DROP TRIGGER "{name}"')
        for statement in statements:
            link.execute(statement)


def _first(table: Any, shape: Any) -> Any:
    shapes = list(table.geometry)
    shapes[0] = shape
    return table.set_geometry(gpd.GeoSeries(shapes, index=table.index, crs=table.crs))


# ------------------------------------------------- geometry, for every layer

SPATIAL = [n for n, t in sound_tables().items() if isinstance(t, gpd.GeoDataFrame)]


def _bow_tie(shape: Any) -> Any:
    west, south, east, north = shape.buffer(5).bounds
    return Polygon([(west, south), (east, north), (east, south), (west, north)])


def _first_corner(path: Path, layer: str, value: float) -> None:
    """Write a value over the easting of the first corner of the first feature, in the blob itself."""
    with closing(sqlite3.connect(path)) as link:
        (blob,) = link.execute(f'SELECT geom FROM "{layer}" WHERE fid = 1').fetchone()
    envelope = (0, 32, 48, 48, 64)[blob[3] >> 1 & 7]
    kind_code = int.from_bytes(blob[8 + envelope + 1 : 8 + envelope + 5], "little")
    at = 8 + envelope + {1: 5, 2: 9, 3: 13}[kind_code]
    new = blob[:at] + np.array([value]).tobytes() + blob[at + 8 :]
    sql(path, f"UPDATE \"{layer}\" SET geom = x'{new.hex()}' WHERE fid = 1")


GEOMETRY: dict[str, Callable[[Any], Any]] = {
    "no geometry": lambda s: None,
    "empty geometry": lambda s: type(s)(),
    "a thousand kilometres away": lambda s: translate(s, 1_000_000, 0),
    "axes swapped": lambda s: affine_transform(s, [0, 1, 1, 0, 0, 0]),
    "in kilometres": lambda s: affine_transform(s, [0.001, 0, 0, 0.001, 0, 0]),
    "of another type": lambda s: Point(s.centroid) if s.geom_type != "Point" else s.buffer(3),
    "in a collection with a line": lambda s: GeometryCollection(
        [s, LineString([(EAST, NORTH), (EAST + 9, NORTH)])]
    ),
    "on the other side of the equator": lambda s: translate(s, 0, -2 * NORTH),
}


def _pointless(layer: str, change: Any) -> bool:
    """Tell whether a change gives geometry that the layer holds as well, or that cannot be written."""
    shape = sound_tables()[layer].geometry.iloc[0]
    new = change(shape)
    if new is not None and new.is_empty and new.geom_type == "Point":
        return True
    return (
        new is not None
        and change is GEOMETRY["of another type"]
        and new.geom_type in SURVEY_LAYERS[layer].geometry
    )


for _layer in SPATIAL:
    for _name, _value in {"corner not a number": np.nan, "infinite corner": np.inf}.items():
        KINDS[f"{_layer}: {_name}"] = functools.partial(_first_corner, layer=_layer, value=_value)
    for _name, _change in GEOMETRY.items():
        if _pointless(_layer, _change):
            continue

        def _broken(path: Path, layer: str = _layer, change: Any = _change) -> None:
            rewrite(path, layer, lambda t: _first(t, change(t.geometry.iloc[0])))

        KINDS[f"{_layer}: {_name}"] = _broken

POLYGONS = [n for n in SPATIAL if sound_tables()[n].geometry.iloc[0].geom_type == "Polygon"]
for _layer in POLYGONS:

    def _crossed(path: Path, layer: str = _layer) -> None:
        rewrite(path, layer, lambda t: _first(t, _bow_tie(t.geometry.iloc[0])))

    def _flat(path: Path, layer: str = _layer) -> None:
        rewrite(
            path,
            layer,
            lambda t: _first(
                t,
                shapely.transform(
                    t.geometry.iloc[0], lambda c: np.column_stack([c[:, 0], 0 * c[:, 1] + NORTH])
                ),
            ),
        )

    def _parts(path: Path, layer: str = _layer) -> None:
        rewrite(
            path,
            layer,
            lambda t: _first(t, MultiPolygon([t.geometry.iloc[0], translate(t.geometry.iloc[0], 60, -20)])),
        )

    def _twice(path: Path, layer: str = _layer) -> None:
        rewrite(path, layer, lambda t: pd.concat([t, t.iloc[:1]], ignore_index=True))

    KINDS[f"{_layer}: outline crosses itself"] = _crossed
    KINDS[f"{_layer}: outline without area"] = _flat
    KINDS[f"{_layer}: in two parts"] = _parts
    KINDS[f"{_layer}: drawn twice"] = _twice

# ------------------------------------------------------- fields, for every layer

NUMBERS = {
    "greens": ("stimp_ft",),
    "burns": ("width_m",),
    "mounds": ("rise_m",),
    "trees": ("height_m", "crown_m", "clear_m"),
    "paths": ("width_m",),
    "structures": ("height_m",),
    "shapes": ("rise_m", "side_slope_pct", "blend_m", "fall_pct", "fall_to_deg"),
    "players": ("driver_carry_m", "handicap"),
    "winds": ("speed_ms", "from_deg"),
}
VALUES: dict[str, Any] = {"a word": "wide", "a decimal comma": "2,5", "enormous": 1e9, "negative": -999.0}
for _layer, _fields in NUMBERS.items():
    for _field in _fields:
        for _name, _value in VALUES.items():

            def _odd(path: Path, layer: str = _layer, field: str = _field, value: Any = _value) -> None:
                rewrite(path, layer, lambda t: t.assign(**{field: [value] * len(t)}))

            KINDS[f"{_layer}.{_field} is {_name}"] = _odd
HOLED = [n for n in SPATIAL if "hole" in sound_tables()[n]]
for _layer in HOLED:
    for _name, _value in {
        "a word": "first",
        "1.5": 1.5,
        "minus one": -1,
        "99": 99,
        "of another hole": 2,
    }.items():

        def _numbered(path: Path, layer: str = _layer, value: Any = _value) -> None:
            rewrite(path, layer, lambda t: t.assign(hole=[value] * len(t)))

        KINDS[f"{_layer}.hole is {_name}"] = _numbered
REQUIRED = {
    "tees": "tee",
    "pins": "pin",
    "zones": "zone",
    "shapes": "kind",
    "control": "point",
    "players": "player",
}
for _layer, _field in REQUIRED.items():

    def _without(path: Path, layer: str = _layer, field: str = _field) -> None:
        rewrite(path, layer, lambda t: t.drop(columns=field))

    def _blank(path: Path, layer: str = _layer, field: str = _field) -> None:
        rewrite(path, layer, lambda t: t.assign(**{field: [" "] * len(t)}))

    KINDS[f"{_layer} without `{_field}`"] = _without
    KINDS[f"{_layer}.{_field} is blank"] = _blank
for _layer in ("tees", "fairway", "greens", "pins"):

    def _gone(path: Path, layer: str = _layer) -> None:
        rewrite(path, layer, lambda t: None)

    def _emptied(path: Path, layer: str = _layer) -> None:
        rewrite(path, layer, lambda t: t.iloc[:0])

    KINDS[f"{_layer}: layer missing"] = _gone
    KINDS[f"{_layer}: layer empty"] = _emptied

# ------------------------------------------------------------------- the file

for _share in (0.999, 0.9, 0.5, 0.1, 0.001):

    def _cut(path: Path, share: float = _share) -> None:
        whole = path.read_bytes()
        path.write_bytes(whole[: int(len(whole) * share)])

    KINDS[f"file: cut to {_share:.1%}"] = _cut


def _bytes(path: Path, content: bytes) -> None:
    path.write_bytes(content)


for _name, _content in {
    "empty": b"",
    "text": b"tees,fairway,greens\n1,2,3\n",
    "random bytes": np.random.default_rng(1).bytes(4096),
    "a header and nothing else": b"SQLite format 3\x00" + bytes(84),
    "a shapefile's start": b"\x00\x00\x27\x0a" + bytes(96),
}.items():
    KINDS[f"file: {_name}"] = functools.partial(_bytes, content=_content)


@kind("file: a page overwritten")
def _page(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[4096 * 5 : 4096 * 6] = np.random.default_rng(2).bytes(4096)
    path.write_bytes(bytes(content))


_SQL: dict[str, tuple[str, ...]] = {
    "no contents table": ("DROP TABLE gpkg_contents",),
    "no table of CRSs": ("DROP TABLE gpkg_spatial_ref_sys",),
    "no table of geometry columns": ("DROP TABLE gpkg_geometry_columns",),
    "geometry columns of another shape": (
        "DROP TABLE gpkg_geometry_columns",
        "CREATE TABLE gpkg_geometry_columns (a, b)",
    ),
    "extensions of another shape": (
        "DROP TABLE IF EXISTS gpkg_extensions",
        "CREATE TABLE gpkg_extensions (x INTEGER)",
    ),
    "contents of another shape": (
        "DROP TABLE gpkg_contents",
        "CREATE TABLE gpkg_contents (table_name, data_type)",
    ),
    "geometry column renamed": ("ALTER TABLE fairway RENAME COLUMN geom TO shape",),
    "geometry column renamed in the book alone": (
        "UPDATE gpkg_geometry_columns SET column_name = 'shape' WHERE table_name = 'fairway'",
    ),
    "a layer in the book and not there": ("DROP TABLE water",),
    "a layer there and not in the book": ("DELETE FROM gpkg_contents WHERE table_name = 'bunkers'",),
    "a layer twice in the book": (
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) "
        "VALUES ('Bunkers', 'features', 'again', 27700)",
    ),
    "greens without CRS": ("UPDATE gpkg_contents SET srs_id = -1 WHERE table_name = 'greens'",),
    "a CRS nobody defines": (
        "UPDATE gpkg_contents SET srs_id = 4711 WHERE table_name = 'greens'",
        "UPDATE gpkg_geometry_columns SET srs_id = 4711 WHERE table_name = 'greens'",
    ),
    "a CRS of nonsense": ("UPDATE gpkg_spatial_ref_sys SET definition = 'NONSENSE' WHERE srs_id = 27700",),
    "geometry of rubbish": ("UPDATE bunkers SET geom = x'00112233'",),
    "geometry as text": ("UPDATE bunkers SET geom = 'POINT (1 2)'",),
    "geometry of one corner": (
        "UPDATE bunkers SET geom = x'47500001346C0000"
        "01030000000100000001000000000000000000F03F000000000000F03F'",
    ),
    "terrain without matrix": ("DELETE FROM gpkg_tile_matrix WHERE table_name = 'terrain'",),
    "terrain without tiles": ("DELETE FROM terrain",),
    "terrain tiles of rubbish": ("UPDATE terrain SET tile_data = x'0011'",),
    "terrain that is a table of words": (
        "UPDATE gpkg_contents SET data_type = 'attributes' WHERE table_name = 'terrain'",
    ),
    "tees are a view": (
        "ALTER TABLE tees RENAME TO tees_below",
        "CREATE VIEW tees AS SELECT * FROM tees_below WHERE fid < 2",
    ),
    "a view that never ends": (
        "ALTER TABLE water RENAME TO water_below",
        "CREATE VIEW water AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)"
        " SELECT w.* FROM water_below w, n WHERE i = 0",
    ),
    "a trigger that deletes bunkers": (
        "CREATE TRIGGER thief AFTER INSERT ON gpkg_contents BEGIN DELETE FROM bunkers; END",
    ),
    "a trigger on results": (
        "CREATE TRIGGER thief2 AFTER UPDATE ON gpkg_contents BEGIN UPDATE tees SET tee = 'x'; END",
    ),
    "names that are no names": ("UPDATE bunkers SET name = 'a' || char(10) || '../../x'",),
    "a name of a megabyte": ("UPDATE bunkers SET name = hex(zeroblob(500000))",),
    "a table named like a path": ('CREATE TABLE "study_strokes/../../evil" (x)',),
}
for _name, _statements in _SQL.items():

    def _statement(path: Path, statements: tuple[str, ...] = _statements) -> None:
        sql(path, *statements)

    KINDS[f"file: {_name}"] = _statement


@kind("file: in degrees")
def _degrees(path: Path) -> None:
    path.unlink()
    for name, table in sound_tables().items():
        _vector.write_layer(path, name, table.to_crs(4326) if isinstance(table, gpd.GeoDataFrame) else table)


@kind("file: on the web's projection")
def _web(path: Path) -> None:
    path.unlink()
    for name, table in sound_tables().items():
        _vector.write_layer(path, name, table.to_crs(3857) if isinstance(table, gpd.GeoDataFrame) else table)


for _layer in ("fairway", "water", "bunkers"):

    def _other_crs(path: Path, layer: str = _layer) -> None:
        rewrite(path, layer, lambda t: t.to_crs(32630))

    KINDS[f"{_layer}: in another CRS"] = _other_crs

# --------------------------------------------------------------- the terrain


def _terrain(path: Path, z: Any, *, west: float = EAST - 100, crs: int = 27700, unit: str = "m") -> None:
    sql(
        path,
        "DELETE FROM gpkg_contents WHERE table_name = 'terrain'",
        "DELETE FROM gpkg_tile_matrix WHERE table_name = 'terrain'",
        "DELETE FROM gpkg_tile_matrix_set WHERE table_name = 'terrain'",
        "DELETE FROM gpkg_2d_gridded_coverage_ancillary WHERE tile_matrix_set_name = 'terrain'",
        "DELETE FROM gpkg_2d_gridded_tile_ancillary WHERE tpudt_name = 'terrain'",
        "DELETE FROM gpkg_extensions WHERE table_name = 'terrain'",
        "DROP TABLE terrain",
    )
    _raster.write_coverage(path, "terrain", z, west, NORTH + 420, 1.0, crs, unit)


_LEVEL = np.full((480, 240), 10.0)
_HOLED = _LEVEL.copy()
_HOLED[100:300] = np.nan
for _name, _options in {
    "all missing": {"z": np.full((480, 240), np.nan)},
    "with a hole across the fairway": {"z": _HOLED},
    "far away": {"z": _LEVEL, "west": EAST + 50_000},
    "in another CRS": {"z": _LEVEL, "crs": 32630},
    "in furlongs": {"z": _LEVEL, "unit": "furlong"},
    "at a height beyond belief": {"z": _LEVEL + 20_000},
    "of two cells": {"z": np.full((2, 1), 10.0)},
    "that covers the tee alone": {"z": _LEVEL[-60:], "west": EAST - 100},
}.items():
    KINDS[f"terrain: {_name}"] = functools.partial(_terrain, **_options)  # type: ignore[arg-type]

# --------------------------------------------------------------- what is drawn


def _drawn(layer: str, *shapes: Any, **fields: Any) -> Break:
    def draw(path: Path) -> None:
        count = len(shapes)
        table = gpd.GeoDataFrame(
            {k: list(v) if isinstance(v, (list, tuple)) else [v] * count for k, v in fields.items()},
            geometry=[shifted(s) for s in shapes],
            crs=27700,
        )
        rewrite(path, layer, lambda _: table)

    return draw


_TURN = np.linspace(0, 2 * np.pi, 200_000, endpoint=False)
_RIPPLE = 60 + 0.004 * np.sin(20_000 * _TURN)
_COMB = Polygon([(k * 0.05, (k % 2) * 40 + 100) for k in range(8000)] + [(400, 90), (0, 90)])
KINDS |= {
    "play line drawn from green to tee": _drawn("play_lines", LineString([(0, 340), (0, 0)]), hole=1),
    "play line stops half-way": _drawn("play_lines", LineString([(0, 0), (0, 170)]), hole=1),
    "play line 60 m short": _drawn("play_lines", LineString([(0, 0), (0, 266)]), hole=1),
    "play line of another place": _drawn("play_lines", LineString([(100, 0), (120, 40)]), hole=1),
    "green 400 m wide": _drawn("greens", box(-200, 330, 200, 370), hole=1),
    "green of a square metre": _drawn("greens", box(0, 340, 1, 341), hole=1),
    "two greens on one hole": _drawn("greens", Point(0, 340).buffer(14), Point(60, 340).buffer(14), hole=1),
    "green in the pond": _drawn("water", Point(0, 340).buffer(20)),
    "tee in the pond": _drawn("water", box(-10, -10, 10, 10)),
    "burn over the green": _drawn("burns", LineString([(-60, 340), (60, 340)]), width_m=2.0),
    "bunker over the green": _drawn("bunkers", box(-5, 335, 5, 345), hole=1),
    "tee on the green": _drawn("tees", box(-4, 336, 4, 344), hole=1, tee="back"),
    "tee a kilometre and a half away": _drawn("tees", box(-4, -1203, 4, -1197), hole=1, tee="back"),
    "two tees of one name": _drawn("tees", box(-4, -3, 4, 3), box(-4, 20, 4, 26), hole=1, tee="back"),
    "pin off the green": _drawn("pins", Point(0, 300), hole=1, pin="x"),
    "two pins of one name": _drawn("pins", Point(0, 338), Point(0, 342), hole=1, pin="x"),
    "pin in the bunker's place": _drawn("pins", Point(-31, 322), hole=1, pin="x"),
    "zones overlap": _drawn("zones", box(-15, 110, 15, 200), box(-15, 180, 15, 300), hole=1, zone=["A", "B"]),
    "two zones of one name": _drawn(
        "zones", box(-15, 110, 15, 150), box(-15, 200, 15, 260), hole=1, zone="A"
    ),
    "fairway on the next hole": _drawn("fairway", box(980, 100, 1000, 310), hole=1),
    "fairway of 200,000 corners": _drawn(
        "fairway",
        Polygon(np.column_stack([_RIPPLE * np.cos(_TURN), 200 + _RIPPLE * np.sin(_TURN)])),
        hole=1,
    ),
    "fairway like a comb": _drawn("fairway", _COMB, hole=1),
    "shape half off the terrain": _drawn("shapes", box(120, 100, 160, 130), hole=1, kind="mound", rise_m=1.0),
    "shape at 9,999 m": _drawn("shapes", box(30, 100, 60, 130), hole=1, kind="mound", level_m=9999.0),
    "shape with rise and level": _drawn(
        "shapes", box(30, 100, 60, 130), hole=1, kind="mound", rise_m=1.0, level_m=12.0
    ),
    "shape with neither": _drawn("shapes", box(30, 100, 60, 130), hole=1, kind="mound"),
    "shape of an unknown kind": _drawn("shapes", box(30, 100, 60, 130), hole=1, kind="volcano", rise_m=1.0),
    "channel drawn as an area": _drawn("shapes", box(30, 100, 60, 130), hole=1, kind="channel", rise_m=-1.0),
    "path of an unknown kind": _drawn("paths", LineString([(90, 0), (90, 300)]), kind="towpath", width_m=2.0),
    "structure of an unknown kind": _drawn("structures", box(90, 90, 99, 99), kind="barn", height_m=5.0),
    "crown below its underside": _drawn("trees", Point(40, 100), height_m=3.0, clear_m=5.0, crown_m=4.0),
    "boundary across the fairway": _drawn("boundary", box(-90, -50, 5, 410)),
    "boundary round nothing": _drawn("boundary", box(5000, 5000, 5010, 5010)),
    "two players of one name": lambda p: rewrite(
        p, "players", lambda t: pd.concat([t, t], ignore_index=True)
    ),
    "two winds of one name": lambda p: rewrite(p, "winds", lambda t: pd.concat([t, t], ignore_index=True)),
    "a player based on nobody": lambda p: rewrite(p, "players", lambda t: t.assign(based_on="the cat")),
    "an unknown setting": lambda p: rewrite(p, "settings", lambda t: t.assign(name="stimp")),
    "a setting out of bounds": lambda p: rewrite(p, "settings", lambda t: t.assign(value="900")),
    "a setting there twice": lambda p: rewrite(p, "settings", lambda t: pd.concat([t, t], ignore_index=True)),
}
for _wrong, _right in {
    "flags": "pins",
    "sand traps": "bunkers",
    "Ponds": "water",
    "Boundry": "boundary",
}.items():

    def _renamed(path: Path, wrong: str = _wrong, right: str = _right) -> None:
        table = sound_tables()[right]
        rewrite(path, right, lambda t: None)
        _vector.write_layer(path, wrong, table)

    KINDS[f"the layer {_right} is called {_wrong}"] = _renamed
