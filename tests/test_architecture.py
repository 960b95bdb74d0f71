"""The house rules, kept true: which way imports go, what a light import loads, how long files are."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import gistools

PACKAGE = Path(gistools.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))
BASE = {"__version__", "errors", "units", "kinds", "schema", "catalogue", "keys", "_jit", "_where"}
#: part -> parts it may import (itself and the base files always)
ALLOWED = {
    "site": {"ground"},
    "ground": {"site"},
    "layout": {"site", "ground"},
    "shots": {"site", "ground"},
    "strategy": {"site", "ground", "layout", "shots"},
    "handoff": {"site", "ground", "layout", "shots", "strategy"},
    "sheets": {"site", "ground", "layout", "shots", "strategy", "handoff", "_study"},
}
#: the only modules that may import these
DOORS = {
    "numba": {"_jit.py"},
    "fiona": {"site/_vector.py"},
    "rasterio": {"site/_raster.py"},
    "ezdxf": {"handoff/dxf.py"},
    "click": {"cli.py", "_options.py"},
    "rich": {"screen.py", "summary.py"},
}


def imported(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{a.name}" for a in node.names}
    return found


def relative(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


@pytest.mark.parametrize("path", MODULES, ids=relative)
def test_imports_go_one_way(path: Path) -> None:
    part = relative(path).split("/")[0]
    if part not in ALLOWED:
        return
    for name in imported(path):
        if not name.startswith("gistools."):
            continue
        other = name.split(".")[1]
        assert other in BASE | {part} | ALLOWED[part], f"{relative(path)} imports {name}"


@pytest.mark.parametrize("path", MODULES, ids=relative)
def test_heavy_libraries_come_through_one_door(path: Path) -> None:
    for name in imported(path):
        root = name.split(".")[0]
        assert root not in DOORS or relative(path) in DOORS[root], f"{relative(path)} imports {root}"
        assert root != "matplotlib" or relative(path).startswith("sheets/")


@pytest.mark.parametrize(
    "path", [p for p in MODULES if relative(p).startswith(("ground/", "shots/"))], ids=relative
)
def test_ground_and_shots_compute_on_arrays_alone(path: Path) -> None:
    if path.name in ("steps.py", "site_holes.py"):
        return
    roots = {name.split(".")[0] for name in imported(path)}
    assert "geopandas" not in roots
    assert not any(n.startswith("gistools.site") for n in imported(path))


@pytest.mark.parametrize("path", [p for p in MODULES if p.name == "_kernels.py"], ids=relative)
def test_kernels_do_arithmetic_only(path: Path) -> None:
    roots = {n.split(".")[0] for n in imported(path)}
    assert roots <= {"__future__", "math", "numpy", "typing", "gistools"}


def test_light_import() -> None:
    code = (
        "import sys, gistools, gistools.cli;"
        "print([m for m in ('numba','fiona','rasterio','pyogrio','osgeo','geopandas','pandas','matplotlib','shapely')"
        " if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert out.strip() == "[]"


@pytest.mark.parametrize("path", MODULES, ids=relative)
def test_files_stay_short(path: Path) -> None:
    limit = 900 if path.name == "_kernels.py" else 450
    assert len(path.read_text(encoding="utf-8").splitlines()) <= limit


def test_no_module_takes_the_name_of_a_public_function() -> None:
    """Importing ``gistools.<name>`` would put the module where ``gt.<name>`` is expected, from the second call on."""
    submodules = {p.stem for p in PACKAGE.glob("*.py")} | {p.name for p in PACKAGE.iterdir() if p.is_dir()}
    assert not submodules & set(gistools.__all__)
