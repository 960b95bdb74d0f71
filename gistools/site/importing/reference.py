"""The CRS of an imported site, given or chosen, and how accurate the way into it is."""

from __future__ import annotations

import warnings
from collections import Counter
from typing import Any

import numpy as np
import shapely
from pyproj import CRS, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from pyproj.exceptions import CRSError
from pyproj.transformer import TransformerGroup

from gistools.base.errors import InputError, SiteError
from gistools.site.importing.mapping import Mapping
from gistools.site.importing.source_layer import SourceLayer
from gistools.site.read import usable_crs

CORE = ("tees", "greens", "fairway", "play_lines")


def choose_crs(layers: list[SourceLayer], mapping: Mapping) -> tuple[CRS, str]:
    """Return the CRS of the site and why: the mapping's, else one of the sources, else a UTM zone.

    Raises
    ------
    InputError
        If none is given and no source has one, or the given one cannot be used.
    """
    if mapping.crs:
        try:
            return usable_crs(CRS.from_user_input(mapping.crs), "the site"), "given"
        except (CRSError, SiteError) as fault:
            raise InputError(f"the CRS {mapping.crs!r} cannot be used: {fault}") from fault
    core = {(r.source, r.name) for r in mapping.rules if r.layer in CORE}
    among = [layer for layer in layers if (layer.source, layer.name) in core] or layers
    stated = [layer.crs for layer in among if layer.crs is not None]
    if not stated:
        names = ", ".join(sorted({layer.source for layer in among}))
        raise InputError(
            f"{names} states no CRS; give the one it was drawn in (--crs EPSG:..., or `crs` in the mapping)"
        )
    projected = [crs for crs in stated if crs.is_projected]
    for text, _ in Counter(crs.to_wkt() for crs in projected).most_common():
        try:
            crs = usable_crs(CRS.from_wkt(text), "a source")
        except SiteError:
            continue
        code = crs.to_epsg()
        return (CRS.from_epsg(code) if code else crs), "of the source"
    return _utm(among, mapping), "the UTM zone of the site; a national grid may be given instead"


def _utm(layers: list[SourceLayer], mapping: Mapping) -> CRS:
    lon, lat = _centre(layers, mapping)
    area = AreaOfInterest(lon, lat, lon, lat)
    zones = query_utm_crs_info(datum_name="WGS 84", area_of_interest=area)
    if not zones:
        raise InputError(f"no UTM zone covers {lat:.2f}, {lon:.2f}; give a CRS (--crs EPSG:...)")
    return CRS.from_epsg(int(zones[0].code))


def _centre(layers: list[SourceLayer], mapping: Mapping) -> tuple[float, float]:
    places: list[Any] = []
    for layer in layers:
        if layer.crs is None:
            continue
        change = Transformer.from_crs(layer.crs, 4326, always_xy=True)
        for rule in mapping.rules:
            if (rule.source, rule.name) != (layer.source, layer.name) or rule.layer not in CORE:
                continue
            shapes = [
                s for s, fits in zip(layer.shapes, rule.fits(layer), strict=True) if fits and s is not None
            ]
            for shape in shapes:
                middle = shapely.centroid(shape)
                places.append(change.transform(middle.x, middle.y))
    if not places:
        raise InputError(
            "no source has tees, greens, fairways or hole lines; correct the mapping, or give --crs"
        )
    lon, lat = np.median(np.array(places, float), axis=0)
    return float(lon), float(lat)


def accuracy_lines(layers: list[SourceLayer], crs: CRS) -> list[str]:
    """Say what accuracy in plan can be expected of each source in the CRS of the site."""
    lines = []
    for layer in layers:
        if layer.crs is None or layer.crs.equals(crs, ignore_axis_order=True):
            continue
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # a grid that is missing is said below
            group = TransformerGroup(layer.crs, crs, always_xy=True)
        accuracy = group.transformers[0].accuracy if group.transformers else -1
        stated = f"about {accuracy:g} m" if accuracy >= 0 else "an unknown amount"
        if accuracy == 0:
            stated = "nothing"
        coarse = "" if group.best_available else " (a finer grid of the national survey is not installed)"
        lines.append(f"{layer.source}, {layer.name}: {layer.crs.name} to {crs.name} adds {stated}{coarse}")
    if any(layer.open_map for layer in layers):
        lines.append(
            "outlines of OpenStreetMap are traced from pictures: widths are good to some 2 m, a picture may"
            " lie a few metres aside; set plan_error_m accordingly, and survey what decides"
        )
    return list(dict.fromkeys(lines))
