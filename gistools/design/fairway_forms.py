"""Strategic forms on the way to the green: what bends the line, parts the fairway or stands in it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gistools.design.form_parts import FAIRWAY_M, TEE_STEP_M, Form, Parameter

if TYPE_CHECKING:
    from shapely.geometry import LineString

    from gistools.design.draft import Draft

LEAST_FALL = 0.005  # of the bed of a burn [m/m] (assumption)
DEEPER_M = 0.3  # a bed that falls more may lie deeper by so much in the mean (assumption)
DEEP_M = 2.5  # a bed so far below the ground is told (assumption)
BED_M = 1.0  # of a pond below the lowest ground round it (assumption)
BANK_M = 2.0  # from the water of a pond to the top of its bank (assumption)
BREADTH_M = 15.0  # least breadth of the water beside the fairway (assumption)
FACE_PCT = 17.5  # steepest face between two levels of mown ground, as of tiers (Brauer, published)
SHOULDER_M = 22.0  # the upper level goes on so far beyond the lower one (assumption)


@dataclass(frozen=True)
class Bed:
    """A burn on the ground: its line downstream, level of the bed at its head, fall and depths [m]."""

    line: LineString
    level: float
    fall: float
    mean_depth: float
    depth: float


def _bed(draft: Draft, carry_m: float, angle_deg: float, side: float) -> Bed:
    """Lay the bed of a burn on the diagonal: it falls all the way, 0.8 m below the ground at least."""
    from shapely.geometry import LineString

    half, a = FAIRWAY_M, math.radians(angle_deg)
    offsets = (-half, half)
    run = [carry_m + side * off / math.tan(a) for off in offsets]
    line = LineString([draft.place(s, off, carry_m) for s, off in zip(run, offsets, strict=True)])
    along, ground = draft.levels(line)
    if ground[0] < ground[-1]:
        line = LineString(line.coords[::-1])
        along, ground = draft.levels(line)
    fall = max(LEAST_FALL, float(ground[0] - ground[-1]) / line.length)
    level = float((ground - 0.8 + fall * along).min())
    depth = ground - (level - fall * along)
    return Bed(line, level, fall, float(depth.mean()), float(depth.max()))


def diagonal(draft: Draft, *, carry_m: float, angle_deg: float, width_m: float, side: float) -> None:
    """Part the fairway by a burn on the diagonal; its bed falls all the way, to the lower end.

    Of the two diagonals that one is taken whose bed falls more with the ground, unless it lies deeper by
    more than DEEPER_M.
    """
    from shapely.geometry import Point

    half = FAIRWAY_M
    beds = [_bed(draft, carry_m, angle_deg, way) for way in ((side,) if side else (1.0, -1.0))]
    shallow = min(b.mean_depth for b in beds) + DEEPER_M
    bed, *others = sorted(beds, key=lambda b: (b.mean_depth > shallow, -round(b.fall, 3)))
    line, fall, depth = bed.line, bed.fall, bed.depth
    draft.add("burns", line, name="burn", width_m=width_m)
    draft.add(
        "shapes",
        line,
        name="burn channel",
        kind="channel",
        order=3,
        level_m=bed.level,
        fall_pct=100.0 * fall,
        width_m=width_m,
        side_slope_pct=33.0,
        blend_m=1.0,
    )
    right = Point(draft.place(carry_m, half, carry_m))
    flows = (
        "right" if Point(line.coords[-1]).distance(right) < Point(line.coords[0]).distance(right) else "left"
    )
    draft.remarks.append(f"The burn runs to the {flows} of the line and falls {100 * fall:.1f} %.")
    for other in others:
        draft.remarks.append(
            f"It is laid with the ground, {bed.mean_depth:.1f} m below it in the mean; on the other diagonal"
            f" it would fall {100 * other.fall:.1f} % and lie {other.mean_depth:.1f} m below it."
        )
    turn = math.inf if draft.corner is None else math.dist(draft.tee, draft.corner)
    if abs(turn - carry_m) < half / math.tan(math.radians(angle_deg)):
        draft.remarks.append(
            "The line of play turns where the burn crosses it: see that it lies on the diagonal on both legs."
        )
    if depth > DEEP_M:
        draft.remarks.append(f"Its bed lies up to {depth:.1f} m below the ground: turn it or move it.")
    draft.ask(
        "diagonals.axis_angle_deg",
        "the burn lies on the diagonal, so that the line chosen sets the carry",
        tee="back",
        feature="burn",
        at_least=15.0,
        at_most=75.0,
    )
    draft.ask("diagonals.areas_count", "the burn parts the fairway", tee="back", feature="burn", at_least=2.0)


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
    draft.ask(
        "carries.carry_m",
        "the bunker is carried by a full stroke",
        tee="back",
        feature="central bunker",
        at_least=carry_m - 10.0,
        at_most=carry_m + length_m,
    )


def bent(draft: Draft, *, turn_m: float, angle_deg: float, **_: float) -> None:
    """Bend the line of play."""
    from gistools.design.draft import bend

    bend(draft, turn_m=turn_m, angle_deg=angle_deg)


def dogleg(draft: Draft, *, angle_deg: float, **_: float) -> None:
    """Ask for the bend: the line of play was bent before the fairway was laid along it."""
    _ask_bend(draft, angle_deg)


def _ask_bend(draft: Draft, angle_deg: float) -> None:
    way = "right" if angle_deg > 0 else "left"
    draft.ask("lines_of_play.turns_count", f"the hole bends to the {way}", at_least=1.0, at_most=1.0)


def cape(draft: Draft, *, turn_m: float, angle_deg: float, beyond_m: float, clear_m: float) -> None:
    """Fill the inside of the bend with water: the more of it is carried, the shorter what is left."""
    from shapely.geometry import LineString

    side = math.copysign(1.0, angle_deg)
    edge = FAIRWAY_M / 2.0 + clear_m
    inner = turn_m - edge * math.tan(math.radians(abs(angle_deg)) / 2.0)  # where the edges of both legs meet
    start = max(TEE_STEP_M + 25.0, inner - 110.0)
    first, corner = (draft.place(at, side * edge, 0.0) for at in (start, inner))
    far = draft.place(turn_m + beyond_m, side * edge)
    inside = [draft.place(at, side * (edge + BREADTH_M)) for at in (start, turn_m + beyond_m)]
    outline = LineString([first, corner, far, *inside]).convex_hull.buffer(-4.0).buffer(4.0, quad_segs=6)
    lip = outline.buffer(BANK_M, quad_segs=6)
    _, rim = draft.levels(LineString(lip.exterior.coords))
    bed = float(rim.min()) - BED_M
    draft.add("water", outline, name="pond")
    draft.add(
        "shapes", lip, name="pond", kind="hollow", order=3, level_m=bed, side_slope_pct=33.0, blend_m=1.0
    )
    deep = float(rim.max()) - bed
    if deep > DEEP_M:
        draft.remarks.append(
            f"The bed of the pond lies up to {deep:.1f} m below the ground round it: the ground there is"
            " not level enough for it; turn the hole over (angle with the other sign) or move it."
        )
    _ask_bend(draft, angle_deg)
    draft.ask(
        "carries.carry_m",
        "the water is carried by who dares: the longer the carry, the shorter the next shot",
        tee="back",
        feature="pond",
        at_least=start,
        at_most=math.dist(draft.tee, far) + 1.0,
    )


def split(
    draft: Draft, *, from_m: float, length_m: float, width_m: float, rise_m: float, side: float
) -> None:
    """Raise one half of the fairway, and the ground beyond the other, which therefore is blind.

    The fairway is widened there. The face between the levels is no steeper than what is published for tiers.
    """
    out, end = side * (width_m / 2.0 + 4.0), from_m + length_m
    last = end + SHOULDER_M
    draft.refuse_turn("split", from_m, last)
    ring = [(from_m, 0), (from_m, out), (last, out), (last, -out), (end, -out), (end, 0)]
    upper = draft.area(*ring, leg_at=from_m)
    draft.add(
        "shapes", upper, name="upper fairway", kind="tier", order=3, rise_m=rise_m, side_slope_pct=FACE_PCT
    )
    row = draft.rows["fairway"][-1]
    fairway = row["geometry"].union(draft.strip(from_m, last + width_m / 2.0, width_m))
    row["geometry"] = fairway
    face = rise_m / FACE_PCT * 50.0 + 2.0  # half of it lies to either side of the edge
    for zone, way in (("upper", side), ("lower", -side)):
        band = [
            (from_m + face, way * face),
            (from_m + face, way * 60),
            (end - face, way * 60),
            (end - face, way * face),
        ]
        draft.add("zones", fairway.intersection(draft.area(*band, leg_at=from_m)), zone=zone)
    words = "right" if side > 0 else "left"
    draft.ask(
        "zone_views.flag_seen_mean_pct",
        f"the upper fairway on the {words} looks at the flag",
        zone="upper",
        at_least=50.0,
    )
    draft.ask(
        "zone_views.flag_seen_mean_pct", "the lower fairway sees little of it", zone="lower", at_most=40.0
    )


def island(draft: Draft, *, carry_m: float, length_m: float, width_m: float, sand_m: float) -> None:
    """Lay sand round a piece of the fairway: short of it, beyond it and on both sides."""
    half, wide, round_m = length_m / 2.0, width_m / 2.0, 7.0
    draft.refuse_turn("island", carry_m - half - sand_m, carry_m + half + sand_m)
    outer = max(wide + sand_m, FAIRWAY_M / 2.0 + 2.0)

    def block(ahead: float, aside: float) -> list[tuple[float, float]]:
        return [(carry_m + a * ahead, b * aside) for a, b in ((-1, -1), (-1, 1), (1, 1), (1, -1))]

    inside = draft.area(*block(half, wide), leg_at=carry_m).buffer(-round_m).buffer(round_m, quad_segs=8)
    whole = draft.area(*block(half + sand_m, outer), leg_at=carry_m)
    ring = whole.buffer(-round_m).buffer(round_m, quad_segs=8).difference(inside)
    parts = {
        "front sand": [(-200, -99), (-200, 99), (round_m - half, 99), (round_m - half, -99)],
        "back sand": [(200, -99), (200, 99), (half - round_m, 99), (half - round_m, -99)],
        "left sand": [(round_m - half, -99), (half - round_m, -99), (half - round_m, 0), (round_m - half, 0)],
        "right sand": [(round_m - half, 99), (half - round_m, 99), (half - round_m, 0), (round_m - half, 0)],
    }
    for name, corners in parts.items():
        area = draft.area(*[(carry_m + a, b) for a, b in corners], leg_at=carry_m)
        sand = ring.intersection(area)
        draft.add("bunkers", sand, name=name)
        draft.add(
            "shapes", sand, name=name, kind="hollow", order=5, rise_m=-0.7, side_slope_pct=34.0, blend_m=0.5
        )
    draft.ask(
        "carries.carry_m",
        "the sand short of the island is carried from the back tee",
        tee="back",
        feature="front sand",
        at_least=carry_m - half - 2.0,
        at_most=carry_m - half + 2.0 * round_m,
    )
    draft.ask(
        "zones.zone_length_m",
        "the island holds a shot",
        zone="between",
        at_least=length_m - 2.0 * round_m,
    )


SIDE = "1: the longer carry on the right, -1: on the left, 0: as the ground falls"
UPPER = "1: the upper level on the right, -1: on the left"
TURN = Parameter(195.0, 140.0, 260.0, "m", "from the back tee to the turning point")

FAIRWAY_FORMS: dict[str, Form] = {
    "diagonal": Form(
        "a burn on the diagonal parts the fairway",
        {
            "carry_m": Parameter(195.0, 120.0, 260.0, "m", "from the back tee to its middle on the line"),
            "angle_deg": Parameter(40.0, 20.0, 70.0, "deg", "between burn and line of play"),
            "width_m": Parameter(3.0, 1.0, 12.0, "m", "width of the water"),
            "side": Parameter(0.0, -1.0, 1.0, "", SIDE, choices=(-1.0, 0.0, 1.0)),
        },
        diagonal,
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
    "dogleg": Form(
        "the line of play bends, and the fairway with it",
        {
            "turn_m": TURN,
            "angle_deg": Parameter(30.0, -70.0, 70.0, "deg", "of the bend; negative to the left", 10.0),
        },
        dogleg,
        bent,
        "line of play",
    ),
    "cape": Form(
        "the line of play bends round water: the more is carried, the shorter what is left",
        {
            "turn_m": TURN,
            "angle_deg": Parameter(40.0, -70.0, 70.0, "deg", "of the bend; negative to the left", 20.0),
            "beyond_m": Parameter(55.0, 20.0, 120.0, "m", "the water goes on so far beyond the turn"),
            "clear_m": Parameter(2.5, 2.0, 15.0, "m", "from the fairway to the water"),
        },
        cape,
        bent,
        "line of play",
    ),
    "split": Form(
        "the fairway is split by level: the upper half looks at the flag, the lower is blind",
        {
            "from_m": Parameter(150.0, 100.0, 240.0, "m", "from the back tee to where it begins"),
            "length_m": Parameter(100.0, 60.0, 160.0, "m", "of the two levels"),
            "width_m": Parameter(60.0, 52.0, 80.0, "m", "of the fairway there"),
            "rise_m": Parameter(2.2, 1.0, 4.0, "m", "of the upper level above the ground there"),
            "side": Parameter(1.0, -1.0, 1.0, "", UPPER, choices=(-1.0, 1.0)),
        },
        split,
        None,
        "fairway",
    ),
    "island": Form(
        "an island of fairway in sand",
        {
            "carry_m": Parameter(215.0, 130.0, 270.0, "m", "from the back tee to its middle"),
            "length_m": Parameter(50.0, 30.0, 90.0, "m", "along the line"),
            "width_m": Parameter(28.0, 20.0, 45.0, "m", "across the line"),
            "sand_m": Parameter(9.0, 5.0, 25.0, "m", "width of the sand short of it and beyond"),
        },
        island,
        None,
        "fairway",
    ),
}
