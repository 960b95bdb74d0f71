"""The design of Merrowby Links: where everything is, how high and how big. Invented from end to end.

Local metres: x east and y north of :data:`ORIGIN`, heights above the datum of the site. The place is open
sea in British National Grid, so nothing here can be taken for a real course. Along a hole, ``s`` is metres
from the back tee and ``t`` metres to the right of the line.
"""

from __future__ import annotations

from dataclasses import dataclass

from sample_course.shapes import Blob, Curve, Floats, Frame, ribbon

EPSG = 27700
#: easting and northing of local (0, 0) [m]
ORIGIN = (420_000.0, 660_000.0)
#: west, south, east, north of the terrain, local [m]
EXTENT = (0.0, -60.0, 480.0, 520.0)
CELL = 0.5


@dataclass(frozen=True)
class Tee:
    """A flat teeing area: rectangle along its bearing, level of its middle."""

    hole: int
    tee: str
    frame: Frame
    level: float
    length: float = 9.0
    width: float = 11.0
    blend: float = 9.0


@dataclass(frozen=True)
class Green:
    """A green: outline along its long axis, and how its surface is shaped (see ``ground.green``).

    ``level`` is that of the middle of the lower shelf's plane at u = 0; ``tilt_pct`` rises to the back;
    ``left_pct`` and ``right_pct`` rise outward from the axis on the lower shelf, ``top_pct`` rises to the
    right on the upper one; the step of ``step`` metres starts at ``step_from`` and takes ``step_over``; the
    false front of ``front`` metres falls away before ``front_from``.
    """

    hole: int
    name: str
    blob: Blob
    level: float
    tilt_pct: float
    left_pct: float
    right_pct: float
    top_pct: float
    step: float
    step_from: float
    step_over: float
    step_skew: float
    front: float
    front_from: float
    front_over: float
    pins: tuple[tuple[str, float, float], ...]
    blend: float = 9.0


@dataclass(frozen=True)
class Bunker:
    """A pot with a flat floor ``depth`` below the ground at its middle, and a lip raised by ``lip``."""

    hole: int
    name: str
    blob: Blob
    depth: float
    lip: float = 0.15


@dataclass(frozen=True)
class Mound:
    """A mound standing ``rise`` above the ground round its toe."""

    hole: int
    name: str
    blob: Blob
    rise: float


def _spot(line: Frame | Curve, s: float, t: float, bearing_deg: float) -> Frame:
    x, y = line.at(s, t)
    return Frame(float(x), float(y), bearing_deg)


ONE = Frame(110.0, 80.0, 10.0)
TWO = Frame(196.0, 466.0, 114.0)
THREE = Curve(
    (
        (392.0, 428.0),
        (384.0, 365.0),
        (374.0, 300.0),
        (364.0, 240.0),
        (348.0, 188.0),
        (319.0, 144.0),
        (278.0, 104.0),
        (232.0, 62.0),
        (185.0, 15.0),
    )
)
BURN = Curve(
    (
        (490.0, 303.0),
        (440.0, 309.0),
        (395.0, 297.0),
        (350.0, 291.0),
        (305.0, 299.0),
        (262.0, 289.0),
        (190.4, 247.8),
        (171.5, 239.0),
        (151.6, 229.7),
        (130.6, 219.9),
        (110.7, 210.7),
        (88.6, 200.3),
        (68.7, 191.1),
        (39.5, 187.1),
        (10.9, 186.0),
        (-17.7, 185.0),
    )
)
BURN_NAME = "Teasel Burn"
BURN_WIDTH = 2.2
#: metres along the burn from its upper end, level of its bed
BURN_BED = ((0.0, 6.9), (140.0, 5.9), (330.0, 4.45), (420.0, 4.0), (560.0, 2.6))
BURN_BANK = 0.85

Levels = tuple[tuple[float, float, float], ...]

#: station, level on the line, camber (percent, the right side higher), along each hole
LEVELS_ONE = (
    (-40.0, 10.7, 0.0),
    (-7.0, 10.4, 0.0),
    (12.0, 9.3, 0.0),
    (32.0, 8.35, 0.0),
    (75.0, 6.7, 0.0),
    (125.0, 5.9, -1.0),
    (180.0, 5.35, 0.0),
    (205.0, 5.35, 1.0),
    (250.0, 5.9, 2.5),
    (300.0, 6.6, 1.5),
    (330.0, 7.1, 0.0),
    (350.0, 7.4, 0.0),
    (385.0, 7.6, 0.0),
)
LEVELS_TWO = (
    (-20.0, 12.6, 0.0),
    (0.0, 12.2, 0.0),
    (35.0, 11.0, 0.0),
    (70.0, 8.7, 0.0),
    (105.0, 7.5, 2.0),
    (135.0, 7.8, 2.0),
    (150.0, 8.1, 1.0),
    (180.0, 8.6, 0.0),
)
LEVELS_THREE = (
    (-20.0, 12.0, 0.0),
    (0.0, 11.8, 0.0),
    (35.0, 10.4, 0.0),
    (70.0, 9.0, 0.0),
    (110.0, 7.4, 0.0),
    (140.0, 6.8, 0.0),
    (200.0, 7.6, 3.0),
    (250.0, 8.2, 3.0),
    (300.0, 7.9, 0.0),
    (350.0, 7.5, -1.5),
    (410.0, 7.9, -1.0),
    (455.0, 8.4, 0.0),
    (480.0, 8.8, 0.0),
    (505.0, 9.2, 0.0),
)

TEES = (
    Tee(1, "back", _spot(ONE, -7.0, 0.0, 10.0), 10.4),
    Tee(1, "middle", _spot(ONE, 19.9, 1.5, 10.0), 9.2),
    Tee(1, "forward", _spot(ONE, 40.0, 0.0, 10.0), 8.35, 12.0, 10.0),
    Tee(2, "back", _spot(TWO, 0.0, 0.0, 114.0), 12.0, blend=16.0),
    Tee(2, "forward", _spot(TWO, 34.0, -2.0, 114.0), 11.0, 10.0, 10.0),
    Tee(3, "back", _spot(THREE, 0.0, 0.0, 186.0), 11.8),
    Tee(3, "middle", _spot(THREE, 35.0, -2.0, 186.0), 10.4),
    Tee(3, "forward", _spot(THREE, 70.0, 1.0, 186.0), 9.0, 11.0, 10.0),
)

#: turf that is not normal, by hole
FIRMNESS = {1: "firm"}

GREENS = (
    Green(
        1,
        "Haar",
        Blob(_spot(ONE, 350.0, 0.0, 10.0), 26.0, 33.0, ((2, 0.03, 90.0), (3, 0.04, 200.0))),
        level=8.3,
        tilt_pct=-1.6,
        left_pct=0.6,
        right_pct=-0.8,
        top_pct=-0.9,
        step=0.4,
        step_from=-2.2,
        step_over=5.0,
        step_skew=-0.05,
        front=0.7,
        front_from=-8.0,
        front_over=6.4,
        blend=8.0,
        pins=(
            ("front left", -5.0, -9.3),
            ("front right", -4.8, 10.5),
            ("back left", 6.3, -8.0),
            ("back right", 6.3, 9.2),
        ),
    ),
    Green(
        2,
        "Sandwort",
        Blob(_spot(TWO, 150.0, 0.0, 114.0 + 12.0), 25.0, 23.0, ((2, 0.03, 40.0), (3, 0.05, 80.0))),
        level=8.55,
        tilt_pct=1.9,
        left_pct=0.7,
        right_pct=0.6,
        top_pct=0.9,
        step=0.3,
        step_from=1.0,
        step_over=5.0,
        step_skew=-0.35,
        front=0.35,
        front_from=-8.5,
        front_over=5.0,
        pins=(("front", -4.0, -1.5), ("back left", 7.2, -3.8), ("right", 0.5, 7.0)),
    ),
    Green(
        3,
        "Seablite",
        Blob(_spot(THREE, THREE.length, 0.0, 226.0 + 15.0), 31.0, 23.0, ((2, 0.03, 160.0), (3, 0.05, 300.0))),
        level=9.25,
        tilt_pct=1.8,
        left_pct=0.7,
        right_pct=0.9,
        top_pct=0.8,
        step=0.45,
        step_from=1.6,
        step_over=5.5,
        step_skew=0.25,
        front=0.45,
        front_from=-10.0,
        front_over=5.5,
        pins=(("front", -5.0, 1.0), ("back left", 10.2, -2.4), ("back right", 9.6, 4.6)),
    ),
)

#: line, stations with left and right edge, and the arc of the green (degrees, front left to front right)
#: that the mown ground ends against; without one it ends round
FAIRWAYS: dict[
    int, tuple[Frame | Curve, tuple[tuple[float, float, float], ...], tuple[float, float] | None]
] = {
    1: (
        ONE,
        (
            (97.0, -16.0, 16.0),
            (118.0, -32.0, 34.0),
            (140.0, -48.0, 48.0),
            (170.0, -58.0, 58.0),
            (240.0, -58.0, 60.0),
            (258.0, -50.0, 52.0),
            (282.0, -34.0, 36.0),
            (300.0, -14.0, 14.0),
            (316.0, -6.0, 6.0),
            (332.0, -8.0, 8.0),
        ),
        (205.0, 155.0),
    ),
    2: (TWO, ((110.0, -7.0, 3.5), (120.0, -9.5, 4.0), (128.0, -9.5, 2.5)), (214.0, 168.0)),
    3: (
        THREE,
        (
            (150.0, -16.0, 16.0),
            (180.0, -23.0, 22.0),
            (235.0, -25.0, 21.0),
            (275.0, -20.0, 19.0),
            (315.0, -28.0, 27.0),
            (350.0, -32.0, 31.0),
            (383.0, -28.0, 25.0),
            (404.0, -23.0, 13.0),
            (425.0, -18.0, 9.5),
            (448.0, -12.0, 12.0),
            (457.0, -10.0, 11.5),
        ),
        (208.0, 140.0),
    ),
}


def fairway_outlines() -> dict[int, Floats]:
    """Outline of each hole's fairway, ``(n, 2)``, clockwise."""
    greens = {g.hole: g.blob for g in GREENS}
    return {
        hole: ribbon(line, rows, None if arc is None else greens[hole].arc(*arc, 15, beyond=1.4))
        for hole, (line, rows, arc) in FAIRWAYS.items()
    }


def _pot(line: Frame | Curve, s: float, t: float, turn: float, length: float, width: float) -> Blob:
    return Blob(_spot(line, s, t, turn), length, width, ((2, 0.05, turn), (3, 0.06, 2 * turn)))


BUNKERS = (
    Bunker(1, "Spurge", _pot(ONE, 226.0, -54.0, 20.0, 15.0, 10.0), 1.2),
    Bunker(1, "Bindweed", _pot(ONE, 210.0, 0.0, 10.0, 55.0, 22.0), 1.1),
    Bunker(1, "Burdock", _pot(ONE, 334.6, 16.2, 57.0, 25.0, 11.5), 2.6),
    Bunker(1, "Wrack", _pot(ONE, 367.5, -13.0, 105.0, 18.0, 8.0), 1.6),
    Bunker(1, "Tang", _pot(ONE, 367.5, 13.0, 95.0, 18.0, 8.0), 1.9),
    Bunker(2, "Dodder", _pot(TWO, 134.5, 8.0, 150.0, 9.5, 7.0), 1.9, 0.25),
    Bunker(3, "Gust", _pot(THREE, 338.0, 1.0, 30.0, 8.0, 6.5), 1.2),
    Bunker(3, "Squall", _pot(THREE, 349.0, -5.5, 110.0, 7.5, 6.0), 1.1),
    Bunker(3, "Sleet", _pot(THREE, 356.0, 4.5, 160.0, 8.5, 6.5), 1.3),
    Bunker(3, "Mizzle", _pot(THREE, 459.0, -16.0, 40.0, 8.5, 6.5), 1.4),
    Bunker(3, "Spindrift", _pot(THREE, 236.0, -27.0, 10.0, 8.0, 6.5), 1.1),
)

MOUNDS = (
    Mound(
        1,
        "Haar Knowe",
        Blob(_spot(ONE, 329.0, -23.5, 17.0), 48.0, 44.0, ((2, 0.04, 30.0), (3, 0.05, 150.0))),
        9.6,
    ),
    Mound(2, "Lyme Knowe", Blob(_spot(TWO, 147.0, -28.0, 100.0), 32.0, 19.0, ((3, 0.06, 20.0),)), 2.4),
    Mound(3, "Saltbush Knowe", Blob(_spot(THREE, 416.0, 17.5, 215.0), 28.0, 21.0, ((3, 0.05, 70.0),)), 2.6),
)

#: stations and offsets of hole 3's two bends
BENDS_THREE = ((247.0, 0.0), (408.0, 2.0))
