"""A clean start for the two doors to GDAL.

A desktop GIS sets ``PROJ_LIB`` or ``PROJ_DATA`` to its own, often older, coordinate database; the libraries
behind the doors read the setting when they are loaded and then know no EPSG code. Loading them inside
:func:`own_proj_data` keeps them on the database they were built with, and leaves the setting as it was for
whoever made it.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

FOREIGN = ("PROJ_LIB", "PROJ_DATA")


@contextmanager
def own_proj_data() -> Iterator[None]:
    """Hide the coordinate database of another installation while a library is loaded."""
    kept = {name: os.environ.pop(name) for name in FOREIGN if name in os.environ}
    try:
        yield
    finally:
        os.environ.update(kept)
