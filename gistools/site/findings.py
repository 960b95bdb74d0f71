"""Findings about a site: what is wrong or was assumed, where, and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Level = Literal["error", "warning", "note"]
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


def listed(ids: Iterable[int], most: int = 6) -> str:
    """Write feature ids for people: ``"3, 7, 9 and 12 more"``."""
    unique = list(dict.fromkeys(int(i) for i in ids))
    text = ", ".join(map(str, unique[:most]))
    return text if len(unique) <= most else f"{text} and {len(unique) - most} more"
