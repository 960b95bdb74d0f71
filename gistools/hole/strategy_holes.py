"""One hole made ready for strategy: its window of terrain, ground, green and pins, and its expected strokes.

Settings of the site that are read here (set by :func:`gistools.design.vary.vary`): ``firmness`` (``"soft"``,
``"normal"``, ``"firm"``), ``stimp_ft`` (green speed instead of the surveyed one).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from gistools.base.cover_classes import Kind
from gistools.base.errors import SiteError
from gistools.compute.ballistics.flight import NO_OBSTACLES, obstacles_for
from gistools.compute.ballistics.shot_kernels import Obstacles, TurfGrid
from gistools.compute.ballistics.turf import turf_grid
from gistools.compute.decision.club_set import Player, Wind, putter_of, shot_table_of, weather_at
from gistools.compute.decision.shot_table import ShotTable
from gistools.compute.decision.state_space import state_space_for
from gistools.compute.decision.value_iteration import Strokes, solve_on
from gistools.compute.decision.value_iteration_kernels import UNAVAILABLE_M
from gistools.compute.terrain.obstacles import Obstacle, cylinders
from gistools.compute.terrain.surface import Surface
from gistools.hole.ground_holes import hole_of
from gistools.site.land_cover import Cover, cover
from gistools.site.model import Site

MARGIN_M = 60.0
CELL_M = 3.0
DEFAULT_STIMP_FT = 10.0
BLIND_WIDER_PCT = (
    10.0  # how much a flag that is not seen at all widens the aim (assumption, no published figure)
)


@dataclass(frozen=True, eq=False)
class HoleGround:
    """Terrain, cover and turf in the window of a hole; ``target`` marks the cells of its green."""

    hole: int
    surface: Surface
    cover: Cover
    land: TurfGrid
    target: NDArray[np.bool_]
    green: Any
    pins: tuple[str, ...]
    pin_xy: NDArray[np.float64]
    obstacles: Obstacles = NO_OBSTACLES
    memo: dict[int, NDArray[np.int16]] = field(default_factory=dict)

    def inside(self, area: Any) -> NDArray[np.bool_]:
        """Mark the cells whose centre lies in an area."""
        x, y = self.surface.centres()
        out = np.zeros(self.surface.z.shape, bool)
        west, south, east, north = area.bounds
        j = np.flatnonzero((x >= west) & (x <= east))
        i = np.flatnonzero((y >= south) & (y <= north))
        if len(i) and len(j):
            shapely.prepare(area)
            xx, yy = np.meshgrid(x[j], y[i])
            out[i[0] : i[-1] + 1, j[0] : j[-1] + 1] = shapely.contains_xy(area, xx, yy)
        return out

    def nearest(self, kind: int) -> NDArray[np.int16]:
        """Feature of the nearest cell of a kind, for every cell; -1 where the window has none."""
        if kind not in self.memo:
            here = self.cover.kind == kind
            if here.any():
                i, j = distance_transform_edt(~here, return_distances=False, return_indices=True)
                self.memo[kind] = self.cover.feature[i, j]
            else:
                self.memo[kind] = np.full(here.shape, -1, np.int16)
        return self.memo[kind]


def ground_of(site: Site, hole: int) -> HoleGround:
    """Return the window of a hole, computed once per site.

    Raises
    ------
    SiteError
        If the hole has no green or no pin.
    """
    key = ("strategy ground", hole)
    if key not in site.memo:
        greens, pins = site.layer("greens", hole), site.layer("pins", hole)
        if not len(greens) or not len(pins):
            raise SiteError(
                f"hole {hole} needs a green and at least one pin for strategy; add them to the layers"
            )
        surface = site.surface(site.hole_bounds(hole, MARGIN_M))
        found = cover(site, surface)
        stimp = site.settings.get("stimp_ft")
        if stimp is None:
            told = pd.to_numeric(greens["stimp_ft"], errors="coerce").dropna()
            stimp = float(told.iloc[0]) if len(told) else DEFAULT_STIMP_FT
        firmness = site.settings.get("firmness", "normal")
        weather = weather_at(float(np.nanmean(surface.z)))
        land = turf_grid(surface, found.kind, firmness=firmness, stimp_ft=stimp, weather=weather)
        green = shapely.union_all(list(greens.geometry))
        names = [
            f"pin {fid}" if pd.isna(n) or not str(n) else str(n)
            for n, fid in zip(pins["pin"], pins["fid"], strict=True)
        ]
        xy = np.column_stack([pins.geometry.x, pins.geometry.y]).astype(float)
        ground = HoleGround(hole, surface, found, land, np.empty(0, bool), green, tuple(names), xy)
        target = ground.inside(green) & (found.kind == Kind.GREEN)
        site.memo[key] = HoleGround(
            hole, surface, found, land, target, green, tuple(names), xy, _obstacles(site, surface)
        )
    held: HoleGround = site.memo[key]
    return held


def _obstacles(site: Site, surface: Surface) -> Obstacles:
    """Trees and structures that stand in a window, as cylinders."""
    window = shapely.box(*surface.bounds)
    parts = [np.empty((0, 5))]
    for layer in ("trees", "structures"):
        table = site.layer(layer)
        for row in table[table.intersects(window)].to_dict("records") if len(table) else []:
            parts.append(
                cylinders(
                    Obstacle(
                        row["geometry"],
                        float(row["height_m"]),
                        float(row.get("clear_m") or 0.0),
                        float(row["crown_m"]) if layer == "trees" else None,
                    ),
                    surface,
                )
            )
    return obstacles_for(np.concatenate(parts), surface)


def strokes_of(
    site: Site,
    hole: int,
    player: Player,
    wind: Wind,
    cell_m: float = CELL_M,
    blind_wider_pct: float = BLIND_WIDER_PCT,
) -> Strokes:
    """Return the expected strokes on a hole for a player in a wind, for all its pins, computed once per site.

    Where the flag is within reach and not seen, directions stray up to ``blind_wider_pct`` per cent more.
    """
    key = ("strategy strokes", hole, player.name, wind, cell_m, blind_wider_pct)
    if key not in site.memo:
        g = ground_of(site, hole)
        shots = _shots(site, player, wind, float(np.nanmean(g.surface.z)))
        reach = max(float(c) for c in shots.dispersion[1].carry_m if c < UNAVAILABLE_M)

        def wider(place: NDArray[np.float64]) -> NDArray[np.float64]:
            hidden = 1.0 - hole_of(site, hole).scene().views(place[:, :2], g.pin_xy).share
            left = np.hypot(place[:, :1] - g.pin_xy[:, 0], place[:, 1:2] - g.pin_xy[:, 1])
            return np.where(left <= reach, np.nan_to_num(hidden) * blind_wider_pct / 100.0, 0.0)

        ready = ("strategy field", hole, cell_m)
        for other, held_field in site.memo.items():  # the outcome table of one hole at a time takes room
            if isinstance(other, tuple) and other[0] == "strategy field" and other != ready:
                held_field.release_memory()
        if ready not in site.memo:
            site.memo[ready] = state_space_for(
                g.surface, g.land, g.target, obstacles=g.obstacles, cell_m=cell_m
            )
        site.memo[key] = solve_on(
            site.memo[ready],
            shots,
            g.pins,
            g.pin_xy,
            putter=putter_of(player),
            dispersion_scale=wider if blind_wider_pct > 0 else None,
        )
    held: Strokes = site.memo[key]
    return held


def _shots(site: Site, player: Player, wind: Wind, elevation_m: float) -> ShotTable:
    """Return a player's shots in a wind, flown once for all holes of about the same elevation."""
    key = ("strategy book", player.name, wind, weather_at(elevation_m))
    if key not in site.memo:
        site.memo[key] = shot_table_of(player, wind, elevation_m=elevation_m)
    held: ShotTable = site.memo[key]
    return held


def tees_of(site: Site, hole: int) -> list[tuple[str, float, float]]:
    """Name and centre of each tee of a hole."""
    table = site.layer("tees", hole)
    out = []
    for name, fid, shape in zip(table["tee"], table["fid"], table.geometry, strict=True):
        out.append(
            (
                f"tee {fid}" if pd.isna(name) or not str(name) else str(name),
                shape.centroid.x,
                shape.centroid.y,
            )
        )
    return out
