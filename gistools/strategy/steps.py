"""The steps of strategy: strokes, approaches, positions, brief."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any

from gistools.catalogue import Option, Reads, Writes, need, step, tick
from gistools.strategy import columns as c

if TYPE_CHECKING:
    from gistools.site.model import Site
    from gistools.strategy.approaches import View
    from gistools.strategy.bag import Player, Wind
    from gistools.strategy.strokes import Strokes


PLAYERS = Option("", "names of the players; without it the usual ones and those of the site")
WINDS = Option("", "names of the winds; without it calm and those of the site")
BLIND = Option("pct", "how much a flag that is not seen at all widens the aim; 0 for not", 0, 200)
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
    from gistools.shots.players import players_of, winds_of

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
        if col.unit and col.unit != "count":
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

    from gistools.site.model import Map
    from gistools.strategy.holes import strokes_of

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

    from gistools.strategy.book import LIES
    from gistools.strategy.strokes import KEEP, bearing_of

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
    reads=[*_READS, Reads("mounds"), Reads("structures")],
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
    blind_wider_pct: Annotated[float, BLIND] = 10.0,
    backstop_within_m: Annotated[
        float, Option("m", "how far behind the pin a backstop is looked for", 1, 60)
    ] = 10.0,
    cell_m: Annotated[float, CELL] = 3.0,
) -> Any:
    """What each position leaves at each pin: the shot, the green as it meets it, and how it comes off.

    Positions are a point in each landing zone (its centre, or the nearest place inside) and, where a hole has none, the
    tees. Sight comes from `flag_views`. See :mod:`gistools.strategy.approaches` for each figure.

    Returns
    -------
    GeoDataFrame
        One row a position, player, wind and pin, drawn from the position to the pin.
    """
    import shapely

    from gistools.strategy.approaches import approach
    from gistools.strategy.holes import ground_of, strokes_of, tees_of

    rows: list[dict[str, Any]] = []
    for h, player, wind, _ in _cases(site, hole, players, winds):
        s, ground = strokes_of(site, h, player, wind, cell_m, blind_wider_pct), ground_of(site, h)
        names, areas = zones_of(site, h)
        places = [(n, *_centre(a)) for n, a in zip(names, areas, strict=True)]
        places = places or [(f"{tee} tee", x, y) for tee, x, y in tees_of(site, h)]
        for zone, x, y in places:
            for p, pin in enumerate(s.pins):
                row = approach(
                    s, ground, player, wind, x, y, p,
                    view=_view(site, h, zone, pin),
                    blind_wider_pct=blind_wider_pct, backstop_m=backstop_within_m,
                )  # fmt: skip
                key = {"hole": h, "player": player.name, "wind": wind.name, "pin": pin, "zone": zone}
                rows.append(key | row | {"geometry": shapely.LineString([(x, y), s.pin_xy[p]])})
    return frame(c.APPROACHES, rows, site)


def _centre(area: Any) -> tuple[float, float]:
    middle = area.centroid if area.contains(area.centroid) else area.representative_point()
    return float(middle.x), float(middle.y)


def _view(site: Site, hole: int, zone: str, pin: str) -> View:
    import pandas as pd

    from gistools.strategy.approaches import View

    seen = need(site, "flag_views", hole=hole)["flag_views"]
    place = seen[(seen["zone"] == zone) | ((seen["tee"] + " tee") == zone)]
    here = place[(place["pin"] == pin)]
    if not len(here):
        return View()
    hidden = here["hidden_by"].iloc[0]
    return View(float(here["flag_seen_pct"].iloc[0]), "" if pd.isna(hidden) else str(hidden))


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
    import shapely

    from gistools.strategy.holes import ground_of, strokes_of, tees_of
    from gistools.strategy.positions import choices_of, hole_row, position_rows, tee_shots, zone_cells

    rows: list[dict[str, Any]] = []
    asks: list[dict[str, Any]] = []
    for h, player, wind, _ in _cases(site, hole, players, winds):
        names, areas = zones_of(site, h)
        if not names:
            continue
        s, ground = strokes_of(site, h, player, wind, cell_m, blind_wider_pct), ground_of(site, h)
        cells = zone_cells(ground, areas)
        for tee, x, y in tees_of(site, h):
            found = choices_of(
                tee_shots(s, ground, x, y, cells, areas), len(areas), len(s.pins), ground.cover.names
            )
            key = {"hole": h, "tee": tee, "player": player.name, "wind": wind.name}
            for row in position_rows(s, found, names):
                rows.append(key | row | {"geometry": shapely.Point(row["x"], row["y"])})
            asks.append(key | hole_row(s, found, names))
    return {"positions": frame(c.POSITIONS, rows, site), "choices": frame(c.CHOICES, asks, site)}


@step(
    "brief",
    reads=[Reads("brief")],
    writes=[c.BRIEF],
    sources=["plain comparison; no published constant"],
)
def brief(site: Site, *, hole: int | None = None) -> Any:
    """Check the designer's intentions, a row each, against what the steps measure.

    All result rows that match hole, tee, player, wind, zone, pin and feature have to be within what is asked; the figure
    is the one farthest from it, ``margin`` how far inside (in the unit of the measure).

    Returns
    -------
    DataFrame
        ``result`` is ``holds``, ``fails`` or ``no answer``.
    """
    import pandas as pd

    from gistools.strategy.brief import check_row

    if hole is not None:
        site.pick(hole)
    asked = site.layer("brief").to_dict("records")
    rows = []
    for number, row in enumerate(asked):
        tick(number / len(asked), str(row.get("measure", "")))
        if hole is not None and not pd.isna(row.get("hole")) and int(row["hole"]) != hole:
            continue
        if hole is not None and pd.isna(row.get("hole")):
            row = row | {"hole": hole}
        rows.append(check_row(site, row))
    return frame(c.BRIEF, rows, site)
