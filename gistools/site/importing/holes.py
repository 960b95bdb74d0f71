"""Holes from what is drawn: lines turned and numbered, courses parted, features given to their hole."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import numpy as np
import shapely
from scipy.optimize import linear_sum_assignment

from gistools.base.errors import InputError
from gistools.site.findings import listed
from gistools.site.importing.features import Draft, Feature
from gistools.site.importing.golf_tags import COURSE_FIELD, PRACTICE
from gistools.site.vocabulary import hole_number

#: all of these are assumptions
GREEN_REACH_M = 40.0  # a green belongs to a line that ends this near
TEE_REACH_M = 60.0  # a tee belongs to a line that passes this near
TEE_SHARE = 0.7  # tees lie along this first share of a line
FAIRWAY_REACH_M = 60.0
SHARED_M = 60.0  # a fairway is shared by lines that run this far in it
TURN_MARGIN_M = 10.0  # a line is turned round if the other way fits tees and greens by this much better
NAMES_BY_LENGTH = {1: ("tee",), 2: ("back", "forward"), 3: ("back", "middle", "forward")}


def assign_holes(draft: Draft, course: str = "") -> None:
    """Number the hole lines, choose the course, and give every tee, green, fairway and pin its hole.

    Raises
    ------
    InputError
        If there are several courses and none or an unknown one is named.
    """
    _leave_practice_out(draft)
    lines = draft.of("play_lines")
    if lines:
        _turn(draft, lines)
        _choose_course(draft, _part_courses(draft, lines), course)
        lines = draft.of("play_lines")
        _number(draft, lines)
    _greens(draft)
    _tees(draft)
    _fairways(draft)
    _pins(draft)
    _name_tees(draft)
    _left_without(draft)


def _leave_practice_out(draft: Draft) -> None:
    areas = draft.of(PRACTICE)
    if areas:
        ground = shapely.union_all([a.shape for a in areas])
        inside = [
            f
            for f in draft.features
            if f.layer in ("tees", "greens", "fairway", "pins")
            and ground.covers(f.shape.representative_point())
        ]
        if inside:
            draft.say("note", "", f"{len(inside)} tees, greens or fairways of practice grounds are left out")
        draft.drop([*areas, *inside])


# ---------------------------------------------------------------- lines


def _turn(draft: Draft, lines: list[Feature]) -> None:
    greens, tees = ([f.shape for f in draft.of(n)] for n in ("greens", "tees"))
    turned = []
    for line in lines:
        ends = shapely.Point(line.shape.coords[0]), shapely.Point(line.shape.coords[-1])
        green = [_nearest(end, greens) for end in ends]
        tee = [_nearest(end, tees) for end in ends]
        if green[0] + tee[1] + TURN_MARGIN_M < green[1] + tee[0]:
            line.shape = line.shape.reverse()
            turned.append(line)
    for line in turned:
        draft.say(
            "warning",
            "play_lines",
            f"{_label(line)} is drawn from green to tee; it is turned round",
            "correct the source",
        )


def _nearest(place: Any, shapes: list[Any]) -> float:
    return min((float(place.distance(s)) for s in shapes), default=0.0)


def _label(line: Feature) -> str:
    return f"the hole line {line.origin}" + (f" (hole {line.hole})" if line.hole else "")


def _part_courses(draft: Draft, lines: list[Feature]) -> dict[str, list[Feature]]:
    """Return hole lines by course: of a relation, a tag, or by the walk where numbers repeat."""
    member_of: dict[tuple[str, int], tuple[str, int, int]] = {}
    for relation in draft.relations:
        if relation.tags.get("golf") == "course" or relation.tags.get("type") == "golf":
            ways = [m for m in relation.members if m[0] == "w"]
            for k, member in enumerate(ways):
                member_of.setdefault(member, (relation.tags.get("name", "course"), k + 1, len(ways)))
    courses: dict[str, list[Feature]] = defaultdict(list)
    for line in lines:
        name, place, count = member_of.get(line.key, ("", 0, 0)) if line.key else ("", 0, 0)
        name = name or line.tags.get(COURSE_FIELD, "")
        if line.hole is None:
            line.hole = hole_number(line.tags.get("name", "")) or hole_number(line.tags.get("golf_hole", ""))
            if line.hole is None and place and count in (9, 18):
                line.hole = place
                draft.say("note", "play_lines", f"{_label(line)} is numbered by its place in its course")
        courses[name].append(line)
    unnamed = courses.pop("", [])
    if unnamed and not courses:
        return _walks(unnamed)
    for line in unnamed:  # a line that no course names goes with the nearest that lacks its number
        able = [n for n, of in courses.items() if line.hole not in {f.hole for f in of}] or list(courses)
        name = min(able, key=lambda n: min(float(line.shape.distance(f.shape)) for f in courses[n]))
        courses[name].append(line)
    return dict(courses)


def _walks(lines: list[Feature]) -> dict[str, list[Feature]]:
    """Part lines whose numbers repeat into courses, each hole near the green before it."""
    by_number: dict[int, list[Feature]] = defaultdict(list)
    for line in lines:
        if line.hole is not None:
            by_number[line.hole].append(line)
    count = max((len(same) for same in by_number.values()), default=1)
    if count == 1:
        return {"": lines}
    chains: list[list[Feature]] = [[] for _ in range(count)]
    for number in sorted(by_number):
        starts = by_number[number]
        cost = np.array(
            [[_step(chain[-1], line) if chain else 0.0 for line in starts] for chain in chains], float
        )
        for chain, line in zip(*linear_sum_assignment(cost), strict=True):
            chains[chain].append(starts[line])
    rest = [line for line in lines if line.hole is None]
    for line in rest:
        min(chains, key=lambda c: min(float(line.shape.distance(f.shape)) for f in c)).append(line)
    return {f"course {k + 1}": chain for k, chain in enumerate(chains)}


def _step(before: Feature, after: Feature) -> float:
    return float(shapely.Point(before.shape.coords[-1]).distance(shapely.Point(after.shape.coords[0])))


def _choose_course(draft: Draft, courses: dict[str, list[Feature]], course: str) -> None:
    if len(courses) == 1:
        return
    listing = "; ".join(
        f"{name!r} (holes {listed([f.hole for f in lines if f.hole], 36)})" for name, lines in courses.items()
    )
    chosen = [name for name in courses if name.casefold() == course.casefold()]
    if not chosen:
        fault = f"there is no course {course!r}" if course else "the source holds several courses"
        raise InputError(f"{fault}: {listing}; name one (--course, or `course` in the mapping)")
    others = [line for name, lines in courses.items() if name != chosen[0] for line in lines]
    mine = [f.shape for f in courses[chosen[0]]]
    theirs = [f.shape for f in others]
    away = [
        f
        for f in draft.features
        if f.layer in ("tees", "greens", "fairway", "pins")
        and _nearest(f.shape, theirs) < _nearest(f.shape, mine)
    ]
    draft.drop([*others, *away])
    draft.say(
        "note",
        "",
        f"of {len(courses)} courses {chosen[0]!r} is taken; {len(others)} holes of others are left out",
    )


def _number(draft: Draft, lines: list[Feature]) -> None:
    """Number the lines without a number, or with one that is there twice, by the walk from green to tee."""
    seen: dict[int, Feature] = {}
    for line in lines:
        if line.hole is None:
            continue
        if line.hole in seen:
            draft.say(
                "warning",
                "play_lines",
                f"{_label(line)} has a number that is there twice",
                "correct the source",
            )
            line.hole = None
        else:
            seen[line.hole] = line
    loose = [line for line in lines if line.hole is None]
    if not loose:
        return
    most = next((n for n in (9, 18, 27, 36) if n >= len(lines)), 36)
    free = [n for n in range(1, max(most, max(seen, default=0)) + 1) if n not in seen]
    if not seen:  # nothing to go by: the order of the source
        for number, line in enumerate(loose, 1):
            line.hole = number
        draft.say(
            "warning",
            "play_lines",
            "no hole line has a number; they are numbered in the order of the source",
            "give each its number in the source, or in the mapping",
        )
        return
    cost = np.array(
        [
            [
                (_step(seen[n - 1], line) if n - 1 in seen else 2000.0)
                + (_step(line, seen[n + 1]) if n + 1 in seen else 2000.0)
                for n in free
            ]
            for line in loose
        ]
    )
    for k, m in zip(*linear_sum_assignment(cost), strict=True):
        loose[k].hole = free[m]
        draft.say(
            "warning",
            "play_lines",
            f"{_label(loose[k])} has no number of its own; by the walk from green to tee it is {free[m]}",
            "correct the source",
        )


# ------------------------------------------------------------- features


def _ways(draft: Draft) -> dict[int, Any]:
    """Return the way of each hole: its line, or straight from its tees to its green where none is drawn."""
    ways = {f.hole: f.shape for f in draft.of("play_lines") if f.hole is not None}
    for green in draft.of("greens"):
        tees = [t for t in draft.of("tees") if t.hole == green.hole and green.hole is not None]
        if green.hole is not None and green.hole not in ways and tees:
            far = max((t.shape.centroid for t in tees), key=green.shape.distance)
            ways[green.hole] = shapely.LineString([far, green.shape.centroid])
    return ways


def _greens(draft: Draft) -> None:
    greens, lines = draft.of("greens"), draft.of("play_lines")
    if not lines:
        return
    ends = {line.hole: shapely.Point(line.shape.coords[-1]) for line in lines}
    taken: dict[int, Feature] = {}
    for number, end in ends.items():
        if number is None or not greens:
            continue
        stated = [g for g in greens if g.hole == number and g.shape.distance(end) <= 3 * GREEN_REACH_M]
        green = min(stated or greens, key=lambda g: g.shape.distance(end))
        if green.shape.distance(end) > GREEN_REACH_M and not stated:
            draft.say(
                "warning",
                "greens",
                f"no green lies at the end of the line of hole {number}",
                "draw its green",
            )
            continue
        if id(green) in {id(g) for g in taken.values()}:
            first = next(n for n, g in taken.items() if g is green)
            draft.say("note", "greens", f"holes {first} and {number} share a green; each has it")
            green = Feature("greens", green.shape, dict(green.fields), green.origin, green.key, green.tags)
            draft.features.append(green)
        taken[number] = green
    for number, green in taken.items():
        green.hole = number
    used = {id(g) for g in taken.values()}
    practice = [g for g in draft.of("greens") if id(g) not in used]
    if practice:
        draft.say(
            "note", "greens", f"{len(practice)} greens end no hole (practice greens); they are left out"
        )
        draft.drop(practice)


def _tees(draft: Draft) -> None:
    lines = {f.hole: f.shape for f in draft.of("play_lines")}
    loose = [t for t in draft.of("tees") if t.hole is None or (lines and t.hole not in lines)]
    ways = lines or _ways(draft)
    unused = []
    for tee in loose:
        reach = {
            n: float(shapely.ops.substring(way, 0, TEE_SHARE, normalized=True).distance(tee.shape))
            for n, way in ways.items()
            if n is not None
        }
        if not ways:
            continue
        # of lines about as near, the one that starts nearest
        best = min(reach.values(), default=np.inf)
        close_by = [n for n, d in reach.items() if d <= max(best, 15.0)]
        if best > TEE_REACH_M:
            unused.append(tee)
            continue
        tee.hole = min(close_by, key=lambda n: shapely.Point(ways[n].coords[0]).distance(tee.shape))
    if unused:
        draft.say(
            "note", "tees", f"{len(unused)} tees lie beside no hole line (practice tees); they are left out"
        )
        draft.drop(unused)
    have = {t.hole for t in draft.of("tees")}
    for number, way in lines.items():
        if number is not None and number not in have:
            draft.features.append(
                Feature(
                    "tees",
                    shapely.Point(way.coords[0]),
                    {"hole": number},
                    f"start of the line of hole {number}",
                )
            )
            draft.say(
                "warning",
                "tees",
                f"hole {number} has no tee; the start of its line is taken",
                "draw its tees",
            )


def _fairways(draft: Draft) -> None:
    ways = _ways(draft)
    unused = []
    for fairway in draft.of("fairway"):
        if fairway.hole is not None and (fairway.hole in ways or not ways):
            continue
        inside = {n: float(way.intersection(fairway.shape).length) for n, way in ways.items()}
        shared = [n for n, length in inside.items() if length >= SHARED_M]
        away = {n: float(way.distance(fairway.shape)) for n, way in ways.items()}
        if shared:
            fairway.hole = max(shared, key=lambda n: inside[n])
            for number in shared:
                if number != fairway.hole:
                    twin = dict(fairway.fields, hole=number)
                    draft.features.append(
                        Feature("fairway", fairway.shape, twin, fairway.origin, None, fairway.tags)
                    )
                    draft.say(
                        "note", "fairway", f"holes {fairway.hole} and {number} share a fairway; each has it"
                    )
        elif away and min(away.values()) <= FAIRWAY_REACH_M:
            fairway.hole = max(inside, key=lambda n: (inside[n], -away[n]))
        else:
            unused.append(fairway)
    if unused:
        draft.say("note", "fairway", f"{len(unused)} fairways lie beside no hole line; they are left out")
        draft.drop(unused)


def _pins(draft: Draft) -> None:
    greens = draft.of("greens")
    unused = []
    for pin in draft.of("pins"):
        if not greens:
            break
        green = min(greens, key=lambda g: g.shape.distance(pin.shape))
        if green.shape.distance(pin.shape) > 0.05:
            unused.append(pin)
        else:
            pin.hole = green.hole
    if unused:
        draft.say("note", "pins", f"{len(unused)} pins lie on no green that is used; they are left out")
        draft.drop(unused)
    counts: dict[int | None, int] = defaultdict(int)
    names: set[tuple[int | None, str]] = set()
    for pin in draft.of("pins"):
        counts[pin.hole] += 1
        name = str(pin.fields.get("pin") or "").strip() or f"pin {counts[pin.hole]}"
        pin.fields["pin"] = _new_name(name, {n for h, n in names if h == pin.hole})
        names.add((pin.hole, pin.fields["pin"]))


def _name_tees(draft: Draft) -> None:
    """Name tees by marker relation, colour or name; those without by their order from the green."""
    markers = {
        member: relation.tags.get("tee") or relation.tags.get("name") or relation.tags.get("colour", "")
        for relation in draft.relations
        if relation.tags.get("golf") == "tee_markers"
        for member in relation.members
    }
    by_hole: dict[int | None, list[Feature]] = defaultdict(list)
    for tee in draft.of("tees"):
        by_hole[tee.hole].append(tee)
    assumed = 0
    greens = {g.hole: g.shape.centroid for g in draft.of("greens")}
    for hole, tees in by_hole.items():
        green = greens.get(hole)
        tees.sort(key=lambda t: 0.0 if green is None else -float(green.distance(t.shape)))
        by_length = NAMES_BY_LENGTH.get(len(tees), tuple(f"tee {k + 1}" for k in range(len(tees))))
        taken: set[str] = set()
        for k, tee in enumerate(tees):
            name = (
                str(tee.fields.get("tee") or (markers.get(tee.key, "") if tee.key else ""))
                .replace(";", "/")
                .strip()
            )
            if not name:
                name, assumed = by_length[k], assumed + 1
            tee.fields["tee"] = _new_name(name, taken)
            taken.add(tee.fields["tee"].casefold())
    if assumed:
        draft.say(
            "note",
            "tees",
            f"{assumed} tees have no name or colour; they are named by their order from the green",
        )


def _new_name(name: str, taken: set[str]) -> str:
    lowered = {t.casefold() for t in taken}
    if name.casefold() not in lowered:
        return name
    return next(f"{name} {k}" for k in range(2, 1000) if f"{name} {k}".casefold() not in lowered)


def _left_without(draft: Draft) -> None:
    for layer in ("greens", "tees", "fairway", "pins"):
        loose = [f for f in draft.of(layer) if f.hole is None]
        if loose:
            draft.say(
                "error",
                layer,
                f"{len(loose)} features have no hole number and no line tells it ({loose[0].origin} first)",
                "map a field to `hole`, give it in `values`, or draw hole lines from tee to green",
            )
