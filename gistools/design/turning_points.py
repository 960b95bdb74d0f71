"""Turning points: the value of a setting at which another landing zone becomes first.

A ranking that hangs on an assumption, such as how much a blind flag widens the aim, should say so. The hole
is played out at a few values of the setting; between them the lead of the first zone is taken as straight.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from gistools.base.errors import InputError
from gistools.base.progress import on_progress, tick
from gistools.base.settings import SETTINGS
from gistools.design.zone_totals import asked_of, zone_totals
from gistools.site.model import Site

COLUMNS = ["hole", "tee", "player", "wind", "pin", "zone", "other", "lead_strokes", "turns_at", "reading"]


def turning_points(
    site: Site,
    setting: str,
    low: float,
    high: float,
    *,
    hole: int | None = None,
    tee: str = "",
    player: str = "scratch man",
    wind: str = "calm",
    count: int = 5,
    progress: Callable[[float, str], None] | None = None,
) -> pd.DataFrame:
    """Find at which value of a setting each other zone overtakes the first one.

    Parameters
    ----------
    site
        An open site.
    setting
        A setting that is a number, for example ``blind_dispersion_increase_pct`` or ``stimp_ft``.
    low, high
        Range in which it is varied; the value in force is tried as well.
    hole, tee, player, wind
        Of whom and from where; the longest tee by default.
    count
        Number of values tried over the range; each plays the hole out (some ten seconds).
    progress
        Called with ``(share, text)``; raising in it stops.

    Returns
    -------
    DataFrame
        A row for each hole location and other zone: its first zone with the value in force, the lead over the
        other [strokes], ``turns_at`` (nan where the order stays over the range), and a reading.

    Raises
    ------
    InputError
        If there is no such setting, it is no number, the range is empty, or hole, tee, player or wind is
        unknown.
    """
    known = SETTINGS.get(setting)
    if known is None or isinstance(known.default, (str, bool)):
        numbers = ", ".join(n for n, s in SETTINGS.items() if not isinstance(s.default, (str, bool)))
        raise InputError(f"{setting!r} is no setting that is a number; there are {numbers}")
    if not low < high or count < 2:
        raise InputError(f"the range {low:g} to {high:g} in {count} values is empty; give a lower one first")
    model, tee, player, wind = asked_of(site, hole, tee, player, wind)
    number = model.number
    present = float(site.setting(setting, number))
    values = sorted({present, *np.linspace(low, high, count).tolist()})
    totals: list[dict[str, dict[str, float]]] = []
    with on_progress(progress):
        for done, value in enumerate(values):
            tick(done / len(values), f"{setting} {value:g}")
            variant = site if value == present else site.with_settings(**{setting: value})
            totals.append(zone_totals(variant, number, tee, player, wind))
    rows = turns_between(values, totals, present, setting)
    key = {"hole": number, "tee": tee}
    return pd.DataFrame([key | {"player": player, "wind": wind} | row for row in rows], columns=COLUMNS)


def turns_between(
    values: Sequence[float],
    totals: Sequence[Mapping[str, Mapping[str, float]]],
    present: float,
    setting: str,
) -> list[dict[str, Any]]:
    """Return rows of turning points from totals at values of a setting, which hold the present one."""
    at = list(values).index(present)
    rows = []
    for pin, here in totals[at].items():
        if not here:
            continue
        first = min(here, key=lambda zone: here[zone])
        for other in (zone for zone in here if zone != first):
            leads = [t[pin].get(other, np.nan) - t[pin].get(first, np.nan) for t in totals]
            turns_at = _crossing(values, leads, at)
            where = "more" if turns_at > present else "less"
            words = f"for {pin} {first} is {leads[at]:.2f} before {other}; "
            if np.isnan(turns_at):
                words += f"no {setting} from {values[0]:g} to {values[-1]:g} turns that"
            else:
                words += f"{other} is first where {setting} is {where} than {turns_at:.3g}"
            rows.append(
                {"pin": pin, "zone": first, "other": other, "lead_strokes": leads[at]}
                | {"turns_at": turns_at, "reading": words}
            )
    return rows


def _crossing(values: Sequence[float], leads: Sequence[float], at: int) -> float:
    """Return where a lead falls to nothing, nearest to the value in force; nan if it does nowhere."""
    crossings = []
    for k in range(len(values) - 1):
        a, b = leads[k], leads[k + 1]
        if min(a, b) < 0.0 <= max(a, b):
            crossings.append(values[k] + (values[k + 1] - values[k]) * a / (a - b))
    return min(crossings, key=lambda v: abs(v - values[at])) if crossings else float("nan")
