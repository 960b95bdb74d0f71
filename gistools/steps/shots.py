"""Steps of this part: carries as they play, and tee shots into landing zones."""

from __future__ import annotations

import math
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.progress import tick
from gistools.steps import shot_columns as columns
from gistools.steps.catalogue import Option, Reads, Writes, need, step

if TYPE_CHECKING:
    import geopandas as gpd

    from gistools.compute.ballistics import shot_kernels as _kernels
    from gistools.compute.ballistics.air import Weather, Wind
    from gistools.compute.ballistics.players import Player
    from gistools.compute.terrain.surface import Surface
    from gistools.site.cover import Cover
    from gistools.site.model import Site


MARGIN_M = 100.0
DEFAULT_STIMP_FT = 10.0
TEMPERATURE_C = 20.0  # of the study, as on the standard day (assumption)
TOO_FAR = "beyond any shot, even of a much longer player"
NOBODY = "no full shot of this player finishes in it in this wind"
NO_GROUND = "no terrain in the zone"

_READS = [
    Reads("tees", required=True),
    Reads("fairway"),
    Reads("greens"),
    Reads("bunkers"),
    Reads("burns"),
    Reads("water"),
    Reads("players"),
    Reads("winds"),
    Reads("zones"),
]
_SOURCES = [
    "flight: this project's fit in published forms (Smits & Smith 1994, Lyu et al. 2018, 2020), see gistools.compute.ballistics.flight",
    "bounce and run: Daish 1972, Penner 2002 and 2003 [secondary], turf numbers engineering choices",
    "players: course rating definitions of scratch and bogey player; bags and spread model choices beside published rows",
]
_CAUTIONS = (
    "balls, players and turf differ: carries are good to about 5 %, runs to about a third; do not set safety distances by them",
)
Names = tuple[str, ...] | None
_PLAYERS = Option("", "players by name; without it scratch man, bogey man and those of the site's table")
_WINDS = Option("", "winds by name; without it calm and those of the site's table")


@dataclass(frozen=True, eq=False)
class Scene:
    """The ground of one hole as shots need it: terrain, cover, land and obstacles for kernels, air."""

    surface: Surface
    cover: Cover
    land: _kernels.Land
    obstacles: _kernels.Obstacles
    weather: Weather


def scene_of(site: Site, hole: int) -> Scene:
    """Return the ground of a hole, made once per site.

    Green speed is that of the hole's green (its setting ``stimp_ft``, else the surveyed one), firmness the site's setting
    ``firmness`` (``"soft"``, ``"normal"``, ``"firm"``).
    """
    import numpy as np
    import pandas as pd

    from gistools.compute.ballistics.air import Weather
    from gistools.compute.ballistics.flight import obstacles_for
    from gistools.compute.ballistics.turf import land_for
    from gistools.site.cover import cover

    key = ("shots scene", hole)
    if key not in site.memo:
        surface = site.surface(site.hole_bounds(hole, MARGIN_M))
        found = cover(site, surface)
        stimp = site.settings.get("stimp_ft")
        if stimp is None:
            told = pd.to_numeric(site.layer("greens", hole)["stimp_ft"], errors="coerce").dropna()
            stimp = float(told.iloc[0]) if len(told) else DEFAULT_STIMP_FT
        firmness = site.settings.get("firmness", "normal")
        weather = Weather(elevation_m=round(float(np.nanmean(surface.z)), -1), temperature_c=TEMPERATURE_C)
        site.memo[key] = Scene(
            surface,
            found,
            land_for(surface, found.kind, firmness=firmness, stimp_ft=stimp, weather=weather),
            obstacles_for(_standing(site, surface), surface),
            weather,
        )
    held: Scene = site.memo[key]
    return held


def _standing(site: Site, surface: Surface) -> Any:
    """Cylinders of the trees and structures that stand in a window."""
    import numpy as np
    import shapely

    from gistools.compute.terrain.obstacle_cylinders import cylinders

    window = shapely.box(*surface.bounds)
    parts = [np.empty((0, 5))]
    for layer in ("trees", "structures"):
        table = site.layer(layer)
        for row in table[table.intersects(window)].to_dict("records") if len(table) else []:
            parts.append(
                cylinders(
                    row["geometry"],
                    surface,
                    height_m=float(row["height_m"]),
                    clear_m=float(row.get("clear_m") or 0.0),
                    width_m=float(row["crown_m"]) if layer == "trees" else None,
                )
            )
    return np.concatenate(parts)


def _table(site: Site, writes: Writes, rows: list[dict[str, Any]]) -> Any:
    import geopandas as gpd
    import pandas as pd

    values: dict[str, Any] = {c.name: [row[c.name] for row in rows] for c in writes.columns}
    for name in ("fid", "crossing"):
        if name in values:
            values[name] = pd.array(values[name], dtype="Int64")
    if not writes.geometry:
        return pd.DataFrame(values, columns=list(values))
    shapes = gpd.GeoSeries([row["geometry"] for row in rows], crs=site.metric)
    return gpd.GeoDataFrame(values, columns=list(values), geometry=shapes, crs=site.metric)


# ---------------------------------------------------------------- played carries


@step(
    "played_carries",
    reads=[*_READS, Reads("terrain", required=True)],
    writes=[columns.PLAYED_CARRIES, columns.PLAYED_ZONES],
    sources=_SOURCES,
    cautions=_CAUTIONS,
)
def played_carries(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[Names, _PLAYERS] = None,
    winds: Annotated[Names, _WINDS] = None,
) -> dict[str, gpd.GeoDataFrame]:
    """Which player clears what from which tee in which wind, by how much and how often.

    For each carry of the step `carries` (least, greatest, on line) and for the last hazard before each landing zone: the
    played distance (the flat, calm, sea-level carry that asks for the same shot, :mod:`gistools.compute.ballistics.effective_distance`), the carry of
    the player's longest club along that bearing to that level, the margin, and the share of all shots that carry it.
    Every shot is taken to fly along the bearing; ground and trees in between are not looked at.
    """
    from gistools.compute.ballistics.players import players_of, winds_of

    whom, blows = players_of(site, players), winds_of(site, winds)
    carried: list[dict[str, Any]] = []
    zoned: list[dict[str, Any]] = []
    for number in site.pick(hole):
        scene = scene_of(site, number)
        tee_at = _tees(site, number)
        jobs = [(p, w) for p in whom for w in blows]
        rows = need(site, "carries", hole=number)["carries"].to_dict("records")
        zones = need(site, "zones", hole=number)["zone_carries"].to_dict("records")
        for k, (player, wind) in enumerate(jobs):
            tick(k / len(jobs), f"hole {number}: {player.name}, {wind.name}")
            carried += [_carry_row(scene, player, wind, row) for row in rows]
            zoned += [_zone_row(scene, player, wind, row, tee_at[row["tee"]]) for row in zones]
    return {
        "played_carries": _table(site, columns.PLAYED_CARRIES, carried),
        "played_zones": _table(site, columns.PLAYED_ZONES, zoned),
    }


def _tees(site: Site, number: int) -> dict[str, tuple[float, float]]:
    """Start of each tee, from its line of play."""
    lines = need(site, "lines_of_play", hole=number)
    return {
        str(tee): tuple(line.coords[0][:2]) for tee, line in zip(lines["tee"], lines.geometry, strict=True)
    }


def _played(plan_m: float, **here: Any) -> float:
    """Played distance [m]; nan beyond what anybody carries (a tee drawn far away, say)."""
    from gistools.compute.ballistics.effective_distance import FARTHEST_M, played_distance

    return played_distance(plan_m, **here) if plan_m <= FARTHEST_M else math.nan


def _asked(
    scene: Scene, player: Player, wind: Wind, plan_m: float, rise_m: float, bearing_deg: float
) -> dict[str, Any]:
    """What a carry asks of a player: played distance, margin, chance, club."""
    from gistools.compute.ballistics.effective_distance import carry_of, clearing

    here: dict[str, Any] = {
        "rise_m": rise_m,
        "wind": wind,
        "bearing_deg": bearing_deg,
        "weather": scene.weather,
    }
    reach, share = clearing(player, player.clubs[0], plan_m, **here)
    enough = ""
    for club in reversed(player.bag("tee")):
        if carry_of(club, **here) >= plan_m:
            enough = club.name
            break
    margin = reach - plan_m
    return {
        "played": _played(plan_m, player=player, **here),
        "longest_carry_m": reach,
        "margin_m": margin,
        "can_clear": "yes" if margin >= 0 else "no",
        "clears_pct": 100.0 * share,
        "club": enough,
    }


def _carry_row(scene: Scene, player: Player, wind: Wind, row: dict[str, Any]) -> dict[str, Any]:
    rise = float(row["rise_m"])
    note = "" if math.isfinite(rise) else "no terrain at the tee or the far edge: taken as level"
    asked = _asked(
        scene, player, wind, float(row["carry_m"]), rise if not note else 0.0, float(row["bearing_deg"])
    )
    return (
        row
        | asked
        | {
            "player": player.name,
            "wind": wind.name,
            "played_carry_m": asked["played"],
            "note": note or (TOO_FAR if math.isnan(asked["played"]) else ""),
        }
    )


def _zone_row(
    scene: Scene, player: Player, wind: Wind, row: dict[str, Any], tee: tuple[float, float]
) -> dict[str, Any]:
    bearing, centre = float(row["bearing_deg"]), float(row["centre_m"])
    rise = float(row["rise_m"])
    note = "" if math.isfinite(rise) else "no terrain at the tee or the centre: taken as level"
    rise = 0.0 if note else rise
    here: dict[str, Any] = {"wind": wind, "bearing_deg": bearing, "weather": scene.weather, "player": player}
    played = _played(centre, rise_m=rise, **here)
    out = row | {
        "player": player.name,
        "wind": wind.name,
        "played_centre_m": played,
        "played_must_carry_m": math.nan,
        "longest_carry_m": math.nan,
        "margin_m": math.nan,
        "can_clear": "nothing to carry",
        "clears_pct": math.nan,
        "note": note or (TOO_FAR if math.isnan(played) else ""),
    }
    must = row["must_carry_m"]
    if must is None or not math.isfinite(float(must)) or float(must) <= 0:
        return out
    east, north = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    level = scene.surface.height(tee[0] + float(must) * east, tee[1] + float(must) * north)
    up = float(level - scene.surface.height(*tee))
    asked = _asked(scene, player, wind, float(must), up if math.isfinite(up) else 0.0, bearing)
    return out | asked | {"played_must_carry_m": asked["played"]}


# ---------------------------------------------------------------- tee shots


@step(
    "tee_shots",
    reads=[*_READS, Reads("trees"), Reads("structures"), Reads("boundary"), Reads("terrain", required=True)],
    writes=[
        columns.TEE_SHOTS,
        columns.TEE_SHOT_RISKS,
        columns.SHOT_ELLIPSES,
        columns.FINISH_POINTS,
        columns.SHOT_PATHS,
    ],
    sources=_SOURCES,
    cautions=_CAUTIONS,
)
def tee_shots(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[Names, _PLAYERS] = None,
    winds: Annotated[Names, _WINDS] = None,
    points_count: Annotated[int, Option("count", "finishing points kept of each tee shot", 0, 2048)] = 48,
) -> dict[str, Any]:
    """Best club and aim from each tee into each landing zone, and what it risks.

    Every full club that can reach the zone is tried along aims across it, over the real ground, with the player's spread; the
    one most likely to finish in the zone is kept, of equals (within 2 points) the one that finishes less often in
    sand, water, trees or out of bounds. It is then played 2,048 times: chances by feature, run, ellipses that hold 50 and 90 %
    of the landings and finishes, a few finishing points and flights. A zone that no full shot reaches has a row
    that says so. A hole without landing zones is played at its green.
    """
    from gistools.compute.ballistics.players import players_of, winds_of

    whom, blows = players_of(site, players), winds_of(site, winds)
    rows: dict[str, list[dict[str, Any]]] = {w.layer: [] for w in TEE_SHOT_LAYERS}
    for number in site.pick(hole):
        scene = scene_of(site, number)
        zones = _targets(site, number)
        jobs = [
            (tee, place, player, wind)
            for tee, place in _tees(site, number).items()
            for player in whom
            for wind in blows
        ]

        def told(
            job: tuple[str, tuple[float, float], Player, Wind], scene: Scene = scene, zones: Any = zones
        ) -> Any:
            return _from_tee(scene, zones, *job, points_count)

        with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
            for k, (job, parts) in enumerate(zip(jobs, pool.map(told, jobs), strict=True)):
                tick(k / len(jobs), f"hole {number}: {job[0]} tee, {job[2].name}, {job[3].name}")
                for layer, some in parts.items():
                    rows[layer] += [{"hole": number, **row} for row in some]
    return {w.layer: _table(site, w, rows[w.layer]) for w in TEE_SHOT_LAYERS}


TEE_SHOT_LAYERS = (
    columns.TEE_SHOTS,
    columns.TEE_SHOT_RISKS,
    columns.SHOT_ELLIPSES,
    columns.FINISH_POINTS,
    columns.SHOT_PATHS,
)


def _targets(site: Site, number: int) -> Any:
    """Landing zones of a hole; its green where it has none (a one-shot hole)."""
    import geopandas as gpd

    zones = need(site, "zones", hole=number)["zones"][["zone", "geometry"]]
    if len(zones):
        return zones
    greens = site.layer("greens", number)
    return gpd.GeoDataFrame(
        {"zone": ["green"] * len(greens)}, geometry=list(greens.geometry), crs=site.metric
    )


def _from_tee(
    scene: Scene, zones: Any, tee: str, place: tuple[float, float], player: Player, wind: Wind, points: int
) -> dict[str, list[dict[str, Any]]]:
    """Rows of all layers for one tee, player and wind."""
    from gistools.compute.ballistics.tee_shot import Teeing, best_shot, target_for
    from gistools.steps.shot_rows import ellipse_rows, nothing, path_rows, point_rows, risk_rows, shot_row

    level = scene.surface.height(*place)
    out: dict[str, list[dict[str, Any]]] = {w.layer: [] for w in TEE_SHOT_LAYERS}
    who = {"tee": tee, "player": player.name, "wind": wind.name}
    for zone, area in zip(zones["zone"], zones.geometry, strict=True):
        common = {**who, "zone": zone}
        if not math.isfinite(level):
            out["tee_shots"].append(nothing(common, place, area, "no terrain under the tee"))
            continue
        teeing = Teeing(scene.land, scene.obstacles, (*place, level), player, wind, scene.weather)
        target = target_for(area, place, scene.land)
        found = best_shot(teeing, target)
        if found is None:
            why = NOBODY if math.isfinite(target.level) else NO_GROUND
            out["tee_shots"].append(nothing(common, place, area, why))
            continue
        shots = teeing.shots(found.out, scene.cover.feature)
        common["club"] = found.club.name
        out["tee_shots"].append(shot_row(common, place, area, found, shots))
        out["tee_shot_risks"] += risk_rows(common, scene.cover.names, shots)
        out["shot_ellipses"] += ellipse_rows(common, shots)
        out["finish_points"] += point_rows(common, scene.cover.names, shots, found, place, points)
        out["shot_paths"] += path_rows(common, teeing, found)
    return out
