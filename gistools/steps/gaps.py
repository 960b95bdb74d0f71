"""A step over several holes where some have no answer: the others go on, and each gap is named."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from gistools.base.errors import Cancelled, GistoolsError
from gistools.site.results import Layers, Map


@dataclass(frozen=True)
class Gap:
    """A result that is missing from a study.

    Attributes
    ----------
    step, hole
        The step, and the hole, or None where the step has no result at all.
    reason
        Why, for people.
    fault
        Whether the program is at fault and not the data.
    """

    step: str
    hole: int | None
    reason: str
    fault: bool = False


def run_with_gaps(
    step: str,
    compute: Callable[[int | None], Any],
    hole: int | None,
    holes: list[int],
    stopped: Callable[[], bool],
) -> tuple[Any, list[Gap], Exception | None]:
    """Run a step for all holes, or hole by hole where that fails.

    Parameters
    ----------
    step
        Name of the step.
    compute
        Runs the step for one hole, or for all with None.
    hole
        The hole to study, None for all.
    holes
        The holes of the study.
    stopped
        Tells whether the user stopped the study; then the error that stops it passes.

    Returns
    -------
    result, gaps, error
        The joined result of the holes that have one (None for none), the gaps, and the first error.
    """
    first: Exception | None = None

    def attempt(number: int | None) -> tuple[Any, Exception | None]:
        nonlocal first
        try:
            return compute(number), None
        except Exception as error:
            if isinstance(error, Cancelled) or stopped():
                raise
            if _was_interrupted(error):  # a library has made an error of its own of Ctrl-C
                raise KeyboardInterrupt from error
            first = first or error
            return None, error

    result, error = attempt(hole)
    if error is None:
        return result, [], None
    if hole is not None or len(holes) < 2:
        return None, [_gap(step, holes[0] if holes else hole, error)], first
    parts, gaps = [], []
    for number in holes:
        result, error = attempt(number)
        if error is None:
            parts.append(result)
        else:
            gaps.append(_gap(step, number, error))
    if not parts and len({gap.reason for gap in gaps}) == 1:
        gaps = [dataclasses.replace(gaps[0], hole=None)]
    return joined(parts) if parts else None, gaps, first


def _was_interrupted(error: BaseException | None) -> bool:
    """Tell whether an interrupt by the user stands behind an error."""
    while error is not None:
        if isinstance(error, KeyboardInterrupt):
            return True
        error = error.__cause__ or error.__context__
    return False


def _gap(step: str, hole: int | None, error: Exception) -> Gap:
    if isinstance(error, GistoolsError):
        return Gap(step, hole, str(error).removeprefix(f"{step} cannot run, "))
    if isinstance(error, MemoryError):
        return Gap(
            step, hole, "there is not enough memory; study hole by hole, or take terrain of larger cells"
        )
    text = f"a fault in the program, not in your data: {type(error).__name__}: {error}"
    return Gap(step, hole, text, fault=True)


def joined(results: list[Any]) -> Any:
    """Return the results of a step for several holes as one result for all of them."""
    if isinstance(results[0], Mapping):
        names = dict.fromkeys(name for result in results for name in result)
        return Layers({n: _joined_layer([r[n] for r in results if n in r]) for n in names})
    return _joined_layer(results)


def _joined_layer(parts: list[Any]) -> Any:
    if isinstance(parts[0], Map):
        return parts[0]
    table = pd.concat(parts, ignore_index=True)
    repeats = [c for c in table.columns if c not in ("geometry", "hole")]
    if "hole" not in table:  # a layer of the whole site, as control points: each hole repeats it
        table = table.drop_duplicates(subset=repeats, ignore_index=True)
    info = parts[0].attrs.get("layer_info")
    if info is not None:
        info = info._replace(options={**info.options, "hole": None})
        table.attrs = info.as_attrs()
    return table


def gap_lines(gaps: Iterable[Gap]) -> list[str]:
    """Return the gaps of a study as lines for people: each reason once, with its steps and holes."""
    by_reason: dict[str, list[Gap]] = {}
    for gap in gaps:
        by_reason.setdefault(gap.reason, []).append(gap)
    lines = []
    for reason, alike in by_reason.items():
        steps = ", ".join(dict.fromkeys(gap.step for gap in alike))
        holes = sorted({gap.hole for gap in alike if gap.hole is not None})
        where = f", hole{'s' if len(holes) > 1 else ''} {', '.join(map(str, holes))}" if holes else ""
        lines.append(f"  {steps}{where}: {reason}")
    return ["Missing from this study:", *lines] if lines else []
