"""The hand-off folder.

Every file read back by another library, to a millimetre, in metres and in US survey feet.
"""

from __future__ import annotations

import csv
import hashlib
import json
import math
import os
from pathlib import Path

import ezdxf
import fiona
import numpy as np
import pytest
import rasterio
from ezdxf import bbox
from lxml import etree
from pyproj import Transformer

from gistools.base.errors import GistoolsError, InputError, WriteError
from gistools.base.units import US_SURVEY_FOOT_M
from gistools.handoff import package
from gistools.handoff.package import handoff
from gistools.site.model import Site
from gistools.steps.catalogue import need

NS = "{http://www.landxml.org/schema/LandXML-1.2}"
MM = 0.001


@pytest.fixture(scope="module", params=["metres", "US survey feet"])
def made(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Site, Path, float]:
    """A hand-off of the test hole: the site, the folder, metres in one unit."""
    from tests.handoff.conftest import METRES, US_FEET, make_site

    site = make_site(METRES if request.param == "metres" else US_FEET)
    folder = handoff(site, tmp_path_factory.mktemp("out") / "crew", spacing_m=6, tin_m=0.05, interval_m=0.5)
    return site, folder, 1.0 if request.param == "metres" else US_SURVEY_FOOT_M


def staked(site: Site) -> dict[str, tuple[float, float, float]]:
    table = need(site, "setting_out", hole=1, spacing_m=6.0, chord_m=0.1, station_m=20.0)["setting_out"]
    return {
        name: (x, y, z)
        for name, x, y, z in zip(
            table["point"], table.geometry.x, table.geometry.y, table["proposed_level_m"], strict=True
        )
    }


def one(folder: Path, pattern: str) -> Path:
    result = sorted(folder.glob(pattern))
    assert len(result) == 1, f"{pattern}: {result}"
    return result[0]


def test_point_file(made: tuple[Site, Path, float]) -> None:
    site, folder, unit = made
    tag = "epsg27700_m" if unit == 1.0 else "epsg2225_us-ft"
    simple = one(folder, f"hole_01/hole_01_PNEZD_{tag}.csv")
    titled = one(folder, f"hole_01/hole_01_PNEZD_titles_{tag}.csv")
    with simple.open(newline="") as source:
        rows = list(csv.reader(source))
    assert titled.read_text().splitlines()[1:] == simple.read_text().splitlines()
    points = staked(site)
    assert len(rows) == len(points) and all(len(r) == 5 for r in rows)
    assert len({r[0] for r in rows}) == len(rows) and all(r[0].isdigit() for r in rows)
    for _, northing, easting, level, description in rows:
        x, y, z = points[description.split()[1]]
        assert float(easting) * unit == pytest.approx(x, abs=MM)
        assert float(northing) * unit == pytest.approx(y, abs=MM)
        assert float(level) * unit == pytest.approx(z, abs=MM)


def test_the_drawing_holds_outlines_and_both_contours(made: tuple[Site, Path, float]) -> None:
    site, folder, unit = made
    doc = ezdxf.readfile(one(folder, "hole_01/hole_01.dxf"))
    assert not doc.audit().errors
    assert doc.header["$INSUNITS"] == (6 if unit == 1.0 else 21)
    space = doc.modelspace()
    points = staked(site)
    stakes = [e for e in space.query("INSERT") if e.dxf.layer.endswith("_POINT")]
    names = {e.get_attrib_text("NAME"): tuple(e.dxf.insert) for e in stakes}
    assert names.keys() == points.keys() and len(stakes) == len(points)
    nodes = {tuple(e.dxf.location) for e in space.query("POINT") if e.dxf.layer.endswith("_POINT")}
    assert nodes == set(names.values())
    for name, place in names.items():
        assert np.array(place) * unit == pytest.approx(points[name], abs=MM)
    with one(folder, "hole_01/hole_01_PNEZD_e*.csv").open(newline="") as source:
        rows = {row[0]: row for row in csv.reader(source)}
    for stake in stakes:
        _, _, _, level, description = rows[stake.get_attrib_text("NUMBER")]
        assert description.split()[:2] == [stake.get_attrib_text("CODE"), stake.get_attrib_text("NAME")]
        assert stake.get_attrib_text("LEVEL") == level
    symbols = {e.dxf.layer: e.dxf.name for e in space.query("INSERT")}
    assert symbols["PIN_POINT"] == "HOLE_LOCATION" and symbols["TEM_POINT"] == symbols["TEES"] == "TEE"
    assert symbols["CONTROL"] == "CONTROL" and symbols["BKR_POINT"] == "STAKE"
    layers = {e.dxf.layer for e in space.query("POLYLINE")}
    assert {"LOP", "GRN", "BKR", "FWY", "BNC", "BNL", "BNR", "PMT", "PCC", "PCT", "PPE", "PTE"} <= layers
    rings = [e for e in space.query("POLYLINE") if e.dxf.layer == "GRN"]
    assert len(rings) == 1 and rings[0].is_closed
    assert {e.dxf.layer[:16] for e in space.query("LWPOLYLINE")} == {"CONTOUR_EXISTING", "CONTOUR_PROPOSED"}


def test_corners_of_the_alignment_are_in_the_file(made: tuple[Site, Path, float]) -> None:
    from tests.published.test_landxml12 import structure

    site, folder, unit = made
    root = etree.parse(one(folder, "hole_01/*.xml")).getroot()
    schema = structure()
    assert schema.validate(root), schema.error_log
    points = staked(site)
    result = {p.get("name"): [float(v) * unit for v in p.text.split()] for p in root.iter(f"{NS}CgPoint")}
    with one(folder, "hole_01/hole_01_PNEZD_e*.csv").open(newline="") as source:
        names = {row[0]: row[4].split()[1] for row in csv.reader(source)}
    assert result.keys() == names.keys()  # one point, one name on the instrument
    for number, (north, east, level) in result.items():
        assert (east, north, level) == pytest.approx(points[names[number]], abs=MM)
    described = {p.get("name"): p.get("desc").split(",")[0] for p in root.iter(f"{NS}CgPoint")}
    assert described == names
    lines = {b.get("name"): b.find(f"{NS}PntList3D").text.split() for b in root.iter(f"{NS}Breakline")}
    ring = np.array(lines["GRN1"], float).reshape(-1, 3)[:, [1, 0, 2]] * unit
    edge = np.array([p for name, p in points.items() if name.startswith("GRN1-")])
    assert ring[:-1] == pytest.approx(edge, abs=MM) and ring[-1] == pytest.approx(edge[0], abs=MM)
    line = [s.text.split() for s in root.iter(f"{NS}Start")] + [
        e.text.split() for e in list(root.iter(f"{NS}End"))[-1:]
    ]
    corners = np.array(line, float)[:, ::-1] * unit
    west, south, _, _ = site.ground.bounds  # type: ignore[union-attr]
    assert corners - [west, south] == pytest.approx(np.array([[100, 40], [115, 240], [150, 400]]), abs=0.01)


def test_triangles_in_landxml_agree_with_the_ground(made: tuple[Site, Path, float]) -> None:
    import matplotlib.tri as tri

    from gistools.site.proposed import proposed_site

    site, folder, unit = made
    root = etree.parse(one(folder, "hole_01/*.xml")).getroot()
    surfaces = {s.get("name"): s for s in root.iter(f"{NS}Surface")}
    grounds = {"existing": site, "proposed": proposed_site(site, hole=1)}
    assert surfaces.keys() == grounds.keys()
    rng = np.random.default_rng(1)
    for name, surface in surfaces.items():
        rows = np.array([p.text.split() for p in surface.iter(f"{NS}P")], float) * unit
        faces = np.array([f.text.split() for f in surface.iter(f"{NS}F")], int) - 1
        origin = rows[:, :2].min(axis=0)
        mesh = tri.Triangulation(rows[:, 1] - origin[1], rows[:, 0] - origin[0], faces)
        ground = grounds[name].surface()
        x, y = ground.centres()
        i = rng.integers(0, len(y), 4000)
        j = rng.integers(0, len(x), 4000)
        got = tri.LinearTriInterpolator(mesh, rows[:, 2])(x[j] - origin[1], y[i] - origin[0])
        miss = np.ma.filled(got - ground.z[i, j], np.nan)
        assert np.isfinite(miss).sum() > 2000
        assert np.nanmax(np.abs(miss)) <= 0.05 + MM


def test_dxf_opens_on_the_hole_and_contours_tell_their_level(made: tuple[Site, Path, float]) -> None:
    _, folder, unit = made
    doc = ezdxf.readfile(one(folder, "hole_01/hole_01.dxf"))
    extents = bbox.extents(doc.modelspace())
    assert doc.header["$EXTMIN"][:2] == pytest.approx((extents.extmin.x, extents.extmin.y), abs=5 / unit)
    assert doc.header["$EXTMAX"][:2] == pytest.approx((extents.extmax.x, extents.extmax.y), abs=5 / unit)
    view = doc.viewports.get("*Active")[0]
    assert extents.extmin.x < view.dxf.center.x < extents.extmax.x and view.dxf.height * unit > 300
    levels = {round(e.dxf.elevation, 3) for e in doc.modelspace().query("LWPOLYLINE")}
    texts = [float(e.dxf.text) for e in doc.modelspace().query("TEXT") if e.dxf.layer.startswith("CONTOUR")]
    assert texts and all(any(abs(t - v) < 0.002 for v in levels) for t in texts)


def test_drawing_has_control_and_surroundings_at_their_level(made: tuple[Site, Path, float]) -> None:
    site, folder, unit = made
    space = ezdxf.readfile(one(folder, "hole_01/hole_01.dxf")).modelspace()
    points = [e.dxf.insert for e in space.query("INSERT") if e.dxf.layer == "CONTROL"]
    drawn = {tuple(round(v * unit, 3) for v in p) for p in points}
    control = site.layer("control")
    rows = zip(control.geometry.x, control.geometry.y, control["level_m"], strict=True)
    assert drawn == {tuple(round(v, 3) for v in row) for row in rows}


def test_layers_have_the_same_colours_on_every_hole() -> None:
    from gistools.handoff.dxf import colour_of

    assert colour_of("BKR_POINT") == colour_of("BKR") == 40
    assert colour_of("PIN") == 1 and colour_of("PATHS") == 252 and colour_of("PMT_POINT") == 210
    assert colour_of("CONTOUR_EXISTING_HEAVY_TEXT") == 36 and colour_of("whatever") == 7


def test_shaped_ground_as_faces_agrees_with_the_proposed_ground(made: tuple[Site, Path, float]) -> None:
    from gistools.site.proposed import proposed_site

    site, folder, unit = made
    space = ezdxf.readfile(one(folder, "hole_01/*_shaped_faces_*.dxf")).modelspace()
    corners = np.array([[list(p)[:3] for p in f.wcs_vertices()][:3] for f in space.query("3DFACE")]) * unit
    proposed, existing = proposed_site(site, hole=1).surface(), site.surface()
    flat = corners.reshape(-1, 3)
    assert np.abs(proposed.height(flat[:, 0], flat[:, 1]) - flat[:, 2]).max() < MM
    changed = np.abs(proposed.z - existing.z) > 0.01
    x, y = proposed.grid.mesh()
    inside = np.zeros(changed.sum(), bool)
    import matplotlib.path as paths

    points = np.column_stack([x[changed], y[changed]])
    for triangle in corners[:, :, :2]:
        inside |= paths.Path(triangle).contains_points(points, radius=1e-6) | paths.Path(
            triangle
        ).contains_points(points, radius=-1e-6)
    assert inside.mean() > 0.995


def test_nothing_proposed_gives_one_surface(tmp_path: Path, metre_site: Site) -> None:
    unshaped = metre_site.replace(shapes=metre_site.layer("shapes").iloc[:0])
    to = quick(unshaped, tmp_path / "crew")
    root = etree.parse(one(to, "hole_01/*.xml")).getroot()
    assert [s.get("name") for s in root.iter(f"{NS}Surface")] == ["existing"]
    assert len(list(to.glob("hole_01/*.tif"))) == 1 and not list(to.glob("hole_01/*faces*"))


def test_control_points_leave_with_their_coordinates(made: tuple[Site, Path, float]) -> None:
    site, folder, unit = made
    with one(folder, "control_PNEZD_*.csv").open(newline="") as source:
        rows = {r[0]: r[1:4] for r in csv.reader(source)}
    control = site.layer("control")
    for row in control.to_dict("records"):
        north, east, level = (float(v) * unit for v in rows[row["point"]])
        assert (east, north, level) == pytest.approx(
            (row["geometry"].x, row["geometry"].y, row["level_m"]), abs=MM
        )


def test_workbook_adds_up(made: tuple[Site, Path, float]) -> None:
    """Quantities are those of the step; amounts, sum and total are formulas of the right cells."""
    import openpyxl

    site, folder, _ = made
    book = openpyxl.load_workbook(folder / "quantities.xlsx")
    sheet = book["Earthworks"]
    table = need(site, "quantities", hole=1)["quantities"]
    shapes = table[table["shape_kind"] != "total"]
    lines = [r for r in sheet.iter_rows(min_row=2, values_only=True) if r[3] == "m3"]
    expected = sum(float(shapes[c].clip(lower=0).sum()) for c in ("topsoil_m3", "cut_m3", "fill_m3"))
    assert sum(r[2] for r in lines) == pytest.approx(expected, abs=0.06 * len(lines))
    last = len(lines) + 1
    assert [r[5] for r in lines] == [f"=C{n}*E{n}" for n in range(2, last + 1)]
    assert sheet[f"F{last + 2}"].value == f"=SUM(F2:F{last})"
    assert sheet[f"F{last + 4}"].value == f"=F{last + 2}*(1+F{last + 3}/100)"
    names = [r[1] for r in book["Areas and materials"].iter_rows(min_row=2, values_only=True) if r[1]]
    assert names and not any(str(n).startswith(("=", "+", "@")) for n in names)


def test_both_grounds_are_written_as_rasters(made: tuple[Site, Path, float]) -> None:
    from gistools.steps.quantity_rows import both_grounds

    site, folder, unit = made
    grounds = dict(zip(("existing", "proposed"), both_grounds(site, site.hole_bounds(1), 1), strict=True))
    for name, ground in grounds.items():
        with rasterio.open(one(folder, f"hole_01/hole_01_{name}_*.tif")) as source:
            band = source.read(1).astype(float)
            corner = np.array([source.transform.c, source.transform.f, source.transform.a])
            assert source.crs.to_epsg() == site.crs.to_epsg()
            assert source.units[0] == ("m" if unit == 1.0 else "us-ft")
        assert corner * unit == pytest.approx([ground.x_west, ground.y_north, ground.cell], abs=MM)
        assert band * unit == pytest.approx(ground.z, abs=MM)
    assert not np.array_equal(grounds["existing"].z, grounds["proposed"].z)


def test_geopackage_holds_only_the_layers_handed_over(made: tuple[Site, Path, float]) -> None:
    site, folder, unit = made
    path = folder / "handoff.gpkg"
    assert set(fiona.listlayers(path)) == {
        "setting_out",
        "control_check",
        "contours",
        "quantities",
        "materials",
    }
    points = staked(site)
    with fiona.open(path, layer="setting_out") as source:
        assert source.crs.to_epsg() == site.crs.to_epsg()
        rows = list(source)
    assert len(rows) == len(points)
    column = "easting_m" if unit == 1.0 else "easting_us_ft"
    for row in rows:
        x, y, z = points[row.properties["point"]]
        assert np.array(row.geometry.coordinates) * unit == pytest.approx((x, y), abs=MM)
        assert row.properties["proposed_level_m"] == pytest.approx(z, abs=MM)
        assert row.properties[column] * unit == pytest.approx(x, abs=MM)


def test_geojson_is_rfc_7946(made: tuple[Site, Path, float]) -> None:
    """RFC 7946: longitude then latitude in WGS 84, no `crs` member [second-hand.

    Abstract; details from memory].
    """
    site, folder, unit = made
    output = json.loads((folder / "setting_out_wgs84.geojson").read_text(encoding="utf-8"))
    assert output["type"] == "FeatureCollection" and "crs" not in output
    back = Transformer.from_crs(4326, site.crs, always_xy=True)
    points = staked(site)
    assert len(output["features"]) == len(points)
    for feature in output["features"]:
        lon, lat = feature["geometry"]["coordinates"]
        assert -180 <= lon <= 180 and -90 <= lat <= 90
        x, y, _ = points[feature["properties"]["point"]]
        assert np.array(back.transform(lon, lat)) * unit == pytest.approx((x, y), abs=MM)


def test_checksums_and_control_are_in_the_manifest(made: tuple[Site, Path, float]) -> None:
    site, folder, unit = made
    output = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    assert output["crs"]["epsg"] == site.crs.to_epsg()
    assert output["units"]["metres_in_one"] == pytest.approx(unit, abs=1e-15)
    assert output["datum"] and output["cautions"] and output["program"]["version"]
    assert 0.999 < output["holes"]["1"]["combined_factor"] < 1.001
    on_disk = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    assert set(output["files"]) == on_disk - {"manifest.json"}
    for name, facts in output["files"].items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == facts["sha256"]
    assert [c["control_status"] for c in output["control"]] == ["within", "outside", "not checked"]


def test_readme_tells_the_crew_what_they_need(made: tuple[Site, Path, float]) -> None:
    site, folder, unit = made
    text = (folder / "README.txt").read_text(encoding="utf-8")
    for words in (
        f"EPSG:{site.crs.to_epsg()}",
        "US survey foot" if unit != 1.0 else "metre",
        "combined factor",
        "K2: outside",
        "licensed",
        "northing comes first",
    ):
        assert words in text
    assert all(line.isprintable() for line in text.splitlines())


def test_names_that_bite_stay_harmless(made: tuple[Site, Path, float]) -> None:
    _, folder, _ = made
    names = [p.name for p in folder.rglob("*")]
    assert any(n.startswith("BKR_1_HYPERLINK_x") for n in names)
    assert all(
        set(n) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-.") for n in names
    )
    with one(folder, "hole_01/hole_01_setting_out.csv").open(encoding="utf-8-sig", newline="") as source:
        cells = [c for row in list(csv.reader(source))[1:] for c in row]
    risky = [c for c in cells if c[:1] in "=+-@" and c]
    assert risky and all(math.isfinite(float(c)) for c in risky)  # only numbers start with a sign
    assert any(c.startswith("'=HYPERLINK") for c in cells)


def test_an_existing_folder_is_never_touched_unasked(tmp_path: Path, metre_site: Site) -> None:
    other = tmp_path / "photos"
    other.mkdir()
    (other / "one.jpg").write_bytes(b"x")
    for replace in (False, True):
        with pytest.raises(InputError):
            handoff(metre_site, other, replace=replace)
    assert (other / "one.jpg").read_bytes() == b"x"
    for odd in (tmp_path / "..", Path("/")):
        with pytest.raises(InputError):
            handoff(metre_site, odd)


def quick(site: Site, to: Path, **more: object) -> Path:
    return handoff(site, to, tin_m=0.5, interval_m=2.0, spacing_m=30, chord_m=1.0, by_feature=False, **more)  # type: ignore[arg-type]


def test_replace_puts_the_new_in_the_place_of_the_old(tmp_path: Path, metre_site: Site) -> None:
    to = quick(metre_site, tmp_path / "crew")
    (to / "note.txt").write_text("old")
    with pytest.raises(InputError, match="--replace"):
        quick(metre_site, to)
    assert (to / "note.txt").exists()
    quick(metre_site, to, replace=True)
    assert not (to / "note.txt").exists() and (to / "manifest.json").exists()
    assert [p.name for p in tmp_path.iterdir()] == ["crew"]


@pytest.mark.parametrize("writer", ["write_dxf", "write_landxml", "build_tin", "write_table"])
@pytest.mark.parametrize(
    "fault", [OSError(28, "No space left on device"), MemoryError(), KeyboardInterrupt()]
)
def test_a_failure_half_way_leaves_nothing(
    tmp_path: Path, metre_site: Site, monkeypatch: pytest.MonkeyPatch, writer: str, fault: BaseException
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise fault

    monkeypatch.setattr(package, writer, fail)
    expected = WriteError if isinstance(fault, OSError) else type(fault)
    with pytest.raises(expected):
        quick(metre_site, tmp_path / "crew")
    assert list(tmp_path.iterdir()) == []


def test_a_failure_while_replacing_keeps_the_old(
    tmp_path: Path, metre_site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    to = quick(metre_site, tmp_path / "crew")
    before = {p: p.read_bytes() for p in sorted(to.rglob("*")) if p.is_file()}
    replace = os.replace

    def fail(source: Path, target: Path) -> None:
        if ".part-" in Path(source).name:
            raise OSError(13, "Permission denied")
        replace(source, target)

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(WriteError, match="Permission denied"):
        quick(metre_site, to, replace=True)
    assert {p: p.read_bytes() for p in sorted(to.rglob("*")) if p.is_file()} == before
    assert [p.name for p in tmp_path.iterdir()] == ["crew"]


def test_a_site_without_terrain_is_handed_over_without_levels(tmp_path: Path, metre_site: Site) -> None:
    import dataclasses

    flat = dataclasses.replace(metre_site, ground=None, memo={}).replace(
        shapes=metre_site.layer("shapes").iloc[:0]
    )
    to = quick(flat, tmp_path / "crew")
    rows = list(csv.reader(one(to, "hole_01/hole_01_PNEZD_e*.csv").open(newline="")))
    assert rows and all(r[3] == "" for r in rows)
    assert not list(to.glob("hole_01/*.tif"))
    layers = {e.dxf.layer for e in ezdxf.readfile(one(to, "hole_01/*.dxf")).modelspace()}
    known = {"CONTROL", "CONTROL_TEXT"}  # control points have the level that was published
    assert all(layer.endswith("_NO_LEVEL") for layer in layers - known)


def test_a_local_grid_is_handed_over_without_a_web_map(tmp_path: Path) -> None:
    """A site grid has no way to WGS 84.

    Everything else is written, and the files say that there is no EPSG code.
    """
    from tests.handoff.conftest import make_site

    grid = (
        'ENGCRS["site grid",EDATUM["peg 1"],CS[Cartesian,2],AXIS["easting (E)",east],AXIS["northing'
        ' (N)",north],LENGTHUNIT["metre",1]]'
    )
    to = quick(make_site((1000.0, 5000.0, grid)), tmp_path / "crew")  # type: ignore[arg-type]
    assert not list(to.glob("*.geojson"))
    assert one(to, "hole_01/hole_01_PNEZD_local_m.csv").stat().st_size > 1000
    output = json.loads((to / "manifest.json").read_text())
    assert output["crs"]["epsg"] is None and "site grid" in output["crs"]["wkt"]
    assert output["holes"]["1"]["combined_factor"] == pytest.approx(1.0, abs=1e-5)
    assert "geojson" not in (to / "README.txt").read_text()


def test_unknown_hole_is_refused_before_anything_is_written(tmp_path: Path, metre_site: Site) -> None:
    with pytest.raises(GistoolsError, match="no hole 7"):
        handoff(metre_site, tmp_path / "crew", hole=7)
    assert list(tmp_path.iterdir()) == []


def test_what_drainage_flags_is_said_before_anything_is_staked(tmp_path: Path) -> None:
    """A green made level holds water: README and manifest say so, and no longer where it falls."""
    import geopandas as gpd

    from gistools.site.sample import sample_site

    site = sample_site()
    green = site.layer("greens", 2).geometry.iloc[0]
    level = float(site.surface().height(green.centroid.x, green.centroid.y))
    pad = gpd.GeoDataFrame(
        {"hole": [2], "name": ["Pan"], "kind": ["platform"], "level_m": [level], "fid": [9]},
        geometry=[green.buffer(3)],
        crs=site.crs_metric,
    )
    texts = {}
    for name, shapes in (("as it is", site.layer("shapes").iloc[:0]), ("level", pad)):
        folder = handoff(site.replace(shapes=shapes), tmp_path / name, hole=2, tin_m=0.2)
        readme = (folder / "README.txt").read_text(encoding="utf-8")
        texts[name] = readme.split("DRAINAGE")[1].split("CODES")[0]
        manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
        assert all(line in texts[name] for line in manifest["drainage"])
    green_name = site.layer("greens", 2)["name"].iloc[0]
    assert f"hole 2: {green_name} falls 0.0 % in the mean, 100 % of it less than 1.5 %" in texts["level"]
    assert f"{green_name} falls 0.0 %" not in texts["as it is"]
