"""The coordinates that leave.

The site's own CRS and unit, heights in the same unit, and text that is safe.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np
from anyascii import anyascii
from numpy.typing import ArrayLike, NDArray
from pyproj import CRS

from gistools.base.errors import InputError
from gistools.base.units import FOOT_M, US_SURVEY_FOOT_M
from gistools.site.model import Site

#: decimals of coordinates in files: a tenth of a millimetre, so that rounding is no part of any error
DECIMALS = 4

_NAMES = {"m": "metre", "us-ft": "US survey foot", "ft": "international foot"}


@dataclass(frozen=True)
class Frame:
    """How metres inside become coordinates in files.

    Attributes
    ----------
    crs
        CRS of the files: the site's own.
    unit_m
        Metres in one unit of plan coordinates *and levels*.
    unit
        ``m``, ``us-ft`` or ``ft``.
    """

    crs: CRS
    unit_m: float
    unit: str

    @classmethod
    def of(cls, site: Site) -> Frame:
        """Return the frame of a site.

        Raises
        ------
        InputError
            If the unit of its CRS is none that the file formats know.
        """
        known = {"m": 1.0, "us-ft": US_SURVEY_FOOT_M, "ft": FOOT_M}
        for unit, factor in known.items():
            if abs(site.unit_m / factor - 1.0) < 1e-9:
                return cls(site.crs, factor, unit)
        raise InputError(
            f"the unit of {site.crs.name} is {site.unit_m} m; files can be written in metres, US"
            f" survey feet and"
            " international feet only"
        )

    @property
    def unit_name(self) -> str:
        """The unit in words."""
        return _NAMES[self.unit]

    @property
    def epsg(self) -> int | None:
        """EPSG code of the CRS, or None if it has none."""
        code = self.crs.to_epsg()
        return None if code is None else int(code)

    @property
    def vertical(self) -> str:
        """Name of the vertical CRS, or empty where the site's CRS has none."""
        return str(self.crs.sub_crs_list[1].name) if self.crs.is_compound else ""

    @property
    def tag(self) -> str:
        """Part of file names that tells CRS and unit: ``epsg27700_m``."""
        return f"epsg{self.epsg}_{self.unit}" if self.epsg else f"local_{self.unit}"

    def out(self, metres: ArrayLike) -> NDArray[np.float64]:
        """Turn metres into file units."""
        return np.asarray(metres, float) / self.unit_m


def plain_text(value: Any, *, empty: str = "") -> str:
    """Reduce text to what instruments take.

    ASCII letters, digits, blank, ``_ . / -``, not starting with a sign. Other scripts are written in Latin
    letters.
    """
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return empty
    flat = anyascii(str(value))
    flat = re.sub(r"[^A-Za-z0-9 _./-]+", "_", flat)
    flat = re.sub(r"\s+", " ", flat).strip(" _./-")
    return flat or empty


def file_name(value: Any, *, empty: str = "unnamed") -> str:
    """Reduce a name to a safe part of a file name.

    Letters, digits, ``_`` and ``-``, at most 60, no device name.
    """
    name = re.sub(r"[^A-Za-z0-9-]+", "_", plain_text(value)).strip("_-")[:60]
    if re.fullmatch(r"(?i)con|prn|aux|nul|com\d|lpt\d", name):
        name += "_"
    return name or empty


def xml_text(value: Any) -> str:
    """Drop the characters XML 1.0 cannot hold at all; escaping the others is the writer's work."""
    return re.sub(r"[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "", str(value))
