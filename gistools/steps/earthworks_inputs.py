"""The caution that the steps of earthworks share."""

from __future__ import annotations

CAUTION = (
    "Quantities and levels are only as good as the survey under them. Have them checked by a licensed"
    " surveyor or"
    " engineer before they are priced, staked or built; buried services, drainage, water and protected ground"
    " are not looked at here."
)
