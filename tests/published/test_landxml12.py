"""LandXML 1.2 (landxml.org, schema LandXML-1.2.xsd): structure of what is written.

The published schema states no licence and is not kept here. This is a structural test made from what it asks
for [published: LandXML-1.2.xsd]: required attributes, enumerated units, lists of numbers separated by blanks,
northing before easting. lxml checks the files against it.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from lxml import etree
from pyproj import CRS

from gistools.base.units import FOOT_M, US_SURVEY_FOOT_M
from gistools.compute.terrain.tin import Tin
from gistools.handoff.frame import Frame
from gistools.handoff.landxml import NAMESPACE, write_landxml

FRAMES = {
    "m": Frame(CRS.from_epsg(27700), 1.0, "m"),
    "us-ft": Frame(CRS.from_epsg(2225), US_SURVEY_FOOT_M, "us-ft"),
    "ft": Frame(CRS.from_epsg(2256), FOOT_M, "ft"),
}
#: linearUnit is case-sensitive, as are all enumerations
LINEAR = {"m": ("Metric", "meter"), "us-ft": ("Imperial", "USSurveyFoot"), "ft": ("Imperial", "foot")}

STRUCTURE = """
<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns="{ns}" targetNamespace="{ns}"
           elementFormDefault="qualified">
 <xs:simpleType name="numbers"><xs:list itemType="xs:double"/></xs:simpleType>
 <xs:simpleType name="place">
  <xs:restriction base="numbers"><xs:minLength value="2"/><xs:maxLength value="3"/></xs:restriction>
 </xs:simpleType>
 <xs:simpleType name="place3"><xs:restriction base="numbers"><xs:length value="3"/></xs:restriction></xs:simpleType>
 <xs:simpleType name="ids"><xs:list itemType="xs:positiveInteger"/></xs:simpleType>
 <xs:simpleType name="three"><xs:restriction base="ids"><xs:length value="3"/></xs:restriction></xs:simpleType>
 <xs:attributeGroup name="angles">
  <xs:attribute name="directionUnit" default="radians"><xs:simpleType><xs:restriction base="xs:string">
   <xs:enumeration value="radians"/><xs:enumeration value="grads"/><xs:enumeration value="decimal degrees"/>
   <xs:enumeration value="decimal dd.mm.ss"/></xs:restriction></xs:simpleType></xs:attribute>
 </xs:attributeGroup>
 <xs:complexType name="metric">
  <xs:attribute name="areaUnit" use="required"><xs:simpleType><xs:restriction base="xs:string">
   <xs:enumeration value="squareMeter"/><xs:enumeration value="hectare"/></xs:restriction></xs:simpleType></xs:attribute>
  <xs:attribute name="linearUnit" use="required"><xs:simpleType><xs:restriction base="xs:string">
   <xs:enumeration value="meter"/><xs:enumeration value="millimeter"/><xs:enumeration value="centimeter"/>
   <xs:enumeration value="kilometer"/></xs:restriction></xs:simpleType></xs:attribute>
  <xs:attribute name="volumeUnit" use="required" fixed="cubicMeter"/>
  <xs:attribute name="temperatureUnit" use="required"><xs:simpleType><xs:restriction base="xs:string">
   <xs:enumeration value="celsius"/><xs:enumeration value="kelvin"/></xs:restriction></xs:simpleType></xs:attribute>
  <xs:attribute name="pressureUnit" use="required"><xs:simpleType><xs:restriction base="xs:string">
   <xs:enumeration value="HPA"/><xs:enumeration value="milliBars"/><xs:enumeration value="mmHG"/>
   </xs:restriction></xs:simpleType></xs:attribute>
  <xs:attribute name="diameterUnit"/><xs:attribute name="widthUnit"/><xs:attribute name="heightUnit"/>
  <xs:attribute name="elevationUnit"/><xs:attribute name="velocityUnit"/><xs:attribute name="flowUnit"/>
  <xs:attribute name="angularUnit"/><xs:attribute name="latLongAngularUnit"/>
  <xs:attributeGroup ref="angles"/>
 </xs:complexType>
 <xs:element name="Feature"><xs:complexType><xs:sequence>
   <xs:element name="Property" minOccurs="0" maxOccurs="unbounded"><xs:complexType>
    <xs:attribute name="label" use="required"/><xs:attribute name="value" use="required"/>
   </xs:complexType></xs:element></xs:sequence>
  <xs:attribute name="code" type="xs:string"/><xs:attribute name="source"/></xs:complexType></xs:element>
 <xs:complexType name="imperial">
  <xs:attribute name="areaUnit" use="required"><xs:simpleType><xs:restriction base="xs:string">
   <xs:enumeration value="squareFoot"/><xs:enumeration value="acre"/></xs:restriction></xs:simpleType></xs:attribute>
  <xs:attribute name="linearUnit" use="required"><xs:simpleType><xs:restriction base="xs:string">
   <xs:enumeration value="foot"/><xs:enumeration value="USSurveyFoot"/><xs:enumeration value="inch"/>
   <xs:enumeration value="mile"/></xs:restriction></xs:simpleType></xs:attribute>
  <xs:attribute name="volumeUnit" use="required"><xs:simpleType><xs:restriction base="xs:string">
   <xs:enumeration value="cubicFeet"/><xs:enumeration value="cubicYard"/></xs:restriction></xs:simpleType></xs:attribute>
  <xs:attribute name="temperatureUnit" use="required"><xs:simpleType><xs:restriction base="xs:string">
   <xs:enumeration value="fahrenheit"/><xs:enumeration value="kelvin"/></xs:restriction></xs:simpleType></xs:attribute>
  <xs:attribute name="pressureUnit" use="required"><xs:simpleType><xs:restriction base="xs:string">
   <xs:enumeration value="inHG"/><xs:enumeration value="inchHG"/></xs:restriction></xs:simpleType></xs:attribute>
  <xs:attributeGroup ref="angles"/>
 </xs:complexType>
 <xs:element name="LandXML"><xs:complexType>
  <xs:choice maxOccurs="unbounded">
   <xs:element name="Units"><xs:complexType><xs:choice>
    <xs:element name="Metric" type="metric"/><xs:element name="Imperial" type="imperial"/>
   </xs:choice></xs:complexType></xs:element>
   <xs:element name="CoordinateSystem"><xs:complexType>
    <xs:attribute name="desc" type="xs:string"/><xs:attribute name="epsgCode" type="xs:string"/>
    <xs:attribute name="horizontalCoordinateSystemName" type="xs:string"/>
    <xs:attribute name="verticalCoordinateSystemName" type="xs:string"/></xs:complexType></xs:element>
   <xs:element name="Project"><xs:complexType><xs:sequence><xs:element ref="Feature" minOccurs="0"/></xs:sequence>
    <xs:attribute name="name" use="required"/><xs:attribute name="desc"/></xs:complexType></xs:element>
   <xs:element name="Application"><xs:complexType><xs:attribute name="name" use="required"/>
    <xs:attribute name="version"/><xs:attribute name="manufacturer"/><xs:attribute name="manufacturerURL"/>
    </xs:complexType></xs:element>
   <xs:element name="Alignments"><xs:complexType><xs:sequence>
    <xs:element name="Alignment" maxOccurs="unbounded"><xs:complexType><xs:sequence>
     <xs:element name="CoordGeom"><xs:complexType><xs:sequence>
      <xs:element name="Line" maxOccurs="unbounded"><xs:complexType><xs:sequence>
       <xs:element name="Start" type="place"/><xs:element name="End" type="place"/></xs:sequence>
       <xs:attribute name="length" type="xs:double"/><xs:attribute name="staStart" type="xs:double"/>
       </xs:complexType></xs:element>
     </xs:sequence></xs:complexType></xs:element><xs:element ref="Feature" minOccurs="0"/></xs:sequence>
     <xs:attribute name="desc"/><xs:attribute name="name" use="required"/><xs:attribute name="length" type="xs:double" use="required"/>
     <xs:attribute name="staStart" type="xs:double" use="required"/></xs:complexType></xs:element>
    </xs:sequence><xs:attribute name="name"/></xs:complexType></xs:element>
   <xs:element name="CgPoints"><xs:complexType><xs:sequence>
    <xs:element name="CgPoint" maxOccurs="unbounded"><xs:complexType><xs:simpleContent>
     <xs:extension base="place"><xs:attribute name="name"/><xs:attribute name="desc"/>
     <xs:attribute name="code"/></xs:extension>
    </xs:simpleContent></xs:complexType></xs:element></xs:sequence></xs:complexType></xs:element>
   <xs:element name="Surfaces"><xs:complexType><xs:sequence>
    <xs:element name="Surface" maxOccurs="unbounded"><xs:complexType><xs:sequence>
     <xs:element name="SourceData" minOccurs="0"><xs:complexType><xs:sequence>
      <xs:element name="Breaklines"><xs:complexType><xs:sequence>
       <xs:element name="Breakline" maxOccurs="unbounded"><xs:complexType><xs:sequence>
        <xs:element name="PntList3D" type="numbers"/><xs:element ref="Feature" minOccurs="0"/></xs:sequence>
        <xs:attribute name="brkType"><xs:simpleType><xs:restriction base="xs:string">
         <xs:enumeration value="standard"/><xs:enumeration value="wall"/><xs:enumeration value="proximity"/>
         <xs:enumeration value="nondestructive"/></xs:restriction></xs:simpleType></xs:attribute>
        <xs:attribute name="desc"/><xs:attribute name="name"/></xs:complexType></xs:element>
      </xs:sequence></xs:complexType></xs:element></xs:sequence></xs:complexType></xs:element>
     <xs:element name="Definition"><xs:complexType><xs:sequence>
      <xs:element name="Pnts"><xs:complexType><xs:sequence>
       <xs:element name="P" maxOccurs="unbounded"><xs:complexType><xs:simpleContent><xs:extension base="place3">
        <xs:attribute name="id" type="xs:positiveInteger" use="required"/></xs:extension></xs:simpleContent>
       </xs:complexType></xs:element></xs:sequence></xs:complexType></xs:element>
      <xs:element name="Faces"><xs:complexType><xs:sequence>
       <xs:element name="F" type="three" maxOccurs="unbounded"/></xs:sequence></xs:complexType></xs:element>
     </xs:sequence><xs:attribute name="surfType" use="required"><xs:simpleType><xs:restriction base="xs:string">
      <xs:enumeration value="TIN"/><xs:enumeration value="grid"/></xs:restriction></xs:simpleType></xs:attribute>
     </xs:complexType></xs:element></xs:sequence><xs:attribute name="name" use="required"/>
     <xs:attribute name="state"><xs:simpleType><xs:restriction base="xs:string">
      <xs:enumeration value="abandoned"/><xs:enumeration value="destroyed"/><xs:enumeration value="existing"/>
      <xs:enumeration value="proposed"/></xs:restriction></xs:simpleType></xs:attribute></xs:complexType></xs:element>
   </xs:sequence></xs:complexType></xs:element>
  </xs:choice>
  <xs:attribute name="date" type="xs:date" use="required"/><xs:attribute name="time" type="xs:time" use="required"/>
  <xs:attribute name="version" type="xs:string" use="required"/><xs:attribute name="language" type="xs:string"/>
  <xs:attribute name="readOnly" type="xs:boolean"/>
 </xs:complexType>
 </xs:element>
</xs:schema>
"""


def structure() -> etree.XMLSchema:
    return etree.XMLSchema(etree.fromstring(STRUCTURE.format(ns=NAMESPACE)))


def small_tin() -> Tin:
    points = np.array([[420000.0, 660000, 1], [420010, 660000, 2], [420000, 660010, 3], [420010, 660010, 4]])
    return Tin(points, np.array([[0, 1, 2], [1, 3, 2]]), 0.02, 0.0, 0.0)


def written(path: Path, unit: str) -> etree._Element:
    write_landxml(
        path,
        FRAMES[unit],
        project='Burn & "Böög" <1>\x07',
        version="0.1.0",
        points=[
            ("10701001", 420001.25, 660002.5, 12.345, "a < b & c", "BKR"),
            ("10701002", 420003, 660004, np.nan, "", "BKR"),
        ],
        alignments={"hole 1": np.array([[420000.0, 660000.0], [420030.0, 660040.0], [420030.0, 660100.0]])},
        surfaces={"existing": small_tin()},
        breaklines={"existing": [("GRN1", "GRN", "edge & lip", small_tin().points[:3])]},
        when=dt.datetime(2026, 11, 25, 9, 0, tzinfo=dt.UTC),
    )
    return etree.parse(path).getroot()


@pytest.mark.parametrize("unit", FRAMES)
def test_structure(tmp_path: Path, unit: str) -> None:
    root = written(tmp_path / "a.xml", unit)
    schema = structure()
    assert schema.validate(root), schema.error_log
    kind, linear = LINEAR[unit]
    assert root.find(f"{{{NAMESPACE}}}Units/{{{NAMESPACE}}}{kind}").get("linearUnit") == linear
    assert root.get("date") == "2026-11-25" and root.get("version") == "1.2"


def test_the_structure_refuses_what_the_standard_refuses(tmp_path: Path) -> None:
    """Commas between numbers, `Celsius`, a face of two points, a missing staStart.

    All fail, so the test can fail.
    """
    root = written(tmp_path / "a.xml", "m")
    schema = structure()
    ns = f"{{{NAMESPACE}}}"
    for tag, spoil in (
        (f"{ns}CgPoint", lambda e: setattr(e, "text", e.text.replace(" ", ","))),
        (f"{ns}Metric", lambda e: e.set("temperatureUnit", "Celsius")),
        (f"{ns}F", lambda e: setattr(e, "text", "1 2")),
        (f"{ns}Alignment", lambda e: e.attrib.pop("staStart")),
        (f"{ns}P", lambda e: e.set("id", "0")),
    ):
        copy = etree.fromstring(etree.tostring(root))
        spoil(next(copy.iter(tag)))
        assert not schema.validate(copy), tag


@pytest.mark.parametrize("unit", FRAMES)
def test_northing_easting_order_and_units(tmp_path: Path, unit: str) -> None:
    root = written(tmp_path / "a.xml", unit)
    ns = f"{{{NAMESPACE}}}"
    metres = FRAMES[unit].unit_m
    point = [float(v) * metres for v in next(root.iter(f"{ns}CgPoint")).text.split()]
    assert point == pytest.approx([660002.5, 420001.25, 12.345], abs=0.001)
    second = list(root.iter(f"{ns}CgPoint"))[1].text.split()
    assert len(second) == 2  # no level: plan only, never 0
    line = root.find(f".//{ns}Line")
    assert float(line.get("length")) * metres == pytest.approx(50, abs=0.001)
    end = [float(v) * metres for v in line.find(f"{ns}End").text.split()]
    assert end == pytest.approx([660040, 420030], abs=0.001)
    assert float(root.find(f".//{ns}Alignment").get("length")) * metres == pytest.approx(110, abs=0.001)
    rows = np.array([[float(v) for v in p.text.split()] for p in root.iter(f"{ns}P")]) * metres
    assert rows[:, [1, 0, 2]] == pytest.approx(small_tin().points, abs=0.001)
    faces = [[int(v) for v in f.text.split()] for f in root.iter(f"{ns}F")]
    assert faces == [[1, 2, 3], [2, 4, 3]]


@pytest.mark.parametrize("unit", FRAMES)
def test_breaklines_list_northing_easting_level(tmp_path: Path, unit: str) -> None:
    root = written(tmp_path / "a.xml", unit)
    ns = f"{{{NAMESPACE}}}"
    line = root.find(f".//{ns}Surface/{ns}SourceData/{ns}Breaklines/{ns}Breakline")
    assert line.get("name") == "GRN1" and line.get("desc") == "edge & lip"
    numbers = np.array([float(v) for v in line.find(f"{ns}PntList3D").text.split()]).reshape(-1, 3)
    assert numbers[:, [1, 0, 2]] * FRAMES[unit].unit_m == pytest.approx(small_tin().points[:3], abs=0.001)


def test_markup_in_names_is_text(tmp_path: Path) -> None:
    root = written(tmp_path / "a.xml", "m")
    ns = f"{{{NAMESPACE}}}"
    assert root.find(f"{ns}Project").get("desc") == 'Burn & "Böög" <1>'
    assert root.find(f"{ns}Project").get("name") == "Burn _ _Boog_ _1"
    assert next(root.iter(f"{ns}CgPoint")).get("desc") == "a < b & c"
