"""Inframodel (buildingSMART Finland, CC BY 4.0): what the subset of LandXML 1.2 asks for beyond the schema.

The rules are those of its schema, inframodel-raw.xsd [published], in the words of a test. Where
GISTOOLS_FOREIGN_LANDXML names a folder with that schema (and, there or above, LandXML-1.2.xsd), what is
written is validated against both.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from lxml import etree

from gistools.handoff.landxml import CODING, NAMESPACE
from tests.published.test_landxml12 import FRAMES, written

SCHEMAS = Path(os.environ.get("GISTOOLS_FOREIGN_LANDXML", "."))
RAW = SCHEMAS / "inframodel-raw.xsd"
needs_schemas = pytest.mark.skipif(
    not RAW.exists(), reason="GISTOOLS_FOREIGN_LANDXML names no folder with inframodel-raw.xsd"
)
NS = f"{{{NAMESPACE}}}"
SUBSET = "http://www.inframodel.fi/inframodel"
#: attribute of Metric -> the one value the subset takes
FIXED = {
    "areaUnit": "squareMeter",
    "volumeUnit": "cubicMeter",
    "temperatureUnit": "celsius",
    "pressureUnit": "milliBars",
    "velocityUnit": "kilometersPerHour",
    "flowUnit": "literPerSecond",
    **dict.fromkeys(("linearUnit", "diameterUnit", "widthUnit", "heightUnit", "elevationUnit"), "meter"),
    **dict.fromkeys(("angularUnit", "directionUnit", "latLongAngularUnit"), "radians"),
}
#: nameType; its range from blank to comma holds signs that we leave out
NAME = re.compile(r"[a-zA-Z0-9 -,._]{1,255}")


def test_units_names_and_codes_are_those_of_the_subset(tmp_path: Path) -> None:
    root = written(tmp_path / "a.xml", "m")
    assert dict(root.find(f"{NS}Units/{NS}Metric").attrib) == FIXED
    assert set(root.attrib) == {"date", "time", "version"} and root.get("version") == "1.2"
    names = [e.get("name") for e in root.iter() if e.get("name") is not None]
    assert len(names) == len(set(names)) and all(NAME.fullmatch(n) for n in names)
    assert {"manufacturer", "manufacturerURL", "version"} <= set(root.find(f"{NS}Application").attrib)
    declared = root.find(f"{NS}Project/{NS}Feature")
    assert declared.get("code") == "IM_proprietaryCodings" and declared.get("source") == "inframodel"
    assert properties(declared)["proprietaryInfraCoding"] == CODING
    line = root.find(f".//{NS}Breakline/{NS}Feature")
    assert line.get("code") == "IM_proprietaryCoding"
    assert properties(line) == {
        "proprietaryInfraCoding": "GRN",
        "proprietaryInfraCodingDesc": "edge & lip",
        "proprietaryInfraCodingSource": CODING,
    }
    assert properties(root.find(f".//{NS}Alignment/{NS}Feature"))["proprietaryInfraCoding"] == "LOP"
    assert root.find(f".//{NS}Surface").get("state") == "existing"


def properties(feature: etree._Element) -> dict[str, str]:
    return {p.get("label"): p.get("value") for p in feature.iter(f"{NS}Property")}


def as_subset(root: etree._Element) -> etree._Element:
    """In the namespace of the subset, features and properties called as its schema calls them."""
    text = etree.tostring(root).decode().replace(NAMESPACE, SUBSET)
    root = etree.fromstring(text)
    for feature in list(root.iter(f"{{{SUBSET}}}Feature")):
        code = feature.get("code")
        single = code == "IM_proprietaryCoding"
        feature.tag = f"{{{SUBSET}}}{code}--ltFeature--gt"
        if single:  # the documentation has the singular, the schema fixes the plural for both
            feature.set("code", "IM_proprietaryCodings")
        for entry in feature:
            label = entry.get("label")
            suffix = "__im_proprietarycoding__" if single and not label.endswith("Source") else ""
            entry.tag = f"{{{SUBSET}}}{label}--ltProperty--gt{suffix}"
    return root


def subset() -> etree.XMLSchema:
    raw = RAW.read_text(encoding="utf-8").replace("{{release_directory}}", SUBSET)
    return etree.XMLSchema(etree.fromstring(raw.replace("{{github_release}}", "test").encode()))


def whole() -> etree.XMLSchema:
    folder = next(p for p in (SCHEMAS, SCHEMAS.parent) if (p / "LandXML-1.2.xsd").exists())
    return etree.XMLSchema(etree.parse(folder / "LandXML-1.2.xsd"))


@needs_schemas
def test_valid_against_the_subset(tmp_path: Path) -> None:
    schema, root = subset(), as_subset(written(tmp_path / "a.xml", "m"))
    assert schema.validate(root), schema.error_log
    for tag, spoil in (
        ("Metric", lambda e: e.set("linearUnit", "foot")),
        ("Breakline", lambda e: e.set("name", "GRN-1")),
        ("Application", lambda e: e.attrib.pop("manufacturer")),
        ("Surface", lambda e: e.set("state", "new")),
    ):
        copy = etree.fromstring(etree.tostring(root))
        spoil(next(copy.iter(f"{{{SUBSET}}}{tag}")))
        assert not schema.validate(copy), tag


@needs_schemas
def test_feet_are_no_part_of_the_subset(tmp_path: Path) -> None:
    assert not subset().validate(as_subset(written(tmp_path / "a.xml", "us-ft")))


@needs_schemas
@pytest.mark.parametrize("unit", FRAMES)
def test_valid_against_landxml(tmp_path: Path, unit: str) -> None:
    schema = whole()
    assert schema.validate(written(tmp_path / "a.xml", unit)), schema.error_log


@needs_schemas
def test_a_whole_hole_is_valid_against_both(tmp_path: Path) -> None:
    from gistools.handoff.package import handoff
    from tests.handoff.conftest import METRES, make_site

    folder = handoff(make_site(METRES), tmp_path / "crew", spacing_m=10, tin_m=0.2)
    root = etree.parse(folder / "hole_01" / "hole_01.xml").getroot()
    full = whole()
    assert full.validate(root), full.error_log
    part = subset()
    assert part.validate(as_subset(root)), part.error_log
