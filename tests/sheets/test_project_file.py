"""The project file: its layers are in the site, grouped, drawn and filtered as the plug-in does it.

That the desktop itself opens it is tried by scripts/desktop_check.py.
"""

from __future__ import annotations

import base64
import dataclasses
import re
import sqlite3
from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely

import gistools as gt
from gistools.base.errors import InputError, SiteError, WriteError
from gistools.sheets import project_file
from gistools.sheets.layer_groups import ORDER, THEMES, theme_layers
from gistools.sheets.shown_first import shown_first

STEPS = ("lines_of_play", "carries", "zones", "slopes", "setbacks", "quantities")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = gt.write_sample(tmp_path_factory.mktemp("project") / "merrowby.gpkg")
    gt.study(gt.open_site(path), only=STEPS)
    return path


@pytest.fixture(scope="module")
def project(site: Path) -> ElementTree.Element:
    return ElementTree.parse(gt.write_project(site)).getroot()


def layers(project: ElementTree.Element) -> dict[str, ElementTree.Element]:
    """Layers by id."""
    return {str(e.findtext("id")): e for e in project.iter("maplayer")}


def table_of(layer: ElementTree.Element) -> str:
    source = str(layer.findtext("datasource"))
    return source.split("layername=")[1].split("|")[0] if "layername=" in source else source.rsplit(":", 1)[1]


def test_project_layers_are_the_tables_of_the_site(site, project) -> None:
    with closing(sqlite3.connect(site)) as link:
        tables = {row[0] for row in link.execute("SELECT table_name FROM gpkg_contents")}
    shown = {table_of(layer) for layer in layers(project).values()}
    assert shown <= tables and len(shown) == len(list(project.iter("maplayer")))
    assert {t for t in tables if t.startswith("study_")} <= shown
    assert {"tees", "greens", "fairway", "terrain"} <= shown
    assert "play_points" not in shown and "zones" not in shown, "survey layers without a row stay out"
    assert all(
        e.findtext("datasource").split("|")[0].endswith("merrowby.gpkg")
        or "GPKG:./" in e.findtext("datasource")
        for e in layers(project).values()
    )


def test_layers_stand_in_their_groups(project) -> None:
    (tree,) = project.findall("layer-tree-group")
    (root,) = tree.findall("layer-tree-group")
    names = [g.get("name") for g in root.findall("layer-tree-group")]
    assert names == [n for n in ORDER if n in names] and {"Plan", "Survey", "For the crew"} <= set(names)
    inside = [e.get("id") for e in root.iter("layer-tree-layer")]
    assert sorted(inside) == sorted(layers(project)) and all(len(str(i)) > 10 for i in inside)
    survey = next(g for g in root.findall("layer-tree-group") if g.get("name") == "Survey")
    assert all(e.get("checked") == "Qt::Checked" for e in survey)


def test_layers_are_drawn_and_filtered(site, project) -> None:
    filters = {table: condition for table, condition, _ in shown_first(site)}
    assert "study_carries" in filters
    for layer in layers(project).values():
        table, source = table_of(layer), str(layer.findtext("datasource"))
        if layer.get("type") == "raster":
            assert layer.find("pipe/rasterrenderer") is not None
            continue
        assert source.partition("|subset=")[2] == filters.get(table, "")
        if layer.get("geometry") != "No geometry":
            assert layer.find("renderer-v2/symbols") is not None, table
    carries = next(e for e in layers(project).values() if table_of(e) == "study_carries")
    assert carries.get("labelsEnabled") == "1" and carries.find("labeling") is not None
    assert carries.findtext("layername") == "carries (back tee)"
    assert next(e for e in layers(project).values() if table_of(e) == "burns").get("geometry") == "Line"


def test_themes_show_the_survey_and_their_results(project) -> None:
    presets = {e.get("name"): {layer.get("id") for layer in e} for e in project.iter("visibility-preset")}
    assert set(presets) == set(THEMES)
    tables = {i: table_of(e) for i, e in layers(project).items()}
    for theme, ids in presets.items():
        shown = {tables[i].removeprefix("study_") for i in ids}
        results = {t for i, t in tables.items() if t.startswith("study_")}
        assert {"tees", "greens", "terrain"} <= shown
        assert {t for t in shown if f"study_{t}" in results and t not in ("zones",)} <= set(
            theme_layers(theme)
        )
    assert "setback_conflicts" in {tables[i].removeprefix("study_") for i in presets["Safety"]}


def test_the_project_is_in_the_crs_of_the_site(project) -> None:
    crs = project.find("projectCrs/spatialrefsys")
    assert crs.findtext("authid") == "EPSG:27700" and "British National Grid" in crs.findtext("wkt")
    box = [float(e.text) for e in project.find("mapcanvas/extent")]
    assert 420_000 < box[0] + 100 < box[2] and box[1] < 660_100 < box[3]


def leave_style(path: Path, table: str, document: str) -> None:
    """Leave a style document in a site file, as a desktop does."""
    with closing(sqlite3.connect(path)) as link, link:
        link.execute(
            "INSERT INTO layer_styles (f_table_name, styleName, styleQML, useAsDefault)"
            " VALUES (?, 'm', ?, 1)",
            (table, document),
        )


@pytest.fixture
def without_layouts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the layouts out, which take seconds, where they are not what is tried."""
    monkeypatch.setattr(project_file, "layout_documents", lambda path: [])


@pytest.mark.usefixtures("without_layouts")
def test_a_style_the_surveyor_left_in_the_file_is_kept(tmp_path) -> None:
    path = gt.write_sample(tmp_path / "m.gpkg")
    gt.study(gt.open_site(path), only=("lengths",))
    mine = '<qgis version="3.22"><renderer-v2 type="singleSymbol" mine="yes"><symbols/></renderer-v2></qgis>'
    leave_style(path, "greens", mine)
    root = ElementTree.parse(gt.write_project(path)).getroot()
    greens = next(e for e in root.iter("maplayer") if table_of(e) == "greens")
    assert greens.find("renderer-v2").get("mine") == "yes"


@pytest.mark.usefixtures("without_layouts")
def test_a_style_that_is_no_style_does_not_spoil_the_project(tmp_path) -> None:
    path = gt.write_sample(tmp_path / "m.gpkg")
    gt.study(gt.open_site(path), only=("lengths",))
    for table in ("greens", "bunkers"):
        leave_style(path, table, "<qgis><renderer-v2></qgis></maplayer>")
    root = ElementTree.parse(gt.write_project(path)).getroot()
    greens = next(e for e in root.iter("maplayer") if table_of(e) == "greens")
    assert greens.find("renderer-v2/symbols") is not None


@pytest.mark.usefixtures("without_layouts")
def test_project_elsewhere_finds_the_site_and_overwrites_nothing(site, tmp_path) -> None:
    away = tmp_path / "a b" / "maps.qgs"
    away.parent.mkdir()
    gt.write_project(site, away)
    for layer in ElementTree.parse(away).getroot().iter("maplayer"):
        place = str(layer.findtext("datasource")).removeprefix("GPKG:").split("|")[0].removesuffix(":terrain")
        if layer.get("type") == "vector":
            assert (away.parent / place).resolve() == site.resolve()
    with pytest.raises(InputError, match="already there"):
        gt.write_project(site, away)
    with pytest.raises(InputError, match=r"ends in \.qgs"):
        gt.write_project(site, tmp_path / "x.gpkg")
    with pytest.raises(WriteError, match=r"x\.qgs cannot be written: No such file or directory"):
        gt.write_project(site, tmp_path / "nowhere" / "x.qgs")
    with pytest.raises(SiteError):
        gt.write_project(tmp_path / "none.gpkg")


def test_layouts_show_the_ground_at_the_scale_they_state(project, site) -> None:
    """A map of 400 x 235 mm: extent over size is the scale; the ground lies inside, turned."""
    names = [e.get("name") for e in project.iter("Layout")]
    plans = [f"Hole {h}: {part}" for h in (1, 2, 3) for part in ("plan", "green")]
    assert names == [*plans, "Site plan", *(f"Hole {h}: section" for h in (1, 2, 3))]
    opened = gt.open_site(site)
    for layout in project.iter("Layout"):
        if "section" in str(layout.get("name")):
            continue
        items = {e.get("type"): e for e in layout.findall("LayoutItem")}
        assert set(items) == {"65639", "65640", "65641", "65642", "65646"}  # map, arrow, words, legend, bar
        box = {k: float(v) for k, v in items["65639"].find("Extent").attrib.items()}
        scale = 1000 * (box["xmax"] - box["xmin"]) / 400.0
        assert scale == pytest.approx(1000 * (box["ymax"] - box["ymin"]) / 235.0)
        words = "\n".join(
            str(e.get("labelText")) for e in layout.findall("LayoutItem") if e.get("type") == "65641"
        )
        assert f"1:{round(scale)} at A3, EPSG:27700" in words and "Merrowby Links" in words
        assert "licensed surveyor" in words
        assert float(items["65646"].get("numUnitsPerSegment")) * 1000 / scale == pytest.approx(40.0)
        assert all(
            e.get("mapUuid", e.get("map_uuid")) == items["65639"].get("uuid")
            for t, e in items.items()
            if t in ("65640", "65642", "65646")
        )
        number = layout.get("name").split(":")[0].removeprefix("Hole ")
        green = opened.layer("greens", int(number) if number.isdigit() else None).union_all()
        middle = ((box["xmin"] + box["xmax"]) / 2, (box["ymin"] + box["ymax"]) / 2)
        assert green.centroid.distance(shapely.Point(middle)) < (
            5.0 if "green" in layout.get("name") else 400.0
        )
    plan = next(e for e in project.iter("Layout") if e.get("name") == "Hole 1: plan")
    turn = float(next(e for e in plan.findall("LayoutItem") if e.get("type") == "65639").get("mapRotation"))
    assert turn == pytest.approx(90.0 - 10.0, abs=0.5)  # hole 1 runs at a bearing of 10 degrees


def test_sections_are_drawn_to_the_scale_they_state(project, site) -> None:
    """The scale bar and the ground of the drawing, measured in it, are those of the terrain."""
    surface = gt.open_site(site).surface()
    line = gt.lines_of_play(gt.open_site(site), hole=1)
    chord = np.asarray(line[line["tee"] == "back"].geometry.iloc[0].coords)
    for layout in (e for e in project.iter("Layout") if "section" in str(e.get("name"))):
        words = "\n".join(str(e.get("labelText")) for e in layout if e.get("type") == "65641")
        scale, heights = (int(v) for v in re.search(r"Distances 1:(\d+), heights 1:(\d+)", words).groups())
        assert scale == 5 * heights and "licensed surveyor" in words and "Merrowby Links" in words
        assert {e.get("type") for e in layout.findall("LayoutItem")} == {"65640", "65641"}
        item = next(e for e in layout.findall("LayoutItem") if e.get("type") == "65640")
        svg = ElementTree.fromstring(base64.b64decode(str(item.get("file")).removeprefix("base64:")))
        mm = 25.4 / 72  # points of the drawing
        assert [float(svg.get(k).removesuffix("pt")) * mm for k in ("width", "height")] == pytest.approx(
            [400.0, 235.0], abs=0.01
        )
        bar = max(np.ptp(path_of(svg, f"scale-bar-{k}")[:, 0]) for k in range(4)) * mm
        label = max(v for v in (2, 5, 10, 20, 50, 100, 200, 500) if v * 1000 / scale <= 90)
        assert 4 * bar == pytest.approx(label * 1000 / scale, abs=0.01)
        if layout.get("name") == "Hole 1: section":
            drawn = path_of(svg, "existing-ground") * mm
            along = (drawn[:, 0] - drawn[0, 0]) * scale / 1000
            rise = -(drawn[:, 1] - drawn[0, 1]) * heights / 1000
            far = np.hypot(*(chord[1] - chord[0]))
            way = (chord[1] - chord[0]) / far
            inside = along < far
            level = surface.height(*(chord[0] + along[inside, None] * way).T)
            assert inside.sum() > 50
            assert rise[inside] == pytest.approx(level - level[0], abs=0.03)  # 0.1 mm of paper


def path_of(svg: ElementTree.Element, name: str) -> np.ndarray:
    """Corners of the first path of a named part of a drawing ``(n, 2)``."""
    part = next(e for e in svg.iter() if e.get("id") == name)
    path = next(e for e in part.iter() if e.tag.endswith("path"))
    numbers = re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", str(path.get("d")))
    return np.array(numbers, float)


def test_a_site_without_terrain_has_no_sections(tmp_path) -> None:
    from gistools.sheets.project_layouts import project_layouts
    from gistools.site.sample import sample_site

    bare = dataclasses.replace(sample_site(), ground=None)
    assert not [layout.name for layout in project_layouts(bare, tmp_path) if "section" in layout.name]


def test_layouts_of_a_site_in_feet_keep_their_scale(tmp_path) -> None:
    from pyproj import CRS

    from gistools.sheets.project_layouts import project_layouts
    from gistools.site.sample import sample_site

    metres = sample_site()
    feet = dataclasses.replace(metres, crs=CRS(2225), unit_m=1200 / 3937)
    for a, b in zip(project_layouts(metres, tmp_path), project_layouts(feet, tmp_path), strict=True):
        assert a.scale == b.scale
        assert (b.extent[2] - b.extent[0]) * 1200 / 3937 == pytest.approx(a.extent[2] - a.extent[0])


def test_levels_under_a_section_are_those_of_its_ground(straight_site) -> None:
    """Existing ground that rises 1 in 20 along the line, proposed ground 1.5 m above it."""
    from gistools.sheets.drawings import hole_section
    from gistools.sheets.drawings.ground import Subject
    from gistools.sheets.drawings.paper import Picture

    subject = Subject.of(straight_site, 1)
    section = hole_section.long_section(subject)
    assert section is not None
    rising = 10.0 + section.station_m / 20.0
    section = dataclasses.replace(section, existing_m=rising, proposed_m=rising + 1.5)
    sheet = Picture(400.0, 235.0)
    hole_section._draw_along(sheet, subject, section, 1000)
    texts = [(t.get_text(), t.get_position()) for t in sheet.paper.texts]
    left = {words: at for words, at in texts if words in ("chainage", "existing", "proposed")}
    rows = {
        name: [
            float(words) for words, (x, y) in sorted(texts, key=lambda t: t[1]) if y == at[1] and x > at[0]
        ]
        for name, at in left.items()
    }
    stations = np.array(rows["chainage"])
    assert len(stations) > 15 and np.allclose(np.diff(stations), 20.0)
    assert rows["existing"] == pytest.approx(10.0 + stations / 20.0, abs=0.006)
    assert rows["proposed"] == pytest.approx(11.5 + stations / 20.0, abs=0.006)
