"""What every drawing on paper shares, without a plotting library: round scales and the caution."""

from __future__ import annotations

#: scales of plans, ``1 : n``; those of ISO 5455:1979 (from memory) and others of site plans (common practice)
SCALES = (100, 200, 250, 500, 1000, 1250, 1500, 2000, 2500, 5000, 10000)
CAUTION = (
    "Not for construction before a licensed surveyor or engineer has checked it; local codes come first."
)
