"""How layers are drawn in a desktop GIS: result layers as their steps declare it, written in two forms.

The two forms are OGC Symbology Encoding 1.1 (``.sld``, an open standard) and the style document that a widely
used desktop applies by itself when it finds it in the table ``layer_styles``. Colours are the sheet's own.

Sources: OGC 05-077r4 (Symbology Encoding 1.1.0) and 05-078r4 (Styled Layer Descriptor 1.1.0) for the elements
of the first; the second is undocumented and was tried against the desktop itself.
"""

from __future__ import annotations

from gistools.site.schema import RESULT_PREFIX
from gistools.steps.catalogue import STEPS, find, step_of_layer
from gistools.steps.styles import SCALE, MapColours, Style
from gistools.steps.writes import Writes

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
    "play_lines": Style("#1f2a2e", 0.35, dashed=True),
    "play_points": Style("#0b5563", 1.8, label="name"),
    "zones": Style("#0b5563", 0.4, 0.06, label="zone"),
    "control": Style("#1c272b", 2.4, label="point"),
    "as_built": Style("#94310c", 1.8, label="point"),
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
    declared = step_of_layer(layer)
    if declared is None or declared[1].geometry in ("", "raster"):
        return None
    writes = declared[1]
    family = FAMILY.get(writes.geometry, writes.geometry)
    if family not in PLAIN:
        return None
    style = style_of(layer, family)
    columns = {c.name for c in writes.columns}
    label = style.label if style.label in columns else ""
    return (
        _render("layer.qml", writes, family, style, label),
        _render("layer.sld", writes, family, style, label),
    )


def survey_style(layer: str, geometry: str) -> str | None:
    """Return the style document of a survey layer for the desktop, None where the plan does not draw it.

    Parameters
    ----------
    layer
        Name of the survey layer.
    geometry
        ``"Point"``, ``"Line"`` or ``"Polygon"``, as the features of this site are.
    """
    both = survey_styles(layer, geometry)
    return None if both is None else both[0]


def survey_styles(layer: str, geometry: str) -> tuple[str, str] | None:
    """Return the style of a survey layer as ``(style document of the desktop, SLD 1.1)``; see above."""
    style = SURVEY_STYLES.get(layer)
    family = {"Line": "LineString"}.get(geometry, geometry)
    if style is None or family not in PLAIN:
        return None
    writes = Writes(layer, family)
    return (
        _render("layer.qml", writes, family, style, style.label),
        _render("layer.sld", writes, family, style, style.label),
    )


def map_colours(table: str) -> list[tuple[float, str]]:
    """Return the values and colours of a map by the name of its table, from low to high; none for others."""
    bare = table.lower().removeprefix(RESULT_PREFIX)
    maps = (w for name in STEPS for w in find(name).writes if isinstance(w.style, MapColours))
    scale = next((w.style for w in maps if bare.startswith(w.layer)), None)
    if not isinstance(scale, MapColours):
        return []
    step = (scale.high - scale.low) / (len(scale.colours) - 1)
    return [(scale.low + step * k, colour) for k, colour in enumerate(scale.colours)]


def style_of(layer: str, family: str) -> Style:
    """Return how a result layer is drawn, the usual for its type of geometry where no step declares it."""
    declared = step_of_layer(layer)
    style = declared[1].style if declared else None
    return style if isinstance(style, Style) else PLAIN.get(family, PLAIN["LineString"])


def _render(template: str, writes: Writes, family: str, style: Style, label: str) -> str:
    from gistools.sheets.rendering import render

    colours = SCALE[::-1] if style.turned else SCALE
    limits = [f"{v:g}" for v in style.steps]
    classes = list(zip(limits, limits[1:], colours, strict=False))
    return render(template, writes=writes, family=family, style=style, label=label, classes=classes)
