"""The step of screening levels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from gistools.base.columns import columns
from gistools.base.errors import InputError, SiteError
from gistools.base.progress import tick
from gistools.compute.terrain.defaults import CRESTS
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.styles import Style
from gistools.steps.terrain_inputs import ABOVE, PARTED, PLAN, READ, SIGHT
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.compute.terrain.screening import Crest
    from gistools.site.model import Site
    from gistools.steps.slope_rows import Row


@step(
    "screening",
    summary="Crest level that would hide or show the flag",
    reads=[*PLAN, *PARTED, *ABOVE, *(Reads(name) for name in CRESTS if name not in READ)],
    writes=[
        Writes(
            "screening",
            "Point",
            columns(
                "hole feature layer feature_id zone pin criterion crest_existing_m crest_level_m "
                "crest_change_m lines_count crossing_pct met_pct note"
            ),
            "crest levels that would just hide or just show each flag from each zone",
            style=Style("#94310c", 2.2, label="criterion"),
        ),
    ],
    group="Ground and sight",
    loops="ground",
    on_page=False,
    sources=[
        "the line of sight turned round; no published constant",
        *SIGHT,
        "side slope of a drawn crest 25 %: common practice, no source",
    ],
    cautions=("Levels are for lines of sight alone: drainage, mowing and balls run off a mound too.",),
)
def screening(
    site: Site,
    *,
    hole: int | None = None,
    share_pct: Annotated[
        float, Option("pct", "share of the zone's lines over the crest that it has to hold for", 1, 100)
    ] = 100.0,
    crest_layer: Annotated[
        str, Option("", "survey layer the crests are drawn in", choices=CRESTS)
    ] = "mounds",
    crest_feature_id: Annotated[
        int | None, Option("", "id of the one feature to be raised or lowered", 0)
    ] = None,
    mesh_m: Annotated[float, Option("m", "spacing of the places looked from in a zone", 1, 50)] = 5.0,
    crest_width_m: Annotated[float, Option("m", "width of the top of a drawn crest line", 0.2, 20)] = 2.0,
    side_slope_pct: Annotated[float, Option("pct", "side slope of a drawn crest line", 5, 200)] = 25.0,
) -> gpd.GeoDataFrame:
    """Find the crest level of a mound or line that just hides, or shows, each flag from each zone.

    Mounds are those of the layer `mounds`; with `crest_layer` the lines of another layer are taken, with
    `crest_feature_id` one feature alone. An outline is raised or lowered by its own shape over its toe, a
    crest line to one level with sides at a set slope. `show foot` is the highest level that leaves a ball at
    the foot of the stick seen from the whole zone, `show top` the flag; `hide foot`, `hide half`, `hide all`
    are the least levels that hide so much from all of it. Each is run again forward on the ground changed
    that way: `met_pct` says for what share of the lines it then holds. Zones from which no line crosses the
    mound have no row; see :mod:`gistools.compute.terrain.screening`.
    """
    from shapely.geometry import Point

    from gistools.compute.terrain.screening import mound, ridge, screens
    from gistools.hole import HoleModel

    rows: list[Row] = []
    numbers = site.selected_holes(hole)
    if crest_feature_id is not None and crest_feature_id not in set(site.layer(crest_layer)["fid"]):
        raise SiteError(f"{crest_layer} has no feature {crest_feature_id} to take as a crest")
    for n in numbers:
        h = HoleModel(site, n)
        if not h.zones:  # no view to screen, and no ground needed under mounds at the edge
            continue
        crests = h.crests(crest_layer, crest_feature_id)
        for m, (shape, named) in enumerate(crests):
            tick(m / len(crests), f"screening, hole {n}, {named.feature}")
            try:
                crest: Crest = (
                    mound(h.surface, shape)
                    if shape.geom_type == "Polygon"
                    else ridge(h.surface, shape, width_m=crest_width_m, side_slope_pct=side_slope_pct)
                )
            except InputError as problem:
                raise SiteError(
                    f"{crest_layer}, feature {named.fid} ({named.feature}): {problem}"
                ) from problem
            key = {"hole": n, "feature": named.feature, "layer": crest_layer, "feature_id": named.fid}
            for zone in h.zones:
                for pin in h.flags:
                    if crest.area.intersects(pin.place):
                        continue
                    results = screens(
                        h.scene,
                        crest,
                        h.mesh(zone.area, mesh_m),
                        (pin.place.x, pin.place.y),
                        share=share_pct / 100,
                        **h.look,
                    )
                    rows.extend(
                        key
                        | {
                            "zone": zone.zone,
                            "pin": pin.name,
                            "criterion": f.goal,
                            "crest_existing_m": crest.crest_m,
                        }
                        | {"crest_level_m": f.crest_m, "crest_change_m": f.change_m, "lines_count": f.lines}
                        | {"crossing_pct": 100 * f.crossing, "met_pct": 100 * f.met, "note": f.reason}
                        | {"geometry": Point(*crest.top)}
                        for f in results
                        if f.lines
                    )
    return rows
