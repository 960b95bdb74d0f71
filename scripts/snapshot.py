"""Keep the answers of every step, and compare them with those of another version.

Run: python scripts/snapshot.py keep FOLDER            every result layer of the sample, and of its plan in US
survey feet
     python scripts/snapshot.py compare FOLDER FOLDER  what differs: layers, columns, rows, figures

One player (scratch man), two winds (calm and prevailing). The sites that are studied lie in the first FOLDER
as files and are used again where they are found, so two versions answer for the same ground. Columns that
were renamed are named with ``--renamed old=new``.
"""

from __future__ import annotations

import argparse
import pickle
import shutil
import sys
import warnings
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from gistools.base.renamed import COLUMNS, LAYERS

#: layer -> old and new name of a column
COLUMN_PAIRS = [
    (new.partition(".")[0], (old.partition(".")[2], new.partition(".")[2])) for old, new in COLUMNS.items()
]
TURN_DEG = 37.0
FOREIGN_CRS = 2225  # California zone 1 in US survey feet: a plan far from where it was drawn


def sites(folder: Path) -> dict[str, Path]:
    """Sample site and its plan alone, turned and in US survey feet; made where they are missing."""
    import gistools as gt

    sample, plan = folder / "sample.gpkg", folder / "plan.gpkg"
    if not sample.exists():
        gt.write_sample(sample)
    if not plan.exists():
        site = gt.open_site(sample)
        for name, table in site.tables.items():
            if isinstance(table, gpd.GeoDataFrame) and len(table):
                turned = table.drop(columns="fid").copy()
                turned.geometry = table.geometry.rotate(TURN_DEG, origin=(0.0, 0.0)).scale(
                    3937 / 1200, 3937 / 1200, origin=(0.0, 0.0)
                )
                turned.set_crs(FOREIGN_CRS, allow_override=True).to_file(plan, layer=name, driver="GPKG")
    return {"sample": sample, "plan": plan}


def answers(path: Path, plan_only: bool) -> dict[str, Any]:
    """Every result layer of every step that runs on a site."""
    import gistools as gt
    from gistools.steps.catalogue import STEPS, find

    site = gt.open_site(path)
    layers: dict[str, Any] = {}
    for name in STEPS:
        options: dict[str, Any] = {}
        takes = {c.name for c in find(name).choices}
        if "players" in takes:
            options["players"] = ("scratch man",)
        if "winds" in takes:
            options["winds"] = ("calm", "prevailing")
        if plan_only and any(r.layer == "terrain" and r.required for r in find(name).reads):
            continue
        try:
            result = gt.run(name, site, **options)
        except gt.GistoolsError as fault:
            layers[name] = str(fault)
            continue
        for layer, table in (
            result if isinstance(result, dict) else {find(name).writes[0].layer: result}
        ).items():
            if hasattr(table, "values") and not isinstance(table, pd.DataFrame):
                layers[layer] = np.asarray(table.values)
            else:
                layers[layer] = pd.DataFrame(
                    {
                        c: (table[c].to_wkb() if c == table.attrs.get("geometry", "geometry") else table[c])
                        for c in table
                    }
                )
    return layers


def keep(folder: Path) -> None:
    """Write the answers of this version into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, path in sites(folder).items():
        with (folder / f"{name}.pickle").open("wb") as out:
            pickle.dump(answers(path, plan_only=name == "plan"), out)
        print(name, "kept in", folder, file=sys.stderr)


def compare(before: Path, after: Path, renamed: dict[str, str], limit: float, strokes: float) -> int:
    """Print what differs between two folders; return the number of differences."""
    faults = 0

    def report(*words: object) -> None:
        nonlocal faults
        faults += 1
        print(*words)

    for name in ("sample", "plan"):
        old, new = (pickle.loads((folder / f"{name}.pickle").read_bytes()) for folder in (before, after))
        old = {LAYERS.get(layer, renamed.get(layer, layer)): table for layer, table in old.items()}
        for layer in sorted(old.keys() ^ new.keys()):
            report(name, layer, "is only in the", "first" if layer in old else "second")
        for layer in sorted(old.keys() & new.keys()):
            a, b = old[layer], new[layer]
            if isinstance(a, str) or isinstance(b, str):
                if not (isinstance(a, str) and isinstance(b, str)):
                    report(name, layer, a if isinstance(a, str) else b)
            elif isinstance(a, np.ndarray):
                tolerance = strokes if layer.startswith("strokes") else 1e-6
                if a.shape != b.shape or not np.allclose(a, b, rtol=0, atol=tolerance, equal_nan=True):
                    worst = np.nanmax(np.abs(a - b)) if a.shape == b.shape else "shape"
                    report(name, layer, "map differs by", worst)
            else:
                now = dict(pair for key, pair in COLUMN_PAIRS if key == layer)
                for line in table_differences(a.rename(columns=now | renamed), b, limit, strokes):
                    report(name, layer, line)
    return faults


def table_differences(a: pd.DataFrame, b: pd.DataFrame, limit: float, strokes: float) -> list[str]:
    """Differences of two tables, a line each."""
    lines = [f"{c} is only in the {'first' if c in a else 'second'}" for c in sorted(set(a) ^ set(b))]
    if len(a) != len(b):
        return [*lines, f"{len(a)} rows and {len(b)} rows"]
    for c in [c for c in a if c in b]:
        if c == "geometry":
            x, y = (gpd.GeoSeries.from_wkb(list(t[c])) for t in (a, b))
            away = x.hausdorff_distance(y).max() if len(x) else 0.0
            if away > 1e-6:
                lines.append(f"{c} differs by up to {away:.3g}")
            continue
        try:
            u, v = (pd.to_numeric(t[c]).astype(float).to_numpy() for t in (a, b))
        except (TypeError, ValueError):
            u, v = (t[c].fillna("").astype(str).to_numpy() for t in (a, b))
            if (u != v).any():
                k = int(np.flatnonzero(u != v)[0])
                lines.append(f"{c} differs in {int((u != v).sum())} rows, first {u[k]!r} and {v[k]!r}")
            continue
        tolerance = strokes if c.endswith("_strokes") else limit
        bad = ~np.isclose(u, v, rtol=tolerance, atol=tolerance, equal_nan=True)
        if bad.any():
            k = int(np.flatnonzero(bad)[0])
            lines.append(
                f"{c} differs in {int(bad.sum())} of {len(u)} rows by up to"
                f" {np.nanmax(np.abs(u - v)):.3g}, first {u[k]} and {v[k]}"
            )
    return lines


def main() -> int:
    """Read the words of the command line."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("action", choices=("keep", "compare"))
    words.add_argument("folder", type=Path, nargs="+")
    words.add_argument("--renamed", nargs="*", default=[], help="old=new")
    words.add_argument("--limit", type=float, default=1e-9)
    words.add_argument("--strokes", type=float, default=1e-6)
    words.add_argument("--from", dest="source", type=Path, help="folder with the sites to study")
    given = words.parse_args()
    if given.action == "keep":
        if given.source:
            given.folder[0].mkdir(parents=True, exist_ok=True)
            for name in ("sample.gpkg", "plan.gpkg"):
                shutil.copy(given.source / name, given.folder[0] / name)
        keep(given.folder[0])
        return 0
    renamed = dict(pair.split("=", 1) for pair in given.renamed)
    return 1 if compare(*given.folder, renamed, given.limit, given.strokes) else 0


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    raise SystemExit(main())
