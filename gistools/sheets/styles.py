"""How each result layer is drawn when it is opened in a desktop GIS: declared once, written in two forms.

The two forms are OGC Symbology Encoding 1.1 (``.sld``, an open standard) and the style document that a widely
used desktop applies by itself when it finds it in the table ``layer_styles``. Colours are the sheet's own.

Sources: OGC 05-077r4 (Symbology Encoding 1.1.0) and 05-078r4 (Styled Layer Descriptor 1.1.0) for the elements
of the first; the second is undocumented and was tried against the desktop itself.
"""

from __future__ import annotations

from dataclasses import dataclass

from gistools.site.schema import RESULT_PREFIX
from gistools.steps.catalogue import STEPS, find
from gistools.steps.writes import Writes


@dataclass(frozen=True)
class Style:
    """How one layer is drawn.

    ``colour``, ``width`` of lines or size of points [mm], ``fill_opacity``, dashes, the column that labels a
    feature; with ``by`` the colour follows that column over the class limits ``steps``, dark to light as on
    the page, or its words ``kinds``: word, colour, whether dashed. ``edge`` is the outline of an area where
    it is not ``colour``; ``metres`` a column with the true width or size [m]; ``once`` writes a label once
    per hole, not for every tee.
    """

    colour: str
    width: float = 0.5
    fill_opacity: float = 0.0
    dashed: bool = False
    label: str = ""
    by: str = ""
    steps: tuple[float, ...] = ()
    kinds: tuple[tuple[str, str, bool], ...] = ()
    turned: bool = False
    edge: str = ""
    metres: str = ""
    once: bool = False


#: five colours of even steps of lightness, the sheet's scale (cividis, Nunez et al. 2018, PLOS ONE 13(7))
SCALE = ("#00224e", "#434e6c", "#7d7c78", "#bcae6c", "#fde737")
#: cut and fill part at nought: amber, pale, blue, as on the grading plan
CUT_FILL = ("#b06f00", "#f2c14e", "#f4f1ea", "#7fb3d5", "#1f5f8f")
#: map -> lowest and highest value of its colours, the same for every hole and hole location, and the colours
MAPS: dict[str, tuple[float, float, tuple[str, ...]]] = {
    "flag_view": (0.0, 100.0, SCALE),
    "strokes": (2.0, 5.0, SCALE[::-1]),
    "green_slope_map": (0.0, 8.0, SCALE[::-1]),
    "cut_fill": (-1.0, 1.0, CUT_FILL),
}
#: contours of both grounds, and points that were built, as on the drawings
GROUNDS = (("existing", "#8a6d4b", True), ("proposed", "#b3261e", False))
BUILT = (
    ("within", "#2f7d4f", False),
    ("high", "#b3261e", False),
    ("low", "#1f5fa8", False),
    ("no design level", "#5b676b", False),
)
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
    "hollows": Style("#2c6e8f", 0.4, 0.35, label="depth_m"),
    "flow_paths": Style("#2c6e8f", 0.5),
    "surface_falls": Style("#7a5c00", 0.4, 0.08),
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
    "tee_shots": Style("#54378a", 0.4, label="surest_club"),
    "shot_ellipses": Style("#54378a", 0.4, 0.06),
    "shot_paths": Style("#54378a", 0.2, dashed=True),
    "finish_points": Style("#54378a", 0.8),
    "best_shots": Style(
        "#0b5563", 1.8, by="remaining_strokes", steps=(1.0, 2.5, 3.0, 3.5, 4.0, 9.0), turned=True
    ),
    "approaches": Style("#0b5563", 0.35, label="pin"),
    "positions": Style("#0b5563", 2.6, label="zone"),
    "where_to_play": Style("#0b5563", 2.6, label="zone_number"),
    "landing_areas": Style("#54378a", 0.4, 0.12, label="zone"),
    "misses": Style("#94310c", 1.8, label="miss_verdict"),
    "quantities": Style("#7b6a58", 0.4, 0.2, label="feature"),
    "haul": Style("#94310c", 0.6, label="haul_volume_m3"),
    "contours": Style("#7b6a58", 0.25, label="contour_level_m", by="terrain", kinds=GROUNDS),
    "setting_out": Style("#a3262a", 1.6, label="point"),
    "control_check": Style("#1c272b", 2.4, label="point"),
    "as_built_check": Style("#94310c", 1.8, label="level_status", by="level_status", kinds=BUILT),
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
    writes = _declared(layer)
    if writes is None or writes.geometry in ("", "raster"):
        return None
    family = FAMILY.get(writes.geometry, writes.geometry)
    if family not in PLAIN:
        return None
    style = STYLES.get(layer, PLAIN[family])
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
    kind = next((k for k in MAPS if bare.startswith(k)), None)
    if kind is None:
        return []
    low, high, colours = MAPS[kind]
    step = (high - low) / (len(colours) - 1)
    return [(low + step * k, colour) for k, colour in enumerate(colours)]


def _declared(layer: str) -> Writes | None:
    return next((w for name in STEPS for w in find(name).writes if w.layer == layer), None)


def _render(template: str, writes: Writes, family: str, style: Style, label: str) -> str:
    from gistools.sheets.rendering import render

    colours = SCALE[::-1] if style.turned else SCALE
    limits = [f"{v:g}" for v in style.steps]
    classes = list(zip(limits, limits[1:], colours, strict=False))
    return render(template, writes=writes, family=family, style=style, label=label, classes=classes)
