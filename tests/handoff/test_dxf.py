"""DXF drawings, read back by ezdxf and by GDAL's own DXF reader."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import fiona
import numpy as np
import pytest

from gistools.handoff.dxf import CadLine, CadPoint, Drawing, layer_name, write_dxf

RING = np.array([[420000.0, 660000.0, 12.5], [420010.0, 660000.0, 12.75], [420010.0, 660020.0, 13.25]])


def drawing() -> Drawing:
    return Drawing(
        lines=[CadLine("BKR", RING, True), CadLine("FWY", np.column_stack([RING[:, :2], [1, np.nan, 2]]))],
        contours=[CadLine("CONTOUR_EXISTING_LIGHT", np.column_stack([RING[:, :2], np.full(3, 12.5)]))],
        points=[
            CadPoint("BKR_POINT", (420001.0, 660002.0, 3.0), "BKR1-001"),
            CadPoint('a<b>/\\":;?*|=`', (1.0, 2.0, float("nan")), 'x"%%u'),
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
    text = next(e for e in space.query("TEXT") if e.dxf.layer == "BKR_POINT_TEXT")
    assert text.dxf.text == "BKR1-001"
    point = next(e for e in space.query("POINT") if e.dxf.layer == "BKR_POINT")
    assert tuple(point.dxf.location) == (420001.0, 660002.0, 3.0)


def test_what_has_no_level_is_on_a_layer_that_says_so(tmp_path: Path) -> None:
    space = ezdxf.readfile(write_dxf(tmp_path / "a.dxf", drawing(), "m")).modelspace()
    line = next(e for e in space.query("POLYLINE") if e.dxf.layer.startswith("FWY"))
    assert line.dxf.layer == "FWY_NO_LEVEL"
    assert all(v.dxf.location.z == 0 for v in line.vertices)
    assert [e.dxf.layer for e in space.query("POINT")] == ["BKR_POINT", "a_b_NO_LEVEL"]


def test_another_reader_finds_the_same(tmp_path: Path) -> None:
    path = write_dxf(tmp_path / "a.dxf", drawing(), "m")
    with fiona.open(path) as source:
        result = [(f.properties["Layer"], f.geometry) for f in source]
    ring = next(g for layer, g in result if layer == "BKR")
    coordinates = np.array(ring.coordinates if ring.type == "LineString" else ring.coordinates[0])
    assert coordinates[:3] == pytest.approx(RING, abs=1e-6)


@pytest.mark.parametrize("bad", ["", '<>/\\":;?*|,=`', "\x00\n", "…"])
def test_layer_names_are_what_every_program_takes(bad: str) -> None:
    assert layer_name(bad) == "unnamed"
    assert layer_name("x" * 400) == "x" * 200
