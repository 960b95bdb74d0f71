"""What open data do by custom, set right: features far off, ponds drawn twice, greens in ponds."""

from __future__ import annotations

from typing import Any

import shapely

from gistools.site.importing.features import Draft, Feature
from gistools.site.importing.reference import CORE
from gistools.site.schema import LINE, POLYGON

#: features farther from play than this are left out [m] (assumption)
NEIGHBOUR_M = 300.0
SAME_SHARE = 0.9  # an outline covered by another of its layer to this share is there twice (assumption)
_CLIPPED = ("trees", "water", "burns", "paths")


def tidy(draft: Draft) -> None:
    """Leave out what is far from play, cut wide features to the site, and settle what overlaps by custom."""
    _near_play(draft)
    _boundary(draft)
    _twice(draft, "water")
    _twice(draft, "trees")
    _islands(draft)


def _near_play(draft: Draft) -> None:
    core = [f.shape for f in draft.features if f.layer in CORE]
    if not core:
        return
    window = shapely.box(*shapely.total_bounds(core)).buffer(NEIGHBOUR_M, join_style="mitre")
    far, parts = [], []
    for feature in draft.features:
        if feature.layer in CORE or feature.layer == "boundary":
            continue
        if not feature.shape.intersects(window):
            far.append(feature)
        elif feature.layer in _CLIPPED and not window.covers(feature.shape):
            far.append(feature)
            kind = feature.shape.geom_type
            for part in shapely.get_parts(feature.shape.intersection(window)).tolist():
                if part.geom_type == kind and (part.area if kind == POLYGON else part.length) > 0:
                    parts.append(
                        Feature(feature.layer, part, dict(feature.fields), feature.origin, feature.key)
                    )
    draft.drop(far)
    draft.features += parts
    left = len(far) - len({p.origin for p in parts})
    if left > 0:
        draft.say("note", "", f"{left} features lie more than {NEIGHBOUR_M:g} m from play and are left out")


def _boundary(draft: Draft) -> None:
    greens = [f.shape for f in draft.of("greens")]
    areas = [f for f in draft.of("boundary") if f.shape.geom_type == POLYGON]
    lines = [f for f in draft.of("boundary") if f.shape.geom_type == LINE]
    foreign = [a for a in areas if greens and not any(a.shape.intersects(g) for g in greens)]
    draft.drop(foreign)
    if len(areas) > len(foreign) and lines:
        draft.drop(lines)
        draft.say(
            "warning",
            "boundary",
            f"{len(lines)} lines of out of bounds are left out: the outline of the grounds is the boundary",
            "cut the outline along them",
        )


def _twice(draft: Draft, layer: str) -> None:
    """Leave out outlines that another outline of the layer covers."""
    areas = sorted((f for f in draft.of(layer) if f.shape.geom_type == POLYGON), key=lambda f: -f.shape.area)
    covered: list[Feature] = []
    for k, small in enumerate(areas):
        for large in areas[:k]:
            if large in covered or not large.shape.intersects(small.shape):
                continue
            if large.shape.intersection(small.shape).area >= SAME_SHARE * small.shape.area:
                covered.append(small)
                if not large.fields.get("name") and small.fields.get("name"):
                    large.fields["name"] = small.fields["name"]
                break
    if covered:
        draft.say("note", layer, f"{len(covered)} outlines lie within another of the layer and are left out")
        draft.drop(covered)


def _islands(draft: Draft) -> None:
    """Cut greens and tees out of ponds that are drawn over them."""
    dry = [f for f in draft.features if f.layer in ("greens", "tees") and f.shape.geom_type == POLYGON]
    for pond in [f for f in draft.of("water") if f.shape.geom_type == POLYGON]:
        over = [f for f in dry if pond.shape.intersection(f.shape).area > 1.0]
        if not over:
            continue
        left = pond.shape.difference(shapely.union_all([f.shape for f in over]))
        parts: list[Any] = [p for p in shapely.get_parts(left).tolist() if p.geom_type == POLYGON]
        draft.drop([pond])
        draft.features += [Feature("water", p, dict(pond.fields), pond.origin, pond.key) for p in parts]
        named = ", ".join(f"{f.layer} of hole {f.hole}" for f in over)
        draft.say(
            "warning",
            "water",
            f"{pond.origin} is drawn over {named}; they are cut out of it",
            "look at the shore",
        )
