"""Words on a sheet that cover no other word, measured with the fonts they are drawn in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from gistools.sheets.colours import INK
from gistools.sheets.drawings.paper import SMALL_PT, Sheet

HALO = {"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none", "alpha": 0.8}
PAD_PT = 0.6


class Labels:
    """Places for words on a sheet; those that are on its paper already are kept clear of."""

    def __init__(self, sheet: Sheet) -> None:
        self._renderer: Any = FigureCanvasAgg(sheet.figure).get_renderer()
        self._pixels = sheet.figure.dpi / 72.0
        self._taken: list[Bbox] = [self._box(t) for t in sheet.paper.texts]

    def _box(self, text: Text) -> Bbox:
        return text.get_window_extent(self._renderer).padded(PAD_PT * self._pixels)

    def fits(self, text: Text, axes: Axes) -> bool:
        """Tell whether a text lies inside its window and covers no other, and keep it clear if so."""
        box, window = self._box(text), axes.get_window_extent(self._renderer)
        inside = window.x0 <= box.x0 and box.x1 <= window.x1 and window.y0 <= box.y0 and box.y1 <= window.y1
        if not inside or any(box.overlaps(other) for other in self._taken):
            return False
        self._taken.append(box)
        return True

    def write(
        self, axes: Axes, x: float, y: float, words: str, *, gap: float = 0.0, must: bool = True, **style: Any
    ) -> None:
        """Write words at the first place where they fit: over a spot, or with a ``gap`` [pt] beside it.

        Words that do not have to be there are left out where no place is free; others stay at the first.
        """
        options = {"fontsize": SMALL_PT, "color": INK, "zorder": 9, "bbox": HALO, **style}
        text = axes.annotate(
            words, (x, y), (0.0, 0.0), textcoords="offset points", ha="center", va="center",
            parse_math=False, annotation_clip=True, **options,
        )  # fmt: skip
        size = text.get_window_extent(self._renderer)
        wide, tall = size.width / self._pixels + 2 * PAD_PT, size.height / self._pixels + 2 * PAD_PT
        for place in _places(wide, tall, gap):
            text.set_position(place)
            if self.fits(text, axes):
                return
        if not must:
            text.remove()
            return
        text.set_position(next(_places(wide, tall, gap)))
        self._taken.append(self._box(text))


def _places(wide: float, tall: float, gap: float) -> Iterator[tuple[float, float]]:
    """Yield offsets of the middle of words from their spot [pt], the best first."""
    if not gap:
        yield 0.0, 0.0
    side, above = gap + wide / 2, gap + tall / 2
    for far in (0.0, 1.0, -1.0, 2.0, -2.0, 3.0, -3.0, 4.5, -4.5):
        yield 0.0, above + far * tall if far >= 0 else -above + (far + 1) * tall
        yield side, far * tall
        yield -side, far * tall
