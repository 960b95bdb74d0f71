"""What a step writes: a result layer with its columns."""

from __future__ import annotations

from dataclasses import dataclass

from gistools.base.columns import Column
from gistools.site.schema import RESULT_PREFIX


@dataclass(frozen=True)
class Writes:
    """A result layer: its name without the ``study_`` prefix, geometry type, columns and meaning.

    ``geometry`` is a simple-feature type name, ``""`` for a plain table, or ``"raster"`` for maps: a step may
    then return any number of :class:`~gistools.site.model.Map` whose names start with ``layer``. ``visible``
    layers are switched on when a desktop shows them first.
    """

    layer: str
    geometry: str
    columns: tuple[Column, ...] = ()
    text: str = ""
    visible: bool = False

    @property
    def table(self) -> str:
        """Name of the layer in the file."""
        return RESULT_PREFIX + self.layer
