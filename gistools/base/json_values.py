"""Values as JSON holds them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any


def json_value(value: Any, digits: int | None = None) -> Any:
    """Return a value made of what JSON can hold.

    Parameters
    ----------
    value
        Any value; arrays and NumPy scalars become lists and numbers, mappings get text keys.
    digits
        Decimals kept of floating-point numbers; all by default.

    Returns
    -------
    object
        None for missing values, nan and infinity; text for whatever JSON has no form for.
    """
    if isinstance(value, Mapping):
        return {str(k): json_value(v, digits) for k, v in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [json_value(v, digits) for v in value]
    if hasattr(value, "tolist"):
        value = value.tolist()
        if isinstance(value, list):
            return json_value(value, digits)
    if isinstance(value, float):
        if not math.isfinite(value):
            return None
        return value if digits is None else round(value, digits)
    if value is None or isinstance(value, (bool, int, str)):
        return value
    return None if type(value).__name__ in ("NAType", "NaTType") else str(value)
