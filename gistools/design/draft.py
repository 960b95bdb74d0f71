"""A hole on the way: its line of play, its rows by layer, and the base that every strategic form is laid on.

What a form is made of is in :mod:`gistools.design.form_parts`, the forms themselves in
:mod:`gistools.design.fairway_forms` and :mod:`gistools.design.green_forms`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from gistools.base.errors import InputError
from gistools.compute.terrain.drainage import runoff
from gistools.compute.terrain.surface import Floats, Surface
from gistools.design.form_parts import (
    FAIRWAY_M,
    GREEN_FALL_PCT,
    GREEN_M,
    GREEN_RISE_M,
    HOLLOW_M,
    LEAST_LEG_M,
    MOST_LIFT_M,
    SHORTEST_M,
    TEE_FALL_PCT,
    TEE_STEP_M,
)

Place = tuple[float, float]


@dataclass
class Draft:
    """A hole on the way: its frame, its rows by layer, and remarks on the fit to the ground.

    ``along`` counts from the back tee along the line of play towards the green, ``across`` to the right of it
    [m]. ``corner`` is the turning point of a bent line, ``green_turn`` the turn of the green's long axis
    clockwise from the line [deg], ``green_rise`` and ``green_bank_pct`` its height above the ground and the
    slope of its banks.
    """

    tee: Place
    green: Place
    hole: int
    ground: Surface
    rows: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    remarks: list[str] = field(default_factory=list)
    corner: Place | None = None
    green_turn: float = 0.0
    green_rise: float = GREEN_RISE_M
    green_bank_pct: float = 20.0

    @property
    def line(self) -> LineString:
        """Line of play from the back tee to the middle of the green."""
        return LineString([self.tee, *([self.corner] if self.corner else []), self.green])

    @property
    def length(self) -> float:
        """Length of the line of play [m]."""
        return float(self.line.length)

    @property
    def bearing(self) -> float:
        """Grid bearing of the line into the green [deg]."""
        return self.bearing_at(self.length)

    def bearing_at(self, along: float) -> float:
        """Grid bearing of the line of play at a distance from the back tee [deg]."""
        (x0, y0), (x1, y1), _ = self._leg(along)
        return math.degrees(math.atan2(x1 - x0, y1 - y0)) % 360.0

    def _leg(self, along: float) -> tuple[Place, Place, float]:
        """Return ends of the leg at a distance from the back tee, and the distance at which it begins."""
        if self.corner is None:
            return self.tee, self.green, 0.0
        first = math.dist(self.tee, self.corner)
        return (self.tee, self.corner, 0.0) if along < first else (self.corner, self.green, first)

    def place(self, along: float, across: float, leg_at: float | None = None) -> Place:
        """Return easting and northing of a place along and across the line of play.

        On the leg there, or on that at ``leg_at``, which then goes on straight.
        """
        at = along if leg_at is None else leg_at
        (x, y), _, start = self._leg(at)
        a = math.radians(self.bearing_at(at))
        return (
            x + (along - start) * math.sin(a) + across * math.cos(a),
            y + (along - start) * math.cos(a) - across * math.sin(a),
        )

    def refuse_turn(self, form: str, start: float, end: float) -> None:
        """Refuse a form that lies where the line of play turns.

        Raises
        ------
        InputError
            Saying where it lies and where the line turns.
        """
        turn = math.inf if self.corner is None else math.dist(self.tee, self.corner)
        if start < turn < end:
            raise InputError(
                f"{form} lies from {start:.0f} to {end:.0f} m from the back tee and the line of play turns at"
                f" {turn:.0f} m: move one of them"
            )

    def area(self, *corners: tuple[float, float], leg_at: float | None = None) -> Polygon:
        """Return the area between places along and across the line of play."""
        return Polygon([self.place(*c, leg_at) for c in corners])

    def ellipse(self, along: float, across: float, length: float, width: float, turn: float = 0.0) -> Polygon:
        """Return an ellipse; its length lies along the line of play, turned clockwise by ``turn`` [deg]."""
        x, y = self.place(along, across)
        disc = affinity.scale(Point(0.0, 0.0).buffer(1.0, quad_segs=16), width / 2.0, length / 2.0)
        turned = affinity.rotate(disc, -(self.bearing_at(along) + turn), origin=(0.0, 0.0))
        return affinity.translate(turned, x, y)

    def strip(self, start: float, end: float, width: float) -> Polygon:
        """Return a strip along the line of play with round ends."""
        half = width / 2.0
        return substring(self.line, start + half, end - half).buffer(half, quad_segs=12)

    def add(self, layer: str, geometry: Any = None, **fields: Any) -> None:
        """Add a row to a layer."""
        row = {"hole": self.hole, **fields}
        self.rows.setdefault(layer, []).append(row if geometry is None else row | {"geometry": geometry})

    def ask(self, measure: str, why: str, **fields: Any) -> None:
        """Add a row to the brief: what is to hold, and the intention in words."""
        self.add("brief", measure=measure, must=True, why=why, **fields)

    def levels(self, line: LineString) -> tuple[Floats, Floats]:
        """Return distances along a line and the ground there [m], a cell apart."""
        count = max(2, math.ceil(line.length / self.ground.cell) + 1)
        along = np.linspace(0.0, line.length, count)
        xy = shapely.get_coordinates(shapely.line_interpolate_point(line, along))
        return along, np.asarray(self.ground.height(*xy.T))

    def natural_rise(self, along: float, across: float, radius: float) -> float:
        """Return how far the ground stands above the mean of the ground on a circle round it [m]."""
        x, y = self.place(along, across, self.length)
        turn = np.linspace(0.0, 2.0 * np.pi, 32, endpoint=False)
        ring = self.ground.height(x + radius * np.cos(turn), y + radius * np.sin(turn))
        return float(self.ground.height(x, y) - np.mean(ring))

    def mean_ground(self, area: BaseGeometry) -> float:
        """Return the mean level of the ground in an area [m]; nan where it has none."""
        part = self.ground.window(area.bounds, self.ground.cell)
        inside = part.z[part.grid.mask(area)]
        known = inside[np.isfinite(inside)]
        return float(known.mean()) if known.size else math.nan


def bend(draft: Draft, *, turn_m: float, angle_deg: float) -> None:
    """Bend the line of play: tee and green stay, the turning point lies on the outside of the bend.

    With the straight distance d from tee to green, the first leg a and the angle t the second leg is
    sqrt(d^2 - a^2 sin^2 t) - a cos t (law of cosines).

    Raises
    ------
    InputError
        If the second leg would be shorter than LEAST_LEG_M.
    """
    straight, t = math.dist(draft.tee, draft.green), math.radians(abs(angle_deg))
    square = straight**2 - (turn_m * math.sin(t)) ** 2
    second = math.sqrt(max(square, 0.0)) - turn_m * math.cos(t)
    if second < LEAST_LEG_M:
        raise InputError(
            f"a line that turns by {abs(angle_deg):g} degrees {turn_m:g} m from the back tee has"
            f" {max(second, 0.0):.0f} m left to the green; it should have {LEAST_LEG_M:.0f}: turn it nearer"
            " to the tee"
        )
    inside = math.copysign(math.degrees(math.asin(second * math.sin(t) / straight)), angle_deg)
    first = math.radians(draft.bearing - inside)
    draft.corner = (draft.tee[0] + turn_m * math.sin(first), draft.tee[1] + turn_m * math.cos(first))


def base_hole(draft: Draft) -> None:
    """Lay tees, line of play, fairway, green and hole locations.

    Hole locations stand halfway from the middle to the edge of the green.
    """
    length, half = draft.length, GREEN_M[0] / 2.0
    tees = [("back", 0.0)] + ([("forward", TEE_STEP_M)] if length > SHORTEST_M + TEE_STEP_M else [])
    for name, along in tees:
        corners = [(along - 5, -4), (along + 5, -4), (along + 5, 4), (along - 5, 4)]
        outline = draft.area(*corners, leg_at=along)
        draft.add("tees", outline, tee=name)
        draft.add(
            "shapes",
            outline,
            name=f"{name} tee",
            kind="platform",
            order=1,
            fall_pct=TEE_FALL_PCT,
            fall_to_deg=(draft.bearing_at(along) + 180.0) % 360.0,
        )
    draft.add("play_lines", draft.line, tee="")
    draft.add("fairway", draft.strip(0.32 * length, length - half - 12.0, FAIRWAY_M))
    green = draft.ellipse(length, 0.0, *GREEN_M, turn=draft.green_turn)
    _lift_out_of_water(draft, green)
    draft.add("greens", green, name="green")
    draft.add(
        "shapes",
        green,
        name="green",
        kind="platform",
        order=2,
        side_slope_pct=draft.green_bank_pct,
        rise_m=draft.green_rise,
        fall_pct=GREEN_FALL_PCT,
        fall_to_deg=(draft.bearing + 180.0) % 360.0,
    )
    axis = math.radians(draft.green_turn)
    for word, lengthways in (("front", -0.27), ("back", 0.27)):
        for side, sideways in (("left", -0.22), ("right", 0.22)):
            a, b = lengthways * GREEN_M[0], sideways * GREEN_M[1]
            along, across = a * math.cos(axis) - b * math.sin(axis), a * math.sin(axis) + b * math.cos(axis)
            draft.add("pins", Point(draft.place(length + along, across)), pin=f"{word} {side}")


def _lift_out_of_water(draft: Draft, green: Polygon) -> None:
    """Raise the green until its front lies above the water that the ground there holds before it spills."""
    front = draft.length - GREEN_M[0] / 2.0
    before = draft.area((front - 6, -5), (front - 6, 5), (front, 5), (front, -5))
    ground = draft.ground.window(green.bounds, HOLLOW_M)
    standing = runoff(ground).filled[ground.grid.mask(before)]
    standing = standing[np.isfinite(standing)]
    if not standing.size:
        return
    middle = float(standing.max()) + GREEN_FALL_PCT / 100.0 * GREEN_M[0] / 2.0
    lift = middle - draft.mean_ground(green)
    if lift > draft.green_rise:
        draft.green_rise = min(lift, MOST_LIFT_M)
        draft.remarks.append(
            f"The green is raised by {draft.green_rise:.1f} m, so that its water can leave at the front."
            if lift <= MOST_LIFT_M
            else f"Water stands {lift - MOST_LIFT_M:.1f} m above the front of the green before it spills:"
            " move the green, or lead the water away in a drain."
        )
