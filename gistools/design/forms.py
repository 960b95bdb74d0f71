"""Strategic forms: a hole laid on bare ground between a tee point and a green point, to be redrawn by hand.

A form is a declared recipe: parameters with a default and a range of the trade, what it places, and what it
is meant to ask, as rows of the brief. Forms are laid one after the other on a base hole: two tees, a straight
line of play, fairway, green, hole locations. Everything placed is an ordinary survey feature; what moves
earth is a row of the layer `shapes`, so that the surveyed ground stays as it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon

from gistools.base.errors import InputError
from gistools.compute.terrain.surface import Floats, Surface
from gistools.site.new import terrain_of, write_site

#: fall of a green to the front [%]: 1.65 to 2 in a plan, 1.5 at least (Brauer, green slopes, published)
GREEN_FALL_PCT = 1.8
TEE_FALL_PCT = 1.5  # one laser-levelled tee (second-hand)
TEE_STEP_M = 45.0  # forward tee: two steps of 18 to 27 m on a par 4 (Brauer, published)
FAIRWAY_M = 36.0  # width (assumption)
GREEN_M = (34.0, 24.0)  # length and width of the green (assumption)
SHORTEST_M = 180.0  # a shorter hole has no landing zones to part (assumption)
LEAST_FALL = 0.005  # of the bed of a burn [m/m] (assumption)
HIGH_BANK_M = 1.5  # a platform so far off the ground is told (assumption)
DEEP_M = 2.5  # a bed so far below the ground is told (assumption)


@dataclass(frozen=True)
class Parameter:
    """A figure of a form: default and range (all assumptions, common practice at best), unit, meaning."""

    default: float
    low: float
    high: float
    unit: str
    text: str


@dataclass
class Draft:
    """A hole on the way: its frame, its rows by layer, and what is told of the fit to the ground.

    ``along`` counts from the back tee towards the green, ``across`` to the right of the line [m].
    """

    tee: tuple[float, float]
    green: tuple[float, float]
    hole: int
    ground: Surface
    rows: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    remarks: list[str] = field(default_factory=list)

    @property
    def length(self) -> float:
        """From the back tee to the middle of the green [m]."""
        return math.dist(self.tee, self.green)

    @property
    def bearing(self) -> float:
        """Grid bearing of the line of play [deg]."""
        return math.degrees(math.atan2(self.green[0] - self.tee[0], self.green[1] - self.tee[1])) % 360.0

    def place(self, along: float, across: float) -> tuple[float, float]:
        """Return easting and northing of a place along and across the line of play."""
        a = math.radians(self.bearing)
        return (
            self.tee[0] + along * math.sin(a) + across * math.cos(a),
            self.tee[1] + along * math.cos(a) - across * math.sin(a),
        )

    def ellipse(self, along: float, across: float, length: float, width: float, turn: float = 0.0) -> Polygon:
        """Return an ellipse; its length lies along the line of play, turned clockwise by ``turn`` [deg]."""
        x, y = self.place(along, across)
        disc = affinity.scale(Point(0.0, 0.0).buffer(1.0, quad_segs=16), width / 2.0, length / 2.0)
        turned = affinity.rotate(disc, -(self.bearing + turn), origin=(0.0, 0.0))
        return affinity.translate(turned, x, y)

    def strip(self, start: float, end: float, width: float) -> Polygon:
        """Return a strip along the line of play with round ends."""
        half = width / 2.0
        line = LineString([self.place(start + half, 0.0), self.place(end - half, 0.0)])
        return line.buffer(half, quad_segs=12)

    def add(self, layer: str, geometry: Any = None, **fields: Any) -> None:
        """Add a row to a layer."""
        row = {"hole": self.hole, **fields}
        self.rows.setdefault(layer, []).append(row if geometry is None else row | {"geometry": geometry})

    def levels(self, line: LineString) -> tuple[Floats, Floats]:
        """Return distances along a line and the ground there [m], a cell apart."""
        count = max(2, math.ceil(line.length / self.ground.cell) + 1)
        along = np.linspace(0.0, line.length, count)
        xy = shapely.get_coordinates(shapely.line_interpolate_point(line, along))
        return along, np.asarray(self.ground.height(*xy.T))


def base_hole(draft: Draft, green_turn: float) -> None:
    """Lay tees, line of play, fairway, green and hole locations.

    Hole locations stand halfway from the middle to the edge of the green.
    """
    length, half = draft.length, GREEN_M[0] / 2.0
    tees = [("back", 0.0)] + ([("forward", TEE_STEP_M)] if length > SHORTEST_M + TEE_STEP_M else [])
    for name, along in tees:
        corners = [(along - 5, -4), (along + 5, -4), (along + 5, 4), (along - 5, 4)]
        outline = Polygon([draft.place(*c) for c in corners])
        draft.add("tees", outline, tee=name)
        draft.add(
            "shapes",
            outline,
            name=f"{name} tee",
            kind="platform",
            order=1,
            fall_pct=TEE_FALL_PCT,
            fall_to_deg=(draft.bearing + 180.0) % 360.0,
        )
    draft.add("play_lines", LineString([draft.tee, draft.green]), tee="")
    draft.add("fairway", draft.strip(0.32 * length, length - half - 12.0, FAIRWAY_M))
    green = draft.ellipse(length, 0.0, *GREEN_M, turn=green_turn)
    draft.add("greens", green, name="green")
    draft.add(
        "shapes",
        green,
        name="green",
        kind="platform",
        order=2,
        side_slope_pct=20.0,
        rise_m=0.3,
        fall_pct=GREEN_FALL_PCT,
        fall_to_deg=(draft.bearing + 180.0) % 360.0,
    )
    axis = math.radians(green_turn)
    for word, lengthways in (("front", -0.27), ("back", 0.27)):
        for side, sideways in (("left", -0.22), ("right", 0.22)):
            a, b = lengthways * GREEN_M[0], sideways * GREEN_M[1]
            along, across = a * math.cos(axis) - b * math.sin(axis), a * math.sin(axis) + b * math.cos(axis)
            draft.add("pins", Point(draft.place(length + along, across)), pin=f"{word} {side}")


def diagonal(draft: Draft, *, carry_m: float, angle_deg: float, width_m: float, side: float) -> None:
    """Part the fairway by a burn on the diagonal; its bed falls all the way, to the lower end."""
    half, a = FAIRWAY_M, math.radians(angle_deg)
    offsets = (-half, half)
    run = [carry_m + side * off / math.tan(a) for off in offsets]
    line = LineString([draft.place(s, off) for s, off in zip(run, offsets, strict=True)])
    along, ground = draft.levels(line)
    if ground[0] < ground[-1]:
        line = LineString(line.coords[::-1])
        along, ground = draft.levels(line)
    fall = max(LEAST_FALL, (ground[0] - ground[-1]) / line.length)
    level = float(np.min(ground - 0.8 + fall * along))
    depth = float(np.max(ground - (level - fall * along)))
    draft.add("burns", line, name="burn", width_m=width_m)
    draft.add(
        "shapes",
        line,
        name="burn channel",
        kind="channel",
        order=3,
        level_m=level,
        fall_pct=100.0 * fall,
        width_m=width_m,
        side_slope_pct=33.0,
        blend_m=1.0,
    )
    flows = "right" if Point(line.coords[-1]).distance(Point(draft.place(carry_m, half))) < half else "left"
    draft.remarks.append(f"The burn runs to the {flows} of the line and falls {100 * fall:.1f} %.")
    if depth > DEEP_M:
        draft.remarks.append(f"Its bed lies up to {depth:.1f} m below the ground: turn it or move it.")
    draft.add(
        "brief",
        measure="diagonals.axis_angle_deg",
        tee="back",
        feature="burn",
        at_least=15.0,
        at_most=75.0,
        must=True,
        why="the burn lies on the diagonal, so that the line chosen sets the carry",
    )
    draft.add(
        "brief",
        measure="diagonals.areas_count",
        tee="back",
        feature="burn",
        at_least=2.0,
        must=True,
        why="the burn parts the fairway",
    )


def screen(draft: Draft, *, short_m: float, across_m: float, rise_m: float, width_m: float) -> None:
    """Raise a mound short of the green on one side, which hides the hole locations behind it."""
    along = draft.length - GREEN_M[0] / 2.0 - short_m
    outline = draft.ellipse(along, across_m, 0.7 * width_m, width_m)
    draft.add("shapes", outline, name="mound", kind="mound", order=4, rise_m=rise_m, side_slope_pct=30.0)
    hidden, open_ = ("right", "left") if across_m > 0 else ("left", "right")
    for side, limit in ((hidden, {"at_most": 60.0}), (open_, {"at_least": 50.0})):
        words = "hides part of the flag from" if side == hidden else "leaves the flag in sight of"
        draft.add(
            "brief",
            measure="zone_views.flag_seen_mean_pct",
            pin=f"back {side}",
            zone=f"beyond {side}",
            must=True,
            why=f"the mound {words} beyond {side}",
            **limit,
        )


def central(draft: Draft, *, carry_m: float, length_m: float, width_m: float, depth_m: float) -> None:
    """Dig a bunker in the middle of the fairway."""
    outline = draft.ellipse(carry_m, 0.0, length_m, width_m)
    draft.add("bunkers", outline, name="central bunker")
    draft.add(
        "shapes",
        outline,
        name="central bunker",
        kind="hollow",
        order=5,
        rise_m=-depth_m,
        side_slope_pct=34.0,
        blend_m=0.5,
    )
    draft.add(
        "brief",
        measure="carries.carry_m",
        tee="back",
        feature="central bunker",
        at_least=carry_m - 10.0,
        at_most=carry_m + length_m,
        must=True,
        why="the bunker is carried by a full stroke",
    )


def tiers(draft: Draft, *, rise_m: float) -> None:
    """Raise the back half of the green; the face is no steeper than what is published for tiers."""
    green = draft.rows["greens"][-1]["geometry"]
    behind = Polygon([draft.place(draft.length + a, b) for a, b in ((0, -40), (0, 40), (60, 40), (60, -40))])
    draft.add(
        "shapes",
        green.intersection(behind),
        name="upper tier",
        kind="tier",
        order=6,
        rise_m=rise_m,
        side_slope_pct=15.0,
        blend_m=1.0,
    )


def false_front(draft: Draft, *, depth_m: float, fall_pct: float) -> None:
    """Let the front of the green fall to the fairway, so that a short ball runs back."""
    green = draft.rows["greens"][-1]["geometry"]
    edge = draft.length - GREEN_M[0] / 2.0
    front = Polygon(
        [
            draft.place(a, b)
            for a, b in ((edge - 9, -40), (edge - 9, 40), (edge + depth_m, 40), (edge + depth_m, -40))
        ]
    ).intersection(green.buffer(4.0))
    draft.add(
        "shapes",
        front,
        name="false front",
        kind="grade",
        order=7,
        fall_pct=fall_pct,
        fall_to_deg=(draft.bearing + 180.0) % 360.0,
        rise_m=-fall_pct / 100.0 * depth_m / 2.0,
    )


@dataclass(frozen=True)
class Form:
    """A strategic form: what it is, its parameters, and the function that lays it (None: the green turns)."""

    text: str
    parameters: Mapping[str, Parameter]
    lay: Callable[..., None] | None


FORMS: dict[str, Form] = {
    "diagonal": Form(
        "a burn on the diagonal parts the fairway",
        {
            "carry_m": Parameter(195.0, 120.0, 260.0, "m", "from the back tee to its middle on the line"),
            "angle_deg": Parameter(40.0, 20.0, 70.0, "deg", "between burn and line of play"),
            "width_m": Parameter(3.0, 1.0, 12.0, "m", "width of the water"),
            "side": Parameter(1.0, -1.0, 1.0, "", "1: the longer carry on the right, -1: on the left"),
        },
        diagonal,
    ),
    "screen": Form(
        "a mound short of the green hides the hole locations behind it",
        {
            "short_m": Parameter(16.0, 5.0, 45.0, "m", "from its middle to the front of the green"),
            "across_m": Parameter(9.0, -25.0, 25.0, "m", "to the right of the line; negative to the left"),
            "rise_m": Parameter(2.5, 0.5, 6.0, "m", "rise of its top"),
            "width_m": Parameter(30.0, 10.0, 60.0, "m", "across the line, toe to toe"),
        },
        screen,
    ),
    "central": Form(
        "a bunker in the middle of the fairway",
        {
            "carry_m": Parameter(215.0, 120.0, 270.0, "m", "from the back tee to its middle"),
            "length_m": Parameter(12.0, 5.0, 30.0, "m", "along the line"),
            "width_m": Parameter(8.0, 4.0, 20.0, "m", "across the line"),
            "depth_m": Parameter(1.2, 0.3, 2.5, "m", "of its floor"),
        },
        central,
    ),
    "angled": Form(
        "the long axis of the green lies across the line",
        {"angle_deg": Parameter(40.0, -80.0, 80.0, "deg", "clockwise from the line of play")},
        None,
    ),
    "tiers": Form(
        "the back half of the green is a step higher",
        {"rise_m": Parameter(0.6, 0.3, 1.2, "m", "rise of the upper tier")},
        tiers,
    ),
    "false-front": Form(
        "the front of the green falls to the fairway",
        {
            "depth_m": Parameter(6.0, 3.0, 12.0, "m", "of the front that falls"),
            "fall_pct": Parameter(7.0, 4.0, 12.0, "pct", "its fall towards the tee"),
        },
        false_front,
    ),
}


@dataclass(frozen=True)
class LaidHole:
    """A hole that was laid: the site file, how many features of each layer, and remarks on the fit."""

    path: Path
    counts: Mapping[str, int]
    remarks: tuple[str, ...]

    def __repr__(self) -> str:
        layers = ", ".join(f"{name} {n}" for name, n in self.counts.items())
        return "\n".join([f"{self.path}: {layers}", *self.remarks])


def lay_hole(
    path: str | Path,
    terrain: str | Path,
    tee: tuple[float, float],
    green: tuple[float, float],
    forms: Sequence[str] = ("diagonal", "screen"),
    *,
    crs: Any = None,
    hole: int = 1,
    parameters: Mapping[str, float] | None = None,
    replace: bool = False,
) -> LaidHole:
    """Lay a hole with strategic forms on bare ground and write it as a new site.

    Parameters
    ----------
    path
        The GeoPackage to make.
    terrain
        A GeoTIFF of the ground, in metres; it is copied into the site.
    tee, green
        Easting and northing of the back tee and of the middle of the green, in the CRS of the terrain.
    forms
        Names of :data:`FORMS`.
    crs
        CRS of the site; that of the terrain by default.
    hole
        Number of the hole.
    parameters
        Figures of forms that differ from the default: ``{"diagonal.angle_deg": 50}``.
    replace
        Replace a file that is already there.

    Returns
    -------
    LaidHole
        The file, what was placed, and what could not be fitted.

    Raises
    ------
    InputError
        If a form or figure is unknown or out of its range, the hole is too short for landing zones, or
        part of it leaves the terrain.
    WriteError
        If the file cannot be written.
    """
    figures = _figures(forms, parameters or {})
    if not np.isfinite([*tee, *green]).all():
        raise InputError("tee and green are eastings and northings; one of them is no number")
    info = terrain_of(Path(terrain), crs)
    if info.crs.axis_info[0].unit_conversion_factor != 1.0:
        raise InputError("a hole is laid in a CRS in metres; reproject the terrain first")
    ground = Surface(np.asarray(info.heights, float), info.x_west, info.y_north, info.cell)
    draft = Draft((float(tee[0]), float(tee[1])), (float(green[0]), float(green[1])), hole, ground)
    if draft.length < SHORTEST_M:
        raise InputError(
            f"tee and green are {draft.length:.0f} m apart; a hole with landing zones has"
            f" {SHORTEST_M:.0f} m at least"
        )
    base_hole(draft, figures["angled"]["angle_deg"] if "angled" in figures else 0.0)
    for name, values in figures.items():
        lay = FORMS[name].lay
        if lay is not None:
            lay(draft, **values)
    _stay_on_ground(draft)
    rise = float(ground.height(*draft.green)) - float(ground.height(*draft.tee))
    _tell_platforms(draft)
    draft.remarks.insert(
        0, f"{draft.length:.0f} m from the back tee; the ground rises {rise:+.1f} m to the green."
    )
    draft.remarks.append(
        "No boundary, paths or houses are drawn: set-backs cannot be judged before they are."
    )
    done = write_site(path, info.crs, draft.rows, terrain=info, replace=replace)
    return LaidHole(done, {name: len(rows) for name, rows in draft.rows.items()}, tuple(draft.remarks))


def _tell_platforms(draft: Draft) -> None:
    """Tell of tees and greens that stand far off the ground around them."""
    for layer in ("tees", "greens"):
        for row in draft.rows[layer]:
            _, levels = draft.levels(LineString(row["geometry"].exterior.coords))
            bank = float(np.max(np.abs(levels - levels.mean())))
            if bank > HIGH_BANK_M:
                name = f"The {row['tee']} tee" if layer == "tees" else "The green"
                draft.remarks.append(
                    f"{name} is cut into or raised above sloping ground by up to {bank:.1f} m: move it or"
                    " turn it along the slope."
                )


def _figures(forms: Sequence[str], given: Mapping[str, float]) -> dict[str, dict[str, float]]:
    """Return the figures of each form, checked against their ranges."""
    if not forms:
        raise InputError(f"name a form; there are {', '.join(FORMS)}")
    for name in forms:
        if name not in FORMS:
            raise InputError(f"there is no form {name!r}; there are {', '.join(FORMS)}")
    out = {n: {k: p.default for k, p in FORMS[n].parameters.items()} for n in dict.fromkeys(forms)}
    for key, value in given.items():
        form, _, name = key.partition(".")
        if form not in out or name not in out[form]:
            known = ", ".join(f"{f}.{k}" for f, values in out.items() for k in values)
            raise InputError(f"there is no figure {key!r} of these forms; there are {known}")
        p = FORMS[form].parameters[name]
        if not p.low <= float(value) <= p.high:
            raise InputError(
                f"{key} is {value:g}; it should be from {p.low:g} to {p.high:g} {p.unit}".strip()
            )
        out[form][name] = float(value)
    if out.get("diagonal", {}).get("side") == 0.0:
        raise InputError("diagonal.side is 0; it should be 1 (longer carry on the right) or -1 (left)")
    return out


def _stay_on_ground(draft: Draft) -> None:
    """Refuse a hole of which a part leaves the terrain, or stands where heights are missing."""
    for layer, rows in draft.rows.items():
        for row in rows:
            if "geometry" not in row:
                continue
            points = shapely.get_coordinates(row["geometry"])
            if not np.isfinite(np.asarray(draft.ground.height(*points.T))).all():
                name = row.get("name") or row.get("tee") or row.get("pin") or ""
                raise InputError(
                    f"layer {layer}{', ' + name if name else ''}: part of it lies where the terrain has no"
                    " heights; move tee or green, or bring a larger terrain"
                )
