"""How a result layer is drawn: part of its declaration; :mod:`gistools.sheets.styles` writes it out.

Colours are the sheet's own, told apart by lightness and form as well as by hue.
"""

from __future__ import annotations

from dataclasses import dataclass


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


@dataclass(frozen=True)
class MapColours:
    """Colours of a map over even steps from its lowest to its highest value.

    The same for every hole and hole location.
    """

    low: float
    high: float
    colours: tuple[str, ...]


#: five colours of even steps of lightness, the sheet's scale (cividis, Nunez et al. 2018, PLOS ONE 13(7))
SCALE = ("#00224e", "#434e6c", "#7d7c78", "#bcae6c", "#fde737")
#: cut and fill part at nought: amber, pale, blue, as on the grading plan
CUT_FILL = ("#b06f00", "#f2c14e", "#f4f1ea", "#7fb3d5", "#1f5f8f")
#: contours of both grounds, and points that were built, as on the drawings
GROUNDS = (("existing", "#8a6d4b", True), ("proposed", "#b3261e", False))
BUILT = (
    ("within", "#2f7d4f", False),
    ("high", "#b3261e", False),
    ("low", "#1f5fa8", False),
    ("no design level", "#5b676b", False),
)
SHARES = (0.0, 20.0, 40.0, 60.0, 80.0, 100.0)
