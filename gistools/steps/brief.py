"""The step that checks the brief."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from gistools.base.columns import columns
from gistools.base.progress import tick
from gistools.steps.catalogue import Option, Reads, step
from gistools.steps.writes import PageTable, Writes

if TYPE_CHECKING:
    from gistools.site.model import Site


@step(
    "brief",
    summary="The designer's intentions, checked",
    reads=[Reads("brief")],
    writes=[
        Writes(
            "brief",
            "",
            columns(
                "hole measure tee player wind zone pin feature line requirement figure margin result must "
                "rows_count why"
            ),
            "the designer's intentions, checked",
            page=PageTable(
                "Intentions and what was measured",
                "measure about requirement figure result why",
                verdict="result",
                whole=True,
                joined="tee player wind zone pin feature line",
            ),
        ),
    ],
    group="Strategy",
    cost="minutes",
    needs="brief",
    sources=["plain comparison; no published constant"],
)
def brief(
    site: Site,
    *,
    hole: int | None = None,
    brief_file: Annotated[
        str | None, Option("", "TOML file with the rows, instead of the table `brief`", file=True)
    ] = None,
) -> Any:
    """Check the designer's intentions, a row each, against what the steps measure.

    All result rows that match hole, tee, player, wind, zone, pin, feature and line have to be within what is
    asked; the figure is the one farthest from it, ``margin`` how far inside (in the unit of the measure). Of
    a layer that goes on shot after shot (`where_to_play`) the tee shots count. The rows of the brief are
    those of the table `brief`, or of a TOML file: a ``[[brief]]`` for each, with the fields of the table
    (:func:`gistools.steps.brief_rows.read_brief`).

    Returns
    -------
    DataFrame
        ``result`` is ``holds``, ``fails`` or ``no answer``.
    """
    import pandas as pd

    from gistools.steps.brief_rows import check_row, read_brief

    if hole is not None:
        site.selected_holes(hole)
    table = site.layer("brief") if brief_file is None else read_brief(brief_file)
    requirements = table.to_dict("records")
    rows = []
    for number, row in enumerate(requirements):
        tick(number / len(requirements), str(row.get("measure", "")))
        if hole is not None and not pd.isna(row.get("hole")) and int(row["hole"]) != hole:
            continue
        if hole is not None and pd.isna(row.get("hole")):
            row = row | {"hole": hole}
        rows.append(check_row(site, row))
    return rows
