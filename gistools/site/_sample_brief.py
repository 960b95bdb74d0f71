"""The designer's intentions for the sample site, as rows of its `brief` table."""

from __future__ import annotations

from typing import Any

#: one row fails on purpose: see the page of the sample
BRIEF: tuple[dict[str, Any], ...] = ()
