"""Strategic forms at the green: how it lies, what is raised round it and what hides it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gistools.design.form_parts import GREEN_M, GREEN_RISE_M, MOST_LIFT_M, Form, Parameter

if TYPE_CHECKING:
    from gistools.design.draft import Draft

STANDING_M = 0.5  # a natural rise from which on a mound is put on it (assumption)
LEAST_RISE_M = 0.3  # a mound on a natural rise is raised by so much at least (assumption)
STEP_M = 2.0  # places for a mound are tried so far apart (assumption)
BEFORE_M = (10.0, 30.0)  # ground so far before a plateau is what it is raised above (assumption)


def screen(draft: Draft, *, short_m: float, across_m: float, rise_m: float, width_m: float) -> None:
    """Raise a mound short of the green on one side, which hides the hole locations behind it.

    Where the green is raised, the mound is made higher and wider with it. Where a natural rise stands within
    the range of its place, the mound is put on it and raised by what is missing alone.
    """
    lift = draft.green_rise - GREEN_RISE_M
    if lift > 0.05:
        draft.remarks.append(f"The mound is raised by {lift:.1f} m with the green.")
    wide, top = width_m * (rise_m + lift) / rise_m, rise_m + lift
    short, across, natural = _natural_mound(draft, short_m, across_m, wide)
    if natural >= STANDING_M:
        missing = max(top - natural, LEAST_RISE_M)
        away, aside = short - short_m, across - across_m
        draft.remarks.append(
            f"A natural rise of {natural:.1f} m stands {abs(away):.0f} m"
            f" {'farther from' if away > 0 else 'nearer to'} the green and {abs(aside):.0f} m to the"
            f" {'right' if aside > 0 else 'left'}: the mound is put on it and raised by {missing:.1f} m"
            f" instead of {top:.1f} m, some {100 * (1 - missing / top):.0f} % less fill."
        )
        top = missing
    else:
        short, across = short_m, across_m
    outline = draft.ellipse(draft.length - GREEN_M[0] / 2.0 - short, across, 0.7 * wide, wide)
    draft.add("shapes", outline, name="mound", kind="mound", order=4, rise_m=top, side_slope_pct=30.0)
    hidden, open_ = ("right", "left") if across_m > 0 else ("left", "right")
    for side, limit in ((hidden, {"at_most": 60.0}), (open_, {"at_least": 50.0})):
        words = "hides part of the flag from" if side == hidden else "leaves the flag in sight of"
        draft.ask(
            "zone_views.flag_seen_mean_pct",
            f"the mound {words} beyond {side}",
            pin=f"back {side}",
            zone=f"beyond {side}",
            **limit,
        )


def _natural_mound(draft: Draft, short_m: float, across_m: float, wide: float) -> tuple[float, float, float]:
    """Return the place of the highest natural rise within reach of a mound's place, and the rise [m].

    Within half its width along the line and a third of it across, on its side and in the range of the form.
    """
    import numpy as np

    ranges = GREEN_FORMS["screen"].parameters
    radius = 0.35 * wide  # half of the mound along the line
    side = 1.0 if across_m >= 0 else -1.0
    places = [
        (short, across)
        for short in np.arange(short_m - wide / 2.0, short_m + wide / 2.0 + 0.1, STEP_M)
        for across in np.arange(across_m - wide / 3.0, across_m + wide / 3.0 + 0.1, STEP_M)
        if ranges["short_m"].holds(short) and ranges["across_m"].holds(across) and across * side >= 0
    ]
    front = draft.length - GREEN_M[0] / 2.0
    rises = [draft.natural_rise(front - short, across, radius) for short, across in places]
    if not np.isfinite(rises).any():
        return short_m, across_m, 0.0
    best = int(np.nanargmax(rises))
    return float(places[best][0]), float(places[best][1]), rises[best]


def angled(draft: Draft, *, angle_deg: float) -> None:
    """Turn the green."""
    draft.green_turn = angle_deg


def tiers(draft: Draft, *, rise_m: float) -> None:
    """Raise the back half of the green; the face is no steeper than what is published for tiers."""
    green = draft.rows["greens"][-1]["geometry"]
    behind = draft.area(*((draft.length + a, b) for a, b in ((0, -40), (0, 40), (60, 40), (60, -40))))
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
    corners = ((edge - 9, -40), (edge - 9, 40), (edge + depth_m, 40), (edge + depth_m, -40))
    draft.add(
        "shapes",
        draft.area(*corners).intersection(green.buffer(4.0)),
        name="false front",
        kind="grade",
        order=7,
        fall_pct=fall_pct,
        fall_to_deg=(draft.bearing + 180.0) % 360.0,
        rise_m=-fall_pct / 100.0 * depth_m / 2.0,
    )


def punchbowl(draft: Draft, *, rise_m: float, bank_pct: float, outlet_m: float, lap_m: float) -> None:
    """Raise a bank round the green, open at the front: it gathers balls, and lets the water out there.

    The bank has a level crest; its inner foot lies ``lap_m`` inside the edge of the green.
    """
    import shapely

    green = draft.rows["greens"][-1]["geometry"]
    level = draft.mean_ground(green) + draft.green_rise
    run = 100.0 * rise_m / bank_pct
    half = outlet_m / 2.0 + run
    mouth = draft.area(
        *((draft.length + a, b) for a, b in ((-90, -half), (-90, half), (0, half), (0, -half)))
    )
    crest = shapely.line_merge(green.buffer(run - lap_m, quad_segs=8).exterior.difference(mouth))
    if crest.geom_type != "LineString":
        crest = max(shapely.get_parts(crest), key=lambda part: part.length)
    draft.add(
        "shapes",
        crest,
        name="bowl",
        kind="mound",
        order=4,
        level_m=level + rise_m,
        side_slope_pct=bank_pct,
        width_m=1.0,
        blend_m=2.0,
    )
    draft.remarks.append(
        "The bowl sheds its water by one way, the front; the advice for greens is two at least: give it a"
        " drain as well."
    )
    bowl = {"feature": "green"}
    draft.ask(
        "surface_falls.shed_front_pct", "the bowl lets its water out at the front", **bowl, at_least=75.0
    )
    draft.ask("surface_falls.too_flat_pct", "no water stands in the bowl", **bowl, at_most=20.0)
    draft.ask("green_slopes.fall_pct", "its floor falls to the front", at_most=-1.0)


def raise_green(draft: Draft, *, rise_m: float, bank_pct: float) -> None:
    """Raise the green above the ground there and above the ground before it, by MOST_LIFT_M more at most."""
    draft.green_rise, draft.green_bank_pct = rise_m, bank_pct
    green = draft.ellipse(draft.length, 0.0, *GREEN_M, turn=draft.green_turn)
    higher = _ground_before(draft, rise_m, bank_pct) - draft.mean_ground(green)
    if higher > 0.05:
        draft.green_rise += min(higher, MOST_LIFT_M)
        draft.remarks.append(
            f"The ground before the green stands {higher:.1f} m higher: the plateau is raised by"
            f" {draft.green_rise:.1f} m."
        )


def _ground_before(draft: Draft, rise_m: float, bank_pct: float) -> float:
    """Return the mean level of the ground before the foot of a plateau [m]."""
    foot = draft.length - GREEN_M[0] / 2.0 - 100.0 * rise_m / bank_pct
    close, far = (foot - away for away in BEFORE_M)
    return draft.mean_ground(draft.area((close, -10), (close, 10), (far, 10), (far, -10)))


def plateau(draft: Draft, *, rise_m: float, bank_pct: float) -> None:
    """Ask for a green that stands above the ground before it and sheds what misses it."""
    before = _ground_before(draft, rise_m, bank_pct)
    draft.ask(
        "pin_slopes.level_m",
        f"the green stands above the ground before it ({before:.2f} m): a short ball comes back",
        at_least=round(before + 0.6 * rise_m, 2),
    )
    draft.ask("surface_falls.too_flat_pct", "the plateau drains", feature="green", at_most=20.0)


LIE = "lie of the green"
GREEN_FORMS: dict[str, Form] = {
    "screen": Form(
        "a mound short of the green hides the hole locations behind it",
        {
            "short_m": Parameter(16.0, 5.0, 45.0, "m", "from its middle to the front of the green"),
            "across_m": Parameter(9.0, -25.0, 25.0, "m", "to the right of the line; negative to the left"),
            "rise_m": Parameter(2.5, 0.5, 6.0, "m", "rise of its top; more where the green is raised"),
            "width_m": Parameter(30.0, 10.0, 60.0, "m", "across the line, toe to toe"),
        },
        screen,
    ),
    "angled": Form(
        "the long axis of the green lies across the line",
        {"angle_deg": Parameter(40.0, -80.0, 80.0, "deg", "clockwise from the line of play")},
        prepare=angled,
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
    "punchbowl": Form(
        "a bowl round the green gathers the ball; it drains at the front",
        {
            "rise_m": Parameter(1.6, 0.8, 3.0, "m", "of the bank above the middle of the green"),
            "bank_pct": Parameter(20.0, 10.0, 30.0, "pct", "slope of the bank, inside and out"),
            "outlet_m": Parameter(12.0, 6.0, 25.0, "m", "width of the opening at the front"),
            "lap_m": Parameter(2.0, 0.0, 5.0, "m", "the bank begins so far inside the edge of the green"),
        },
        punchbowl,
        None,
        LIE,
    ),
    "plateau": Form(
        "the green stands on a plateau and sheds what misses it",
        {
            "rise_m": Parameter(1.5, 0.8, 3.0, "m", "of the green above the ground there and before it"),
            "bank_pct": Parameter(25.0, 15.0, 33.0, "pct", "slope of its banks"),
        },
        plateau,
        raise_green,
        LIE,
    ),
}
