"""The steps of plan geometry: lines of play, lengths, carries, corridors, diagonals, zones, set-backs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.progress import tick
from gistools.base.units import YARD_M
from gistools.compute.layout.defaults import SETBACK_CAUTIONS, SNAP_M, TURN_SHARE
from gistools.steps import layout_columns as columns
from gistools.steps.catalogue import Option, Reads, Writes, step

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.compute.layout.zones import Choices as ZoneChoices
    from gistools.compute.layout.zones import Zone
    from gistools.site.model import Site


_TEES = Reads("tees", required=True)
_GREENS = Reads("greens", required=True)
_PLAN = [_TEES, _GREENS, Reads("fairway"), Reads("play_lines")]
_HAZARDS = [Reads("bunkers"), Reads("burns"), Reads("water")]
_PLANE = "plane geometry; no published constant"
_MEASURING = "CONGU measuring rules, appendix A, and WHS Course Rating manual [seen]"
_WHOLE_NUMBERS = ("fid", "tee_fid", "other_fid", "other_hole")


def _table(site: Site, writes: Writes, rows: list[dict[str, Any]]) -> gpd.GeoDataFrame:
    """Rows as a table with exactly the declared columns, in order."""
    import geopandas as gpd
    import pandas as pd

    values = {c.name: [row.get(c.name) for row in rows] for c in writes.columns}
    typed = {n: pd.array(v, dtype="Int64") if n in _WHOLE_NUMBERS else v for n, v in values.items()}
    shapes = gpd.GeoSeries([row["geometry"] for row in rows], crs=site.metric)
    return gpd.GeoDataFrame(typed, columns=list(values), geometry=shapes, crs=site.metric)


@step(
    "lines_of_play",
    reads=_PLAN,
    writes=[columns.LINES],
    sources=[_MEASURING],
)
def lines_of_play(
    site: Site,
    *,
    hole: int | None = None,
    snap_m: Annotated[
        float,
        Option("m", "how far from its tee or green a drawn line may end before it is doubted", 0.1, 100),
    ] = SNAP_M,
    turn_share: Annotated[
        float,
        Option(
            "", "the line turns where the fairway strays by more than this share of its half-width", 0.05, 3
        ),
    ] = TURN_SHARE,
) -> gpd.GeoDataFrame:
    """The line of play from each tee: straight legs through the turning points to the centre of the green.

    A line drawn in `play_lines` wins: one for the tee, else one for all tees of the hole; it is turned to run
    from tee to green and tied to their centres. Otherwise the line is derived from the fairway: see
    :mod:`gistools.compute.layout.lines_of_play` for the rule and its assumptions. A straight hole has no turning point.
    """
    from gistools.compute.layout.alignment import Alignment, bearing
    from gistools.hole.layout_holes import play_lines

    rows = []
    for number in site.pick(hole):
        for tee, fid, line in play_lines(site, number, snap_m, turn_share):
            way = Alignment(line.points)
            rows.append(
                {
                    "hole": number,
                    "tee": tee,
                    "tee_fid": fid,
                    "source": line.source,
                    "turns_count": line.turns,
                    "length_m": way.length,
                    "bearing_deg": bearing(way.legs[0]),
                    "last_bearing_deg": bearing(way.legs[-1]),
                    "note": line.note,
                    "geometry": way.geometry,
                }
            )
    return _table(site, columns.LINES, rows)


@step(
    "lengths",
    reads=[*_PLAN, Reads("terrain")],
    writes=[columns.LENGTHS],
    sources=[
        _MEASURING,
        "Rules of Handicapping, appendix F: par by length [seen]",
        "combined factor k R / (R + h)",
    ],
)
def lengths(
    site: Site,
    *,
    hole: int | None = None,
    par_unit: Annotated[
        str, Option("", "unit of the par table to use; it is printed in both, rounded", choices=("m", "yd"))
    ] = "m",
    geoid_m: Annotated[
        float, Option("m", "height of the geoid above the ellipsoid, added to levels", -110, 90)
    ] = 0.0,
) -> gpd.GeoDataFrame:
    """Length of each hole from each tee: on the ground, on the grid, along the terrain; and its par by length.

    ground = sum of grid pieces / (k R / (R + h)), R = 6 372 000 m; along the terrain = sum of
    sqrt(ground piece² + level difference²). Without terrain the height is not removed and `note` says so. Where the
    published par bands overlap both pars are given: playing difficulty and the design's intention decide.
    """
    from gistools.compute.layout.lengths import card_length, edge_distances, measure, par_by_length, par_text
    from gistools.hole.layout_holes import green_of, hole_of, surface_of

    rows = []
    for number in site.pick(hole):
        surface, green = surface_of(site, number), green_of(site, number)
        for tee in hole_of(site, number).tees:
            found = measure(tee.line, site.metric, surface, geoid_m=geoid_m)
            front, back = edge_distances(tee.line, green)
            in_unit = found.ground_m / (YARD_M if par_unit == "yd" else 1.0)
            rows.append(
                vars(found)
                | {
                    "hole": number,
                    "tee": tee.tee,
                    "card_m": card_length(found.ground_m),
                    "front_m": front / found.combined_factor,
                    "back_m": back / found.combined_factor,
                    "par_men": par_text(par_by_length(in_unit, unit=par_unit, who="men")),
                    "par_women": par_text(par_by_length(in_unit, unit=par_unit, who="women")),
                    "geometry": tee.line.geometry,
                }
            )
    return _table(site, columns.LENGTHS, rows)


@step(
    "carries",
    reads=[*_PLAN, *_HAZARDS, Reads("terrain")],
    writes=[columns.CARRIES, columns.CARRY_FAN],
    sources=[_PLANE],
)
def carries(
    site: Site,
    *,
    hole: int | None = None,
    rays_count: Annotated[int, Option("count", "directions in each fan", 3, 361)] = 21,
    margin_m: Annotated[float, Option("m", "kept between a lay-up and the front edge", 0, 100)] = 10.0,
    land_m: Annotated[
        float, Option("m", "dry ground shorter than this between two crossings is no place to land", 0, 200)
    ] = 15.0,
    beside_m: Annotated[
        float, Option("m", "hazards this far beside fairway, green and line of play count", 0, 300)
    ] = 40.0,
) -> dict[str, gpd.GeoDataFrame]:
    """Reach and carry of every hazard from every tee, in plan, along a fan of straight directions.

    The fan spans the hazard as it lies in the fairway, edge to edge; `carries` keeps its least and greatest
    carry and the one on the line of play, `carry_fan` all directions. Rough before the fairway and between its
    parts counts as a hazard. Burns that bend and islands: see :mod:`gistools.compute.layout.carries`.
    """
    from gistools.compute.layout.carries import Choices as CarryChoices
    from gistools.compute.layout.carries import carry_rows
    from gistools.hole.layout_holes import hole_of, surface_of

    choices = CarryChoices(int(rays_count), margin_m, land_m, beside_m)
    rows: list[dict[str, Any]] = []
    fan: list[dict[str, Any]] = []
    numbers = site.pick(hole)
    for k, number in enumerate(numbers):
        tick(k / len(numbers), f"hole {number}")
        for tee in hole_of(site, number).tees:
            some, rays = carry_rows(hole_of(site, number), tee, choices, surface_of(site, number))
            rows.extend(some)
            fan.extend(rays)
    return {
        "carries": _table(site, columns.CARRIES, rows),
        "carry_fan": _table(site, columns.CARRY_FAN, fan),
    }


@step(
    "corridors",
    reads=[*_PLAN, *_HAZARDS, Reads("trees"), Reads("boundary"), Reads("players")],
    writes=[columns.CORRIDORS, columns.LANDING_WIDTHS],
    sources=[
        "plane geometry",
        "landing distances of scratch and bogey players: WHS Course Rating [seen]",
    ],
)
def corridors(
    site: Site,
    *,
    hole: int | None = None,
    spacing_m: Annotated[float, Option("m", "distance between stations", 1, 100)] = 10.0,
    look_m: Annotated[
        float, Option("m", "how far aside trees and neighbours are looked for", 5, 500)
    ] = 120.0,
    ends_m: Annotated[
        float, Option("m", "fairway nearer than this to its ends is not called narrowest", 0, 200)
    ] = 20.0,
) -> dict[str, gpd.GeoDataFrame]:
    """Width of the fairway and clearances at stations along each line of play, and at landing distances.

    Square to play; at a turning point along the bisector. See :mod:`gistools.compute.layout.corridors`. Players of the
    site's own table land at their driver's carry and 18.3 m of roll.
    """
    import pandas as pd

    from gistools.compute.layout.corridors import LANDING_M, ROLL_M, corridor_rows, landing_rows
    from gistools.hole.layout_holes import hole_of, surroundings

    players = dict(LANDING_M)
    own = site.layer("players")
    for name, carry in zip(own["player"], own["driver_carry_m"], strict=True):
        if pd.notna(carry):
            players[str(name)] = (float(carry) + ROLL_M,)
    rows: list[dict[str, Any]] = []
    landing: list[dict[str, Any]] = []
    numbers = site.pick(hole)
    for k, number in enumerate(numbers):
        tick(k / len(numbers), f"hole {number}")
        plan, around = hole_of(site, number), surroundings(site, number)
        for tee in plan.tees:
            rows += corridor_rows(plan, tee, around, spacing_m=spacing_m, look_m=look_m, ends_m=ends_m)
            landing += landing_rows(plan, tee, players)
    return {
        "corridors": _table(site, columns.CORRIDORS, rows),
        "landing_widths": _table(site, columns.LANDING_WIDTHS, landing),
    }


@step(
    "diagonals",
    reads=[*_PLAN, *_HAZARDS],
    writes=[columns.DIAGONALS],
    sources=["plane geometry; second moments of area [tried]"],
)
def diagonals(
    site: Site,
    *,
    hole: int | None = None,
    least_share_pct: Annotated[
        float, Option("pct", "hazards that take up less of the fairway's width are left out", 0, 100)
    ] = 5.0,
) -> gpd.GeoDataFrame:
    """Hazards that cross the fairway or bite into it: angle to the line of play and what they ask.

    `extra_carry_m_per_m` is the rise of the far edge along play for each metre across: for a straight burn at
    the angle a to the line of play cot(a). It runs away to the side where the carry grows.
    """
    from gistools.compute.layout.diagonals import diagonal_rows
    from gistools.hole.layout_holes import hole_of

    rows = []
    for number in site.pick(hole):
        plan = hole_of(site, number)
        for tee in plan.tees:
            rows += diagonal_rows(plan, tee, least_share=least_share_pct / 100.0)
    return _table(site, columns.DIAGONALS, rows)


def _zones_of(site: Site, number: int, choices: ZoneChoices) -> list[Zone]:
    from gistools.compute.layout.zones import Zone, derive_zones
    from gistools.hole.layout_holes import hole_of

    drawn = site.layer("zones", number)
    if len(drawn):
        return [Zone(str(r.zone), r.geometry, "", "drawn", int(r.fid)) for r in drawn.itertuples()]
    key = ("layout.zones", number, choices)
    if key not in site.memo:
        site.memo[key] = derive_zones(hole_of(site, number), choices)
    found: list[Zone] = site.memo[key]
    return found


@step(
    "zones",
    reads=[*_PLAN, *_HAZARDS, Reads("zones"), Reads("terrain")],
    writes=[columns.ZONES, columns.ZONE_CARRIES],
    sources=["plane geometry; the limits that part zones are assumptions, each an option"],
)
def zones(
    site: Site,
    *,
    hole: int | None = None,
    clearance_m: Annotated[float, Option("m", "kept clear round hazards", 0, 30)] = 3.0,
    gate_pct: Annotated[
        float, Option("pct", "a hazard over this share of the fairway's width parts it across", 5, 100)
    ] = 50.0,
    longest_m: Annotated[float, Option("m", "longer parts are divided square to play", 20, 2000)] = 160.0,
    least_m2: Annotated[float, Option("m2", "smaller pieces are dropped", 1, 10000)] = 200.0,
    least_width_m: Annotated[float, Option("m", "narrower pieces are dropped", 0, 50)] = 6.0,
) -> dict[str, gpd.GeoDataFrame]:
    """Landing zones: the parts of the fairway that hazards and the line of play separate, named by place.

    Zones drawn in the layer `zones` win. Derived ones: see :mod:`gistools.compute.layout.zones`. A hole without fairway has
    none. `zone_carries` tells what each zone asks from each tee, straight and in plan.
    """
    from gistools.compute.layout.carries import Choices as CarryChoices
    from gistools.compute.layout.zones import Choices as ZoneChoices
    from gistools.compute.layout.zones import zone_carry, zone_row
    from gistools.hole.layout_holes import hole_of, surface_of

    choices = ZoneChoices(clearance_m, gate_pct / 100.0, longest_m, least_m2, least_width_m)
    rows: list[dict[str, Any]] = []
    asked: list[dict[str, Any]] = []
    for number in site.pick(hole):
        plan = hole_of(site, number)
        found = _zones_of(site, number, choices)
        rows += [zone_row(plan, zone) for zone in found]
        asked += [
            zone_carry(plan, tee, zone, CarryChoices.rays, surface_of(site, number))
            for tee in plan.tees
            for zone in found
        ]
    return {
        "zones": _table(site, columns.ZONES, rows),
        "zone_carries": _table(site, columns.ZONE_CARRIES, asked),
    }


@step(
    "setbacks",
    reads=[*_PLAN, *_HAZARDS, Reads("zones"), Reads("boundary"), Reads("paths"), Reads("structures")],
    writes=[columns.SETBACKS, columns.CONFLICTS],
    sources=[
        "line to boundary 60, now 80, beside road or rail 100 m: Gaunt, EIGCA 2015 [seen]",
        "line to structure 60 m: half of the 120 m between houses of Hiseman [seen]",
        "cone of 15 degrees, 49.0 m at 183 m: Hurdzan via Brauer [seen]",
        "green centre to next tee 61 m, path beside green 15 m: Brauer [seen]; green edge to tee 40 m: Kains [seen]",
        "green 53.5 m and tee 30.5 m: half of the corridor of 350 and 200 ft, Muirhead 1994 [seen, quoted]",
        "line to line 60 m: common practice, no source",
        "line to public path 30 m, landing zone 30 m: assumptions, no source",
    ],
    cautions=SETBACK_CAUTIONS,
)
def setbacks(
    site: Site,
    *,
    hole: int | None = None,
    line_boundary_m: Annotated[float, Option("m", "line of play to boundary", 0, 500)] = 80.0,
    line_road_m: Annotated[float, Option("m", "line of play to road or rail", 0, 500)] = 100.0,
    line_structure_m: Annotated[float, Option("m", "line of play to house", 0, 500)] = 60.0,
    line_path_m: Annotated[float, Option("m", "line of play to public path", 0, 500)] = 30.0,
    line_line_m: Annotated[float, Option("m", "line of play to that of another hole", 0, 500)] = 60.0,
    cone_deg: Annotated[float, Option("deg", "cone each side of the line from the tee", 0, 60)] = 15.0,
    cone_m: Annotated[float, Option("m", "length of the cone", 10, 400)] = 242.0,
    green_tee_m: Annotated[float, Option("m", "centre of the green to another hole's tee", 0, 500)] = 61.0,
    green_edge_tee_m: Annotated[float, Option("m", "edge of the green to another hole's tee", 0, 500)] = 40.0,
    green_path_m: Annotated[float, Option("m", "edge of the green to any path", 0, 500)] = 15.0,
    green_boundary_m: Annotated[
        float, Option("m", "edge of the green to boundary or structure", 0, 500)
    ] = 53.5,
    tee_boundary_m: Annotated[float, Option("m", "tee to boundary or structure", 0, 500)] = 30.5,
    zone_m: Annotated[float, Option("m", "landing zone to any neighbour", 0, 500)] = 30.0,
) -> dict[str, gpd.GeoDataFrame]:
    """Set-back areas round play, and the neighbours inside them: guidance that defers to local codes.

    Distances of 0 switch a rule off. Lines of play are measured at right angles; the cone asks for
    d tan(angle) at the distance d. A conflict of two holes is listed with each of them. See
    :mod:`gistools.compute.layout.setbacks`.
    """
    from gistools.compute.layout import setbacks as setback
    from gistools.compute.layout.zones import Choices as ZoneChoices
    from gistools.hole.layout_holes import hole_of, neighbours

    choices = setback.Choices(
        line_boundary_m=line_boundary_m,
        line_road_m=line_road_m,
        line_structure_m=line_structure_m,
        line_path_m=line_path_m,
        line_line_m=line_line_m,
        cone_deg=cone_deg,
        cone_m=cone_m,
        green_tee_m=green_tee_m,
        green_edge_tee_m=green_edge_tee_m,
        green_path_m=green_path_m,
        green_boundary_m=green_boundary_m,
        tee_boundary_m=tee_boundary_m,
        zone_m=zone_m,
    )
    around = neighbours(site)
    areas: list[dict[str, Any]] = []
    conflicts: list[dict[str, Any]] = []
    for number in site.pick(hole):
        plan = hole_of(site, number)
        landing = _zones_of(site, number, ZoneChoices())
        areas += setback.area_rows(plan, landing, around, choices)
        conflicts += setback.conflict_rows(plan, landing, around, choices)
    return {
        "setbacks": _table(site, columns.SETBACKS, areas),
        "setback_conflicts": _table(site, columns.CONFLICTS, conflicts),
    }
