"""What happens inside the one transaction: old result layers out, new ones in, all that is kept about them."""

from __future__ import annotations

import sqlite3
from typing import Any

from gistools.base.errors import WriteError
from gistools.site import _merge
from gistools.site.model import Map
from gistools.site.provenance import COPY_URI, RECORD_URI, as_json, records_in
from gistools.site.results import Item
from gistools.site.schema import RESULT_PREFIX, SURVEY_LAYERS


def exchange(
    link: sqlite3.Connection,
    items: list[Item],
    told: list[str],
    drawn: list[tuple[str, str] | None],
    mark: dict[str, Any] | None,
) -> None:
    """Take the old layers out and bring the new ones in, with titles, records and styles.

    Parameters
    ----------
    link
        The site file, in a transaction, with the scratch file attached as ``src``.
    items
        The results, already built in the scratch file.
    told, drawn
        For each result its record and its style (or None).
    mark
        What to say about the file as a whole, where it is a copy.

    Raises
    ------
    WriteError
        If rows of the bookkeeping would point at nothing.
    """
    broken = link.execute("PRAGMA main.foreign_key_check").fetchall()
    srs_id = _srs_id(link)
    for table in _outdated(link, items):
        _merge.drop(link, table)
    for item, text, style in zip(items, told, drawn, strict=True):
        earlier = _other_holes_records(link, item)
        _merge.drop(link, item.table)
        _merge.copy(link, item.table, srs_id)
        link.execute(
            "UPDATE gpkg_contents SET description = ?, last_change = strftime('%Y-%m-%dT%H:%M:%fZ','now')"
            " WHERE table_name = ?",
            (item.text, item.table),
        )
        if isinstance(item.content, Map):
            link.execute(
                "UPDATE gpkg_2d_gridded_coverage_ancillary SET field_name = ?, quantity_definition = ?"
                " WHERE tile_matrix_set_name = ?",
                (item.content.name, item.text or item.content.name, item.table),
            )
        _merge.describe_columns(link, item.table, item.titles)
        for old in earlier:
            _merge.add_record(link, item.table, RECORD_URI, old)
        _merge.add_record(link, item.table, RECORD_URI, text)
        if style is not None:
            _merge.add_styles(link, [(item.table, _geometry_column(link, item.table), *style)])
    if mark is not None:
        _merge.forget(link, None, COPY_URI)
        _merge.add_record(link, None, COPY_URI, as_json(mark))
    if link.execute("PRAGMA main.foreign_key_check").fetchall() != broken:
        raise WriteError("the bookkeeping of the file would no longer agree; nothing was written")


def _srs_id(link: sqlite3.Connection) -> int:
    """Return the file's own id of the site's CRS: that of the survey layers, else the scratch file's."""
    names = ", ".join("?" for _ in SURVEY_LAYERS)
    row = link.execute(
        f"SELECT c.srs_id FROM main.gpkg_contents c WHERE lower(c.table_name) IN ({names})"
        " AND c.data_type = 'features' AND c.srs_id > 0"
        " ORDER BY lower(c.table_name) NOT IN ('greens'), lower(c.table_name) NOT IN ('tees', 'fairway')",
        tuple(SURVEY_LAYERS),
    ).fetchone()
    if row is not None:
        return int(row[0])
    row = link.execute(
        "SELECT srs_id FROM src.gpkg_contents WHERE table_name LIKE ? AND data_type <> 'attributes'",
        (RESULT_PREFIX + "%",),
    ).fetchone()
    if row is None:
        return 0
    link.execute(
        "INSERT INTO main.gpkg_spatial_ref_sys (srs_name, srs_id, organization, organization_coordsys_id,"
        " definition, description) SELECT srs_name, srs_id, organization, organization_coordsys_id, definition,"
        " description FROM src.gpkg_spatial_ref_sys s WHERE s.srs_id = ?1"
        " AND NOT EXISTS (SELECT 1 FROM main.gpkg_spatial_ref_sys WHERE srs_id = ?1)",
        (row[0],),
    )
    return int(row[0])


def _outdated(link: sqlite3.Connection, items: list[Item]) -> list[str]:
    """Return result tables that an earlier run of the same steps left and this one does not have."""
    new = {item.table for item in items}
    runs = {(item.step, item.hole) for item in items if item.step}
    out = []
    for table, told in records_in(link).items():
        if table.lower() in new or not table.lower().startswith(RESULT_PREFIX):
            continue
        earlier = {(t.get("step"), t.get("options", {}).get("hole")) for t in told}
        whole = {step for step, hole in runs if hole is None}
        if earlier <= runs or {step for step, _ in earlier} <= whole:
            out.append(table)
    return out


def _other_holes_records(link: sqlite3.Connection, item: Item) -> list[str]:
    """Return the records that still hold for the rows of other holes."""
    if item.hole is None or isinstance(item.content, Map) or "hole" not in item.content:
        return []
    if not (item.content["hole"] != item.hole).any():
        return []
    told = next((t for name, t in records_in(link).items() if name.lower() == item.table), [])
    return [as_json(t) for t in told if t.get("options", {}).get("hole") != item.hole]


def _geometry_column(link: sqlite3.Connection, table: str) -> str:
    row = link.execute(
        "SELECT column_name FROM main.gpkg_geometry_columns WHERE table_name = ?", (table,)
    ).fetchone()
    return "" if row is None else str(row[0])
