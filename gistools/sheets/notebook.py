"""Results in a notebook: a table for people, and a picture on the ground of the site."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure

from gistools.base.columns import Column
from gistools.base.errors import InputError
from gistools.base.units import UNITS, heading, show_number
from gistools.sheets.colours import INK
from gistools.sheets.figures import ground
from gistools.sheets.styles import style_of
from gistools.site.model import Site
from gistools.site.results import Map
from gistools.steps.catalogue import find
from gistools.steps.styles import SCALE

#: columns of no use to a reader
_BOOKKEEPING = ("geometry", "feature_id", "hidden_by_feature_id", "row_id")


def table(result: Any, *, units: str = "m", layer: str | None = None) -> pd.DataFrame:
    """Return a result as a table for people: titles with units, rounded figures, no geometry.

    Parameters
    ----------
    result
        What a step returned.
    units
        Lengths in ``"m"`` or ``"yd"``; levels and rises stay in metres.
    layer
        Which layer, where the step returned several; by default the first that is a table.

    Returns
    -------
    DataFrame
        The table.

    Raises
    ------
    InputError
        If there is no such layer, or it is a map.
    """
    if units not in ("m", "yd"):
        raise InputError(f"units is {units!r}; it can be m or yd")
    rows = _one(result, layer, maps=False)
    declared = _columns(rows)
    out = {}
    for name in rows.columns:
        if name in _BOOKKEEPING:
            continue
        column = declared.get(name)
        title, factor, _ = heading(name, column.unit if column else "", units)
        values = rows[name]
        if pd.api.types.is_bool_dtype(values):
            values = values.map({True: "yes", False: "no"})
        elif pd.api.types.is_float_dtype(values):
            unit = column.unit if column else ""
            values = (values * factor).map(lambda v, unit=unit: float(show_number(v, unit)))
        out[title[:1].upper() + title[1:]] = values
    return pd.DataFrame(out, index=rows.index)


def plot(
    result: Any,
    site: Site | None = None,
    *,
    layer: str | None = None,
    hole: int | None = None,
    ax: Any = None,
) -> Axes:
    """Draw a result in the colours its layer has everywhere, with the ground of the site below.

    Parameters
    ----------
    result
        What a step returned: a layer, several, or a map.
    site
        The site, to draw relief and survey layers below.
    layer
        Which layer, where the step returned several; by default the first that has a place.
    hole
        Only this hole.
    ax
        Axes to draw on; by default new ones.

    Returns
    -------
    Axes
        The axes drawn on.

    Raises
    ------
    InputError
        If there is no such layer, nothing in it, or it is a plain table.
    """
    one = _one(result, layer, maps=True)
    if isinstance(one, gpd.GeoDataFrame) and hole is not None and "hole" in one:
        one = one[one["hole"] == hole]
    if isinstance(one, Map):
        rows, cols = one.values.shape
        box: tuple[float, ...] = (
            one.x_west,
            one.y_north - rows * one.cell,
            one.x_west + cols * one.cell,
            one.y_north,
        )
    elif isinstance(one, gpd.GeoDataFrame):
        if len(one) == 0:
            raise InputError(f"the layer {one.attrs.get('layer', '')} has no rows to draw")
        one = _in_metres(one, site)
        box = tuple(float(v) for v in one.total_bounds)
    else:
        raise InputError("this is a plain table without places; see table()")
    axes = ax if ax is not None else _new_axes(box)
    if site is not None:
        ground(axes, site, box)
    if isinstance(one, Map):
        _draw_map(axes, one, box)
        axes.set_title(one.text, loc="left", fontsize=10)
    else:
        _draw_layer(axes, one)
        axes.set_title(str(one.attrs.get("layer", "")).replace("_", " "), loc="left", fontsize=10)
    axes.set_aspect("equal")
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set(xlabel="", ylabel="")
    return axes


def _one(result: Any, layer: str | None, *, maps: bool) -> Any:
    if not isinstance(result, Mapping):
        if layer is not None and layer not in (getattr(result, "attrs", {}).get("layer"), None):
            raise InputError(f"this is the layer {result.attrs.get('layer')!r}, not {layer!r}")
        if isinstance(result, Map) and not maps:
            raise InputError("this is a map; see plot()")
        if not isinstance(result, pd.DataFrame | Map):
            raise InputError(f"{type(result).__name__} is not the result of a step")
        return result
    if layer is not None and layer not in result:
        raise InputError(f"there is no layer {layer!r}; there are {', '.join(result)}")
    if layer is not None:
        return _one(result[layer], None, maps=maps)
    fitting = [t for t in result.values() if isinstance(t, gpd.GeoDataFrame if maps else pd.DataFrame)]
    if not fitting:
        raise InputError(f"nothing here fits; there are {', '.join(result)}")
    return fitting[0]


def _columns(rows: pd.DataFrame) -> dict[str, Column]:
    step = rows.attrs.get("step")
    if not step:
        return {}
    return {c.name: c for w in find(step).writes if w.layer == rows.attrs.get("layer") for c in w.columns}


def _in_metres(rows: gpd.GeoDataFrame, site: Site | None) -> gpd.GeoDataFrame:
    """Return a layer in metres, as the ground is drawn; attrs kept."""
    if site is None or site.unit_m == 1.0 or rows.crs == site.crs_metric:
        return rows
    out = rows.set_geometry(rows.geometry.affine_transform([site.unit_m, 0, 0, site.unit_m, 0, 0]))
    out = out.set_crs(site.crs_metric, allow_override=True)
    out.attrs = dict(rows.attrs)
    return out


def _new_axes(box: tuple[float, ...]) -> Axes:
    wide, tall = max(box[2] - box[0], 1.0), max(box[3] - box[1], 1.0)
    height = float(np.clip(7 * tall / wide, 3.5, 11))
    size = (float(np.clip(height * wide / tall, 3.5, 9)), height)
    shell = getattr(sys.modules.get("IPython"), "get_ipython", lambda: None)()
    if shell is not None:  # a notebook shows the figures that pyplot knows of
        from matplotlib import pyplot

        return pyplot.figure(figsize=size, layout="constrained").add_subplot()
    return Figure(figsize=size, layout="constrained").add_subplot()


def _draw_layer(axes: Axes, rows: gpd.GeoDataFrame) -> None:
    layer = str(rows.attrs.get("layer", ""))
    family = str(rows.geom_type.iloc[0]).removeprefix("Multi")
    style = style_of(layer, family)
    width = max(style.width * 72 / 25.4, 0.5)  # mm to points
    look: dict[str, Any] = {"zorder": 5}
    if style.by and style.by in rows and rows[style.by].notna().any():
        colours = SCALE[::-1] if style.turned else SCALE
        look |= {
            "column": style.by,
            "cmap": ListedColormap(list(colours)),
            "norm": BoundaryNorm(style.steps, len(SCALE)),
            "legend": True,
            "legend_kwds": {"shrink": 0.5, "label": _title(rows, style.by)},
        }
    else:
        look["color"] = style.colour
    if family == "Point":
        look["markersize"] = (width * 1.2) ** 2
    elif family == "LineString":
        look |= {"lw": width, "ls": (0, (5, 3)) if style.dashed else "-"}
    else:
        look |= {"alpha": max(style.fill_opacity, 0.15)}
        rows.boundary.plot(ax=axes, color=style.colour, lw=width, zorder=6)
    rows.plot(ax=axes, **look)
    if style.label and style.label in rows:
        _name(axes, rows, style.label, family)


def _name(axes: Axes, rows: gpd.GeoDataFrame, label: str, family: str) -> None:
    """Write each name once: lines at their end, the others in the middle."""
    once = rows[~rows[label].duplicated() & rows[label].notna() & (rows[label].astype(str) != "")]
    for shape, text in zip(once.geometry, once[label], strict=True):
        whole = shape.geoms[0] if hasattr(shape, "geoms") else shape
        x, y = whole.coords[-1][:2] if family == "LineString" else whole.representative_point().coords[0][:2]
        axes.annotate(
            str(text),
            (x, y),
            (0, 4),
            textcoords="offset points",
            fontsize=6.5,
            color=INK,
            ha="center",
            zorder=8,
        )


def _title(rows: gpd.GeoDataFrame, name: str) -> str:
    column = _columns(rows).get(name)
    return column.title if column else name


def _draw_map(axes: Axes, one: Map, box: tuple[float, ...]) -> None:
    image = axes.imshow(
        one.values,
        extent=(box[0], box[2], box[1], box[3]),
        cmap="cividis_r" if "strokes" in one.name else "cividis",
        alpha=0.8,
        zorder=4,
    )
    axes.figure.colorbar(image, ax=axes, shrink=0.5).set_label(
        UNITS[one.unit][1] if one.unit else "", fontsize=7
    )
