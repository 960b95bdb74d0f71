"""Single values: is one missing, how does JSON hold it, how does it look in a name."""

from __future__ import annotations

import hashlib
import json
import math
import re
import unicodedata
from collections.abc import Mapping
from typing import Any


def is_missing(value: Any) -> bool:
    """Tell whether a single value is None, NaN, NaT or pandas' NA. Text is never missing, even when empty."""
    if value is None or type(value).__name__ == "NAType":
        return True
    try:
        return bool(value != value)
    except (TypeError, ValueError):  # an array
        return False


def json_value(value: Any, digits: int | None = None) -> Any:
    """Return a value made of what JSON can hold.

    Parameters
    ----------
    value
        Anything. Mappings and sequences are converted item by item; missing and infinite numbers become
        None; what JSON has no type for becomes text.
    digits
        Decimals that numbers are rounded to; None keeps them all.
    """
    if isinstance(value, Mapping):
        return {str(k): json_value(v, digits) for k, v in value.items()}
    if hasattr(value, "tolist"):  # NumPy arrays and scalars
        value = value.tolist()
    if isinstance(value, list | tuple | set | frozenset):
        return [json_value(v, digits) for v in value]
    if isinstance(value, bool | int | str):
        return value
    if is_missing(value):
        return None
    if isinstance(value, float):
        if not math.isfinite(value):
            return None
        return value if digits is None else round(value, digits)
    return str(value)


def json_text(value: Any, digits: int | None = None, *, indent: int | None = None) -> str:
    """Return a value as strict JSON text, keys in order."""
    whole = json_value(value, digits)
    return json.dumps(whole, ensure_ascii=False, sort_keys=True, allow_nan=False, indent=indent)


def slug(text: Any, empty: str = "x") -> str:
    """Return text as a part of a table, raster or file name: small letters, digits and underscores.

    Accents are dropped (``Überhang`` is ``uberhang``). Text without a single plain letter or digit, such as a
    name in another script, becomes ``x`` and a short hash of it, so that two names stay two. The result is
    never a path.

    Parameters
    ----------
    text
        The text.
    empty
        What empty text becomes.
    """
    words = str(text).strip()
    ascii_only = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "_", ascii_only).strip("_")
    if name or not re.search(r"\w", words):
        return name or empty
    return "x" + hashlib.sha256(words.encode("utf-8", "replace")).hexdigest()[:8]
