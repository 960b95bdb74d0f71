"""Steps of the hand-off: quantities, contours, setting-out and the check of what was built."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import Column
from gistools.base.progress import tick
from gistools.steps.catalogue import Option, Reads, Writes, step

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.site.model import Site


_CAUTION = (
    "Quantities and levels are only as good as the survey under them. Have them checked by a licensed surveyor or"
    " engineer before they are priced, staked or built; buried services, drainage, water and protected ground"
    " are not looked at here."
)
_ERRORS = (
    "The error figures are least errors: ground between the surveyed points and a wrong bench mark (area times"
    " the amount it is off) come on top."
)

_QUANTITIES = (
    Column("hole", "", "hole"),
    Column("feature", "", "shape, hole or whole site"),
    Column("layer", "", "layer of the shape"),
    Column("fid", "", "feature id of the shape"),
    Column("kind", "", "kind of shape, or total"),
    Column("area_m2", "m2", "ground whose height changes by more than 5 mm"),
    Column("cut_m3", "m3", "soil to dig, in place"),
    Column("fill_m3", "m3", "soil to place, compacted"),
    Column("cut_m2", "m2", "area of cut"),
    Column("fill_m2", "m2", "area of fill"),
    Column("net_m3", "m3", "fill less cut; positive asks for more soil than it gives"),
    Column("topsoil_m3", "m3", "topsoil to strip, in place"),
    Column("topsoil_spare_m3", "m3", "topsoil stripped and not put back, in place"),
    Column("loose_m3", "m3", "the cut as it is carried: cut (1 + swell)"),
    Column("needs_m3", "m3", "soil in place that the fill takes, shrinkage included"),
    Column("surplus_m3", "m3", "cut less what the fill takes; positive leaves the site, negative is brought"),
    Column("surplus_loose_m3", "m3", "the surplus as it is carried"),
    Column("grid_error_m3", "m3", "least error of the net volume from the cell size"),
    Column("survey_error_m3", "m3", "error of the net volume from the surveyed levels, 95 %"),
    Column("asked_m", "m", "rise (depth negative) asked for"),
    Column("reached_m", "m", "rise reached within the side slope"),
    Column("slope_before_pct", "pct", "steepest existing ground where it is shaped"),
    Column("slope_max_pct", "pct", "steepest finished ground there"),
    Column("limit_pct", "pct", "slope it should not pass"),
    Column("steeper_m2", "m2", "finished ground steeper than that"),
    Column("no_ground_m2", "m2", "part of the shape without terrain, left out"),
    Column("note", "", "what was cut back or needs a look"),
)


def _rows(columns: tuple[Column, ...], rows: list[dict[str, Any]], crs: Any = None) -> Any:
    """Make a table with the declared columns in order, also without rows; with ``crs`` one with geometry."""
    import geopandas as gpd
    import pandas as pd

    names = [c.name for c in columns]
    table = pd.DataFrame({n: _whole([row[n] for row in rows]) for n in names}, columns=names)
    if crs is None:
        return table
    return gpd.GeoDataFrame(
        table, geometry=gpd.GeoSeries([row["geometry"] for row in rows], crs=crs), crs=crs
    )


def _whole(values: list[Any]) -> Any:
    """Keep whole numbers whole where some are missing."""
    import numpy as np
    import pandas as pd

    if any(v is None for v in values) and all(v is None or isinstance(v, int | np.integer) for v in values):
        return pd.array(values, dtype="Int64")
    return values


@step(
    "quantities",
    reads=[Reads("shapes"), Reads("terrain", required=True), Reads("greens", required=True)],
    writes=[
        Writes("quantities", "Polygon", _QUANTITIES, "Cut, fill and topsoil, shape by shape and in total"),
        Writes("cut_fill", "raster", (), "Change of height from existing to proposed ground [m]"),
        Writes("terrain_proposed", "raster", (), "Proposed ground [m]"),
    ],
    sources=[
        "grid volumes against cone frustum, cap, Gaussian and plane [derived]",
        "average end area and prismoidal rules, thesurveyschool.com fs-5-h-volume [seen]",
        "shrinkage in two forms: contractors' and FLH PDDM chapter 9 [seen]",
        "slope limits: Brauer [seen], 3:1 for ride-on mowers [common practice, no source]",
    ],
    cautions=(_CAUTION, _ERRORS),
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
            "shrinkage s as a share of_bank (compacted = bank (1 - s)) or of_fill (compacted = bank / (1 + s))",
            choices=("of_bank", "of_fill"),
        ),
    ] = "of_bank",
    level_sd_m: Annotated[
        float, Option("m", "standard deviation of a surveyed level (half of a 50 mm band)", 0, 1)
    ] = 0.025,
    survey_spacing_m: Annotated[float, Option("m", "distance between surveyed points", 0.1, 50)] = 5.0,
) -> dict[str, Any]:
    """Measure the earth the proposed shaping moves, and what becomes of it.

    The shapes of the layer ``shapes`` are laid on the terrain one after the other; each row is what one of them
    adds to the ground the others have left, so the nets of the rows add up to the net of the total. A raster
    ``terrain_proposed`` in the file counts instead, and then there are totals only.

    V = sum(dz) A over the cells, cut and fill apart, on the ground: divided by the square of the combined
    factor. Topsoil is kept out of the balance: cut and fill are those between the ground stripped of it and the
    formation under it, which differ from the finished surfaces only where not the same depth is put back.

    Returns
    -------
    dict
        ``quantities``: rows by shape, a total for each hole and (without ``hole``) for the site; geometry is the
        ground touched. Maps ``cut_fill...`` and ``terrain_proposed...``, one for each hole with shaping.

    Notes
    -----
    The survey error reads a +-50 mm band [common practice, no source] as two standard deviations and lets each
    surveyed point stand for a square of its own (assumption).
    """
    import numpy as np

    from gistools.site.model import Map
    from gistools.site.proposed import proposed_map
    from gistools.steps.quantity_rows import Soil, both_grounds, quantity_rows

    holes = site.pick(hole)
    soil = Soil(strip_m, respread_m, swell_pct, shrink_pct, convention, level_sd_m, survey_spacing_m)  # type: ignore[arg-type]
    rows = quantity_rows(site, holes, hole is None, soil)
    out: dict[str, Any] = {"quantities": _rows(_QUANTITIES, rows, site.metric)}
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
        )
        proposed = proposed_map(site, hole=number, name=f"terrain_proposed_h{number}")
        out |= {change.name: change, proposed.name: proposed}
    return out


_CONTOURS = (
    Column("hole", "", "hole; empty for the site as a whole"),
    Column("ground", "", "existing or proposed"),
    Column("level_m", "m", "level of the contour"),
    Column("heavy", "", "every fifth contour, or as chosen"),
)


@step(
    "contours",
    reads=[Reads("terrain", required=True), Reads("shapes"), Reads("greens", required=True)],
    writes=[Writes("contours", "LineString", _CONTOURS, "Contours of the existing and the proposed ground")],
    sources=["plane geometry; no published constant"],
)
def contours(
    site: Site,
    *,
    hole: int | None = None,
    interval_m: Annotated[float, Option("m", "height between contours", 0.02, 50)] = 0.5,
    heavy_every: Annotated[int, Option("", "every how many contours one is heavy", 1, 100)] = 5,
    thin_m: Annotated[float, Option("m", "how far a line may stray in plan when thinned", 0, 5)] = 0.05,
) -> gpd.GeoDataFrame:
    """Trace contours of the existing ground and, where something is proposed, of the proposed one.

    Lines run where the ground passes the level between neighbouring cell centres, thinned by ``thin_m``; higher
    ground is on their right. The window is that of the hole, or the box round all holes.
    """
    import numpy as np

    from gistools.compute.terrain.contours import contour_lines
    from gistools.site.proposed import union_of
    from gistools.steps.quantity_rows import both_grounds

    holes = site.pick(hole)
    bounds = union_of([site.hole_bounds(h) for h in holes])
    before, after = both_grounds(site, bounds, hole)
    grounds = {"existing": before}
    if np.nanmax(np.abs(after.z - before.z), initial=0.0) > 0:
        grounds["proposed"] = after
    rows = []
    for k, (name, surface) in enumerate(grounds.items()):
        tick(k / len(grounds), f"contours of the {name} ground")
        for level, line in contour_lines(surface, interval_m=interval_m, tolerance_m=thin_m):
            heavy = round(level / interval_m) % heavy_every == 0
            rows.append({"hole": hole, "ground": name, "level_m": level, "heavy": heavy, "geometry": line})
    return _rows(_CONTOURS, rows, site.metric)


_SETTING_OUT = (
    Column("hole", "", "hole"),
    Column("point", "", "name of the point: code, feature id, count"),
    Column("number", "", "number of the point: hole, code, feature, count"),
    Column("code", "", "what it is, a code of the table in the documentation"),
    Column("meaning", "", "the code in words"),
    Column("feature", "", "feature it belongs to"),
    Column("layer", "", "layer of the feature"),
    Column("fid", "", "feature id"),
    Column("run", "", "points of one run are joined in the order of seq"),
    Column("seq", "", "count of the point within its feature and code"),
    Column("closed", "", "the last point of the run joins the first"),
    Column("tee", "", "tee whose line of play is stationed"),
    Column("chainage_m", "m", "distance along the line of play, on the grid"),
    Column("offset_m", "m", "distance beside the line of play, right positive, on the grid"),
    Column("meets", "", "on: square to a leg; vertex: outside a bend; before, after: beyond an end"),
    Column("existing_m", "m", "existing level"),
    Column("proposed_m", "m", "proposed level"),
    Column("lift_m", "m", "proposed less existing level: fill positive, cut negative"),
    Column("ground_east_m", "m", "ground distance east of the start of the line of play"),
    Column("ground_north_m", "m", "ground distance north of the start of the line of play"),
    Column("combined_factor", "", "grid distance over ground distance at the point"),
)
_CONTROL = (
    Column("point", "", "control point"),
    Column("fid", "", "feature id"),
    Column("level_m", "m", "published level"),
    Column("de_m", "m", "easting as checked less published"),
    Column("dn_m", "m", "northing as checked less published"),
    Column("dh_m", "m", "level as checked less published"),
    Column("plan_m", "m", "distance in plan between checked and published"),
    Column("verdict", "", "within, outside or not checked"),
)


@step(
    "setting_out",
    reads=[
        Reads("tees", required=True),
        Reads("greens", required=True),
        *(Reads(n) for n in ("fairway", "pins", "bunkers", "burns", "water", "mounds", "shapes", "control")),
        Reads("terrain"),
    ],
    writes=[
        Writes("setting_out", "Point", _SETTING_OUT, "Points to stake"),
        Writes("control_check", "Point", _CONTROL, "Control points, published against checked"),
    ],
    sources=[
        "chainage and offset, right positive [seen: hqcalculator.com/stakeout]",
        "chord error c^2 / (8 r) [derived]",
        "combined factor k R / (R + h)",
        "station and stake intervals [from memory]",
    ],
    cautions=(
        _CAUTION,
        "Coordinates are grid coordinates and chainages grid distances: divide a distance by the combined factor"
        " before taping it. Check on control points before the first stake.",
    ),
)
def setting_out(
    site: Site,
    *,
    hole: int | None = None,
    spacing_m: Annotated[
        float, Option("m", "greatest distance between points of an outline", 0.5, 100)
    ] = 5.0,
    chord_m: Annotated[
        float, Option("m", "how far the outline may stray from the string between two points", 0.005, 5)
    ] = 0.1,
    station_m: Annotated[float, Option("m", "distance of stations on the line of play", 1, 200)] = 20.0,
    control_m: Annotated[
        float, Option("m", "residual a control point may have (assumption)", 0.001, 1)
    ] = 0.02,
) -> dict[str, Any]:
    """List the points a crew stakes, with chainage, offset, levels and what is cut or filled there.

    Outlines are staked at most ``spacing_m`` apart and wherever the string would leave the outline by
    ``chord_m``. Chainage and offset are from the hole's longest line of play; levels from the existing and the
    proposed ground. Point names stay as they are when other features change.

    Returns
    -------
    dict
        ``setting_out``: the points; ``control_check``: residuals of the layer ``control``.
    """
    from gistools.steps.setting_out_points import control_rows, stake_rows

    rows: list[dict[str, Any]] = []
    for k, number in enumerate(site.pick(hole)):
        tick(k / len(site.pick(hole)), f"setting-out of hole {number}")
        rows += stake_rows(site, number, spacing_m=spacing_m, chord_m=chord_m, station_m=station_m)
    return {
        "setting_out": _rows(_SETTING_OUT, rows, site.metric),
        "control_check": _rows(_CONTROL, control_rows(site, control_m), site.metric),
    }


_AS_BUILT = (
    Column("hole", "", "hole"),
    Column("point", "", "number or name of the measured point"),
    Column("fid", "", "feature id of the measured point"),
    Column("feature", "", "feature it lies on or was measured for"),
    Column("layer", "", "layer of that feature; decides the tolerance"),
    Column("level_m", "m", "measured level"),
    Column("design_m", "m", "level of the proposed ground there"),
    Column("difference_m", "m", "measured less design: positive is too high"),
    Column("tolerance_m", "m", "difference allowed"),
    Column("verdict", "", "within, high, low or no design level"),
)
_SUMMARY = (
    Column("hole", "", "hole"),
    Column("feature", "", "feature"),
    Column("layer", "", "layer of the feature"),
    Column("point_count", "count", "points measured"),
    Column("outside_count", "count", "points outside the tolerance"),
    Column("unknown_count", "count", "points without a design level"),
    Column("mean_m", "m", "mean difference"),
    Column("rms_m", "m", "root mean square of the differences"),
    Column("worst_m", "m", "greatest difference, with its sign"),
    Column("tolerance_m", "m", "difference allowed"),
    Column("verdict", "", "within, outside or no design level"),
)


@step(
    "as_built_check",
    reads=[
        Reads("as_built"),
        Reads("terrain", required=True),
        *(Reads(n) for n in ("greens", "tees", "bunkers", "fairway", "shapes")),
    ],
    writes=[
        Writes("as_built_check", "Point", _AS_BUILT, "Measured levels against the design"),
        Writes("as_built_summary", "", _SUMMARY, "The same, feature by feature"),
    ],
    sources=[
        "green surface +-13 mm [from memory: USGA recommendations 2004/2018]",
        "finished fairway +-25 to 50 mm, rough grade +-75 to 100 mm [common practice, no source]",
        "tees, bunkers and shapes as the fairway (assumption)",
    ],
    cautions=(_CAUTION,),
)
def as_built_check(
    site: Site,
    *,
    hole: int | None = None,
    points: Annotated[str, Option("", "CSV file of measured points, instead of the layer as_built")] = "",
    order: Annotated[str, Option("", "columns of that file", choices=("PNEZD", "PENZD"))] = "PNEZD",
    green_m: Annotated[float, Option("m", "tolerance on greens", 0.001, 1)] = 0.013,
    tee_m: Annotated[float, Option("m", "tolerance on tees", 0.001, 1)] = 0.025,
    fairway_m: Annotated[float, Option("m", "tolerance on fairways", 0.001, 1)] = 0.05,
    shape_m: Annotated[float, Option("m", "tolerance on shapes and bunkers", 0.001, 1)] = 0.05,
    rough_m: Annotated[float, Option("m", "tolerance elsewhere", 0.001, 1)] = 0.1,
) -> dict[str, Any]:
    """Compare levels measured after construction with the proposed ground.

    difference = measured level less design level, so positive is too high. A point belongs to the feature its
    number or description names (the point names of ``setting_out`` are understood), else to the one it lies on.

    Returns
    -------
    dict
        ``as_built_check``: every point; ``as_built_summary``: a row for each feature.
    """
    from gistools.handoff.csvfile import read_points_csv
    from gistools.steps.as_built_rows import compare_points, summarise

    if points:
        site = site.replace(as_built=read_points_csv(points, site, order=order))  # type: ignore[arg-type]
    site.pick(hole)
    allowed = {
        "greens": green_m,
        "tees": tee_m,
        "fairway": fairway_m,
        "bunkers": shape_m,
        "shapes": shape_m,
        "rough": rough_m,
    }
    rows = compare_points(site, hole, allowed)
    return {
        "as_built_check": _rows(_AS_BUILT, rows, site.metric),
        "as_built_summary": _rows(_SUMMARY, summarise(rows)),
    }
