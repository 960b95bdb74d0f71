"""Design and judge strategic golf holes on surveyed ground.

Console use::

    import gistools as gt
    site = gt.open_site("merrowby.gpkg")
    gt.carries(site, hole=1)
    gt.study(site)

Every step in :data:`gistools.steps.catalogue.STEPS` is a function here. Nothing heavy is imported until it is
used. Inside a desktop GIS these run in a process of their own: see :mod:`gistools.desktop.apart`.
"""

from __future__ import annotations

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
from gistools.steps.catalogue import STEPS, run

__version__ = "0.1.0"

#: name -> module that has it, and what it is called there if otherwise
_ELSEWHERE = {
    "open_site": "gistools.site.read",
    "check": "gistools.site.check",
    "write_sample": "gistools.site.sample",
    "study": "gistools.steps.study",
    "show": "gistools.desktop.show",
    "plot": "gistools.sheets.notebook",
    "table": "gistools.sheets.notebook",
    "vary": "gistools.design.vary",
    "compare": "gistools.design.compare",
    "sweep": "gistools.design.vary",
    "explain": "gistools.design.explain",
    "read_brief": "gistools.steps.brief_rows",
    "played_distance": "gistools.compute.ballistics.effective_distance",
    "proposed_site": "gistools.site.proposed",
    "hand_off": "gistools.handoff.package:handoff",
}

__all__ = [
    "Cancelled",
    "GistoolsError",
    "GistoolsWarning",
    "InputError",
    "SiteError",
    "WriteError",
    "run",
    *_ELSEWHERE,
    *STEPS,
]


def __getattr__(name: str) -> Any:
    if (name in _ELSEWHERE or name in STEPS) and name != "show":
        apart = import_module("gistools.desktop.apart")
        if apart.wanted():
            return apart.face(name)
    if name in _ELSEWHERE:
        module, _, there = _ELSEWHERE[name].partition(":")
        return getattr(import_module(module), there or name)
    if name in STEPS:
        return getattr(import_module(STEPS[name][0]), name)
    raise AttributeError(f"module 'gistools' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
