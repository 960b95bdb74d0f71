"""Compiled loops of value iteration: action values, greedy improvement, policy evaluation.

Arrays and plain numbers only, SI units. Where shots finish is in
:mod:`gistools.compute.decision.outcome_kernels`. States of the green have a value fixed by putting and are
never searched.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from gistools.base.jit import kernel
from gistools.compute.decision.outcome_kernels import (
    BINS,
    DIRECTION,
    HEADINGS,
    LAND_COL,
    LAND_ROW,
    LANDING_CELL,
    NEXT_STATE,
    PENALTY,
    REPLAY_FROM_START,
    RUNS,
    SMALLEST_SET,
    Action,
    DispersionTables,
    Ground,
    Place,
    SampleBuffer,
    Sampling,
    cell_of,
    first_of,
    lay_out,
    make_sample_buffer,
    meet_ground,
    packed_index,
    packed_kind,
    simulate_samples,
    turf_class,
    turn_of,
)

# Constants of the search. All are assumptions (assumptions): they set what is tried and how closely,
# not what a shot is worth. `tests/decision` measures the outcome against exhaustive search and against
# shot-by-shot play.
TOP_K = 3  # best actions remembered for each pin
COARSE_SAMPLES = 16  # samples of an approximate action value
ROLL_EFFECT_STROKES = 0.3  # a run changes an action value by less, about
LOST_BALL_STROKES = 6.0  # what a lost ball counts in an approximate action value
MOST_CANDIDATES = 64  # actions evaluated in one go
MOST_LOCAL_STEPS = 5  # steps of the local search beside the best action
DIRECT_SAMPLES = 64  # samples of runs that are simulated directly
MOST_LOST = 0.6  # shots lost more often than this are not considered
MOST_REPLAYED = 0.9  # nor those that are lost, or stay under a face, more often than this
STEEP_SLOPE = 0.5  # above this slope close by [m/m] all headings are searched, not only those about the pins
UNFINISHED_STROKES = 15.0  # above this value all shots and headings are searched
HALF_FAN_RAD, HALF_FAN_SHORT_RAD, SHORT_M = (
    0.40,
    0.30,
    40.0,
)  # headings searched each side of the pins; closer than SHORT_M
FAN_STEP = 4  # headings between those of the coarse search
BEYOND_M, BEYOND_STEEP_M = (
    8.0,
    40.0,
)  # shots that carry so much beyond the farthest pin are tried; under a steep face
SHORT_SHARE, SHORT_LESS_M, SHORT_LONGEST = 0.62, 15.0, 0.5  # and those that leave no more than this
SIMILAR_CARRY = 0.045  # shots whose carries differ by less, as a share, are neighbours of one another
FIRST_STEP_M, LATER_STEP_M = 1.5, 2.0  # least step, and cells a step, along a ray before a state
LEAST_GAIN = 1e-3  # the local search stops where it gains less [strokes]

UNKNOWN_STROKES = 1e9  # of an action not yet found
IMPOSSIBLE_STROKES = 1e6  # of an action that is lost too often
POSSIBLE_STROKES = 1e5  # an action value below this is one
UNAVAILABLE_M = 1e9  # carry of a shot that is not played from a lie


class TopActions(NamedTuple):
    """Best actions of a place for each pin, best first.

    Value, shot (-1 for none) and heading, each ``(pins, TOP_K)``.
    """

    value: np.ndarray
    shot: np.ndarray
    heading: np.ndarray


class Workspace(NamedTuple):
    """Per-thread workspace.

    - ``buffer``; ``q (pins,)``: action values.
    - ``evaluated_for (actions,)``: the state each action was last evaluated for; ``q_of (actions, pins)``:
      its values.
    - ``fan (pins, 3)``: middle and half width of the headings searched for each pin, and distance to it [m];
      ``in_fan (coarse headings, pins)``: which headings those are; ``in_reach (pins,)``: pins a shot is of
      use for; ``pins_served (pins,)``: pins whose search an action belongs to.
    - ``rough_q (coarse headings, pins)``: approximate action values of a shot.
    - ``candidate (candidates, 2)``: shots and headings to evaluate.
    - ``coarse, fine``: best actions of both searches.
    """

    buffer: SampleBuffer
    q: np.ndarray
    evaluated_for: np.ndarray
    q_of: np.ndarray
    pins_served: np.ndarray
    in_reach: np.ndarray
    in_fan: np.ndarray
    rough_q: np.ndarray
    candidate: np.ndarray
    fan: np.ndarray
    coarse: TopActions
    fine: TopActions


class Problem(NamedTuple):
    """Inputs of the solver: ground, shots from one lie, states ``(n, 3)``, pins ``(pins, 2)``, green.

    ``dispersion_scale (n, pins)`` is the relative increase of direction errors from a state to a pin (blind
    shots).
    """

    ground: Ground
    tables: DispersionTables
    place: np.ndarray
    pin_xy: np.ndarray
    green_xy: np.ndarray
    dispersion_scale: np.ndarray


class Iterate(NamedTuple):
    """What is computed.

    Values ``(n, pins)`` so far, values of this sweep, best shots and headings ``(n, pins, TOP_K)``.
    """

    value: np.ndarray
    new_value: np.ndarray
    shot: np.ndarray
    heading: np.ndarray


@kernel(allocates=True, python_entry=False)
def make_top_actions(pins):
    """Return an empty list of best actions."""
    return TopActions(
        np.full((pins, TOP_K), UNKNOWN_STROKES), np.full((pins, TOP_K), -1), np.zeros((pins, TOP_K), np.int64)
    )


@kernel(allocates=True, python_entry=False)
def make_workspace(tables, pins):
    """Return the workspace of one thread."""
    actions = tables.carry_m.size * HEADINGS
    return Workspace(
        make_sample_buffer(),
        np.empty(pins),
        np.full(actions, -1),
        np.empty((actions, pins)),
        np.zeros(pins, np.bool_),
        np.zeros(pins, np.bool_),
        np.zeros((HEADINGS // FAN_STEP, pins), np.bool_),
        np.empty((HEADINGS // FAN_STEP, pins)),
        np.empty((MOST_CANDIDATES, 2), np.int64),
        np.empty((pins, 3)),
        make_top_actions(pins),
        make_top_actions(pins),
    )


@kernel(python_entry=False)
def reset(top):
    """Empty a list of best actions."""
    top.value[:], top.shot[:], top.heading[:] = UNKNOWN_STROKES, -1, 0


@kernel(inline=True)
def action_value(g, tables, place, action, sampling, value, buffer, q):
    """Mean strokes to hole out with this action, for every pin.

    ``q[p]``; IMPOSSIBLE_STROKES if it is lost too often.

    A shot that is lost or stays under a face is played again: ``Q = (1 + mean of what follows) / (1 - chance
    of a replay)``.
    """
    simulate_samples(g, tables, place, action, sampling, buffer)
    pins, samples = value.shape[1], sampling.samples
    for p in range(pins):
        q[p] = 0.0
    lost, stays, penalties = 0, 0, 0
    for k in range(samples):
        s = buffer.event[NEXT_STATE, k]
        if s >= 0:
            penalties += buffer.event[PENALTY, k]
            for p in range(pins):
                q[p] += value[s, p]
        elif s == REPLAY_FROM_START:
            lost += 1
        else:
            stays += 1
    out, replayed = lost / samples, (lost + stays) / samples
    for p in range(pins):
        total = 1.0 + (q[p] + penalties) / samples + out
        q[p] = (
            total / (1.0 - replayed) if out < MOST_LOST and replayed < MOST_REPLAYED else IMPOSSIBLE_STROKES
        )


@kernel(python_entry=False)
def approximate_action_values(g, tables, place, shot, centre, value, work):
    """Mean strokes for every pin if balls ran straight on as far as on the level, past any obstacle.

    ``work.rough_q[turn, p]``, for the headings of the coarse search about ``centre`` in the fan of a pin that
    the shot is useful for.
    """
    real, event, samples = work.buffer.real, work.buffer.event, COARSE_SAMPLES
    rows, cols = np.float32(g.kind.shape[0]), np.float32(g.kind.shape[1])
    none, wide, pins = np.float32(0.0), np.int32(g.kind.shape[1]), value.shape[1]
    for turn in range(work.in_fan.shape[0]):
        if not serves_any_pin(work, turn):
            continue
        action, q = Action(shot, coarse_heading(centre, turn)), work.rough_q[turn]
        lay_out(tables, action, first_of(SMALLEST_SET), samples, 0.0, real)
        meet_ground(g, tables, shot, samples, place, work.buffer)
        roll = tables.level_run[shot, turn_of(tables, action.heading)]
        for p in range(pins):
            q[p] = 0.0
        for k in range(samples):
            s = np.int32(REPLAY_FROM_START)
            if event[LANDING_CELL, k] >= 0:
                here = packed_kind(g.landing_cell_id[event[LANDING_CELL, k]])
                run = roll[turf_class(here)] if g.ends[here] == RUNS else none
                u = real[LAND_COL, k] + run * real[DIRECTION, k]
                v = real[LAND_ROW, k] - run * real[DIRECTION + 1, k]
                if none <= u < cols and none <= v < rows:
                    s = packed_index(g.state_id[np.int32(v) * wide + np.int32(u)])
            for p in range(pins):
                q[p] += value[s, p] if s >= 0 else LOST_BALL_STROKES
        for p in range(pins):
            q[p] = 1.0 + q[p] / samples


@kernel(python_entry=False)
def insert_top_k(top, p, q, action):
    """Put an action among the best of a pin, best first, each shot once with its best heading.

    One that is lost too often is left out.
    """
    value, shots, headings = top.value[p], top.shot[p], top.heading[p]
    n = value.size
    if q >= min(value[n - 1], POSSIBLE_STROKES):
        return
    at = n - 1
    for m in range(n):
        if shots[m] == action.shot:
            if value[m] <= q:
                return
            at = m
            break
    while at > 0 and value[at - 1] > q:
        value[at], shots[at], headings[at] = value[at - 1], shots[at - 1], headings[at - 1]
        at -= 1
    value[at], shots[at], headings[at] = q, action.shot, action.heading


@kernel
def near_slopes(g, places, reaches, out):
    """Steepest rise [m/m] of the ground before each place, by bins of direction and distance.

    ``out[place, bin, reach]``.
    """
    for s in range(out.shape[0]):
        x, y, z = places[s, 0], places[s, 1], places[s, 2]
        for b in range(BINS):
            angle = 2.0 * math.pi * b / BINS
            sh, ch = math.sin(angle), math.cos(angle)
            far = 0.0
            for r in range(reaches.size):
                steepest = -10.0
                while far < reaches[r] - 1e-9:
                    far += g.cell if r == 0 else max(LATER_STEP_M * g.cell, FIRST_STEP_M)
                    i, j = cell_of(g, x + far * sh, y + far * ch)
                    if i >= 0 and g.level[i, j] - z > steepest * far:
                        steepest = (g.level[i, j] - z) / far
                out[s, b, r] = steepest


@kernel
def useful(carry, nearest, farthest, longest, beyond):
    """Tell whether a shot is worth trying.

    Not ``beyond`` what is needed, not far short of what is possible.
    """
    if carry > farthest + beyond:
        return False
    return carry >= min(SHORT_SHARE * nearest - SHORT_LESS_M, SHORT_LONGEST * longest)


@kernel(python_entry=False)
def similar(carry, other):
    """Tell whether two shots carry all but the same."""
    return abs(carry - other) < SIMILAR_CARRY * carry


@kernel(python_entry=False)
def add_candidate(work, n, shot, heading):
    """Put an action behind the ``n`` that are to be evaluated; return how many there are then."""
    work.candidate[n, 0], work.candidate[n, 1] = shot, heading % HEADINGS
    return n + 1


@kernel(python_entry=False)
def evaluate_candidates(problem, value, s, p, n, samples, work, top):
    """Evaluate ``n`` actions from state ``s``, unless that was done already, and remember them for pin ``p``.

    Many in one call, since handing over the problem takes as long as half an action.
    """
    g, tables, xyz = problem.ground, problem.tables, problem.place[s]
    place = Place(xyz[0], xyz[1], xyz[2], g.obstacle_m[s])
    for k in range(n):
        action = Action(work.candidate[k, 0], work.candidate[k, 1])
        key = action.shot * HEADINGS + action.heading
        if work.evaluated_for[key] != s:
            work.evaluated_for[key] = s
            action_value(
                g, tables, place, action, Sampling(samples, 0.0, 0.0), value, work.buffer, work.q_of[key]
            )
        insert_top_k(top, p, work.q_of[key, p], action)


@kernel(python_entry=False)
def local_search(problem, value, s, p, samples, work, top):
    """Climb from the best action to neighbouring shots and headings while that is better."""
    tables = problem.tables
    for _ in range(MOST_LOCAL_STEPS):
        before, shot, h = top.value[p, 0], top.shot[p, 0], top.heading[p, 0]
        if shot < 0:
            break
        n = 0
        for k in range(2):
            other = tables.neighbour[shot, k]
            if other >= 0:
                n = add_candidate(work, n, other, h)
        for off in (-1, 1, -2, 2):
            n = add_candidate(work, n, shot, h + off)
        evaluate_candidates(problem, value, s, p, n, samples, work, top)
        if top.value[p, 0] > before - LEAST_GAIN:
            break


@kernel(python_entry=False)
def write_best(iterate, s, p, top):
    """Write the best actions of a state for a pin; its value never rises."""
    iterate.new_value[s, p] = min(iterate.value[s, p], top.value[p, 0])
    for m in range(TOP_K):
        iterate.shot[s, p, m] = top.shot[p, m]
        iterate.heading[s, p, m] = top.heading[p, m]


@kernel(python_entry=False)
def set_fans(problem, s, work):
    """Set for each pin the headings to search from a state.

    Return how far beyond a pin shots are tried [m].
    """
    step = 2.0 * math.pi / HEADINGS
    steep = False
    for b in range(BINS):
        steep |= problem.ground.near_slope[s, b, 0] > STEEP_SLOPE
    for p in range(problem.pin_xy.shape[0]):
        dx = problem.pin_xy[p, 0] - problem.place[s, 0]
        dy = problem.pin_xy[p, 1] - problem.place[s, 1]
        d = math.hypot(dx, dy)
        half = (HALF_FAN_RAD if d > SHORT_M else HALF_FAN_SHORT_RAD) / step + FAN_STEP
        work.fan[p, 0] = math.atan2(dx, dy) / step
        work.fan[p, 1] = (
            HEADINGS if steep else half
        )  # under a face: any way out, and longer shots, which rise higher
        work.fan[p, 2] = d
    return BEYOND_STEEP_M if steep else BEYOND_M


@kernel(python_entry=False)
def coarse_heading(centre, turn):
    """Heading of a turn of the coarse search, from the middle outward."""
    return (centre + (turn + 1) // 2 * (FAN_STEP if turn % 2 else -FAN_STEP)) % HEADINGS


@kernel(python_entry=False)
def mark_fans(work, centre):
    """Mark the headings of the coarse search that lie in the fan of each pin."""
    for turn in range(work.in_fan.shape[0]):
        heading = coarse_heading(centre, turn)
        for p in range(work.fan.shape[0]):
            off = abs((heading - work.fan[p, 0] + 1.5 * HEADINGS) % HEADINGS - 0.5 * HEADINGS)
            work.in_fan[turn, p] = off <= work.fan[p, 1]


@kernel(python_entry=False)
def useful_for_any_pin(work, carry, longest, beyond):
    """Mark the pins a shot is useful for; tell whether there is one."""
    any_pin = False
    for p in range(work.in_reach.size):
        d = work.fan[p, 2]
        work.in_reach[p] = useful(carry, d, d, longest, beyond)
        any_pin |= work.in_reach[p]
    return any_pin


@kernel(python_entry=False)
def serves_any_pin(work, turn):
    """Mark the pins that a useful shot on a heading belongs to the search of; tell whether there is one."""
    any_pin = False
    for p in range(work.in_reach.size):
        work.pins_served[p] = work.in_reach[p] and work.in_fan[turn, p]
        any_pin |= work.pins_served[p]
    return any_pin


@kernel(python_entry=False)
def coarse_search(problem, value, s, coarse, longest, work):
    """Every useful shot on headings about each pin, on few samples.

    The best are remembered in ``work.coarse``.

    An action counts for the pins it is wanted by alone, in an order set by the middle of the green: the
    answer for a pin does not depend on the others.
    """
    g, tables, top = problem.ground, problem.tables, work.coarse
    xyz = problem.place[s]
    place = Place(xyz[0], xyz[1], xyz[2], g.obstacle_m[s])
    pins = problem.pin_xy.shape[0]
    main = math.atan2(problem.green_xy[0] - place.x, problem.green_xy[1] - place.y)
    centre = int(np.rint(main * HEADINGS / (2.0 * math.pi)))
    beyond = set_fans(problem, s, work)
    reset(top)
    for _ in range(2):
        mark_fans(work, centre)
        for shot in range(tables.carry_m.size):
            carry = tables.carry_m[shot]
            if carry >= UNAVAILABLE_M or not useful_for_any_pin(work, carry, longest, beyond):
                continue
            approximate_action_values(g, tables, place, shot, centre, value, work)
            for turn in range(work.in_fan.shape[0]):
                if not serves_any_pin(work, turn):
                    continue
                action = Action(shot, coarse_heading(centre, turn))
                promising = False
                for p in range(pins):
                    work.pins_served[p] &= (
                        work.rough_q[turn, p] < top.value[p, TOP_K - 1] + ROLL_EFFECT_STROKES
                    )
                    promising |= work.pins_served[p]
                if not promising:
                    continue
                action_value(g, tables, place, action, Sampling(coarse, 0.0, 0.0), value, work.buffer, work.q)
                for p in range(pins):
                    if work.pins_served[p]:
                        insert_top_k(top, p, work.q[p], action)
        unfinished = False
        beyond = math.inf
        for p in range(pins):  # nothing found: any shot, any way out
            work.fan[p, 1], work.fan[p, 2] = -1.0, 0.0
            if top.value[p, 0] >= UNFINISHED_STROKES:
                work.fan[p, 1] = HEADINGS
                unfinished = True
        if not unfinished:
            break


@kernel(python_entry=False)
def fine_search(problem, value, s, duplicate, fine, work):
    """Evaluate what lies beside the best actions of the coarse search, and search locally.

    ``work.fine`` has the best.
    """
    tables = problem.tables
    for p in range(problem.pin_xy.shape[0]):
        for m in range(TOP_K):
            shot, h = work.coarse.shot[p, m], work.coarse.heading[p, m]
            if shot < 0:
                continue
            n = 0
            for other in range(tables.carry_m.size):
                if duplicate[other] and similar(tables.carry_m[other], tables.carry_m[shot]):
                    for off in (-2, 0, 2):
                        n = add_candidate(work, n, other, h + off)
                    if n > MOST_CANDIDATES - 10:
                        evaluate_candidates(problem, value, s, p, n, fine, work, work.fine)
                        n = 0
            for off in range(-3, 4):
                n = add_candidate(work, n, shot, h + off)
            evaluate_candidates(problem, value, s, p, n, fine, work, work.fine)
        local_search(problem, value, s, p, fine, work, work.fine)


@kernel(allocates=True, python_entry=False)
def duplicates_of(tables):
    """Mark the shots that carry about as far as an earlier one: they are evaluated only beside that one."""
    duplicate = np.zeros(tables.carry_m.size, np.bool_)
    for shot in range(tables.carry_m.size):
        for other in range(shot):
            duplicate[shot] |= similar(tables.carry_m[shot], tables.carry_m[other])
    return duplicate


@kernel(python_entry=False)
def longest_carry(tables):
    """Longest carry that is played from the lie [m]."""
    longest = 0.0
    for carry in tables.carry_m:
        if carry < UNAVAILABLE_M:
            longest = max(longest, carry)
    return longest


@kernel(allocates=True)
def greedy_improvement(problem, iterate, states, coarse, fine):
    """Look for the best actions of ``states`` for every pin that has none yet, from the values so far.

    ``coarse`` and ``fine`` are numbers of samples. Writes ``new_value`` (never above ``value``) and the best
    actions.
    """
    tables, value = problem.tables, iterate.value
    pins = problem.pin_xy.shape[0]
    work = make_workspace(tables, pins)
    longest, duplicate = longest_carry(tables), duplicates_of(tables)
    for s in states:
        coarse_search(problem, value, s, coarse, longest, work)
        reset(work.fine)
        fine_search(problem, value, s, duplicate, fine, work)
        for p in range(pins):
            if iterate.shot[s, p, 0] < 0:
                write_best(iterate, s, p, work.fine)


@kernel(python_entry=False)
def add_alike(tables, x, y, pin, xy, action, work, n):
    """Put an action of another place ``xy`` to those to be evaluated from ``x, y``; return their number.

    It is tried at the same angle to the pin, and at the same aiming point with the shot that carries there.
    """
    step = 2.0 * math.pi / HEADINGS
    turn = math.atan2(pin[0] - x, pin[1] - y) - math.atan2(pin[0] - xy[0], pin[1] - xy[1])
    n = add_candidate(work, n, action.shot, int(np.rint(action.heading + turn / step)))
    ax = xy[0] + tables.carry_m[action.shot] * math.sin(action.heading * step) - x
    ay = xy[1] + tables.carry_m[action.shot] * math.cos(action.heading * step) - y
    metres = int(np.rint(min(math.hypot(ax, ay), float(tables.shot_for_m.size - 1))))
    other = tables.shot_for_m[metres]
    if other >= 0:
        n = add_candidate(work, n, other, int(np.rint(math.atan2(ax, ay) / step)))
    return n


@kernel(allocates=True)
def warm_start(problem, iterate, states, representative, source, fine):
    """Evaluate the best actions of each state, and of its representative for each pin, then search locally.

    ``representative (n, pins)``; ``source`` holds the actions, which no thread writes meanwhile.
    """
    tables, pins = problem.tables, problem.pin_xy.shape[0]
    work = make_workspace(tables, pins)
    for s in states:
        reset(work.fine)
        x, y = problem.place[s, 0], problem.place[s, 1]
        for p in range(pins):
            n = 0
            for r in (s, representative[s, p]):
                for m in range(TOP_K):
                    action = Action(source.shot[r, p, m], source.heading[r, p, m])
                    if action.shot >= 0:
                        n = add_alike(tables, x, y, problem.pin_xy[p], problem.place[r], action, work, n)
            evaluate_candidates(problem, iterate.value, s, p, n, fine, work, work.fine)
            local_search(problem, iterate.value, s, p, fine, work, work.fine)
            write_best(iterate, s, p, work.fine)


@kernel(allocates=True)
def search_places(problem, iterate, seeds, coarse, fine):
    """Look for the best actions of all places of a problem, which need not be states, and write them.

    ``seeds[n]`` are structures of actions to start from beside a full search: ``(pins, seeds, 4)`` of shot,
    heading and the place ``x, y`` they belong to; shot -1 for none.
    """
    tables, value = problem.tables, iterate.value
    pins = problem.pin_xy.shape[0]
    work = make_workspace(tables, pins)
    longest, duplicate = longest_carry(tables), duplicates_of(tables)
    for n in range(problem.place.shape[0]):
        coarse_search(problem, value, n, coarse, longest, work)
        reset(work.fine)
        x, y = problem.place[n, 0], problem.place[n, 1]
        for p in range(pins):
            for k in range(seeds.shape[2]):
                seed = seeds[n, p, k]
                if seed[0] >= 0.0:
                    action = Action(int(seed[0]), int(seed[1]))
                    count = add_alike(tables, x, y, problem.pin_xy[p], seed[2:], action, work, 0)
                    evaluate_candidates(problem, value, n, p, count, fine, work, work.fine)
        fine_search(problem, value, n, duplicate, fine, work)
        for p in range(pins):
            for m in range(TOP_K):
                iterate.shot[n, p, m] = work.fine.shot[p, m]
                iterate.heading[n, p, m] = work.fine.heading[p, m]


@kernel(python_entry=False)
def put_first(shots, headings, m):
    """Move the action in place m to the front."""
    shot, heading = shots[m], headings[m]
    for k in range(m, 0, -1):
        shots[k], headings[k] = shots[k - 1], headings[k - 1]
    shots[0], headings[0] = shot, heading


@kernel(allocates=True)
def policy_evaluation_sweep(problem, iterate, states, sampling, n_candidates, monotone, active):
    """Evaluate the best ``n_candidates`` actions again with the values so far.

    ``monotone``: a value never rises.

    The increase of direction errors is that of the problem, not of ``sampling``. Identical actions of several
    pins are evaluated once. Only pins that are ``active`` change; where no action is possible, ``new_value``
    stays as it is. Shots below the carry of ``sampling`` are simulated directly, on DIRECT_SAMPLES.
    """
    g, tables, value = problem.ground, problem.tables, iterate.value
    pins = value.shape[1]
    q, low, at = np.empty((pins, pins)), np.empty(pins), np.empty(pins, np.int64)
    buffer = make_sample_buffer()
    limit = sampling.direct_simulation_below_m
    for s in states:
        xyz = problem.place[s]
        place = Place(xyz[0], xyz[1], xyz[2], g.obstacle_m[s])
        shots, headings, scale = iterate.shot[s], iterate.heading[s], problem.dispersion_scale[s]
        low[:], at[:] = UNKNOWN_STROKES, 0
        for m in range(n_candidates):
            for p in range(pins):
                action = Action(shots[p, m], headings[p, m])
                if action.shot < 0 or not active[p]:
                    continue
                same = 0
                while same < p and not (
                    active[same]
                    and shots[same, m] == action.shot
                    and headings[same, m] == action.heading
                    and scale[same] == scale[p]
                ):
                    same += 1
                if same == p:
                    many = DIRECT_SAMPLES if tables.carry_m[action.shot] < limit else sampling.samples
                    action_value(
                        g, tables, place, action, Sampling(many, limit, scale[p]), value, buffer, q[p]
                    )
                if q[same, p] < low[p]:
                    low[p], at[p] = q[same, p], m
        for p in range(pins):
            if not active[p]:
                continue
            if low[p] < POSSIBLE_STROKES or not monotone:
                put_first(shots[p], headings[p], at[p])
            if low[p] <= POSSIBLE_STROKES:
                iterate.new_value[s, p] = min(value[s, p], low[p]) if monotone else low[p]
