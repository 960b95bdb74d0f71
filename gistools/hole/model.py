"""One hole as every step works on it: lines of play, zones, pins, ground, what stands on it, and its strokes.

A :class:`HoleModel` is a view of a site: what it makes is remembered on the site, so that each is built once,
when first used, from the site's layers and settings. It stands on the site and on computing alone and knows
no step.
"""

from __future__ import annotations

import dataclasses
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from gistools.base.cover_classes import Kind
from gistools.base.errors import GistoolsWarning, SiteError
from gistools.compute.ballistics.air import LEVELS_M, Weather
from gistools.compute.ballistics.flight import obstacles_for
from gistools.compute.decision.club_set import Player, Wind, putter_of, shot_table_of
from gistools.compute.decision.hole_ground import HoleGround, cells_in
from gistools.compute.decision.shot_table import ShotTable
from gistools.compute.decision.state_space import StateSpace, state_space_for
from gistools.compute.decision.states_in_play import states_in_play
from gistools.compute.decision.value_iteration import ValueFunction, solve_on
from gistools.compute.decision.value_iteration_kernels import UNAVAILABLE_M
from gistools.compute.layout import carries, setbacks
from gistools.compute.layout import zones as landing
from gistools.compute.layout.alignment import Alignment
from gistools.compute.layout.corridors import Surroundings
from gistools.compute.layout.hole_plan import Feature, Hole, TeePlan
from gistools.compute.layout.lines_of_play import tee_centre
from gistools.compute.layout.setbacks import Neighbour
from gistools.compute.terrain.line_of_sight import Scene, Views
from gistools.compute.terrain.obstacles import obstacle_set
from gistools.compute.terrain.surface import Floats, Surface
from gistools.hole.ground import land_of, standing
from gistools.hole.plan import Pin, TeeLine, features, name_or, neighbours, surroundings, tee_lines
from gistools.hole.sight import Named, Places, centre, mesh, things_that_hide
from gistools.site.land_cover import areas, cover, feature_names, hazards, in_bounds
from gistools.site.model import Site

SEEN_FROM_M = 60.0  # the window for sight and strokes reaches this far round the hole (assumption)
SHOTS_M = 100.0  # the window for tee shots: wild ones finish farther aside (assumption)
_NEAR = ("mounds", "bunkers", "greens", "tees", "fairway", "trees", "structures")
T = TypeVar("T")


class remembered(Generic[T]):
    """A property whose value is made once for each hole of a site and remembered on the site."""

    def __init__(self, make: Callable[[HoleModel], T]) -> None:
        self.make = make
        self.__doc__ = make.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    def __get__(self, hole: HoleModel | None, owner: type) -> T:
        if hole is None:  # read from the class, as tools for documentation do
            return self  # type: ignore[return-value]
        return hole.remember(self.name, lambda: self.make(hole))


@dataclass(frozen=True)
class Tee:
    """A tee: name, feature id, centre ``(x, y)``, and corners of its line of play ``(n, 2)`` [m]."""

    name: str
    fid: int
    centre: tuple[float, float]
    line: Floats

    @property
    def start(self) -> tuple[float, float]:
        """Where the line of play begins: the centre of the tee, unless a drawn line begins far from it."""
        return float(self.line[0, 0]), float(self.line[0, 1])


@dataclass(frozen=True, eq=False)
class HoleModel:
    """A hole of a site.

    Parameters
    ----------
    site
        The site.
    number
        Number of the hole, one of ``site.holes``.
    """

    site: Site
    number: int

    def remember(self, key: Any, make: Callable[[], T]) -> T:
        """Return what was made for a key of this hole, making it the first time."""
        return self.site.remember(("hole", self.number, key), make)

    def setting(self, name: str, surveyed: Any = None) -> Any:
        """Return the value of a setting for this hole; see :meth:`gistools.site.model.Site.setting`."""
        return self.site.setting(name, self.number, surveyed)

    # ------------------------------------------------------------------ plan

    @remembered
    def green_row(self) -> Any:
        """Row of the green in the survey; of several the largest."""
        greens = self.site.layer("greens", self.number)
        return greens.iloc[int(greens.geometry.area.argmax())]

    @property
    def green(self) -> BaseGeometry:
        """Outline of the green."""
        return self.green_row.geometry

    @property
    def green_fid(self) -> int:
        """Feature id of the green."""
        return int(self.green_row["fid"])

    @remembered
    def fairway(self) -> BaseGeometry:
        """The fairway as one area."""
        return shapely.union_all(list(self.site.layer("fairway", self.number).geometry))

    @remembered
    def lines(self) -> list[TeeLine]:
        """Line of play from each tee, in the order of the survey."""
        return tee_lines(self.site, self.number, self.green)

    @remembered
    def tees(self) -> list[Tee]:
        """Tees in the order of the survey."""
        centres = [tee_centre(t) for t in self.site.layer("tees", self.number).geometry]
        return [
            Tee(way.tee, way.fid, (float(x), float(y)), Alignment(way.line.points).points)
            for way, (x, y) in zip(self.lines, centres, strict=True)
        ]

    @remembered
    def tees_by_length(self) -> list[Tee]:
        """Tees, the one with the longest line of play first."""
        lengths = [Alignment(tee.line).length for tee in self.tees]
        return [self.tees[k] for k in sorted(range(len(lengths)), key=lambda k: -lengths[k])]

    @property
    def line_in_deg(self) -> float:
        """Bearing of the last leg of the longest line of play [degrees]."""
        line = self.tees_by_length[0].line
        dx, dy = line[-1] - line[-2]
        return float(np.degrees(np.arctan2(dx, dy)) % 360)

    def mesh(self, area: BaseGeometry, spacing_m: float) -> Floats:
        """Return points ``(n, 2)`` of a mesh in an area, laid from the green along the line of play."""
        return mesh(area, spacing_m, centre(self.green), self.line_in_deg)

    @remembered
    def plan(self) -> Hole:
        """Fairway, green, hazards and lines of play in plan."""
        table = self.site.layer("tees")
        tees = dict(zip(table["fid"], table.geometry, strict=True))
        rows = hazards(self.site, self.number)
        return Hole(
            self.number,
            [f for f, hole in features(self.site, "fairway") if hole == self.number],
            self.green,
            [
                Feature(str(name), str(layer), int(fid), shape)
                for name, layer, fid, shape in zip(
                    rows["feature"], rows["layer"], rows["fid"], rows.geometry, strict=True
                )
            ],
            [TeePlan(way.tee, way.fid, tees[way.fid], Alignment(way.line.points)) for way in self.lines],
        )

    @remembered
    def surroundings(self) -> Surroundings:
        """Trees, boundary and features of other holes."""
        return surroundings(self.site, self.number)

    @property
    def carry_choices(self) -> carries.Choices:
        """Settings of carries."""
        names = ("carry_rays_count", "layup_margin_m", "carry_minimum_landing_m", "carry_lateral_search_m")
        return carries.Choices(*(self.setting(name) for name in names))

    @property
    def zone_choices(self) -> landing.Choices:
        """Settings of landing zones."""
        lengths = (self.setting(f"zone_{n}") for n in ("longest_m", "least_m2", "least_width_m"))
        gate_share = self.setting("zone_gate_pct") / 100.0
        return landing.Choices(self.setting("zone_clearance_m"), gate_share, *lengths)

    @remembered
    def zones(self) -> list[landing.Zone]:
        """Landing zones: those drawn, else those that the fairway and its hazards make."""
        drawn = self.site.layer("zones", self.number)
        if len(drawn):
            return [
                landing.Zone(str(r.zone), r.geometry, "", "drawn", int(r.fid)) for r in drawn.itertuples()
            ]
        return landing.derive_zones(self.plan, self.zone_choices)

    @remembered
    def pins(self) -> list[Pin]:
        """Hole locations; the centre of the green where none is drawn."""
        return [
            Pin(name_or(r.pin, f"pin {r.fid}"), int(r.fid), r.geometry)
            for r in self.site.layer("pins", self.number).itertuples()
        ] or [Pin("centre", None, Point(*centre(self.green)))]

    # ---------------------------------------------------------------- ground

    @remembered
    def surface(self) -> Surface:
        """Terrain round the hole.

        Raises
        ------
        SiteError
            If the site has none there.
        """
        return self.site.surface(self.site.hole_bounds(self.number, SEEN_FROM_M))

    @remembered
    def surface_or_none(self) -> Surface | None:
        """Terrain round the hole, None where the site has none there."""
        try:
            return self.surface if self.site.ground is not None else None
        except SiteError:
            return None

    @remembered
    def flags(self) -> list[Pin]:
        """Hole locations that stand on terrain.

        Raises
        ------
        SiteError
            If one lies off the terrain.
        """
        for pin in self.pins:
            if not np.isfinite(self.surface.height(pin.place.x, pin.place.y)):
                raise SiteError(
                    f"pins, feature {pin.fid}: {pin.name} of hole {self.number} lies outside the"
                    f" terrain or where"
                    " heights are missing; give terrain that covers the green, or move the pin"
                )
        return self.pins

    @remembered
    def sand(self) -> BaseGeometry:
        """All sand in the window."""
        return self._areas("bunkers")

    @remembered
    def water(self) -> BaseGeometry:
        """All water in the window."""
        return self._areas("burns", "water")

    def _areas(self, *layers: str) -> BaseGeometry:
        window = shapely.box(*self.site.hole_bounds(self.number, SEEN_FROM_M))
        return shapely.union_all([a for n in layers for a in areas(self.site, n) if a.intersects(window)])

    @property
    def in_bounds(self) -> BaseGeometry | None:
        """The area in bounds, None where no boundary tells."""
        return in_bounds(self.site)

    # ----------------------------------------------------------------- sight

    @remembered
    def _near(self) -> tuple[dict[str, Any], dict[str, list[str]]]:
        tables = {layer: self.site.around(layer, self.number, SEEN_FROM_M) for layer in _NEAR}
        return tables, {layer: self.names(layer, table) for layer, table in tables.items()}

    def names(self, layer: str, table: Any) -> list[str]:
        """Return the names of some rows of a survey layer."""
        every = dict(zip(self.site.layer(layer)["fid"], feature_names(self.site)[layer], strict=True))
        return [every[fid] for fid in table["fid"]]

    @remembered
    def places(self) -> Places:
        """Names for places on the ground; mounds of the proposed ground are among them."""
        tables, names = self._near
        if self.site.existing is not None:
            shapes = self.site.around("shapes", self.number, SEEN_FROM_M)
            shapes = shapes[shapes["kind"] == "mound"]
            tables, names = tables | {"shapes": shapes}, names | {"shapes": self.names("shapes", shapes)}
        return Places(tables, names)

    @remembered
    def scene(self) -> Scene:
        """The ground with what stands on it and hides, by the setting ``trees_hide``."""
        obstacles = things_that_hide(*self._near, self.setting("trees_hide"))
        return Scene(self.surface, obstacle_set(obstacles, self.surface))

    @property
    def look(self) -> dict[str, Any]:
        """Height of eyes and flagstick, as options of lines of sight."""
        return {"eye_m": self.setting("eye_m"), "target_m": self.setting("stick_m")}

    def views(self, eyes: Floats, feet: Floats) -> Views:
        """Return how much of flagsticks at ``feet`` ``(k, 2)`` is seen from ``eyes`` ``(n, 2)``."""
        return self.scene.views(eyes, feet, **self.look)

    def crests(self, layer: str, fid: int | None) -> list[tuple[BaseGeometry, Named]]:
        """Return features near the hole whose crest can be raised or lowered.

        Mounds, or lines of another layer.

        Raises
        ------
        SiteError
            If the feature named is neither a line nor a mound.
        """
        table = self.site.around(layer, self.number, SEEN_FROM_M)
        crests: list[tuple[BaseGeometry, Named]] = []
        for row, name in zip(table.itertuples(), self.names(layer, table), strict=True):
            chosen = fid is not None and int(row.fid) == fid
            line = row.geometry.geom_type == "LineString"
            if chosen and not line and layer != "mounds":
                raise SiteError(
                    f"{layer}, feature {fid} ({name}) is a {row.geometry.geom_type.lower()}: draw its"
                    f" crest as a"
                    " line, or its outline in the layer mounds"
                )
            if chosen or (fid is None and (line or layer == "mounds")):
                crests.append((row.geometry, Named(name, layer, int(row.fid))))
        return crests

    # ------------------------------------------------------------------ play

    @property
    def stimp_ft(self) -> float:
        """Green speed, Stimpmeter reading [ft]."""
        return float(self.setting("stimp_ft", self._surveyed("greens", "stimp_ft")))

    def firmness(self, layer: str) -> str:
        """Return how firm ``fairway`` or ``greens`` are."""
        return str(self.setting("firmness", self._surveyed(layer, "firmness")))

    def _surveyed(self, layer: str, field: str) -> Any:
        """Return the first value that the features of a layer have in a field."""
        table = self.site.layer(layer, self.number)
        values = list(table[field].dropna()) if field in table else []
        return values[0] if values else None

    def weather(self, surface: Surface) -> Weather:
        """Return the air over a window, by its mean level to the nearest ten metres.

        Raises
        ------
        SiteError
            If no ground on Earth that golf is played on lies at such a level.
        """
        level = round(float(np.nanmean(surface.z)), -1)
        low, high = LEVELS_M
        if not low <= level <= high:
            raise SiteError(
                f"the ground of hole {self.number} lies at {level:.0f} m on average: the heights of the"
                " terrain are in another unit, or scaled wrongly; correct the terrain"
            )
        return Weather(elevation_m=level, temperature_c=self.setting("temperature_c"))

    def _ground(self, surface: Surface) -> HoleGround:
        covered, weather = cover(self.site, surface), self.weather(surface)
        firmness = (self.firmness("fairway"), self.firmness("greens"))
        green = shapely.union_all(list(self.site.layer("greens", self.number).geometry))
        return HoleGround(
            self.number,
            surface,
            covered.kind,
            covered.feature,
            covered.names,
            land_of(surface, covered, weather, self.stimp_ft, *firmness),
            weather,
            cells_in(surface, green) & (covered.kind == Kind.GREEN),
            green,
            tuple(pin.name for pin in self.pins),
            np.array([(pin.place.x, pin.place.y) for pin in self.pins]),
            obstacles_for(standing(self.site, surface), surface),
        )

    @remembered
    def ground(self) -> HoleGround:
        """Terrain, cover, turf and air that the hole is played out on."""
        return self._ground(self.surface)

    @remembered
    def tee_ground(self) -> HoleGround:
        """Terrain, cover, turf and air of tee shots, in a wider window."""
        return self._ground(self.site.surface(self.site.hole_bounds(self.number, SHOTS_M)))

    @property
    def targets(self) -> list[tuple[str, BaseGeometry]]:
        """What tee shots are played at: landing zones, or the green of a hole that has none."""
        zones = [(zone.zone, zone.area) for zone in self.zones]
        return zones or [("green", green) for green in self.site.layer("greens", self.number).geometry]

    def strokes(self, player: Player, wind: Wind) -> ValueFunction:
        """Return the strokes remaining on the hole for a player in a wind, for all its pins.

        Directions stray more where a flag within reach is not seen, and where the ground slopes under the
        feet (settings ``blind_dispersion_increase_pct``, ``slope_dispersion_increase_pct``).
        """
        for space in (s for n, s in self._spaces.items() if n != self.number):
            space.release_memory()  # the outcome table of one hole at a time takes room
        return self.remember(("strokes", player.name, wind), lambda: self._solve(player, wind))

    @property
    def _spaces(self) -> dict[int, StateSpace]:
        return self.site.remember("state spaces", dict)

    def _solve(self, player: Player, wind: Wind) -> ValueFunction:
        ground, blind = self.ground, self.setting("blind_dispersion_increase_pct") / 100.0
        per_degree = self.setting("slope_dispersion_increase_pct") / 100.0
        shots = self._shots(player, wind)
        reach = max(float(c) for c in shots.dispersion[1].carry_m if c < UNAVAILABLE_M)

        def wider(place: NDArray[np.float64]) -> NDArray[np.float64]:
            hidden = 1.0 - self.views(place[:, :2], ground.pin_xy).share
            left = np.hypot(place[:, :1] - ground.pin_xy[:, 0], place[:, 1:2] - ground.pin_xy[:, 1])
            blindness = np.where(left <= reach, np.nan_to_num(hidden) * blind, 0.0)
            slope = ground.stance_slope_deg(place[:, :1], place[:, 1:2])
            return np.asarray((1.0 + blindness) * (1.0 + per_degree * slope) - 1.0)

        solved_before = self._solved_before(player, wind)
        if self.number not in self._spaces:
            before = solved_before["before"].space if solved_before else None
            where = ground.surface, ground.land, ground.target
            how = {"obstacles": ground.obstacles, "cell_m": self.setting("mesh_cell_m"), "before": before}
            # the table of a variant is not stored: of many variants each is played once
            self._spaces[self.number] = state_space_for(*where, keep=before is None, **how)
        return solve_on(
            self._spaces[self.number], shots, ground.pins, ground.pin_xy,
            putter=putter_of(player),
            dispersion_scale=wider if blind > 0 or per_degree > 0 else None,
            **solved_before,
        )  # fmt: skip

    def _solved_before(self, player: Player, wind: Wind) -> dict[str, Any]:
        """Return the solution of the site this one is a variant of, and the states that matter."""
        site, tee = self.site.variant_of, self.site.variant_tee
        if site is None or self.number not in site.holes:
            return {}
        before = HoleModel(site, self.number)
        in_play = None if tee is None else before.states_in_play(tee, player, wind)
        return {"before": before.strokes(player, wind), "in_play": in_play}

    def states_in_play(self, tee: str, player: Player, wind: Wind) -> NDArray[np.bool_] | None:
        """Return the states that tee shots at landing zones lead to; None where the hole has no such tee."""
        places, areas = [t.centre for t in self.tees if t.name == tee], [area for _, area in self.targets]
        if not places:
            return None
        return self.remember(
            ("in play", tee, player.name, wind),
            lambda: states_in_play(self.strokes(player, wind), self.ground, places[0], areas),
        )

    def _shots(self, player: Player, wind: Wind) -> ShotTable:
        """Return a player's shots in a wind, flown once for all holes in about the same air."""
        weather = self.ground.weather
        return (self.site.variant_of or self.site).remember(
            ("shot table", player, wind, weather), lambda: shot_table_of(player, wind, weather=weather)
        )

    # ------------------------------------------------------------- set-backs

    @property
    def neighbours(self) -> list[Neighbour]:
        """Everything on the site that play has to keep clear of."""
        site = self.site
        return site.remember("neighbours", lambda: neighbours(site, self._plans()))

    def _plans(self) -> list[Hole]:
        """Plans of all holes of the site; another hole that cannot be drawn is left out with a warning."""
        plans = []
        for number in self.site.holes:
            try:
                plans.append(HoleModel(self.site, number).plan)
            except SiteError as fault:
                if number == self.number:
                    raise
                text = f"hole {number} is left out of clear distances between holes: {fault}"
                warnings.warn(text, GistoolsWarning, stacklevel=2)
        return plans

    @property
    def setback_choices(self) -> setbacks.Choices:
        """Clear distances."""
        names = [f.name for f in dataclasses.fields(setbacks.Choices)]
        return setbacks.Choices(**{name: self.setting(f"setback_{name}") for name in names})
