"""Maps as small pictures inside the page: relief and coloured values, as PNG data addresses."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import Any

import matplotlib
import numpy as np
from matplotlib import image
from numpy.typing import NDArray

from gistools.compute.terrain.surface import Surface
from gistools.sheets.frame import Frame
from gistools.site.results import Map

#: even steps of lightness that keep their order for colour-blind readers (Nunez et al. 2018, PLOS ONE 13(7))
PALETTE = "cividis"
STEPS = 48
LONGEST_SIDE = 420
SUN_FROM_DEG, SUN_HEIGHT_DEG = 315.0, 40.0


@dataclass(frozen=True)
class Picture:
    """An image laid on the plan: address of its data, size [m] and SVG transform."""

    src: str
    width: float
    height: float
    transform: str

    def as_dict(self) -> dict[str, Any]:
        """Plain values for the page."""
        return {
            "src": self.src,
            "w": round(self.width, 2),
            "h": round(self.height, 2),
            "t": self.transform,
        }


def hillshade(
    surface: Surface, exaggerate: float = 3.0, from_deg: float = SUN_FROM_DEG
) -> np.ndarray[Any, Any]:
    """Return the share of light each cell gets from a bearing, 0 to 1 (Lambert's cosine law)."""
    gy, gx = np.gradient(surface.z, surface.cell)
    gx, gy = exaggerate * gx, -exaggerate * gy
    azimuth, height = np.radians(from_deg), np.radians(SUN_HEIGHT_DEG)
    sun = (np.sin(azimuth) * np.cos(height), np.cos(azimuth) * np.cos(height), np.sin(height))
    light = (-gx * sun[0] - gy * sun[1] + sun[2]) / np.sqrt(1 + gx**2 + gy**2)
    return np.asarray(np.clip(light, 0, 1))


def data_address(rgba: NDArray[np.uint8]) -> str:
    """Return pixels as a PNG data address."""
    buffer = io.BytesIO()
    image.imsave(buffer, rgba, format="png", pil_kwargs={"optimize": True})
    return "data:image/png;base64," + base64.b64encode(buffer.getvalue()).decode("ascii")


def relief(surface: Surface, frame: Frame, *, up: bool = False) -> Picture:
    """Shade the ground, lit from the upper left of the page.

    Black or white laid thinly over whatever colour lies beneath, so it suits both themes. With ``up`` the
    page is turned so that play runs up it.
    """
    step = max(int(np.ceil(max(surface.z.shape) / LONGEST_SIDE)), 1)
    from_deg = (frame.bearing_deg + (-45.0 if up else -135.0)) % 360.0
    light = hillshade(surface, from_deg=from_deg)[::step, ::step]
    middle = float(np.nanmedian(light)) if np.isfinite(light).any() else 0.5
    difference = np.nan_to_num(light - middle)
    grey = np.where(difference < 0, 0, 255).astype(np.uint8)
    opacity = (np.round(np.clip(np.abs(difference) * 0.9, 0, 0.45) * 28) / 28 * 255).astype(np.uint8)
    rgba = np.dstack([grey, grey, grey, opacity])
    return _picture(rgba, surface.x_west, surface.y_north, surface.cell * step, frame)


def span(maps: list[Map]) -> tuple[float, float]:
    """Return the range of values that maps shown side by side share: their 2nd to 95th percentile."""
    parts = [m.values[np.isfinite(m.values)].ravel() for m in maps]
    values = np.concatenate(parts) if parts else np.zeros(0, np.float32)
    if not len(values):
        return 0.0, 1.0
    low, high = (float(v) for v in np.percentile(values, (2, 95)))
    return (low, high) if high > low else (low, low + 1.0)


def coloured(raster: Map, frame: Frame, low: float, high: float, *, reverse: bool = False) -> Picture:
    """Colour a map from ``low`` to ``high``; cells without an answer are clear."""
    step = max(int(np.ceil(max(raster.values.shape) / LONGEST_SIDE)), 1)
    values = raster.values[::step, ::step]
    share = np.clip((values - low) / (high - low), 0, 1)
    share = np.round(np.nan_to_num(share) * STEPS) / STEPS
    rgba = (_palette(reverse)(share) * 255).astype(np.uint8)
    rgba[..., 3] = np.where(np.isfinite(values), 255, 0)
    rgba[~np.isfinite(values)] = 0
    return _picture(rgba, raster.x_west, raster.y_north, raster.cell * step, frame)


def stops(*, reverse: bool = False) -> list[str]:
    """Colours of a map's steps, from its low to its high end; the page reads values back from them."""
    rgb = (_palette(reverse)(np.linspace(0, 1, STEPS + 1))[:, :3] * 255).astype(np.uint8)
    return [f"#{r:02x}{g:02x}{b:02x}" for r, g, b in rgb]


def _palette(reverse: bool) -> Any:
    return matplotlib.colormaps[PALETTE + ("_r" if reverse else "")]


def _picture(rgba: NDArray[np.uint8], x_west: float, y_north: float, cell: float, frame: Frame) -> Picture:
    rows, cols = rgba.shape[:2]
    return Picture(data_address(rgba), cols * cell, rows * cell, frame.matrix(x_west, y_north))
