"""The step of quantities."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.earthworks_inputs import CAUTION
from gistools.steps.styles import CUT_FILL, MapColours, Style
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    from gistools.site.model import Site

ERRORS = (
    "The error figures are least errors: ground between the surveyed points and a wrong bench mark"
    " (area times"
    " the amount it is off) come on top."
)


@step(
    "quantities",
    summary="Cut, fill, area and topsoil of the proposed shaping",
    reads=[
        Reads("shapes"),
        Reads("terrain", required=True),
        Reads("greens", required=True),
        *(Reads(n) for n in ("tees", "bunkers", "fairway")),
    ],
    writes=[
        Writes(
            "quantities",
            "Polygon",
            columns(
                "hole feature layer feature_id shape_kind changed_area_m2 cut_m3 fill_m3 cut_area_m2 "
                "fill_area_m2 net_m3 topsoil_m3 topsoil_spare_m3 cut_loose_m3 fill_bank_m3 surplus_m3 "
                "haul_volume_m3 haul_mean_m surplus_loose_m3 grid_error_m3 survey_error_m3 "
                "requested_rise_m reached_rise_m existing_slope_max_pct proposed_slope_max_pct "
                "shape_slope_limit_pct steep_area_m2 nodata_area_m2 note"
            ),
            "Cut, fill and topsoil, shape by shape and in total",
            style=Style("#7b6a58", 0.4, 0.2, label="feature"),
            themes=("Construction",),
        ),
        Writes(
            "haul",
            "LineString",
            columns("hole haul_volume_m3 haul_m"),
            "Which cut goes to which fill at the least haul",
            style=Style("#94310c", 0.6, label="haul_volume_m3"),
        ),
        Writes(
            "materials",
            "",
            columns(
                "hole feature layer feature_id material area_m2 layer_depth_m material_volume_m3 "
                "drain_spacing_m drain_length_m basis"
            ),
            "What greens, tees, bunkers and fairways take if they are built",
        ),
        Writes(
            "cut_fill",
            "raster",
            (),
            "Change of height from existing to proposed ground [m]",
            style=MapColours(-1.0, 1.0, CUT_FILL),
        ),
        Writes("terrain_proposed", "raster", (), "Proposed ground [m]"),
    ],
    group="For the crew",
    needs="shapes",
    on_page=False,
    sources=[
        "grid volumes against cone frustum, cap, Gaussian and plane [computed]",
        "average end area and prismoidal rules, thesurveyschool.com fs-5-h-volume [published]",
        "shrinkage in two forms: contractors' and FLH PDDM chapter 9 [published]",
        "haul: transportation problem, Hitchcock 1941 [from memory]",
        "depths of layers and spacing of drains: see the settings green_..., tee_... and bunker_...",
        "slope limits: Brauer [published], 3:1 for ride-on mowers [common practice, no source]",
    ],
    cautions=(CAUTION, ERRORS),
)
def quantities(
    site: Site,
    *,
    hole: int | None = None,
    strip_m: Annotated[
        float, Option("m", "topsoil stripped from touched ground (common practice)", 0, 1)
    ] = 0.15,
    respread_m: Annotated[float, Option("m", "topsoil put back", 0, 1)] = 0.15,
    swell_pct: Annotated[
        float, Option("pct", "bulking when dug; 0 means not known: sand 10-15, clay 20-40", 0, 100)
    ] = 0.0,
    shrink_pct: Annotated[
        float, Option("pct", "shrinkage when compacted; 0 means not known: sand 5, earth 10-20", -60, 60)
    ] = 0.0,
    convention: Annotated[
        str,
        Option(
            "",
            (
                "shrinkage s as a share of_bank (compacted = bank (1 - s)) or of_fill (compacted = bank /"
                " (1 + s))"
            ),
            choices=("of_bank", "of_fill"),
        ),
    ] = "of_bank",
    level_sd_m: Annotated[
        float, Option("m", "standard deviation of a surveyed level (half of a 50 mm band)", 0, 1)
    ] = 0.025,
    survey_spacing_m: Annotated[float, Option("m", "distance between surveyed points", 0.1, 50)] = 5.0,
) -> dict[str, Any]:
    """Measure the earth the proposed shaping moves, and what becomes of it.

    The shapes of the layer ``shapes`` are laid on the terrain one after the other; each row is what one of
    them adds to the ground the others have left, so the nets of the rows add up to the net of the total. A
    raster ``terrain_proposed`` in the file counts instead, and then there are totals only.

    V = sum(dz) A over the cells, cut and fill apart, on the ground: divided by the square of the combined
    factor. Topsoil is kept out of the balance: cut and fill are those between the ground stripped of it and
    the formation under it, which differ from the finished surfaces only where not the same depth is put back.

    Returns
    -------
    dict
        ``quantities``: rows by shape, a total for each hole and (without ``hole``) for the site; geometry is
        the ground touched. ``haul``: which cut goes to which fill of a hole, straight, at the least moment.
        ``materials``: layers, turf and drains of greens, tees, bunkers and fairways, as if built anew.
        Maps ``cut_fill...`` and ``terrain_proposed...``, one for each hole with shaping.

    Notes
    -----
    The survey error reads a +-50 mm band [common practice, no source] as two standard deviations and lets
    each surveyed point stand for a square of its own (assumption).
    """
    import numpy as np

    from gistools.site.proposed import proposed_map
    from gistools.site.results import Map
    from gistools.steps.build_ups import material_rows
    from gistools.steps.quantity_rows import Soil, both_grounds, haul_lines, hauls_of, quantity_rows

    holes = site.selected_holes(hole)
    soil = Soil(strip_m, respread_m, swell_pct, shrink_pct, convention, level_sd_m, survey_spacing_m)  # type: ignore[arg-type]
    rows = quantity_rows(site, holes, hole is None, soil)
    hauls = hauls_of(site, rows)
    out: dict[str, Any] = {"quantities": rows, "haul": haul_lines(hauls)}
    out["materials"] = material_rows(site, holes)
    for number in sorted({row["hole"] for row in rows if row["hole"] is not None}):
        before, after = both_grounds(site, site.hole_bounds(number), number)
        change = Map(
            f"cut_fill_h{number}",
            (after.z - before.z).astype(np.float32),
            before.x_west,
            before.y_north,
            before.cell,
            "m",
            "proposed less existing ground: fill positive, cut negative",
            {"hole": number},
        )
        proposed = proposed_map(site, hole=number, name=f"terrain_proposed_h{number}")
        out |= {change.name: change, proposed.name: proposed}
    return out
