"""What greens, tees, bunkers and fairways take if they are built: layers, turf, drains.

Depths and spacings are settings of the site; each default says where it comes from. They are assumptions
about construction, not measurements.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from gistools.base.settings import SETTINGS
from gistools.compute.layout.lengths import combined_factor
from gistools.site.model import Site
from gistools.steps.quantity_rows import level_at
from gistools.steps.setting_out_runs import label

AREA = "area of the survey layer"


@dataclass(frozen=True)
class BuildUp:
    """A material of the features of a layer; ``setting`` is its depth, or the spacing of drains, or none."""

    layer: str
    material: str
    setting: str = ""

    @property
    def basis(self) -> str:
        """Where the depth or spacing comes from."""
        return SETTINGS[self.setting].text if self.setting else AREA


BUILD_UPS = (
    BuildUp("greens", "rootzone mix", "green_rootzone_depth_m"),
    BuildUp("greens", "drainage gravel", "green_gravel_depth_m"),
    BuildUp("greens", "drains", "green_drain_spacing_m"),
    BuildUp("greens", "turf or seed"),
    BuildUp("tees", "tee rootzone", "tee_rootzone_depth_m"),
    BuildUp("tees", "turf or seed"),
    BuildUp("bunkers", "bunker sand", "bunker_sand_depth_m"),
    BuildUp("bunkers", "drains", "bunker_drain_spacing_m"),
    BuildUp("fairway", "turf or seed"),
)


def material_rows(site: Site, holes: list[int]) -> list[dict[str, Any]]:
    """Return a row for each material of each feature of the holes that is drawn as an area.

    Volume is area times depth, in place; length of drains is area over spacing, the mean length of parallel
    lines in any area. Areas are on the ground: those of the grid divided by the square of the combined
    factor. A depth or spacing of 0 leaves the material out.
    """
    rows = []
    for build_up in BUILD_UPS:
        for hole, name, fid, area in _areas(site, build_up.layer, holes):
            size = float(site.setting(build_up.setting, hole)) if build_up.setting else float("nan")
            if size == 0:
                continue
            spaced = build_up.setting.endswith("spacing_m")
            rows.append(
                {
                    "hole": hole,
                    "feature": name,
                    "layer": build_up.layer,
                    "feature_id": fid,
                    "material": build_up.material,
                    "area_m2": area,
                    "layer_depth_m": float("nan") if spaced else size,
                    "material_volume_m3": float("nan") if spaced else area * size,
                    "drain_spacing_m": size if spaced else float("nan"),
                    "drain_length_m": area / size if spaced else float("nan"),
                    "basis": build_up.basis,
                }
            )
    return rows


def _areas(site: Site, layer: str, holes: list[int]) -> Iterator[tuple[int, str, Any, float]]:
    """Yield hole, name, feature id and ground area of the features of a layer that are areas."""
    for row in site.layer(layer).to_dict("records"):
        shape = row["geometry"]
        if row["hole"] not in holes or not shape.geom_type.endswith("Polygon"):
            continue
        x, y = shape.centroid.x, shape.centroid.y
        level = float(level_at(site.ground, [x], [y])[0])
        factor = combined_factor(site.crs_metric, x, y, level if np.isfinite(level) else 0.0)
        yield int(row["hole"]), label(layer, row), row["fid"], float(shapely.area(shape) / factor**2)
