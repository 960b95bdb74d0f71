"""The step of contours."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.styles import GROUNDS, Style
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


@step(
    "contours",
    summary="Contours of the existing and the proposed ground",
    reads=[Reads("terrain", required=True), Reads("shapes"), Reads("greens", required=True)],
    writes=[
        Writes(
            "contours",
            "LineString",
            columns("hole terrain contour_level_m index_contour"),
            "Contours of the existing and the proposed ground",
            style=Style("#7b6a58", 0.25, label="contour_level_m", by="terrain", kinds=GROUNDS),
            themes=("Construction",),
        ),
    ],
    group="For the crew",
    on_page=False,
    sources=["plane geometry; no published constant"],
)
def contours(
    site: Site,
    *,
    hole: int | None = None,
    interval_m: Annotated[float, Option("m", "height between contours", 0.02, 50)] = 0.5,
    index_every: Annotated[int, Option("", "every how many contours one is heavy", 1, 100)] = 5,
    simplify_tolerance_m: Annotated[
        float, Option("m", "how far a line may stray in plan when thinned", 0, 5)
    ] = 0.05,
) -> gpd.GeoDataFrame:
    """Trace contours of the existing ground and, where something is proposed, of the proposed one.

    Lines run where the ground passes the level between neighbouring cell centres, thinned by
    ``simplify_tolerance_m``; higher ground is on their right. The window is that of the hole, or the box
    round all holes.
    """
    import numpy as np

    from gistools.compute.terrain.contours import contour_lines
    from gistools.site.proposed import union_of
    from gistools.steps.quantity_rows import both_grounds

    holes = site.selected_holes(hole)
    bounds = union_of([site.hole_bounds(h) for h in holes])
    before, after = both_grounds(site, bounds, hole)
    grounds = {"existing": before}
    if np.nanmax(np.abs(after.z - before.z), initial=0.0) > 0:
        grounds["proposed"] = after
    rows = []
    for k, (name, surface) in enumerate(grounds.items()):
        tick(k / len(grounds), f"contours of the {name} ground")
        for level, line in contour_lines(surface, interval_m=interval_m, tolerance_m=simplify_tolerance_m):
            heavy = round(level / interval_m) % index_every == 0
            rows.append(
                {
                    "hole": hole,
                    "terrain": name,
                    "contour_level_m": level,
                    "index_contour": heavy,
                    "geometry": line,
                }
            )
    return rows
