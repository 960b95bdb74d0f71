"""Refusal of edits that put a hazard, tree, building or mound on a green, a tee or a hole location."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from gistools.base.errors import InputError
from gistools.design.relief import window_of

if TYPE_CHECKING:
    from gistools.design.site_edits import SiteEdits

COVERS = ("bunkers", "burns", "water", "trees", "structures")
COVERED = {"greens": "green", "tees": "tee", "pins": "hole location"}
#: a point stands for a disk of this radius, a line is at least twice as wide [m] (assumption)
LEAST_RADIUS_M = 0.5
#: outlines may come to overlap by so much, what a survey leaves open [m2] (assumption)
LEAST_M2 = 1.0
#: the foot of a mound may raise a green or tee by so much, as far inside its edge [m] (assumptions)
FOOT_M, EDGE_M = 0.3, 1.0

#: layer and feature id -> name, outline
Outlines = dict[tuple[str, int], tuple[str, BaseGeometry]]


def refuse_covering(changes: SiteEdits) -> None:
    """Refuse edits by which a feature comes to lie on a green, tee or hole location, or on more of it.

    What lay there before may stay, such as a bunker that is drawn over the edge of a green. A mound may run
    out on a green: it lies there where it raises it.

    Raises
    ------
    InputError
        Naming both features.
    """
    if not {"mounds", *COVERS, *COVERED} & set(changes.tables):
        return
    before = dict(_outlines(changes, changes.site.layer))
    after = dict(_outlines(changes, changes.table))
    changed = {key for key, (_, shape) in after.items() if key not in before or before[key][1] != shape}
    greens = [key for key in after if key[0] in COVERED]
    for above in (key for key in after if key[0] in COVERS):
        for below in (key for key in greens if changed & {above, key}):
            part = after[below][1].area
            on_it = _common(after, above, below)
            most = min(LEAST_M2, part / 2, after[above][1].area / 2)
            if on_it - _common(before, above, below) > most:
                pct = 100 * on_it / part
                share = f", on {f'{pct:.0f}' if pct >= 1 else 'less than 1'} % of it"
                raise InputError(_words(after, above, below) + (share if below[0] != "pins" else ""))
    for mound in (key for key in changed if key[0] == "mounds"):
        for below in greens:
            if below not in changed and _raised_m(changes, after, mound, below) > FOOT_M:
                raise InputError(_words(after, mound, below))


def _words(outlines: Outlines, above: tuple[str, int], below: tuple[str, int]) -> str:
    return f"{outlines[above][0]!r} would lie on the {COVERED[below[0]]} {outlines[below][0]!r}"


def _raised_m(
    changes: SiteEdits, outlines: Outlines, mound: tuple[str, int], below: tuple[str, int]
) -> float:
    """Return by how much the edits raise the ground of a mound that lies on a green or tee [m]."""
    area = outlines[mound][1].intersection(outlines[below][1].buffer(-EDGE_M))
    if area.is_empty or changes.surface is None:
        return 0.0
    i, j, x, y = window_of(changes.surface, area)
    rise = (changes.surface.z[i, j] - changes.site.surface().z[i, j])[shapely.contains_xy(area, x, y)]
    return float(np.nanmax(rise, initial=0.0))


def _outlines(
    changes: SiteEdits, layer_of: Callable[[str], Any]
) -> Iterator[tuple[tuple[str, int], tuple[str, BaseGeometry]]]:
    """Yield key, and name and ground, of every feature that covers or can be covered."""
    for layer in ("mounds", *COVERS, *COVERED):
        table = layer_of(layer)
        widths = table["width_m"] if "width_m" in table else pd.Series(float("nan"), table.index)
        names = changes.names(layer) if table is changes.table(layer) else [""] * len(table)
        for name, fid, shape, width in zip(names, table["fid"], table.geometry, widths, strict=True):
            radius = max(LEAST_RADIUS_M, 0.0 if pd.isna(width) else float(width) / 2)
            yield (layer, int(fid)), (name, shape if shape.area > 0 else shape.buffer(radius))


def _common(outlines: Outlines, above: tuple[str, int], below: tuple[str, int]) -> float:
    """Return the area that two features share [m2], nought where one of them is not there."""
    if above not in outlines or below not in outlines:
        return 0.0
    one, other = outlines[above][1], outlines[below][1]
    return float(one.intersection(other).area) if one.intersects(other) else 0.0
