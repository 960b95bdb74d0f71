"""How each result layer is drawn when it is opened in a desktop GIS: declared once, written in two forms.

The two forms are OGC Symbology Encoding 1.1 (``.sld``, an open standard) and the style document that a widely
used desktop applies by itself when it finds it in the table ``layer_styles``. Colours are the sheet's own.

Sources: OGC 05-077r4 (Symbology Encoding 1.1.0) and 05-078r4 (Styled Layer Descriptor 1.1.0) for the elements
of the first; the second is undocumented and was tried against the desktop itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from gistools.steps.catalogue import STEPS, Writes, find


@dataclass(frozen=True)
class Style:
    """How one layer is drawn.

    ``colour``, ``width`` of lines or size of points [mm], ``fill_opacity``, dashes, the column that labels a
    feature; with ``by`` the colour follows that column over the class limits ``steps``, dark to light as on the page.
    ``edge`` is the outline of an area where it is not ``colour``; ``metres`` a column with the true width or size [m];
    ``once`` writes a label once per hole, not for every tee.
    """

    colour: str
    width: float = 0.5
    fill_opacity: float = 0.0
    dashed: bool = False
    label: str = ""
    by: str = ""
    steps: tuple[float, ...] = ()
    turned: bool = False
    edge: str = ""
    metres: str = ""
    once: bool = False


#: five colours of even steps of lightness, the sheet's scale (cividis, Nunez et al. 2018, PLOS ONE 13(7))
SCALE = ("#00224e", "#434e6c", "#7d7c78", "#bcae6c", "#fde737")
SHARES = (0.0, 20.0, 40.0, 60.0, 80.0, 100.0)
#: result layer -> how it is drawn; told apart by lightness and form as well as by hue
STYLES: dict[str, Style] = {
    "lines_of_play": Style("#1f2a2e", 0.35),
    "lengths": Style("#1f2a2e", 0.4, label="tee"),
    "carries": Style("#8a3b12", 0.35, label="feature", once=True),
    "corridors": Style("#2c6e8f", 0.3),
    "diagonals": Style("#8a3b12", 0.5, dashed=True, label="feature", once=True),
    "zones": Style("#0b5563", 0.4, 0.06, label="zone"),
    "setbacks": Style("#7a5c00", 0.4, 0.10, dashed=True),
    "setback_conflicts": Style("#a3262a", 0.35, dashed=True, label="other"),
    "carry_fan": Style("#b8683f", 0.2),
    "landing_widths": Style("#54378a", 0.8, label="player"),
    "zone_carries": Style("#0b5563", 0.25, dashed=True),
    "slopes": Style("#7a5c00", 0.4, 0.1, label="zone"),
    "green_slopes": Style("#3c6e2f", 0.4, 0.1),
    "fair_areas": Style("#1d5e3a", 0.4, 0.25),
    "pin_slopes": Style("#94310c", 2.2, label="pin"),
    "green_parts": Style("#55606a", 0.3, 0.12, label="part_location"),
    "flag_views": Style("#00467f", 1.8, by="flag_seen_pct", steps=SHARES),
    "sightlines": Style("#00467f", 0.3, by="flag_seen_pct", steps=SHARES),
    "zone_views": Style("#00467f", 0.3, 0.5, label="zone", by="flag_seen_mean_pct", steps=SHARES),
    "screening": Style("#94310c", 2.2, label="criterion"),
    "sections": Style("#55606a", 0.4, dashed=True),
    "section_points": Style("#55606a", 0.6),
    "effective_carries": Style("#8a3b12", 0.5, label="feature", by="carried_pct", steps=SHARES),
    "effective_zone_carries": Style("#8a3b12", 0.3, dashed=True, by="carried_pct", steps=SHARES),
    "tee_shots": Style("#54378a", 0.4, label="club"),
    "shot_ellipses": Style("#54378a", 0.4, 0.06),
    "shot_paths": Style("#54378a", 0.2, dashed=True),
    "finish_points": Style("#54378a", 0.8),
    "best_shots": Style(
        "#0b5563", 1.8, by="remaining_strokes", steps=(1.0, 2.5, 3.0, 3.5, 4.0, 9.0), turned=True
    ),
    "approaches": Style("#0b5563", 0.35, label="pin"),
    "positions": Style("#0b5563", 2.6, label="zone"),
    "quantities": Style("#7b6a58", 0.4, 0.2, label="feature"),
    "contours": Style("#7b6a58", 0.2, label="contour_level_m"),
    "setting_out": Style("#a3262a", 1.6, label="point"),
    "control_check": Style("#1c272b", 2.4, label="point"),
    "as_built_check": Style("#94310c", 1.8, label="level_status"),
}
#: what a layer without an entry of its own looks like
PLAIN = {
    "Point": Style("#0b5563", 1.8),
    "LineString": Style("#0b5563", 0.4),
    "Polygon": Style("#0b5563", 0.4, 0.15),
}
#: survey layers as the sheet's plan draws them, for a desktop in which the surveyor left them undrawn
SURVEY_STYLES: dict[str, Style] = {
    "tees": Style("#7fa562", 0.25, 1.0, label="tee", edge="#22302a"),
    "fairway": Style("#a9cc80", 0.15, 0.7, edge="#8fae6d"),
    "greens": Style("#dcebb4", 0.3, 1.0, edge="#22302a"),
    "pins": Style("#94310c", 2.0),
    "bunkers": Style("#f2e2b6", 0.25, 1.0, edge="#8a7443"),
    "burns": Style("#4f7ea8", 0.8, 0.9, edge="#34587a", metres="width_m"),
    "water": Style("#4f7ea8", 0.25, 0.9, edge="#34587a"),
    "mounds": Style("#8a7443", 0.25, dashed=True),
    "trees": Style("#3f5c43", 2.0, 0.85, metres="crown_m"),
    "paths": Style("#b9a88f", 0.6, 0.9, metres="width_m"),
    "boundary": Style("#4a3f35", 0.5, dashed=True),
    "structures": Style("#6b5b53", 0.5, 1.0, edge="#22302a"),
    "shapes": Style("#94310c", 0.4, 0.08, dashed=True, label="name"),
}
FAMILY = {"MultiPoint": "Point", "MultiLineString": "LineString", "MultiPolygon": "Polygon"}


def desktop_style(layer: str) -> tuple[str, str] | None:
    """Return the style of a result layer as ``(style document of the desktop, SLD 1.1)``.

    Parameters
    ----------
    layer
        Name of the result layer, with or without the ``study_`` prefix.

    Returns
    -------
    tuple of str, or None
        None for plain tables, for maps, and for layers that no step declares.
    """
    layer = layer.removeprefix("study_")
    writes = _declared(layer)
    if writes is None or writes.geometry in ("", "raster"):
        return None
    family = FAMILY.get(writes.geometry, writes.geometry)
    if family not in PLAIN:
        return None
    style = STYLES.get(layer, PLAIN[family])
    columns = {c.name for c in writes.columns}
    label = style.label if style.label in columns else ""
    return _desktop(writes, family, style, label), _sld(writes, family, style, label)


def survey_style(layer: str, geometry: str) -> str | None:
    """Return the style document of a survey layer for the desktop, or None where the plan has no drawing for it.

    Parameters
    ----------
    layer
        Name of the survey layer.
    geometry
        ``"Point"``, ``"Line"`` or ``"Polygon"``, as the features of this site are.
    """
    style = SURVEY_STYLES.get(layer)
    family = {"Line": "LineString"}.get(geometry, geometry)
    if style is None or family not in PLAIN:
        return None
    return _desktop(Writes(layer, family), family, style, style.label)


def _declared(layer: str) -> Writes | None:
    return next((w for name in STEPS for w in find(name).writes if w.layer == layer), None)


def _classes(style: Style) -> list[tuple[float, float, str]]:
    """Limits and colour of each class; an empty list where the layer has one colour."""
    colours = SCALE[::-1] if style.turned else SCALE
    return list(zip(style.steps, style.steps[1:], colours, strict=False)) if style.by else []


def _sld(writes: Writes, family: str, style: Style, label: str) -> str:
    text = (
        "<se:TextSymbolizer><se:Label><ogc:PropertyName>"
        f"{escape(label)}</ogc:PropertyName></se:Label>"
        '<se:Font><se:SvgParameter name="font-size">11</se:SvgParameter></se:Font>'
        + _parameters("Fill", {"fill": "#1f2a2e"})
        + "</se:TextSymbolizer>"
        if label
        else ""
    )
    rules = ""
    for low, high, colour in _classes(style):
        rules += (
            f"<se:Rule><se:Name>{low:g} to {high:g}</se:Name><ogc:Filter><ogc:PropertyIsBetween>"
            f"<ogc:PropertyName>{escape(style.by)}</ogc:PropertyName>"
            f"<ogc:LowerBoundary><ogc:Literal>{low:g}</ogc:Literal></ogc:LowerBoundary>"
            f"<ogc:UpperBoundary><ogc:Literal>{high:g}</ogc:Literal></ogc:UpperBoundary>"
            f"</ogc:PropertyIsBetween></ogc:Filter>{_symbolizer(family, style, colour)}{text}</se:Rule>"
        )
    rules = rules or (
        f"<se:Rule><se:Name>{escape(writes.layer.replace('_', ' '))}</se:Name>"
        f"{_symbolizer(family, style, style.colour)}{text}</se:Rule>"
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<StyledLayerDescriptor version="1.1.0" xmlns="http://www.opengis.net/sld"'
        ' xmlns:se="http://www.opengis.net/se" xmlns:ogc="http://www.opengis.net/ogc">'
        f"<NamedLayer><se:Name>{escape(writes.table)}</se:Name><UserStyle><se:Name>{escape(writes.table)}</se:Name>"
        f"<se:FeatureTypeStyle>{rules}</se:FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>\n"
    )


def _symbolizer(family: str, style: Style, colour: str) -> str:
    millimetre = 1 / 0.28  # the standard's pixel is 0.28 mm wide
    stroke = _parameters(
        "Stroke",
        {
            "stroke": colour,
            "stroke-width": f"{style.width * millimetre:.2f}",
            **({"stroke-dasharray": "6 3"} if style.dashed else {}),
        },
    )
    fill = _parameters("Fill", {"fill": colour, "fill-opacity": f"{style.fill_opacity:g}"})
    return {
        "Polygon": f"<se:PolygonSymbolizer>{fill}{stroke}</se:PolygonSymbolizer>",
        "LineString": f"<se:LineSymbolizer>{stroke}</se:LineSymbolizer>",
        "Point": "<se:PointSymbolizer><se:Graphic><se:Mark><se:WellKnownName>circle</se:WellKnownName>"
        + _parameters("Fill", {"fill": colour})
        + f"</se:Mark><se:Size>{style.width * millimetre:.2f}</se:Size></se:Graphic></se:PointSymbolizer>",
    }[family]


def _parameters(element: str, values: dict[str, str]) -> str:
    inner = "".join(f'<se:SvgParameter name="{k}">{escape(v)}</se:SvgParameter>' for k, v in values.items())
    return f"<se:{element}>{inner}</se:{element}>"


def _desktop(writes: Writes, family: str, style: Style, label: str) -> str:
    classes = _classes(style)
    colours = [c for _, _, c in classes] or [style.colour]
    symbols = "".join(_symbol(k, family, style, colour) for k, colour in enumerate(colours))
    ranges = "".join(
        f'<range lower="{low:g}" upper="{high:g}" symbol="{k}" label="{low:g} to {high:g}" render="true"/>'
        for k, (low, high, _) in enumerate(classes)
    )
    kind = (
        f'type="graduatedSymbol" attr={quoteattr(style.by)} graduatedMethod="GraduatedColor"'
        if classes
        else 'type="singleSymbol"'
    )
    aliases = "".join(
        f'<alias field={quoteattr(c.name)} index="{i}" name={quoteattr(c.title)}/>'
        for i, c in enumerate(writes.columns)
    )
    return (
        "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
        f'<qgis version="3.22.0" styleCategories="Symbology|Labeling|Fields" labelsEnabled="{int(bool(label))}">'
        f'<renderer-v2 {kind} symbollevels="0" enableorderby="0">'
        + (f"<ranges>{ranges}</ranges>" if ranges else "")
        + f"<symbols>{symbols}</symbols></renderer-v2>{_labelling(family, label, style.once)}<aliases>{aliases}</aliases></qgis>\n"
    )


def _symbol(number: int, family: str, style: Style, colour: str) -> str:
    line = "dash" if style.dashed else "solid"
    kind, symbol_layer, options = {
        "Polygon": (
            "fill",
            "SimpleFill",
            {
                "color": _rgba(colour, style.fill_opacity),
                "outline_color": _rgba(style.edge or colour, 1.0),
                "outline_style": line,
                "outline_width": f"{style.width:g}",
                "outline_width_unit": "MM",
                "style": "solid" if style.fill_opacity else "no",
            },
        ),
        "LineString": (
            "line",
            "SimpleLine",
            {
                "line_color": _rgba(colour, 1.0),
                "line_style": line,
                "line_width": f"{style.width:g}",
                "line_width_unit": "RenderMetersInMapUnits" if style.metres else "MM",
            },
        ),
        "Point": (
            "marker",
            "SimpleMarker",
            {
                "color": _rgba(colour, 1.0),
                "name": "circle",
                "outline_color": "255,255,255,255",
                "outline_width": "0.1",
                "size": f"{style.width:g}",
                "size_unit": "RenderMetersInMapUnits" if style.metres else "MM",
            },
        ),
    }[family]
    listed = "".join(
        f'<Option name="{k}" type="QString" value={quoteattr(v)}/>' for k, v in sorted(options.items())
    )
    true_size = {"line": "outlineWidth", "marker": "size"}.get(kind) if style.metres else None
    return (
        f'<symbol name="{number}" type="{kind}" alpha="1" clip_to_extent="1" force_rhr="0">'
        f'<layer class="{symbol_layer}" enabled="1" pass="0" locked="0"><Option type="Map">{listed}</Option>'
        f"{_from_column(true_size, style.metres) if true_size else ''}</layer></symbol>"
    )


def _from_column(what: str, column: str) -> str:
    return (
        '<data_defined_properties><Option type="Map"><Option name="name" type="QString" value=""/>'
        f'<Option name="properties" type="Map"><Option name="{what}" type="Map">'
        '<Option name="active" type="bool" value="true"/>'
        f'<Option name="field" type="QString" value={quoteattr(column)}/><Option name="type" type="int" value="2"/>'
        '</Option></Option><Option name="type" type="QString" value="collection"/></Option></data_defined_properties>'
    )


#: where the desktop puts a label: its number for the placement, and the distance [mm]
_PLACES = {
    "Point": 'placement="6" dist="0.8"',
    "LineString": 'placement="2" placementFlags="10" dist="0.6"',
    "Polygon": 'placement="4"',
}


def _labelling(family: str, label: str, once: bool) -> str:
    if not label:
        return ""
    words = f"if($id = minimum($id, group_by := concat(hole, '/', {label})), {label}, '')" if once else label
    return (
        '<labeling type="simple"><settings calloutType="simple">'
        f'<text-style fieldName={quoteattr(words)} isExpression="{int(once)}" fontSize="8" fontSizeUnit="Point"'
        ' textColor="31,42,46,255" fontFamily="Sans Serif" textOpacity="1">'
        '<text-buffer bufferDraw="1" bufferSize="0.7" bufferSizeUnits="MM" bufferColor="255,255,255,255"'
        f' bufferOpacity="0.75"/></text-style><placement {_PLACES[family]} distUnits="MM"/>'
        '<rendering obstacle="0" scaleVisibility="0" mergeLines="1"/></settings></labeling>'
    )


def _rgba(colour: str, opacity: float) -> str:
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"{red},{green},{blue},{round(opacity * 255)}"
