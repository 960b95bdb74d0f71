"""Where each tee of a hole starts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gistools.steps.catalogue import need

if TYPE_CHECKING:
    from gistools.site.model import Site


def tees_of(site: Site, number: int) -> dict[str, tuple[float, float]]:
    """Start of each tee, from its line of play."""
    lines = need(site, "lines_of_play", hole=number)
    return {
        str(tee): tuple(line.coords[0][:2]) for tee, line in zip(lines["tee"], lines.geometry, strict=True)
    }
