"""The step of sections."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.compute.terrain.defaults import AIMS
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.styles import Style
from gistools.steps.terrain_inputs import AIM, PARTED, PLAN, SIGHT
from gistools.steps.writes import Writes

if TYPE_CHECKING:
    from gistools.compute.terrain.sections import Section
    from gistools.compute.terrain.surface import Floats
    from gistools.site.model import Site
    from gistools.steps.slope_rows import Row


@step(
    "sections",
    summary="Ground profiles along lines of play, approaches and sightlines",
    reads=[*PLAN, *PARTED, Reads("trees"), Reads("structures")],
    writes=[
        Writes(
            "sections",
            "LineString",
            columns(
                "hole section section_kind tee zone pin length_m start_level_m end_level_m climb_m "
                "least_clearance_m least_clearance_at_m note"
            ),
            "lines that profiles were taken along",
            style=Style("#55606a", 0.4, dashed=True),
        ),
        Writes(
            "section_points",
            "Point",
            columns(
                "hole section section_kind tee zone pin station_m level_m gradient_pct obstacle_top_m "
                "sight_level_m clearance_m"
            ),
            "profiles: stations with level, slope, things above ground and line of sight",
            style=Style("#55606a", 0.6),
        ),
    ],
    group="Ground and sight",
    loops="ground",
    sources=["plane geometry; no published constant", *SIGHT[1:]],
)
def sections(
    site: Site,
    *,
    hole: int | None = None,
    spacing_m: Annotated[float, Option("m", "distance between stations", 0.1, 50)] = 2.0,
    aim: Annotated[str, AIM] = "top",
) -> dict[str, Any]:
    """Profiles along the lines of play and along the approaches, with the line of sight to the flag.

    One section per line of play, and one from the centre of each landing zone to each hole location; on a
    hole without zones from each tee instead. Slope is the rise along the line between the stations before and
    behind. Any other line: :func:`gistools.compute.terrain.sections.section`.
    """
    import numpy as np
    from shapely.geometry import LineString, Point

    from gistools.compute.terrain.line_of_sight import BALL_M
    from gistools.compute.terrain.sections import section
    from gistools.hole import HoleModel
    from gistools.hole.sight import centre

    lines: list[Row] = []
    points: list[Row] = []

    def add(key: Row, profile: Section, way: Floats) -> None:
        lines.append(key | profile.summary() | {"geometry": LineString(way)})
        points.extend(key | row | {"geometry": Point(x, y)} for row, x, y in profile.stations())

    numbers = site.selected_holes(hole)
    for k, n in enumerate(numbers):
        tick(k / len(numbers), f"sections, hole {n}")
        h = HoleModel(site, n)
        obstacles = h.scene.obstacles
        for tee in h.tees_by_length:
            ground = section(h.surface, tee.line, spacing_m=spacing_m, obstacles=obstacles)
            key = {
                "section_kind": "line of play",
                "tee": tee.name,
                "section": f"line of play, {tee.name} tee",
            }
            add({"hole": n} | key, ground, tee.line)
        starts = [({"zone": z.zone}, centre(z.area), z.zone) for z in h.zones]
        starts = starts or [({"tee": t.name}, t.start, f"{t.name} tee") for t in h.tees_by_length]
        for where, place, name in starts:
            for pin in h.flags:
                way = np.array([place, (pin.place.x, pin.place.y)])
                up = max(AIMS[aim] * h.look["target_m"], BALL_M)
                ground = section(
                    h.surface,
                    way,
                    spacing_m=spacing_m,
                    obstacles=obstacles,
                    eye_m=h.look["eye_m"],
                    target_m=up,
                )
                key = {"section_kind": "approach", "pin": pin.name, "section": f"{name} to {pin.name}"}
                add({"hole": n} | where | key, ground, way)
    return {
        "sections": lines,
        "section_points": points,
    }
