"""The steps of strategy: strokes, approaches, positions, brief."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.progress import tick
from gistools.steps import decision_columns as c
from gistools.steps.catalogue import Option, Reads, Writes, need, step

if TYPE_CHECKING:
    from gistools.compute.decision.approaches import View
    from gistools.compute.decision.club_set import Player, Wind
    from gistools.compute.decision.ranking import Choice
    from gistools.compute.decision.value_iteration import Strokes
    from gistools.hole.strategy_holes import HoleGround
    from gistools.site.model import Site
    from gistools.steps.approach_starts import Start


PLAYERS = Option("", "names of the players; without it the usual ones and those of the site")
WINDS = Option("", "names of the winds; without it calm and those of the site")
BLIND = Option("pct", "how much a flag that is not seen at all widens the aim; 0 for not", 0, 200)
STARTS = Option(
    "",
    "where approaches start: centres of the zones, finishes of the best tee shots at them, or drawn points (`play_points`)",
    choices=("centres", "finishes", "points"),
)
CELL = Option("m", "side of a cell of the mesh that is searched", 1.0, 10.0)
_READS = [Reads(n, required=n in ("greens", "pins", "tees", "terrain")) for n in (
    "terrain", "tees", "fairway", "greens", "pins", "play_lines", "bunkers", "burns", "water", "trees", "paths", "boundary",
    "mounds", "structures", "players", "winds",
)]  # fmt: skip
_SOURCES = [
    "Stauffer & Guillot 2023, arXiv 2309.00485 (stochastic shortest path over cells, clubs and aims) [seen, abstract]",
    "Broadie 2018 in Gelman's golf case study (putting) [seen]",
]
_CAUTION = (
    "Expected strokes are those of a model player with the stated spread, who knows the hole and always chooses well.",
)


def _cases(
    site: Site, hole: int | None, players: Any, winds: Any
) -> Iterator[tuple[int, Player, Wind, float]]:
    from gistools.compute.ballistics.players import players_of, winds_of

    holes = site.pick(hole)
    who, air = players_of(site, players), winds_of(site, winds)
    total = len(holes) * len(who) * len(air)
    number = 0
    for h in holes:
        for p in who:
            for w in air:
                tick(number / total, f"hole {h}, {p.name}, {w.name}")
                yield h, p, w, number / total
                number += 1


def frame(writes: Writes, rows: list[dict[str, Any]], site: Site) -> Any:
    """Return rows as the table that is declared, with all its columns even when empty."""
    import geopandas as gpd
    import pandas as pd

    names = [col.name for col in writes.columns]
    data = {n: [row.get(n) for row in rows] for n in names}
    table = pd.DataFrame(data, columns=names)
    for col in writes.columns:
        if col.unit == "count":
            table[col.name] = table[col.name].astype("Int64")
        elif col.unit:
            table[col.name] = table[col.name].astype(float)
    if not writes.geometry:
        return table
    return gpd.GeoDataFrame(
        table, geometry=gpd.GeoSeries([row["geometry"] for row in rows], crs=site.metric), crs=site.metric
    )


def clean(name: str) -> str:
    """Write a name so that it can be part of the name of a raster table."""
    return re.sub(r"[^0-9a-z]+", "_", name.lower()).strip("_") or "x"


@step("strokes", reads=_READS, writes=[c.STROKES, c.BEST_SHOTS], sources=_SOURCES, cautions=_CAUTION)
def strokes(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[tuple[str, ...] | None, PLAYERS] = None,
    winds: Annotated[tuple[str, ...] | None, WINDS] = None,
    blind_wider_pct: Annotated[float, BLIND] = 10.0,
    cell_m: Annotated[float, CELL] = 3.0,
    spacing_m: Annotated[float, Option("m", "distance between the points of the best shots", 3, 100)] = 15.0,
) -> dict[str, Any]:
    """Map the expected strokes to hole out, and the best shot from a mesh of points.

    ``V(s) = min over shots and aims of { 1 + mean over outcomes of [penalty + V(s')] }``, mean putts on the green; for each
    player, wind and pin. Maps are named ``strokes_h<hole>_<player>_<wind>_<pin>``, on the cells of the terrain, thinned to
    about 1 m.

    Returns
    -------
    dict
        Maps, and the layer ``best_shots``.
    """
    import numpy as np

    from gistools.hole.strategy_holes import strokes_of
    from gistools.site.model import Map

    out: dict[str, Any] = {}
    rows: list[dict[str, Any]] = []
    for h, player, wind, _ in _cases(site, hole, players, winds):
        s = strokes_of(site, h, player, wind, cell_m, blind_wider_pct)
        every = max(1, round(1.0 / s.surface.cell))
        for p, pin in enumerate(s.pins):
            name = f"strokes_h{h}_{clean(player.name)}_{clean(wind.name)}_{clean(pin)}"
            values = np.ascontiguousarray(s.map(p)[every // 2 :: every, every // 2 :: every])
            text = f"expected strokes to the {pin} pin of hole {h}, {player.name}, {wind.name}"
            west, north = s.surface.x_west, s.surface.y_north
            out[name] = Map(name, values, west, north, s.surface.cell * every, "strokes", text)
        rows += _best_rows(s, h, player.name, wind.name, spacing_m)
    out["best_shots"] = frame(c.BEST_SHOTS, rows, site)
    return out


def _best_rows(s: Strokes, hole: int, player: str, wind: str, spacing_m: float) -> list[dict[str, Any]]:
    import numpy as np
    import shapely

    from gistools.compute.decision.shot_table import LIES
    from gistools.compute.decision.value_iteration import KEEP, bearing_of

    west, south, east, north = s.surface.bounds
    rows = []
    for y in np.arange(south + spacing_m / 2, north, spacing_m):
        for x in np.arange(west + spacing_m / 2, east, spacing_m):
            i, j = int((north - y) / s.surface.cell), int((x - west) / s.surface.cell)
            k = int(s.mesh.of_cell[i, j])
            if k < 0 or s.mesh.putts[k]:
                continue
            for p, pin in enumerate(s.pins):
                shot, heading = int(s.shot[k, p, 0]), s.aim(x, y, k, p, 0)
                if shot < 0:
                    continue
                row = {
                    "hole": hole, "player": player, "wind": wind, "pin": pin, "lie": LIES[int(s.mesh.lie[k])],
                    "left_m": float(np.hypot(*(s.pin_xy[p] - (x, y)))), "expected_strokes": float(s.value[k, p]),
                    "club": s.book.shots[shot].label, "bearing_deg": bearing_of(heading), "second_club": "",
                    "second_costs_strokes": float("nan"), "geometry": shapely.Point(x, y),
                }  # fmt: skip
                other = int(s.shot[k, p, 1]) if KEEP > 1 else -1
                if other >= 0:
                    cost = s.after(s.outcomes(x, y, other, s.aim(x, y, k, p, 1)))[p] - float(s.value[k, p])
                    row |= {
                        "second_club": s.book.shots[other].label,
                        "second_costs_strokes": max(float(cost), 0.0),
                    }
                rows.append(row)
    return rows


def zones_of(site: Site, hole: int) -> tuple[list[str], list[Any]]:
    """Names and outlines of the landing zones of a hole."""
    table = need(site, "zones", hole=hole)
    table = table["zones"] if isinstance(table, dict) else table
    return [str(z) for z in table["zone"]], list(table.geometry)


@step(
    "approaches",
    reads=[*_READS, Reads("mounds"), Reads("structures"), Reads("play_points")],
    writes=[c.APPROACHES],
    sources=[*_SOURCES, "blindness and aim: a stated assumption, no published figure"],
    cautions=_CAUTION,
)
def approaches(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[tuple[str, ...] | None, PLAYERS] = None,
    winds: Annotated[tuple[str, ...] | None, WINDS] = None,
    starts: Annotated[str, STARTS] = "centres",
    blind_wider_pct: Annotated[float, BLIND] = 10.0,
    backstop_within_m: Annotated[
        float, Option("m", "how far behind the pin a backstop is looked for", 1, 60)
    ] = 10.0,
    cell_m: Annotated[float, CELL] = 3.0,
) -> Any:
    """What each position leaves at each pin: the shot, the green as it meets it, and how it comes off.

    Positions are, as `starts` says: `centres`, a point in each landing zone (its centre, or the nearest place inside);
    `finishes`, places where the best tee shot at the zone for the pin comes to rest in it, a few for each tee with the number
    of tee shots each stands for, and a row of their means; `points`, those drawn in the layer `play_points`. A hole
    without landing zones is started from its tees. Sight is that of the very place, trees as drawn, eye and stick as in
    `flag_views`. See :mod:`gistools.compute.decision.approaches` for each figure and :mod:`gistools.steps.approach_starts` for the places.

    Returns
    -------
    GeoDataFrame
        One row a position, player, wind and pin, drawn from the position to the pin.
    """
    from gistools.hole.strategy_holes import ground_of, strokes_of
    from gistools.steps.approach_starts import views_from, with_means

    rows: list[dict[str, Any]] = []
    if starts == "points":
        _need_points(site, hole)
    for h, player, wind, _ in _cases(site, hole, players, winds):
        if starts == "points" and not len(site.layer("play_points", h)):
            continue
        s, ground = strokes_of(site, h, player, wind, cell_m, blind_wider_pct), ground_of(site, h)
        places = _starts(site, h, s, ground, starts, (player.name, wind, cell_m, blind_wider_pct))
        views = views_from(site, h, places)
        found = [
            _approach_row(s, ground, (h, player, wind), start, view[p], p, blind_wider_pct, backstop_within_m)
            for start, view in zip(places, views, strict=True)
            for p in (range(len(s.pins)) if start.pin is None else [start.pin])
        ]
        rows += with_means(found) if any(start.plays for start in places) else found
    return frame(c.APPROACHES, rows, site)


def _need_points(site: Site, hole: int | None) -> None:
    from gistools.base.errors import SiteError

    if not any(len(site.layer("play_points", h)) for h in site.pick(hole)):
        where = "the site" if hole is None else f"hole {hole}"
        raise SiteError(
            f"approaches from points needs some drawn in the layer `play_points`; {where} has none"
        )


def _starts(site: Site, hole: int, s: Strokes, ground: HoleGround, how: str, case: Any) -> list[Start]:
    from gistools.compute.decision.ranking import zone_cells
    from gistools.hole.strategy_holes import tees_of
    from gistools.steps.approach_starts import from_centres, from_finishes, from_points

    names, areas = zones_of(site, hole)
    if how == "points":
        return from_points(site, hole, s, names, areas)
    if how == "centres" or not names:
        return from_centres(site, hole, names, areas)
    cells = zone_cells(ground, areas)
    return [
        start
        for tee in tees_of(site, hole)
        for start in from_finishes(s, tee, _best_at_zones(site, hole, s, ground, tee, case), names, cells)
    ]


def _best_at_zones(
    site: Site, hole: int, s: Strokes, ground: HoleGround, tee: tuple[str, float, float], case: Any
) -> list[Choice]:
    """Best tee shot at each zone for each pin, found once for each tee, player, wind and way of computing."""
    from gistools.compute.decision.ranking import choices_of, tee_shots, zone_cells

    key = ("strategy tee shots", hole, tee, case)
    if key not in site.memo:
        areas = zones_of(site, hole)[1]
        shots = tee_shots(s, ground, tee[1], tee[2], zone_cells(ground, areas), areas)
        site.memo[key] = choices_of(shots, ground.cover.names)
    found: list[Choice] = site.memo[key]
    return found


def _approach_row(
    s: Strokes,
    ground: HoleGround,
    about: tuple[int, Player, Wind],
    start: Start,
    view: View,
    pin: int,
    blind_wider_pct: float,
    backstop_m: float,
) -> dict[str, Any]:
    import shapely

    from gistools.compute.decision.approaches import approach

    hole, player, wind = about
    row = approach(
        s, ground, player, wind, start.x, start.y, pin,
        view=view, blind_wider_pct=blind_wider_pct, backstop_m=backstop_m,
    )  # fmt: skip
    key = {
        "hole": hole, "tee": start.tee, "player": player.name, "wind": wind.name, "pin": s.pins[pin], "zone": start.zone,
        "place": start.place, "plays_count": start.plays, "share_pct": 100.0 * start.share,
    }  # fmt: skip
    return key | row | {"geometry": shapely.LineString([(start.x, start.y), s.pin_xy[pin]])}


@step("positions", reads=_READS, writes=[c.POSITIONS, c.CHOICES], sources=_SOURCES, cautions=_CAUTION)
def positions(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[tuple[str, ...] | None, PLAYERS] = None,
    winds: Annotated[tuple[str, ...] | None, WINDS] = None,
    blind_wider_pct: Annotated[float, BLIND] = 10.0,
    cell_m: Annotated[float, CELL] = 3.0,
) -> dict[str, Any]:
    """Rank the landing zones for each tee, player, wind and pin, by what they leave and by the total with its risk.

    Total = 1 + mean over all outcomes of the best tee shot aimed at the zone of what they leave; reward = the same mean
    over the outcomes in the zone, less the tee shot. Holes without landing zones have no rows.

    Returns
    -------
    dict
        Layers ``positions`` and ``choices``.
    """
    import numpy as np
    import shapely

    from gistools.compute.decision.ranking import hole_row, position_rows
    from gistools.hole.strategy_holes import ground_of, strokes_of, tees_of

    rows: list[dict[str, Any]] = []
    asks: list[dict[str, Any]] = []
    for h, player, wind, _ in _cases(site, hole, players, winds):
        names, _ = zones_of(site, h)
        if not names:
            continue
        s, ground = strokes_of(site, h, player, wind, cell_m, blind_wider_pct), ground_of(site, h)
        for tee in tees_of(site, h):
            case = (player.name, wind, cell_m, blind_wider_pct)
            found = _best_at_zones(site, h, s, ground, tee, case)
            key = {"hole": h, "tee": tee[0], "player": player.name, "wind": wind.name}
            for row in position_rows(s, found, names):
                rows.append(key | row | {"geometry": shapely.Point(row["x"], row["y"])})
            asks.append(key | hole_row(s, found, names))
            if not np.isfinite(s.surface.height(tee[1], tee[2])):
                asks[-1]["reading"] = "the tee lies where heights are missing: nothing is worked out from it"
    return {"positions": frame(c.POSITIONS, rows, site), "choices": frame(c.CHOICES, asks, site)}


@step(
    "brief",
    reads=[Reads("brief")],
    writes=[c.BRIEF],
    sources=["plain comparison; no published constant"],
)
def brief(
    site: Site,
    *,
    hole: int | None = None,
    rows_from: Annotated[
        str | None, Option("", "TOML file with the rows, instead of the table `brief`", file=True)
    ] = None,
) -> Any:
    """Check the designer's intentions, a row each, against what the steps measure.

    All result rows that match hole, tee, player, wind, zone, pin and feature have to be within what is asked; the figure
    is the one farthest from it, ``margin`` how far inside (in the unit of the measure). The rows are those of the table
    `brief`, or of a TOML file: a ``[[brief]]`` for each, with the fields of the table
    (:func:`gistools.steps.brief_rows.read_brief`).

    Returns
    -------
    DataFrame
        ``result`` is ``holds``, ``fails`` or ``no answer``.
    """
    import pandas as pd

    from gistools.steps.brief_rows import check_row, read_brief

    if hole is not None:
        site.pick(hole)
    table = site.layer("brief") if rows_from is None else read_brief(rows_from)
    asked = table.to_dict("records")
    rows = []
    for number, row in enumerate(asked):
        tick(number / len(asked), str(row.get("measure", "")))
        if hole is not None and not pd.isna(row.get("hole")) and int(row["hole"]) != hole:
            continue
        if hole is not None and pd.isna(row.get("hole")):
            row = row | {"hole": hole}
        rows.append(check_row(site, row))
    return frame(c.BRIEF, rows, site)
