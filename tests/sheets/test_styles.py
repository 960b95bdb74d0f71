"""Every result layer has a style in both forms, and both are well-formed and agree."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

import gistools as gt
from gistools.base.errors import InputError, WriteError
from gistools.sheets.drawings.greens import DEAD, PLAYABLE, RANKED
from gistools.sheets.rendering import page_style
from gistools.sheets.style_files import write_styles
from gistools.sheets.styles import desktop_style
from gistools.site.sample import write_sample
from gistools.steps.catalogue import STEPS, find
from gistools.steps.styles import MapColours, Style
from gistools.steps.writes import Writes

SE = "{http://www.opengis.net/se}"
ROOT = "{http://www.opengis.net/sld}StyledLayerDescriptor"


def all_layers() -> list[Writes]:
    return [w for name in STEPS for w in find(name).writes]


@pytest.mark.parametrize("writes", all_layers(), ids=lambda w: w.layer)
def test_style_fits_the_geometry(writes: Writes) -> None:
    kind = {"": type(None), "raster": (MapColours, type(None))}.get(writes.geometry, Style)
    assert isinstance(writes.style, kind), "say in its declaration how the layer is drawn"


@pytest.mark.parametrize("writes", all_layers(), ids=lambda w: w.layer)
def test_style_of_every_layer(writes: Writes) -> None:
    style = desktop_style(writes.table)
    assert style == desktop_style(writes.layer)
    if writes.geometry in ("", "raster"):
        assert style is None
        return
    assert style is not None, f"{writes.layer}: geometry {writes.geometry} has no style"
    document, sld = style
    root = ElementTree.fromstring(document.split("\n", 1)[1])
    assert root.tag == "qgis" and root.find(".//symbol/layer") is not None
    assert [a.get("field") for a in root.iter("alias")] == [c.name for c in writes.columns]
    tree = ElementTree.fromstring(sld.split("\n", 1)[1])
    assert tree.tag == ROOT and tree.get("version") == "1.1.0"
    # SE 1.1 (OGC 05-077r4): a rule holds symbolizers, their parameters are SvgParameter, never CssParameter
    symbolizers = [e.tag.removeprefix(SE) for e in tree.iter() if e.tag.endswith("Symbolizer")]
    family = writes.geometry.removeprefix("Multi").removesuffix("String")
    assert symbolizers[0] == f"{family}Symbolizer"
    assert not [e for e in tree.iter() if e.tag.endswith("CssParameter")]
    ranges = [(r.get("lower"), r.get("upper")) for r in root.iter("range")]
    between = [
        [e.text for e in f.iter() if e.tag.endswith("Literal")]
        for f in tree.iter()
        if f.tag.endswith("Between")
    ]
    assert [list(r) for r in ranges] == between
    kinds = [c.get("value") for c in root.iter("category")]
    equal = [
        next(e.text for e in f.iter() if e.tag.endswith("Literal"))
        for f in tree.iter()
        if f.tag.endswith("IsEqualTo")
    ]
    custom = writes.style
    assert kinds == equal == [word for word, _, _ in custom.kinds]
    declared = {c.name for c in writes.columns}
    assert {custom.label, custom.by} - {""} <= declared, "a style names a column the layer does not have"
    assert len(custom.steps) in (0, 6) and list(custom.steps) == sorted(custom.steps)
    label = tree.find(f".//{SE}TextSymbolizer//*[@name='font-size']")
    assert (label is not None) == ('labelsEnabled="1"' in document)


def test_existing_and_proposed_contours_look_different() -> None:
    document, sld = desktop_style("contours")
    root = ElementTree.fromstring(document.split("\n", 1)[1])
    looks = [
        (option("line_color", s), option("line_style", s)) for s in root.find(".//renderer-v2").iter("symbol")
    ]
    assert len(looks) == 2 and looks[0][0] != looks[1][0] and [w for _, w in looks] == ["dash", "solid"]
    assert sld.count("stroke-dasharray") == 1


def option(name: str, symbol: ElementTree.Element) -> str:
    return str(symbol.find(f".//Option[@name='{name}']").get("value"))


def test_unknown_layers_have_none() -> None:
    assert desktop_style("study_nothing") is None and desktop_style("tees") is None


def test_colours_are_distinct_from_white_ground() -> None:
    """WCAG 2.2, 1.4.11: graphics need 3 to 1 against what lies beside them."""
    for writes in all_layers():
        if isinstance(writes.style, Style):
            assert re.fullmatch(r"#[0-9a-f]{6}", writes.style.colour)
            assert contrast(writes.style.colour, "#ffffff") >= 3.0, writes.layer


def contrast(a: str, b: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2, definition of relative luminance)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        r, g, bl = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * bl

    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_formula() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.2: black on white is 21 to 1
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
def test_words_on_the_page_can_be_read(theme: int) -> None:
    """WCAG 2.2, 1.4.3: text needs 4.5 to 1."""
    block = re.findall(r":root \{(.*?)\}", page_style(), re.S)[theme]
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))
    for ground in ("paper", "raised", "band"):
        for ink in ("ink", "soft", "mark", "warn", "good"):
            assert contrast(colours[ink], colours[ground]) >= 4.5, (ink, ground)
    assert contrast(colours["ink"], colours["mark-soft"]) >= 4.5
    for ink in ("ink", "warn", "shot"):
        assert contrast(colours[ink], colours["halo"]) >= 4.5, ink


def test_page_and_drawings_share_their_colours() -> None:
    """What is first, a shot, what is bad and what is good: on the light page as on paper."""
    light = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", page_style()[: page_style().index("@media")]))
    assert (light["mark"], light["shot"]) == RANKED and (light["warn"], light["good"]) == (DEAD, PLAYABLE)
    assert "$" not in page_style()


def test_style_files_are_replaced_only_when_asked(tmp_path: Path) -> None:
    site = write_sample(tmp_path / "merrowby.gpkg")
    with pytest.raises(InputError, match="no result layers"):
        write_styles(site)
    opened = gt.open_site(site)
    opened.write(gt.zones(opened, hole=1), gt.flag_views(opened, hole=2, mesh_m=25.0))
    files = {p.stem: p for p in write_styles(site)}
    assert {"study_zones", "study_flag_views"} <= set(files)
    assert files["study_zones"].parent == tmp_path / "merrowby_styles"
    shaded = next(p for name, p in files.items() if name.startswith("study_flag_view_h2"))
    tree = ElementTree.fromstring(shaded.read_text(encoding="utf-8").split("\n", 1)[1])
    # SE 1.1 (OGC 05-077r4, 11.6): a colour map is an Interpolate of Data and Value over Rasterdata
    assert (
        tree.find(f".//{SE}RasterSymbolizer/{SE}ColorMap/{SE}Interpolate/{SE}LookupValue").text
        == "Rasterdata"
    )
    assert [float(e.text) for e in tree.iter(f"{SE}Data")] == [0, 25, 50, 75, 100]
    with pytest.raises(WriteError, match="already has"):
        write_styles(site)
    assert len(write_styles(site, replace=True)) == len(files)
