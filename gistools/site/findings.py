"""Findings about a site: what is wrong or was assumed, where, and what to do."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Level = Literal["error", "warning", "note"]
#: what varies between findings that are alike: numbers, and names in quotes
_VARYING = re.compile(r"'[^']*'|(?<![\w.`])\d[\d,]*(?:\.\d+)?(?![\w`])")
_ORDER = {"error": 0, "warning": 1, "note": 2}


@dataclass(frozen=True)
class Finding:
    """Something found when a site is read or checked.

    Attributes
    ----------
    level
        ``"error"``: steps that read the layer refuse to run; ``"warning"``: something was assumed or left
        out, and results depend on it; ``"note"``: good to know.
    layer
        Survey layer or table; empty where it concerns the whole site.
    fid
        Id of the feature in the file, or None for the layer as a whole.
    message, remedy
        What is wrong (or was assumed), and what to do about it.
    hole
        Number of the hole it concerns, where it concerns one alone.
    """

    level: Level
    layer: str
    fid: int | None
    message: str
    remedy: str = ""
    hole: int | None = None

    @property
    def where(self) -> str:
        """Layer and feature, for people."""
        if not self.layer:
            return "site"
        return self.layer if self.fid is None else f"{self.layer} {self.fid}"

    def __str__(self) -> str:
        advice = f"; {self.remedy}" if self.remedy else ""
        return f"{self.level}: {self.where}: {self.message}{advice}"


def in_order(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings without repeats, errors first, then warnings, then notes."""
    return sorted(dict.fromkeys(findings), key=lambda f: _ORDER[f.level])


@dataclass(frozen=True)
class Group:
    """Findings that say the same about several features.

    Attributes
    ----------
    level, layer, remedy
        As of its findings.
    message
        The message of one, or of many with ranges for numbers and examples for names.
    fids, holes
        Features and holes it is about.
    count
        Number of findings.
    """

    level: Level
    layer: str
    message: str
    remedy: str
    fids: tuple[int, ...]
    holes: tuple[int, ...]
    count: int

    @property
    def where(self) -> str:
        """Layer and features, for people: ``"fairway (18 features: 1, 2, 3, 4, 5, 6 and 12 more)"``."""
        if not self.layer:
            return "site"
        if self.count == 1 or not self.fids:
            return self.layer + "".join(f" {fid}" for fid in self.fids)
        return f"{self.layer} ({self.count} features: {listed(self.fids)})"


def grouped(findings: Iterable[Finding]) -> list[Group]:
    """Return findings that are alike as one: same level, layer and words, other numbers and names."""
    alike: dict[tuple[str, ...], list[Finding]] = {}
    for f in findings:
        key = (
            f.level,
            f.layer,
            _VARYING.sub("#", f.message),
            _VARYING.sub("#", f.remedy),
            str(f.fid is None),
        )
        alike.setdefault(key, []).append(f)
    return [
        Group(
            many[0].level,
            many[0].layer,
            _ranged([f.message for f in many]),
            _ranged([f.remedy for f in many]),
            tuple(f.fid for f in many if f.fid is not None),
            tuple(sorted({f.hole for f in many if f.hole is not None})),
            len(many),
        )
        for many in alike.values()
    ]


def _ranged(texts: list[str]) -> str:
    """Return alike texts as one: a range for each number that varies, up to three examples for each name."""
    if len(set(texts)) == 1:
        return texts[0]
    columns = list(zip(*(_VARYING.findall(text) for text in texts), strict=True))
    fillings = iter(_range_of(values) for values in columns)
    return _VARYING.sub(lambda _: next(fillings), texts[0])


def _range_of(values: tuple[str, ...]) -> str:
    unique = list(dict.fromkeys(values))
    if len(unique) == 1:
        return unique[0]
    if any(v.startswith("'") for v in unique):
        return ", ".join(unique[:3]) + (f" and {len(unique) - 3} more" if len(unique) > 3 else "")
    low, high = (pick(unique, key=lambda v: float(v.replace(",", ""))) for pick in (min, max))
    return f"{low} to {high}"


def listed(ids: Iterable[int], most: int = 6) -> str:
    """Write feature ids for people: ``"3, 7, 9 and 12 more"``."""
    unique = list(dict.fromkeys(int(i) for i in ids))
    text = ", ".join(map(str, unique[:most]))
    return text if len(unique) <= most else f"{text} and {len(unique) - most} more"
