"""The step of strokes remaining."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.values import slug
from gistools.steps.catalogue import Option, step
from gistools.steps.decision_cases import cases
from gistools.steps.decision_inputs import CAUTION, PLAYERS, READS, SOURCES, WINDS
from gistools.steps.styles import SCALE, MapColours, Style
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    from gistools.compute.decision.value_iteration import ValueFunction
    from gistools.site.model import Site


@step(
    "strokes",
    summary="Map of expected strokes to hole out, and the best shot",
    reads=READS,
    writes=[
        Writes(
            "strokes",
            "raster",
            (),
            "expected strokes to hole out, by player, wind and pin",
            style=MapColours(2.0, 5.0, SCALE[::-1]),
        ),
        Writes(
            "best_shots",
            "Point",
            columns(
                "hole player wind pin lie pin_distance_m remaining_strokes club aim_deg second_club "
                "second_cost_strokes"
            ),
            "best club and aim on a coarse mesh",
            style=Style(
                "#0b5563", 1.8, by="remaining_strokes", steps=(1.0, 2.5, 3.0, 3.5, 4.0, 9.0), turned=True
            ),
        ),
    ],
    group="Strategy",
    loops="strategy",
    cost="minutes",
    sources=SOURCES,
    cautions=CAUTION,
)
def strokes(
    site: Site,
    *,
    hole: int | None = None,
    players: Annotated[tuple[str, ...] | None, PLAYERS] = None,
    winds: Annotated[tuple[str, ...] | None, WINDS] = None,
    spacing_m: Annotated[float, Option("m", "distance between the points of the best shots", 3, 100)] = 15.0,
) -> dict[str, Any]:
    """Map the expected strokes to hole out, and the best shot from a mesh of points.

    ``V(s) = min over shots and aims of { 1 + mean over outcomes of [penalty + V(s')] }``, mean putts on the
    green; for each player, wind and pin. Maps are named ``strokes_h<hole>_<player>_<wind>_<pin>``, on the
    cells of the terrain, thinned to about 1 m.

    Returns
    -------
    dict
        Maps, and the layer ``best_shots``.
    """
    import numpy as np

    from gistools.hole import HoleModel
    from gistools.site.results import Map

    out: dict[str, Any] = {}
    rows: list[dict[str, Any]] = []
    for h, player, wind, _ in cases(site, hole, players, winds):
        s = HoleModel(site, h).strokes(player, wind)
        every = max(1, round(1.0 / s.surface.cell))
        for p, pin in enumerate(s.pins):
            name = f"strokes_h{h}_{slug(player.name)}_{slug(wind.name)}_{slug(pin)}"
            values = np.ascontiguousarray(s.map(p)[every // 2 :: every, every // 2 :: every])
            text = f"expected strokes to the {pin} pin of hole {h}, {player.name}, {wind.name}"
            west, north = s.surface.x_west, s.surface.y_north
            keys = {"hole": h, "player": player.name, "wind": wind.name, "pin": pin}
            out[name] = Map(name, values, west, north, s.surface.cell * every, "strokes", text, keys)
        rows += _best_rows(s, h, player.name, wind.name, spacing_m)
    out["best_shots"] = rows
    return out


def _best_rows(s: ValueFunction, hole: int, player: str, wind: str, spacing_m: float) -> list[dict[str, Any]]:
    import numpy as np
    import shapely

    from gistools.compute.decision.shot_table import LIES
    from gistools.compute.decision.value_iteration import bearing_of
    from gistools.compute.decision.value_iteration_kernels import TOP_K

    west, south, east, north = s.surface.bounds
    rows = []
    for y in np.arange(south + spacing_m / 2, north, spacing_m):
        for x in np.arange(west + spacing_m / 2, east, spacing_m):
            i, j = int((north - y) / s.surface.cell), int((x - west) / s.surface.cell)
            k = int(s.mesh.of_cell[i, j])
            if k < 0 or s.mesh.putts[k]:
                continue
            for p, pin in enumerate(s.pins):
                shot, bearing = int(s.shot[k, p, 0]), bearing_of(s.aim(x, y, k, p, 0))
                if shot < 0 and s.rolled[k, p] > s.value[k, p]:
                    continue
                if shot < 0:
                    bearing = float(np.degrees(np.arctan2(*(s.pin_xy[p] - (x, y))))) % 360.0
                row = {
                    "hole": hole,
                    "player": player,
                    "wind": wind,
                    "pin": pin,
                    "lie": LIES[int(s.mesh.lie[k])],
                    "pin_distance_m": float(np.hypot(*(s.pin_xy[p] - (x, y)))),
                    "remaining_strokes": float(s.value[k, p]),
                    "club": s.shot_table.shots[shot].label if shot >= 0 else "putter",
                    "aim_deg": bearing,
                    "second_club": "",
                    "second_cost_strokes": float("nan"),
                    "geometry": shapely.Point(x, y),
                }
                other = int(s.shot[k, p, 1]) if TOP_K > 1 else -1
                if other >= 0:
                    cost = s.action_value(s.outcomes(x, y, other, s.aim(x, y, k, p, 1)))[p] - float(
                        s.value[k, p]
                    )
                    row |= {
                        "second_club": s.shot_table.shots[other].label,
                        "second_cost_strokes": max(float(cost), 0.0),
                    }
                rows.append(row)
    return rows
