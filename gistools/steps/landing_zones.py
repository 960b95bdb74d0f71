"""Landing zones of a hole, drawn or derived."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gistools.compute.layout.zones import Choices as ZoneChoices
    from gistools.compute.layout.zones import Zone
    from gistools.site.model import Site


def zones_of(site: Site, number: int, choices: ZoneChoices) -> list[Zone]:
    """Return the landing zones of a hole: those drawn, else derived once per site."""
    from gistools.compute.layout.zones import Zone, derive_zones
    from gistools.hole.layout_holes import hole_of

    drawn = site.layer("zones", number)
    if len(drawn):
        return [Zone(str(r.zone), r.geometry, "", "drawn", int(r.fid)) for r in drawn.itertuples()]
    key = ("layout.zones", number, choices)
    if key not in site.memo:
        site.memo[key] = derive_zones(hole_of(site, number), choices)
    found: list[Zone] = site.memo[key]
    return found
