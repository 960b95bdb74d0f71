"""Types of the public functions. Written by scripts/stub.py from the declarations; do not edit."""

from typing import Final

from geopandas import GeoDataFrame
from pandas import DataFrame

from gistools.base.errors import Cancelled as Cancelled
from gistools.base.errors import GistoolsError as GistoolsError
from gistools.base.errors import GistoolsWarning as GistoolsWarning
from gistools.base.errors import InputError as InputError
from gistools.base.errors import SiteError as SiteError
from gistools.base.errors import WriteError as WriteError
from gistools.compute.ballistics.effective_distance import effective_distance as effective_distance
from gistools.design.brief_sensitivity import brief_sensitivity as brief_sensitivity
from gistools.design.compare import compare as compare
from gistools.design.edit_list import read_edits as read_edits
from gistools.design.edits import apply_edits as edit_site
from gistools.design.explain import explain as explain
from gistools.design.forms import lay_hole as lay_hole
from gistools.design.search import search_edits as search_edits
from gistools.design.sensitivity import sensitivity as sensitivity
from gistools.design.sentences import sentences as sentences
from gistools.design.tee_proposals import propose_tees as propose_tees
from gistools.design.turning_points import turning_points as turning_points
from gistools.design.uncertainty import uncertainty as uncertainty
from gistools.design.vary import sweep as sweep
from gistools.design.vary import vary as vary
from gistools.desktop.show import show as show
from gistools.handoff.package import handoff as hand_off
from gistools.sheets.drawings.write import write_as_built_report as write_as_built_report
from gistools.sheets.drawings.write import write_drawings as write_drawings
from gistools.sheets.notebook import plot as plot
from gistools.sheets.notebook import table as table
from gistools.sheets.page import write_sheets as write_sheets
from gistools.sheets.project_file import write_project as write_project
from gistools.site.check import check as check
from gistools.site.importing.site_file import import_site as import_site
from gistools.site.model import Site
from gistools.site.new import new_site as new_site
from gistools.site.proposed import proposed_site as proposed_site
from gistools.site.read import open_site as open_site
from gistools.site.results import Layers
from gistools.site.sample import write_sample as write_sample
from gistools.steps.brief_rows import read_brief as read_brief
from gistools.steps.catalogue import run as run
from gistools.steps.study import study as study

__all__ = [
    "Cancelled",
    "GistoolsError",
    "GistoolsWarning",
    "InputError",
    "SiteError",
    "WriteError",
    "open_site",
    "check",
    "import_site",
    "write_sample",
    "new_site",
    "proposed_site",
    "run",
    "study",
    "read_brief",
    "effective_distance",
    "edit_site",
    "read_edits",
    "vary",
    "sweep",
    "compare",
    "explain",
    "search_edits",
    "sentences",
    "turning_points",
    "sensitivity",
    "brief_sensitivity",
    "uncertainty",
    "propose_tees",
    "lay_hole",
    "write_sheets",
    "write_drawings",
    "write_project",
    "write_as_built_report",
    "hand_off",
    "plot",
    "table",
    "show",
    "lines_of_play",
    "lengths",
    "carries",
    "corridors",
    "diagonals",
    "zones",
    "setbacks",
    "slopes",
    "drainage",
    "flag_views",
    "screening",
    "sections",
    "effective_carries",
    "tee_shots",
    "strokes",
    "approaches",
    "positions",
    "where_to_play",
    "landing_areas",
    "scores",
    "playability",
    "brief",
    "quantities",
    "contours",
    "setting_out",
    "as_built_check",
]
__version__: Final[str]

def lines_of_play(site: Site, *, hole: int | None = ...) -> GeoDataFrame: ...
def lengths(
    site: Site,
    *,
    hole: int | None = ...,
    par_unit: str = ...,
    geoid_m: float = ...,
) -> GeoDataFrame: ...
def carries(site: Site, *, hole: int | None = ...) -> Layers: ...
def corridors(
    site: Site,
    *,
    hole: int | None = ...,
    spacing_m: float = ...,
    search_distance_m: float = ...,
    end_exclusion_m: float = ...,
) -> Layers: ...
def diagonals(site: Site, *, hole: int | None = ..., least_share_pct: float = ...) -> GeoDataFrame: ...
def zones(site: Site, *, hole: int | None = ...) -> Layers: ...
def setbacks(site: Site, *, hole: int | None = ...) -> Layers: ...
def slopes(
    site: Site,
    *,
    hole: int | None = ...,
    zone_radius_m: float = ...,
    drain_pct: float = ...,
    comfort_pct: float = ...,
    pin_radius_m: float = ...,
    edge_m: float = ...,
    limit_pct: float | None = ...,
    surround_m: float = ...,
) -> Layers: ...
def drainage(
    site: Site,
    *,
    hole: int | None = ...,
    hollow_depth_m: float = ...,
    hollow_area_m2: float = ...,
    catchment_m2: float = ...,
    radius_m: float = ...,
) -> Layers: ...
def flag_views(
    site: Site,
    *,
    hole: int | None = ...,
    aim: str = ...,
    mesh_m: float = ...,
    mesh_margin_m: float = ...,
    cell_m: float = ...,
    reach_m: float = ...,
) -> Layers: ...
def screening(
    site: Site,
    *,
    hole: int | None = ...,
    share_pct: float = ...,
    crest_layer: str = ...,
    crest_feature_id: int | None = ...,
    mesh_m: float = ...,
    crest_width_m: float = ...,
    side_slope_pct: float = ...,
) -> GeoDataFrame: ...
def sections(site: Site, *, hole: int | None = ..., spacing_m: float = ..., aim: str = ...) -> Layers: ...
def effective_carries(
    site: Site,
    *,
    hole: int | None = ...,
    players: tuple[str, ...] | None = ...,
    winds: tuple[str, ...] | None = ...,
) -> Layers: ...
def tee_shots(
    site: Site,
    *,
    hole: int | None = ...,
    players: tuple[str, ...] | None = ...,
    winds: tuple[str, ...] | None = ...,
    points_count: int = ...,
) -> Layers: ...
def strokes(
    site: Site,
    *,
    hole: int | None = ...,
    players: tuple[str, ...] | None = ...,
    winds: tuple[str, ...] | None = ...,
    spacing_m: float = ...,
) -> Layers: ...
def approaches(
    site: Site,
    *,
    hole: int | None = ...,
    players: tuple[str, ...] | None = ...,
    winds: tuple[str, ...] | None = ...,
    starts: str = ...,
    backstop_within_m: float = ...,
) -> GeoDataFrame: ...
def positions(
    site: Site,
    *,
    hole: int | None = ...,
    players: tuple[str, ...] | None = ...,
    winds: tuple[str, ...] | None = ...,
) -> Layers: ...
def where_to_play(
    site: Site,
    *,
    hole: int | None = ...,
    players: tuple[str, ...] | None = ...,
    winds: tuple[str, ...] | None = ...,
) -> GeoDataFrame: ...
def landing_areas(
    site: Site,
    *,
    hole: int | None = ...,
    players: tuple[str, ...] | None = ...,
    winds: tuple[str, ...] | None = ...,
) -> Layers: ...
def scores(
    site: Site,
    *,
    hole: int | None = ...,
    players: tuple[str, ...] | None = ...,
    winds: tuple[str, ...] | None = ...,
) -> DataFrame: ...
def playability(
    site: Site,
    *,
    hole: int | None = ...,
    players: tuple[str, ...] | None = ...,
    winds: tuple[str, ...] | None = ...,
) -> DataFrame: ...
def brief(site: Site, *, hole: int | None = ..., brief_file: str | None = ...) -> DataFrame: ...
def quantities(
    site: Site,
    *,
    hole: int | None = ...,
    strip_m: float = ...,
    respread_m: float = ...,
    swell_pct: float = ...,
    shrink_pct: float = ...,
    convention: str = ...,
    level_sd_m: float = ...,
    survey_spacing_m: float = ...,
) -> Layers: ...
def contours(
    site: Site,
    *,
    hole: int | None = ...,
    interval_m: float = ...,
    index_every: int = ...,
    simplify_tolerance_m: float = ...,
) -> GeoDataFrame: ...
def setting_out(
    site: Site,
    *,
    hole: int | None = ...,
    spacing_m: float = ...,
    chord_m: float = ...,
    station_m: float = ...,
    control_m: float = ...,
) -> Layers: ...
def as_built_check(
    site: Site,
    *,
    hole: int | None = ...,
    points: str = ...,
    order: str = ...,
    green_m: float = ...,
    tee_m: float = ...,
    fairway_m: float = ...,
    shape_m: float = ...,
    rough_m: float = ...,
    plan_m: float = ...,
    stakes: str = ...,
) -> Layers: ...
