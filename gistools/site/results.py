"""Results of steps in memory: maps, several layers at once, and what a result says about itself.

It imports the standard library alone: the catalogue of steps uses it, also inside a desktop without NumPy.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

#: ``(style document, SLD)`` of a result layer
Style = tuple[str, str]
StyleSource = Callable[[str], Style | None]
#: the same for a survey layer and the geometry its features have (Point, LineString, Polygon)
SurveyStyleSource = Callable[[str, str], Style | None]


class ColumnInfo(NamedTuple):
    """A column of a result layer: its name, a title with the unit, and its meaning."""

    name: str
    title: str
    text: str


class LayerInfo(NamedTuple):
    """What a result layer says about itself; whoever makes a result attaches it, and the writer stores it.

    It lies in ``table.attrs["layer_info"]`` and ``Map.attrs["layer_info"]``. JSON can hold all of it, so that
    tables with it can be saved in any format.

    Attributes
    ----------
    layer
        Name of the layer without ``study_``.
    geometry
        Simple-feature type, ``""`` for a plain table, ``"raster"`` for a map.
    text
        What the layer shows, for people.
    columns
        The columns with a declared meaning.
    step, options
        The step that made it, and all its options with their values.
    reads
        Survey layers the step reads: warnings about them are stored as assumptions.
    cautions, sources
        What a reader must be warned of, and what the step rests on.
    """

    layer: str
    geometry: str = ""
    text: str = ""
    columns: tuple[ColumnInfo, ...] = ()
    step: str = ""
    options: dict[str, Any] = {}  # noqa: RUF012
    reads: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()

    def as_attrs(self) -> dict[str, Any]:
        """Return the ``attrs`` of a table or map with this description."""
        return {"layer": self.layer, "step": self.step, "options": dict(self.options), "layer_info": self}


@dataclass(frozen=True, eq=False)
class Map:
    """A raster result: values on the cells of a window, with unit and meaning.

    Attributes
    ----------
    name
        The raster table is ``study_<name>``.
    values
        ``(rows, cols)`` ``float32``, row 0 in the north, ``nan`` for no answer.
    x_west, y_north, cell
        West edge, north edge and side of a cell, in metres of the site's CRS with metre axes.
    unit, text
        Unit of the values, and what the map shows.
    keys
        What the map is of: ``hole``, ``tee``, ``player``, ``wind``, ``pin``, those that apply.
    attrs
        Layer, step and options, as on tables; see :class:`LayerInfo`.
    """

    name: str
    values: NDArray[np.float32]
    x_west: float
    y_north: float
    cell: float
    unit: str
    text: str
    keys: Mapping[str, Any] = field(default_factory=dict)
    attrs: Mapping[str, Any] = field(default_factory=dict)


class Layers(dict[str, Any]):
    """Several result layers of one step: name without prefix -> GeoDataFrame, DataFrame or Map."""

    def __getattr__(self, name: str) -> Any:
        try:
            return self[name]
        except KeyError:
            raise AttributeError(name) from None

    def __repr__(self) -> str:
        return "\n\n".join(_text(name, layer) for name, layer in self.items())


#: rows and width of a layer as a console shows it
FIRST_ROWS, WIDTH = 5, 110


def _text(name: str, layer: Any) -> str:
    """Return the name and size of a layer, and its first rows without geometry."""
    if isinstance(layer, Map):
        rows, columns = layer.values.shape
        unit = f", {layer.unit}" if layer.unit else ""
        return f"{name}: map of {rows} x {columns} cells of {layer.cell:g} m{unit}"
    cells = layer.drop(columns="geometry", errors="ignore").head(FIRST_ROWS)
    head = f"{name}: {len(layer)} row{'s' * (len(layer) != 1)}, {cells.shape[1]} columns"
    if not len(layer):
        return head
    shown = cells.shape[1]
    while True:
        first = cells.iloc[:, :shown]
        text = first.to_string(index=False, max_colwidth=24, na_rep="", float_format="{:.5g}".format)
        if shown == 1 or len(text.partition("\n")[0]) <= WIDTH:
            break
        shown -= 1
    more = [f"{len(layer) - FIRST_ROWS} more rows"] if len(layer) > FIRST_ROWS else []
    more += [f"{cells.shape[1] - shown} more columns"] if shown < cells.shape[1] else []
    return "\n".join([head, text, *([f"... {', '.join(more)}"] if more else [])])


def _no_style(*_layer: str) -> Style | None:
    return None


_style_source: StyleSource = _no_style
_survey_style_source: SurveyStyleSource = _no_style


def set_style_sources(results: StyleSource, survey: SurveyStyleSource) -> None:
    """Give the functions that style layers on writing: layer without prefix -> style, or None.

    The package sets them once, to the styles its sheets declare; this floor knows no style itself.
    """
    global _style_source, _survey_style_source
    _style_source, _survey_style_source = results, survey


def style_of(layer: str) -> Style | None:
    """Return the style that a result layer is stored with, or None."""
    return _style_source(layer)


def survey_style_of(layer: str, geometry: str) -> Style | None:
    """Return the style that a survey layer of a new site is stored with, or None."""
    return _survey_style_source(layer, geometry)
