"""The answer of a search, and what it says in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from gistools.base.units import FOOT_M, show_volume, to_yards
from gistools.compute.terrain.shapes import SLOPE_LIMITS_PCT
from gistools.design.edit_list import Edit
from gistools.design.search_variants import FAR_OUTSIDE, MEASURED

#: fields of an edit that are no figures
WORDS = ("action", "feature", "layer", "hole", "note")
#: ground no steeper than this counts as level ground among the trade-offs: it can be mown [%]
MOWABLE_PCT = SLOPE_LIMITS_PCT["mound"][0]


@dataclass(frozen=True)
class SearchResult:
    """Result of a search.

    Attributes
    ----------
    edits
        The least change found, or the best one tried.
    holds
        Whether the intention holds with it, in full.
    margin, margin_before
        How far inside the intention is with the edits and without, in the unit of its measure.
    earth_m3
        Cut and fill of the change together, nan where the site has no terrain.
    tried
        One row for each evaluation: the figures, the margin, the earth moved, the steepest of the ground that
        changes, by how much more the change costs the short player than the player (``short_player_strokes``,
        nan where none is named), whether on the site's mesh.
    variants
        The edits of each row of ``tried``.
    refused
        The variants that could not be made or played: row in ``tried``, and why.
    """

    edits: tuple[Edit, ...]
    holds: bool
    margin: float
    margin_before: float
    earth_m3: float
    tried: pd.DataFrame
    variants: tuple[tuple[Edit, ...], ...] = ()
    refused: tuple[tuple[int, str], ...] = ()

    @property
    def trade_offs(self) -> pd.DataFrame:
        """The variants that none other beats in margin, earth, slopes and short player, least earth first.

        Those of one mesh alone are compared: the coarse one where anything was tried on it. Slopes that can
        be mown are equal. ``number`` is the row in ``tried``, and so in ``variants``.
        """
        rows = self.tried.assign(number=np.arange(len(self.tried)))
        rows = rows[rows["margin"] > FAR_OUTSIDE / 2]
        coarse = rows[~rows["full"].astype(bool)]
        rows = coarse if len(coarse) else rows
        steep = rows["steepest_pct"].fillna(0.0).clip(lower=MOWABLE_PCT)
        earth, short = (rows[name].fillna(0.0) for name in ("earth_m3", "short_player_strokes"))
        cost = np.column_stack([-rows["margin"], earth, steep, short]).astype(float)
        no_worse = (cost[:, None] <= cost[None]).all(axis=2)  # [a, b]: a is nowhere worse than b
        earlier = np.tri(len(cost), k=-1, dtype=bool).T  # of equal ones the first stays
        beaten = (no_worse & (~no_worse.T | earlier)).any(axis=0)
        order = np.lexsort((cost[~beaten, 0], cost[~beaten, 1]))
        left = np.flatnonzero(~beaten)
        return rows.iloc[left[order]].reset_index(drop=True)

    def __repr__(self) -> str:
        return "\n".join(search_lines(self))


def search_lines(result: SearchResult, units: str = "m") -> list[str]:
    """Return the answer of a search in lines.

    Parameters
    ----------
    result
        The answer.
    units
        Lengths and volumes in ``"m"`` or ``"yd"``; rises in feet then.
    """
    verdict = "holds" if result.holds else "does not hold within these ranges; the best tried is"
    lines = [f"The intention {verdict}: margin {result.margin:+.3f} (before {result.margin_before:+.3f})"]
    for edit in result.edits:
        figures = {k: v for k, v in edit.as_dict().items() if k not in WORDS}
        lines.append(f"  {edit.label}: {figures_in_words(figures, units)}")
    earth = "" if np.isnan(result.earth_m3) else f", {show_volume(result.earth_m3, units)} of earth moved"
    lines.append(f"{len(result.tried)} variants tried{earth}")
    if result.refused:
        number, why = result.refused[0]
        variant = figures_in_words(_figures_of(result.tried.iloc[number].to_dict()), units)
        lines.append(f"{len(result.refused)} of them could not be made or played; with {variant}: {why}")
    choices = result.trade_offs
    if len(choices) > 1:
        lines.append("Trade-offs, none of them beaten by another, least earth first:")
        lines += [_trade_off(row, units) for row in choices.to_dict("records")]
    return lines


def figures_in_words(figures: Mapping[str, Any], units: str = "m") -> str:
    """Write the figures of edits for people, with their units: ``across +21.96 m, turn -3.00°``.

    Parameters
    ----------
    figures
        Field of an edit, its number before it where there are several (``"1.across_m"``), to its value.
    units
        Lengths in ``"m"`` or ``"yd"``; rises in feet then.
    """
    return ", ".join(_figure(name, value, units) for name, value in figures.items())


def _figure(name: str, value: Any, units: str) -> str:
    if not isinstance(value, float):
        return f"{name} {value}"
    if name.endswith("_deg"):
        return f"{name.removesuffix('_deg')} {value:+.2f}°"
    if not name.endswith("_m"):
        return f"{name} {value:.2f}"
    words = name.removesuffix("_m")
    if units == "m":
        return f"{words} {value:+.2f} m"
    feet = words.endswith("rise")
    return f"{words} {value / FOOT_M:+.1f} ft" if feet else f"{words} {to_yards(value):+.1f} yd"


def _figures_of(row: Mapping[Any, Any]) -> dict[str, Any]:
    return {str(k): v for k, v in row.items() if k not in MEASURED}


def _trade_off(row: Mapping[Any, Any], units: str) -> str:
    words = f"  {show_volume(row['earth_m3'], units)}" if row["earth_m3"] >= 0 else "  no earth counted"
    if row["steepest_pct"] > 0:
        words += f", slopes to {row['steepest_pct']:.0f} %"
    words += f": margin {row['margin']:+.3f}"
    if np.isfinite(row["short_player_strokes"]):
        words += f", short player {row['short_player_strokes']:+.3f} strokes"
    return f"{words} ({figures_in_words(_figures_of(row), units)})"
