"""Everything that is wrong with a site, or was assumed about it, all at once."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gistools.base.errors import SiteError
from gistools.site.consistency import consistency_findings
from gistools.site.findings import Finding, in_order
from gistools.site.model import Site
from gistools.site.plausibility import plausibility_findings
from gistools.site.read import assemble

__all__ = ["Finding", "check"]


def check(
    site: str | Path | Site,
    terrain: str | Path | None = None,
    fields: Mapping[str, Any] | None = None,
    *,
    height_unit: str | None = None,
) -> list[Finding]:
    """Check a site file, or a site already open, and return everything found.

    Parameters
    ----------
    site
        Path of the GeoPackage, or a site. Of a file every page is looked at; of a site the layers as they are
        now, with what was found when it was read.
    terrain, fields, height_unit
        As for :func:`gistools.open_site`; only for a path.

    Returns
    -------
    list of Finding
        Errors first, then warnings, then notes. A file that cannot be opened at all gives a single error.

    Raises
    ------
    InputError
        If ``fields`` or ``height_unit`` make no sense.
    """
    if isinstance(site, Site):
        return in_order([*site.findings, *consistency_findings(site), *plausibility_findings(site)])
    try:
        opened, _ = assemble(Path(site), terrain, fields, height_unit, thorough=True)
    except SiteError as fault:
        return [Finding("error", "", None, str(fault))]
    return list(opened.findings)
