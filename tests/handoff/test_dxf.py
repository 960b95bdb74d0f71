"""DXF drawings, read back by ezdxf and by GDAL's own DXF reader."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import fiona
import numpy as np
import pytest
from ezdxf import bbox

from gistools.handoff.dxf import SYMBOLS, CadLine, CadPoint, Drawing, layer_name, write_dxf

RING = np.array([[420000.0, 660000.0, 12.5], [420010.0, 660000.0, 12.75], [420010.0, 660020.0, 13.25]])


def drawing() -> Drawing:
    return Drawing(
        lines=[CadLine("BKR", RING, True), CadLine("FWY", np.column_stack([RING[:, :2], [1, np.nan, 2]]))],
        contours=[CadLine("CONTOUR_EXISTING_LIGHT", np.column_stack([RING[:, :2], np.full(3, 12.5)]))],
        points=[
            CadPoint("BKR_POINT", (420001.0, 660002.0, 3.0), "STAKE", "BKR1-001", "10701001", "BKR"),
            CadPoint("TREES", (420005.0, 660002.0, 4.0), "TREE", size=6.0),
            CadPoint('a<b>/\\":;?*|=`', (1.0, 2.0, float("nan")), name='x"%%u'),
        ],
    )


# codes of $INSUNITS: 6 metres, 2 feet, 21 US survey feet [computed]
@pytest.mark.parametrize(("unit", "code", "measure"), [("m", 6, 1), ("ft", 2, 0), ("us-ft", 21, 0)])
def test_units_and_audit(tmp_path: Path, unit: str, code: int, measure: int) -> None:
    doc = ezdxf.readfile(write_dxf(tmp_path / "a.dxf", drawing(), unit))
    assert doc.header["$INSUNITS"] == code and doc.header["$MEASUREMENT"] == measure
    assert not doc.audit().errors


def test_entities_keep_x_east_y_north_and_levels(tmp_path: Path) -> None:
    doc = ezdxf.readfile(write_dxf(tmp_path / "a.dxf", drawing(), "m"))
    space = doc.modelspace()
    ring = next(e for e in space.query("POLYLINE") if e.dxf.layer == "BKR")
    assert ring.is_closed and ring.is_3d_polyline
    assert np.array([v.dxf.location for v in ring.vertices]) == pytest.approx(RING, abs=1e-6)
    contour = space.query("LWPOLYLINE").first
    assert contour.dxf.elevation == 12.5
    assert np.array(contour.get_points("xy")) == pytest.approx(RING[:, :2])


def test_points_are_block_references_with_attributes(tmp_path: Path) -> None:
    space = ezdxf.readfile(write_dxf(tmp_path / "a.dxf", drawing(), "m")).modelspace()
    stake, tree, unknown = space.query("INSERT")
    assert stake.dxf.name == "STAKE" and stake.dxf.layer == "BKR_POINT"
    assert tuple(stake.dxf.insert) == (420001.0, 660002.0, 3.0)
    values = {a.dxf.tag: a.dxf.text for a in stake.attribs}
    assert values == {"NAME": "BKR1-001", "NUMBER": "10701001", "LEVEL": "3.0000", "CODE": "BKR"}
    assert [a.dxf.tag for a in stake.attribs if not a.is_invisible] == ["NAME"]
    assert {a.dxf.layer for a in stake.attribs} == {"BKR_POINT_TEXT"}
    assert all(a.dxf.height == 0.5 for a in stake.attribs)
    assert np.hypot(*(np.array(stake.attribs[0].dxf.insert)[:2] - [420001, 660002])) < 1.0  # beside its point
    assert unknown.get_attrib_text("LEVEL") == ""  # a missing level is no level, never 0
    # exploded, the crown of a tree has the diameter that was given
    crown = next(e for e in tree.virtual_entities() if e.dxftype() == "CIRCLE")
    assert crown.dxf.radius == pytest.approx(3.0) and crown.dxf.center.x == pytest.approx(420005.0)


@pytest.mark.parametrize("name", SYMBOLS)
def test_symbols_have_lines_and_attributes(tmp_path: Path, name: str) -> None:
    doc = ezdxf.readfile(write_dxf(tmp_path / "a.dxf", drawing(), "m"))
    block = doc.blocks.get(name)
    extents = bbox.extents(block.query("LWPOLYLINE CIRCLE"))
    assert extents.extmin.x <= 0 <= extents.extmax.x and extents.extmin.y <= 0 <= extents.extmax.y
    assert [a.dxf.tag for a in block.query("ATTDEF")] == ["NAME", "NUMBER", "LEVEL", "CODE"]


def test_what_has_no_level_is_on_a_layer_that_says_so(tmp_path: Path) -> None:
    space = ezdxf.readfile(write_dxf(tmp_path / "a.dxf", drawing(), "m")).modelspace()
    line = next(e for e in space.query("POLYLINE") if e.dxf.layer.startswith("FWY"))
    assert line.dxf.layer == "FWY_NO_LEVEL"
    assert all(v.dxf.location.z == 0 for v in line.vertices)
    assert [e.dxf.layer for e in space.query("INSERT")] == ["BKR_POINT", "TREES", "a_b_NO_LEVEL"]


def test_another_reader_finds_the_same(tmp_path: Path) -> None:
    path = write_dxf(tmp_path / "a.dxf", drawing(), "m")
    with fiona.open(path) as source:
        features = list(source)
    result = [(f.properties["Layer"], f.geometry) for f in features]
    texts = [(f.properties["Layer"], f.properties["Text"]) for f in features]
    ring = next(g for layer, g in result if layer == "BKR")
    coordinates = np.array(ring.coordinates if ring.type == "LineString" else ring.coordinates[0])
    assert coordinates[:3] == pytest.approx(RING, abs=1e-6)
    nodes = [g.coordinates for layer, g in result if layer == "BKR_POINT" and g.type == "Point"]
    assert nodes == [(420001.0, 660002.0, 3.0)]
    texts = [text for layer, text in texts if layer == "BKR_POINT_TEXT"]
    assert texts == ["BKR1-001", "10701001", "3.0000", "BKR"]


@pytest.mark.parametrize("bad", ["", '<>/\\":;?*|,=`', "\x00\n", "…"])
def test_layer_names_are_what_every_program_takes(bad: str) -> None:
    assert layer_name(bad) == "unnamed"
    assert layer_name("x" * 400) == "x" * 200
