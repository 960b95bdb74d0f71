"""The columns that say what a row is about, declared once for the result layers of every part."""

from __future__ import annotations

from gistools.catalogue import Column

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
