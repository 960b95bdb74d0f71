"""Values as JSON holds them."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pandas as pd


def plain(value: Any) -> Any:
    """Return a value JSON can hold: None for missing, four decimals for numbers, text for the rest."""
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return round(float(value), 4) if math.isfinite(value) else None
    return str(value)


def embedded(value: Any) -> str:
    """Write values as JSON that is safe inside a script element, whatever names are in it."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for sign in "&<>\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text
