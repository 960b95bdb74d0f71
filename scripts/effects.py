"""Print what the strokes of hole 1 of the sample hang on: mound, turf, green speed, camber, sight, stance.

Each thing is changed alone and the hole played out for the scratch man from the back tee in still air. The
table of docs/strokes.md is its output: `python scripts/effects.py`, some ten minutes.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

import numpy as np

from gistools.compute.layout.alignment import Alignment
from gistools.design.vary import vary
from gistools.design.zone_totals import zone_totals
from gistools.hole import HoleModel
from gistools.site.model import Site
from gistools.site.sample import sample_site
from gistools.site.types import ArrayTerrain

PLAYER, TEE, MOUND = "scratch man", "back", "Haar Knowe"
SIDES = ("beyond left", "beyond right")


def tilted(site: Site, slope: float) -> Site:
    """Return the sample with the far fairway of hole 1 tilted: falling to the right by so much more [m/m]."""
    hole = HoleModel(site, 1)
    line = Alignment(hole.tees_by_length[0].line)
    zones = [zone.area.centroid for zone in hole.zones if zone.zone in SIDES]
    middle = line.locate([(p.x, p.y) for p in zones])[0].mean()
    ground = site.surface(site.hole_bounds(1, 200.0))
    x, y = ground.grid.mesh()
    along, right, _ = line.locate(np.column_stack([x.ravel(), y.ravel()]))
    fade = np.clip(2.0 - np.abs(along - middle) / 30.0, 0.0, 1.0) * np.clip(
        2.0 - np.abs(right) / 45.0, 0.0, 1.0
    )
    return site.replace(
        ground=ArrayTerrain(ground.with_heights(ground.z - (slope * right * fade).reshape(ground.z.shape)))
    )


def changes(site: Site) -> Iterator[tuple[str, Site]]:
    """Yield every change in words, with the site it makes."""
    yield "as it is", site
    yield "mound left out", vary(site, remove=[MOUND])
    yield "mound 1 m higher", vary(site, raise_m={MOUND: 1.0})
    for firmness in ("soft", "firm"):
        yield f"turf {firmness}", vary(site, firmness=firmness)
    for speed in (8.0, 12.0):
        yield f"greens {speed:g} ft", vary(site, stimp_ft=speed)
    for slope in (0.04, -0.04):
        yield (
            f"far fairway falls {100 * abs(slope):.0f} % more to the {'right' if slope > 0 else 'left'}",
            tilted(site, slope),
        )
    for value in (0.0, 30.0):
        yield (
            f"blind flag widens aim by {value:g} %",
            site.with_settings({"blind_dispersion_increase_pct": value}),
        )
    for value in (0.0, 6.0):
        words = f"a degree of slope under the feet widens aim by {value:g} %"
        yield words, site.with_settings({"slope_dispersion_increase_pct": value})


def main() -> None:
    """Print the table."""
    pins = None
    for words, changed in changes(sample_site()):
        totals = zone_totals(changed, 1, TEE, PLAYER)
        if pins is None:
            pins = list(totals)
            print(f"| change | {' | '.join(pins)} |\n|---|{'---|' * len(pins)}")
        cells = [" / ".join(f"{totals[pin].get(side, np.nan):.2f}" for side in SIDES) for pin in pins]
        print(f"| {words} | {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    sys.exit(main())
