"""Compiled loops of strategy: the least mean number of strokes by value iteration.

Arrays and plain numbers only, SI units. Where shots finish is in :mod:`gistools.compute.decision.outcome_kernels`, which is handed on here.
States of the green have a value fixed by putting and are never searched.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools.base.jit import kernel
from gistools.compute.decision.outcome_kernels import (  # noqa: F401  where shots finish is part of the kernels of strategy
    AT,
    BACK,
    BANDS,
    BINS,
    EAST,
    HEADINGS,
    KIND_BITS,
    KIND_MASK,
    LAST_KIND,
    LEVEL,
    LOST,
    NEXT,
    NORTH,
    PARTS,
    RECORD,
    RUNS,
    SMALLEST,
    UNIT,
    Fans,
    Ground,
    Room,
    arrivals,
    cell_of,
    finish,
    first_of,
    lay,
    level_runs,
    meet_ground,
    outcomes,
    room_for,
    spread_fan,
    straight,
    turf_class,
    turn_of,
)

# engineering choices of the search: they settle what is tried and how closely, not what a shot is worth
KEEP = 3  # best shots kept per pin
STEEP = 0.5  # rise of ground close by that makes a player look all round [m/m]
MOST_OUT = 0.6  # shots lost more often than this are not considered
MOST_AGAIN = 0.9  # nor those that are lost, or stay under a face, more often than this
GLANCE = 16  # samples of a glance
RUN_WORTH = 0.3  # a run changes what is left by less, about [strokes]
LOST_COSTS = 6.0  # what a ball lost counts at a glance [strokes]
MOST_CLIMBS = 5  # steps to a better shot beside the best
OWN_SAMPLES = 64  # samples of shots run out one by one
HOPELESS = 15.0  # strokes: above this every way out is looked at


class Kept(NamedTuple):
    """Best few shots of a place for each pin, best first: strokes, shot (-1 for none) and heading, each ``(pins, KEEP)``."""

    strokes: np.ndarray
    shot: np.ndarray
    heading: np.ndarray


class Desk(NamedTuple):
    """What one thread works with: room for the samples, strokes by pin, shots tried, the kept of a first and of a close look."""

    room: Room
    q: np.ndarray
    tried: np.ndarray
    rough: Kept
    best: Kept


@kernel(allocates=True, python_entry=False)
def kept_for(pins):
    """Room for the kept shots."""
    return Kept(np.full((pins, KEEP), 1e9), np.full((pins, KEEP), -1), np.zeros((pins, KEEP), np.int64))


@kernel(allocates=True, python_entry=False)
def desk_for(fans, pins, samples):
    """Room to work in for one thread."""
    tried = np.full(fans.carry.size * HEADINGS, -1)
    return Desk(room_for(samples), np.empty(pins), tried, kept_for(pins), kept_for(pins))


@kernel(python_entry=False)
def clear(kept):
    """Forget what is kept."""
    kept.strokes[:], kept.shot[:], kept.heading[:] = 1e9, -1, 0


@kernel
def worth(g, fans, shot, heading, samples, own, wider, x, y, z, value, room, q):
    """Mean strokes to hole out with this shot, for every pin: ``q[p]``; a large number if it is lost too often.

    A shot that is lost or stays under a face is played again. Shots that carry less than ``own`` metres are run out one by one.
    """
    finish(g, fans, shot, heading, samples, own, wider, x, y, z, room)
    pins = value.shape[1]
    for p in range(pins):
        q[p] = 0.0
    lost, stays, penalties = 0, 0, 0
    for k in range(samples):
        s = room.at[NEXT, k]
        if s >= 0:
            penalties += room.at[LOST, k]
            for p in range(pins):
                q[p] += value[s, p]
        elif s == BACK:
            lost += 1
        else:
            stays += 1
    out, again = lost / samples, (lost + stays) / samples
    for p in range(pins):
        total = 1.0 + (q[p] + penalties) / samples + out
        q[p] = total / (1.0 - again) if out < MOST_OUT and again < MOST_AGAIN else 1e6


@kernel
def glance(g, fans, shot, heading, samples, x, y, z, value, room, q):
    """Mean strokes for every pin if balls ran straight on as far as on the level: ``q[p]``, a quick look at what a shot is good for."""
    lay(fans, shot, heading, first_of(SMALLEST), samples, 0.0, room.fan)
    meet_ground(g, fans, shot, samples, x, y, z, room)
    rows, cols = np.float32(g.kind.shape[0]), np.float32(g.kind.shape[1])
    none, wide, pins = np.float32(0.0), np.int32(g.kind.shape[1]), value.shape[1]
    roll = fans.roll[shot, turn_of(fans, heading)]
    for p in range(pins):
        q[p] = 1.0
    for k in range(samples):
        s = np.int32(BACK)
        if room.at[AT, k] >= 0:
            here = g.under[room.at[AT, k]] & KIND_MASK
            run = roll[turf_class(here)] if g.ends[here] == RUNS else none
            u, v = room.fan[EAST, k] + run * room.fan[6, k], room.fan[NORTH, k] - run * room.fan[7, k]
            if none <= u < cols and none <= v < rows:
                s = g.rest[np.int32(v) * wide + np.int32(u)] >> KIND_BITS
        for p in range(pins):
            q[p] += (value[s, p] if s >= 0 else LOST_COSTS) / samples


@kernel(python_entry=False)
def promising(q, kept):
    """Tell whether a shot glanced at may be among the best few for any pin."""
    found = False
    for p in range(q.size):
        found |= q[p] < kept.strokes[p, KEEP - 1] + RUN_WORTH
    return found


@kernel(python_entry=False)
def remember(kept, p, q, shot, heading):
    """Put a shot among the best few of a pin, best first, each shot of the bag once with its best heading."""
    strokes, shots, headings = kept.strokes[p], kept.shot[p], kept.heading[p]
    n = strokes.size
    if q >= strokes[n - 1]:
        return
    at = n - 1
    for m in range(n):
        if shots[m] == shot:
            if strokes[m] <= q:
                return
            at = m
            break
    while at > 0 and strokes[at - 1] > q:
        strokes[at], shots[at], headings[at] = strokes[at - 1], shots[at - 1], headings[at - 1]
        at -= 1
    strokes[at], shots[at], headings[at] = q, shot, heading


@kernel
def rises(g, places, reaches, out):
    """Steepest rise [m/m] of the ground before each place, by bins of direction and distance: ``out[place, bin, reach]``."""
    for s in range(out.shape[0]):
        x, y, z = places[s, 0], places[s, 1], places[s, 2]
        for b in range(BINS):
            angle = 2.0 * math.pi * b / BINS
            sh, ch = math.sin(angle), math.cos(angle)
            far = 0.0
            for r in range(reaches.size):
                steepest = -10.0
                while far < reaches[r] - 1e-9:
                    far += g.cell if r == 0 else max(2.0 * g.cell, 1.5)
                    i, j = cell_of(g, x + far * sh, y + far * ch)
                    if i >= 0 and g.level[i, j] - z > steepest * far:
                        steepest = (g.level[i, j] - z) / far
                out[s, b, r] = steepest


@kernel
def clears(g, fans, s, shot, heading):
    """Tell whether a shot clears the ground before a state."""
    b = ((heading * BINS + HEADINGS // 2) // HEADINGS) % BINS
    return g.lips[s, b, 0] < fans.climb[shot, 0] and g.lips[s, b, 1] < fans.climb[shot, 1]


@kernel
def useful(carry, nearest, farthest, longest, beyond):
    """Tell whether a shot is worth trying: not ``beyond`` what is needed, not far short of what is possible."""
    if carry > farthest + beyond:
        return False
    return carry >= min(0.62 * nearest - 15.0, 0.5 * longest)


@kernel(python_entry=False)
def alike(carry, other):
    """Tell whether two shots of the bag carry all but the same."""
    return abs(carry - other) < 0.045 * carry


@kernel(python_entry=False)
def consider(g, fans, s, shot, heading, samples, states, value, desk, kept):
    """Weigh one shot on one heading from state ``s``, unless that was done already, and remember it for every pin."""
    heading %= HEADINGS
    key = shot * HEADINGS + heading
    if desk.tried[key] == s:
        return
    desk.tried[key] = s
    if not clears(g, fans, s, shot, heading):
        return
    x, y, z = states[s, 0], states[s, 1], states[s, 2]
    worth(g, fans, shot, heading, samples, 0.0, 0.0, x, y, z, value, desk.room, desk.q)
    for p in range(desk.q.size):
        remember(kept, p, desk.q[p], shot, heading)


@kernel(python_entry=False)
def climb(g, fans, s, samples, states, value, desk, kept):
    """From the best shot for each pin, go on to the next longer or shorter one and the headings beside it while that is better."""
    for p in range(desk.q.size):
        for _ in range(MOST_CLIMBS):
            before, shot, h = kept.strokes[p, 0], kept.shot[p, 0], kept.heading[p, 0]
            if shot < 0:
                break
            for k in range(2):
                other = fans.beside[shot, k]
                if other >= 0:
                    consider(g, fans, s, other, h, samples, states, value, desk, kept)
            for off in (-1, 1, -2, 2):
                consider(g, fans, s, shot, h + off, samples, states, value, desk, kept)
            if kept.strokes[p, 0] > before - 1e-3:
                break


@kernel(python_entry=False)
def keep_best(s, value, new, kept, best_shot, best_heading):
    """Write the best shots of a state; its value never rises."""
    for p in range(value.shape[1]):
        new[s, p] = min(value[s, p], kept.strokes[p, 0])
        for m in range(KEEP):
            best_shot[s, p, m] = kept.shot[p, m]
            best_heading[s, p, m] = kept.heading[p, m]


@kernel(python_entry=False)
def look_round(g, fans, s, states, pin_x, pin_y, coarse, value, longest, desk):
    """A first look from a state: every useful shot on headings about the pins, on few samples, kept in ``desk.rough``."""
    step = 2.0 * math.pi / HEADINGS
    pins = pin_x.size
    x, y, z = states[s, 0], states[s, 1], states[s, 2]
    nearest, farthest, mx, my = 1e9, 0.0, 0.0, 0.0
    for p in range(pins):
        d = math.hypot(pin_x[p] - x, pin_y[p] - y)
        nearest, farthest = min(nearest, d), max(farthest, d)
        mx += pin_x[p] / pins
        my += pin_y[p] / pins
    main = math.atan2(mx - x, my - y)
    spread = 0.0
    for p in range(pins):
        a = math.atan2(pin_x[p] - x, pin_y[p] - y) - main
        spread = max(spread, abs(math.atan2(math.sin(a), math.cos(a))))
    half = int(((0.40 if farthest > 40.0 else 0.30) + spread) / step)
    half = min(half, HEADINGS // 2 - 4)
    beyond = 8.0
    for b in range(BINS):
        if g.lips[s, b, 0] > STEEP:  # under a face: any way out, and longer shots, which rise higher
            half, beyond = HEADINGS // 2 - 4, 40.0
    centre = int(np.rint(main / step))
    clear(desk.rough)
    for look in range(2):
        for shot in range(fans.carry.size):
            if not (look or useful(fans.carry[shot], nearest, farthest, longest, beyond)):
                continue
            for turn in range(2 * (half // 4) + 3):  # from the middle outward
                h = (centre + (turn + 1) // 2 * (4 if turn % 2 else -4)) % HEADINGS
                if not clears(g, fans, s, shot, h):
                    continue
                glance(g, fans, shot, h, GLANCE, x, y, z, value, desk.room, desk.q)
                if not promising(desk.q, desk.rough):
                    continue
                worth(g, fans, shot, h, coarse, 0.0, 0.0, x, y, z, value, desk.room, desk.q)
                for p in range(pins):
                    remember(desk.rough, p, desk.q[p], shot, h)
        worst = 0.0
        for p in range(pins):
            worst = max(worst, desk.rough.strokes[p, 0])
        if worst < HOPELESS:
            break
        half = HEADINGS // 2 - 4  # nothing found: any shot, any way out


@kernel(allocates=True)
def search(
    g, fans, states, order, start, end, pin_x, pin_y, coarse, fine, value, new, best_shot, best_heading
):
    """Look for the best shots of states ``order[start:end]`` for every pin, from the values so far.

    ``states[s] = (x, y, z)``. Writes ``new[s, p]`` (never above ``value``) and the KEEP best shots with headings.
    """
    pins, shots = pin_x.size, fans.carry.size
    desk = desk_for(fans, pins, max(coarse, fine))
    longest = 0.0
    second = np.zeros(
        shots, np.bool_
    )  # all but as long as a shot before it in the bag: tried beside that one
    for shot in range(shots):
        if fans.carry[shot] < 1000.0:
            longest = max(longest, fans.carry[shot])
        for other in range(shot):
            if alike(fans.carry[shot], fans.carry[other]):
                second[shot] = True
    for n in range(start, end):
        s = order[n]
        look_round(g, fans, s, states, pin_x, pin_y, coarse, value, longest, desk)
        clear(desk.best)
        for p in range(pins):
            for m in range(KEEP):
                shot, h = desk.rough.shot[p, m], desk.rough.heading[p, m]
                if shot < 0:
                    continue
                for other in range(shots):
                    if second[other] and alike(fans.carry[other], fans.carry[shot]):
                        for off in (-2, 0, 2):
                            consider(g, fans, s, other, h + off, fine, states, value, desk, desk.best)
                for off in range(-3, 4):
                    consider(g, fans, s, shot, h + off, fine, states, value, desk, desk.best)
        climb(g, fans, s, fine, states, value, desk, desk.best)
        keep_best(s, value, new, desk.best, best_shot, best_heading)


@kernel(allocates=True)
def follow(
    g, fans, states, leader, order, start, end, pin_x, pin_y, fine, value, new, best_shot, best_heading
):
    """Weigh for states ``order[start:end]`` the best shots of their leaders, a place near by with the same lie.

    Each is tried at the same angle to the pin, and at the same aiming point with the shot that carries there; then what lies
    beside the best for each pin.
    """
    pins = pin_x.size
    desk = desk_for(fans, pins, fine)
    step = 2.0 * math.pi / HEADINGS
    for n in range(start, end):
        s = order[n]
        lead = leader[s]
        x, y = states[s, 0], states[s, 1]
        lx, ly = states[lead, 0], states[lead, 1]
        clear(desk.best)
        for p in range(pins):
            turn = math.atan2(pin_x[p] - x, pin_y[p] - y) - math.atan2(pin_x[p] - lx, pin_y[p] - ly)
            for m in range(KEEP):
                shot, h = best_shot[lead, p, m], best_heading[lead, p, m]
                if shot < 0:
                    continue
                same = int(np.rint(h + turn / step))
                consider(g, fans, s, shot, same, fine, states, value, desk, desk.best)
                ax = lx + fans.carry[shot] * math.sin(h * step) - x
                ay = ly + fans.carry[shot] * math.cos(h * step) - y
                away = int(np.rint(math.hypot(ax, ay)))
                other = fans.nearest[min(away, fans.nearest.size - 1)]
                if other >= 0:
                    there = int(np.rint(math.atan2(ax, ay) / step))
                    consider(g, fans, s, other, there, fine, states, value, desk, desk.best)
        climb(g, fans, s, fine, states, value, desk, desk.best)
        keep_best(s, value, new, desk.best, best_shot, best_heading)


@kernel(python_entry=False)
def put_first(shots, headings, m):
    """Move the kept shot in place m to the front."""
    shot, heading = shots[m], headings[m]
    for k in range(m, 0, -1):
        shots[k], headings[k] = shots[k - 1], headings[k - 1]
    shots[0], headings[0] = shot, heading


@kernel(allocates=True)
def improve(
    g,
    fans,
    states,
    order,
    start,
    end,
    samples,
    among,
    own,
    wider,
    value,
    new,
    best_shot,
    best_heading,
    decrease,
):
    """Weigh the best ``among`` kept shots again with the values so far; with ``decrease`` a value never rises.

    ``wider[s, p]`` is how much more directions stray from a state to a pin, as a share. Pins that share a shot share the work.
    Shots that carry less than ``own`` metres are run out one by one, on OWN_SAMPLES.
    """
    pins = value.shape[1]
    q, low, at = np.empty((pins, pins)), np.empty(pins), np.empty(pins, np.int64)
    room = room_for(samples)
    for n in range(start, end):
        s = order[n]
        x, y, z = states[s, 0], states[s, 1], states[s, 2]
        low[:], at[:] = 1e9, 0
        for m in range(among):
            for p in range(pins):
                shot, heading = best_shot[s, p, m], best_heading[s, p, m]
                if shot < 0:
                    continue
                like = 0
                while like < p and not (
                    best_shot[s, like, m] == shot
                    and best_heading[s, like, m] == heading
                    and wider[s, like] == wider[s, p]
                ):
                    like += 1
                if like == p:
                    many = OWN_SAMPLES if fans.carry[shot] < own else samples
                    worth(g, fans, shot, heading, many, own, wider[s, p], x, y, z, value, room, q[p])
                if q[like, p] < low[p]:
                    low[p], at[p] = q[like, p], m
        for p in range(pins):
            if low[p] < 1e5 or not decrease:
                put_first(best_shot[s, p], best_heading[s, p], at[p])
            if low[p] > 1e5:
                new[s, p] = value[s, p]
            else:
                new[s, p] = min(value[s, p], low[p]) if decrease else low[p]
