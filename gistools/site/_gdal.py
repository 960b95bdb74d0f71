"""A clean start for the two doors to GDAL.

A desktop GIS sets ``PROJ_LIB`` or ``PROJ_DATA`` to its own, often older, coordinate database. The libraries
behind the doors read the setting whenever they start their surroundings, that is with nearly every call, and
then know no EPSG code. Every call through a door therefore runs inside :func:`own_proj_data`: they stay on
the database they were built with, and the setting is as it was afterwards for whoever made it.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager

FOREIGN = ("PROJ_LIB", "PROJ_DATA")

_lock = threading.Lock()
_inside = 0
_kept: dict[str, str] = {}


@contextmanager
def own_proj_data() -> Iterator[None]:
    """Hide the coordinate database of another installation; also a decorator.

    The last one out restores it.
    """
    global _inside
    with _lock:
        if _inside == 0:
            _kept.update({name: os.environ.pop(name) for name in FOREIGN if name in os.environ})
        _inside += 1
    try:
        yield
    finally:
        with _lock:
            _inside -= 1
            if _inside == 0:
                os.environ.update(_kept)
                _kept.clear()
