"""What happens inside the one transaction.

Old result layers out, new ones in, all that is kept about them.
"""

from __future__ import annotations

import sqlite3
from typing import Any

from gistools.base.errors import WriteError
from gistools.base.values import json_text
from gistools.site import _merge
from gistools.site.provenance import COPY_URI, RECORD_URI, records_in
from gistools.site.result_layers import ResultLayer
from gistools.site.results import Map, Style
from gistools.site.schema import RESULT_PREFIX, SURVEY_LAYERS


def exchange(
    link: sqlite3.Connection,
    layers: list[ResultLayer],
    records: list[str],
    styles: list[Style | None],
    mark: dict[str, Any] | None,
) -> None:
    """Take the old layers out and bring the new ones in, with titles, records and styles.

    Parameters
    ----------
    link
        The site file, in a transaction, with the scratch file attached as ``src``.
    layers
        The results, already built in the scratch file.
    records, styles
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
    for table in _outdated(link, layers):
        _merge.drop(link, table)
    for layer, text, style in zip(layers, records, styles, strict=True):
        earlier = _other_holes_records(link, layer)
        _merge.drop(link, layer.table)
        _merge.copy(link, layer.table, srs_id)
        link.execute(
            "UPDATE gpkg_contents SET description = ?, last_change = strftime('%Y-%m-%dT%H:%M:%fZ','now')"
            " WHERE table_name = ?",
            (layer.text, layer.table),
        )
        if isinstance(layer.content, Map):
            link.execute(
                "UPDATE gpkg_2d_gridded_coverage_ancillary SET field_name = ?, quantity_definition = ?"
                " WHERE tile_matrix_set_name = ?",
                (layer.content.name, layer.text or layer.content.name, layer.table),
            )
        _merge.describe_columns(link, layer.table, layer.info.columns)
        for old in earlier:
            _merge.add_record(link, layer.table, RECORD_URI, old)
        _merge.add_record(link, layer.table, RECORD_URI, text)
        if style is not None:
            _merge.add_styles(link, [(layer.table, _geometry_column(link, layer.table), *style)])
    if mark is not None:
        _merge.forget(link, None, COPY_URI)
        _merge.add_record(link, None, COPY_URI, json_text(mark))
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
        " definition, description) SELECT srs_name, srs_id, organization, organization_coordsys_id,"
        " definition,"
        " description FROM src.gpkg_spatial_ref_sys s WHERE s.srs_id = ?1"
        " AND NOT EXISTS (SELECT 1 FROM main.gpkg_spatial_ref_sys WHERE srs_id = ?1)",
        (row[0],),
    )
    return int(row[0])


def _outdated(link: sqlite3.Connection, layers: list[ResultLayer]) -> list[str]:
    """Return result tables that an earlier run of the same steps left and this one does not have."""
    new = {layer.table for layer in layers}
    runs = {(layer.info.step, layer.hole) for layer in layers if layer.info.step}
    out = []
    for table, stored in records_in(link).items():
        if table.lower() in new or not table.lower().startswith(RESULT_PREFIX):
            continue
        earlier = {(t.get("step"), t.get("options", {}).get("hole")) for t in stored}
        whole = {step for step, hole in runs if hole is None}
        if earlier <= runs or {step for step, _ in earlier} <= whole:
            out.append(table)
    return out


def _other_holes_records(link: sqlite3.Connection, layer: ResultLayer) -> list[str]:
    """Return the records that still hold for the rows of other holes."""
    if layer.hole is None or isinstance(layer.content, Map) or "hole" not in layer.content:
        return []
    if not (layer.content["hole"] != layer.hole).any():
        return []
    stored = next((t for name, t in records_in(link).items() if name.lower() == layer.table), [])
    return [json_text(t) for t in stored if t.get("options", {}).get("hole") != layer.hole]


def _geometry_column(link: sqlite3.Connection, table: str) -> str:
    row = link.execute(
        "SELECT column_name FROM main.gpkg_geometry_columns WHERE table_name = ?", (table,)
    ).fetchone()
    return "" if row is None else str(row[0])
