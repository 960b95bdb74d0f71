"""Design and judge strategic golf holes on surveyed ground.

Console use::

    import gistools as gt
    site = gt.open_site("merrowby.gpkg")
    gt.carries(site, hole=1)
    gt.study(site)

Every step in :data:`gistools.steps.catalogue.STEPS` is a function here. Nothing heavy is imported until it is
used. Inside a desktop GIS the functions run in a child process: see :mod:`gistools.desktop.remote`.
"""

from __future__ import annotations

import os
import sys
from importlib import import_module
from typing import Any

from gistools.base.errors import (
    Cancelled,
    GistoolsError,
    GistoolsWarning,
    InputError,
    SiteError,
    WriteError,
)
from gistools.base.version import __version__ as __version__
from gistools.site.results import Style, set_style_sources
from gistools.steps.catalogue import STEPS

#: public function -> module that has it, and what it is called there if otherwise
_FUNCTIONS = {
    "open_site": "gistools.site.read",
    "check": "gistools.site.check",
    "import_site": "gistools.site.importing.site_file",
    "write_sample": "gistools.site.sample",
    "new_site": "gistools.site.new",
    "proposed_site": "gistools.site.proposed",
    "run": "gistools.steps.catalogue",
    "study": "gistools.steps.study",
    "read_brief": "gistools.steps.brief_rows",
    "effective_distance": "gistools.compute.ballistics.effective_distance",
    "edit_site": "gistools.design.edits:apply_edits",
    "read_edits": "gistools.design.edit_list",
    "vary": "gistools.design.vary",
    "sweep": "gistools.design.vary",
    "compare": "gistools.design.compare",
    "explain": "gistools.design.explain",
    "search_edits": "gistools.design.search",
    "sentences": "gistools.design.sentences",
    "turning_points": "gistools.design.turning_points",
    "sensitivity": "gistools.design.sensitivity",
    "brief_sensitivity": "gistools.design.brief_sensitivity",
    "uncertainty": "gistools.design.uncertainty",
    "propose_tees": "gistools.design.tee_proposals",
    "lay_hole": "gistools.design.forms",
    "write_sheets": "gistools.sheets.page",
    "write_drawings": "gistools.sheets.drawings.write",
    "write_project": "gistools.sheets.project_file",
    "write_as_built_report": "gistools.sheets.drawings.write",
    "hand_off": "gistools.handoff.package:handoff",
    "plot": "gistools.sheets.notebook",
    "table": "gistools.sheets.notebook",
    "show": "gistools.desktop.show",
    **{name: f"gistools.steps.{name}" for name in STEPS},
}
#: functions that return objects of a plotting library, which cannot come from another process
_LOCAL_ONLY = ("plot",)

__all__ = [
    "Cancelled",
    "GistoolsError",
    "GistoolsWarning",
    "InputError",
    "SiteError",
    "WriteError",
    *_FUNCTIONS,
]


def _remote() -> Any:
    """Return the module that calls functions in a child process, where they have to; else None."""
    if "qgis.core" not in sys.modules and os.environ.get("GISTOOLS_SUBPROCESS") != "1":
        return None
    remote = import_module("gistools.desktop.remote")
    return remote if remote.required() else None


def _sheet_style(layer: str) -> Style | None:
    from gistools.sheets.styles import desktop_style

    return desktop_style(layer)


def _survey_style(layer: str, geometry: str) -> Style | None:
    from gistools.sheets.styles import survey_styles

    return survey_styles(layer, geometry)


set_style_sources(_sheet_style, _survey_style)


def __getattr__(name: str) -> Any:
    if name not in _FUNCTIONS:
        raise AttributeError(f"module 'gistools' has no attribute {name!r}")
    module, _, source_name = _FUNCTIONS[name].partition(":")
    remote = _remote() if name != "show" else None
    if remote is None:
        return getattr(import_module(module), source_name or name)
    if name in _LOCAL_ONLY:
        raise AttributeError(f"gistools.{name} works in a Python of its own; use gistools.show here")
    return remote.function(name, module, source_name or name)


def __dir__() -> list[str]:
    absent = _LOCAL_ONLY if _remote() is not None else ()
    return sorted(set(__all__) - set(absent))
