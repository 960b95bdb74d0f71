"""Columns of result layers: name, unit and meaning."""

from __future__ import annotations

from dataclasses import dataclass

from gistools.base.units import UNITS, suffix_ok


@dataclass(frozen=True)
class Column:
    """A column of a result layer: its name (ending in its unit), unit and meaning."""

    name: str
    unit: str
    text: str

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            raise ValueError(f"column {self.name}: unit {self.unit!r} is not on the list in units.py")
        if not suffix_ok(self.name, self.unit):
            raise ValueError(f"column {self.name}: the name should end in {UNITS[self.unit][0]}")

    @property
    def title(self) -> str:
        """Column heading for people, with the unit in brackets."""
        suffix, shown = UNITS[self.unit]
        words = self.name.removesuffix(suffix).replace("_", " ").capitalize()
        return f"{words} [{shown}]" if shown else words


HOLE = Column("hole", "", "number of the hole")
TEE = Column("tee", "", "tee set")
PLAYER = Column("player", "", "player")
WIND = Column("wind", "", "wind")
ZONE = Column("zone", "", "landing zone, by place")
PIN = Column("pin", "", "hole location")
FEATURE = Column("feature", "", "name of the feature")
LAYER = Column("layer", "", "survey layer of the feature")
FID = Column("fid", "", "id of the feature in that layer")
NOTE = Column("note", "", "what was assumed, or why there is no answer")
