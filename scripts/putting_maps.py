"""Maps of expected putts to each hole location of each green of a site.

``python scripts/putting_maps.py SITE FOLDER [PUTTER]``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
from gistools.hole.strategy_holes import ground_of

import gistools as gt
from gistools.compute.ballistics.turf import resistance_of
from gistools.compute.decision.putting import built_in_putter, solve_green
from gistools.compute.terrain.surface import Surface

STIMP_FT, ROOM_M = 10.0, 15.0


def main(site_path: str, folder: str, putter: str = "scratch") -> int:
    """Draw one picture a hole."""
    site = gt.open_site(site_path)
    for hole in sorted(site.layer("greens")["hole"].unique()):
        g = ground_of(site, int(hole))
        i, j = np.nonzero(g.target)
        room = round(ROOM_M / g.surface.cell)
        i0, j0 = max(i.min() - room, 0), max(j.min() - room, 0)
        part = np.s_[i0 : i.max() + room, j0 : j.max() + room]
        surface = Surface(
            g.land.smooth[part],
            g.surface.x_west + j0 * g.surface.cell,
            g.surface.y_north - i0 * g.surface.cell,
            g.surface.cell,
        )
        target = g.target[part]
        greens = solve_green(
            surface, target, g.pin_xy, built_in_putter(putter), resistance=resistance_of(STIMP_FT)
        )
        x, y = surface.centres()
        figure, axes = plt.subplots(1, len(greens), figsize=(4 * len(greens), 4.4), layout="constrained")
        for ax, green, name in zip(np.atleast_1d(axes), greens, g.pins, strict=True):
            putts = np.where(target, green.at(x[None, :], y[:, None]), np.nan)
            edges = (x[0], x[-1], y[-1], y[0])
            image = ax.imshow(putts, extent=edges, vmin=1.0, vmax=2.6, cmap="viridis")
            lines = ax.contour(
                x,
                y,
                putts,
                levels=[1.25, 1.5, 1.75, 1.9, 2.0, 2.1, 2.25, 2.5],
                colors="white",
                linewidths=0.8,
            )
            ax.clabel(lines, fontsize=7)
            ax.contour(
                x,
                y,
                np.where(target, surface.z, np.nan),
                levels=np.arange(0, 60, 0.1),
                colors="0.6",
                linewidths=0.4,
            )
            ax.plot(*green.hole, "r+")
            ax.set_title(name, fontsize=9)
            ax.set_axis_off()
        figure.colorbar(image, ax=axes, shrink=0.7, label="expected putts")
        figure.suptitle(
            f"Hole {hole}: expected putts, {putter}, Stimpmeter {STIMP_FT:g} ft; grey contours every 0.1 m"
        )
        Path(folder).mkdir(parents=True, exist_ok=True)
        figure.savefig(Path(folder) / f"putts_hole_{hole}.png", dpi=70)
        plt.close(figure)
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
