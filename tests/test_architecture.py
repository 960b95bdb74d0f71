"""The house rules, kept true: which way imports go, what a light import loads, how long files are."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

import gistools

PACKAGE = Path(gistools.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))
#: the only modules that may import these
DOORS = {
    "numba": {"base/jit.py"},
    "fiona": {"site/_vector.py"},
    "rasterio": {"site/_raster.py"},
    "ezdxf": {"handoff/dxf.py"},
    "openpyxl": {"handoff/workbook.py"},
    "click": {
        "cli/main.py",
        "cli/design_commands.py",
        "cli/desktop_commands.py",
        "cli/lead_commands.py",
        "cli/options.py",
        "cli/exits.py",
        "cli/filters.py",
        "cli/completion.py",
    },
    "filelock": {"steps/finished_tasks.py"},
    "rich": {"cli/screen.py"},
}


def imported(path: Path) -> set[str]:
    result = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            result |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            result |= {node.module} | {f"{node.module}.{a.name}" for a in node.names}
    return result


def relative(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


@pytest.mark.parametrize("path", MODULES, ids=relative)
def test_heavy_libraries_come_through_one_door(path: Path) -> None:
    for name in imported(path):
        root = name.split(".")[0]
        assert root not in DOORS or relative(path) in DOORS[root], f"{relative(path)} imports {root}"
        assert root != "matplotlib" or relative(path).startswith("sheets/")


@pytest.mark.parametrize("path", [p for p in MODULES if p.name.endswith("_kernels.py")], ids=relative)
def test_kernels_do_arithmetic_only(path: Path) -> None:
    roots = {n.split(".")[0] for n in imported(path)}
    assert roots <= {"__future__", "math", "numpy", "typing", "gistools"}


def test_light_import() -> None:
    code = (
        "import sys, gistools, gistools.cli.main;"
        "print([m for m in"
        " ('numba','fiona','rasterio','pyogrio','osgeo','geopandas','pandas','matplotlib','shapely')"
        " if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert out.strip() == "[]"


@pytest.mark.skipif(os.name != "posix", reason="processor time of a child process")
@pytest.mark.parametrize("words", [("-c", "import gistools; dir(gistools)"), ("-m", "gistools", "--help")])
def test_a_session_starts_within_a_second(words: tuple[str, ...]) -> None:
    """Processor time, which other work on the machine hardly changes; measured 0.06 and 0.12 s."""
    before = os.times()
    subprocess.run([sys.executable, *words], capture_output=True, check=True)
    after = os.times()
    used = after.children_user + after.children_system - before.children_user - before.children_system
    assert used < 1.0


@pytest.mark.parametrize("path", MODULES, ids=relative)
def test_files_stay_short(path: Path) -> None:
    limit = 900 if path.name.endswith("_kernels.py") else 500
    assert len(path.read_text(encoding="utf-8").splitlines()) <= limit


def test_no_module_takes_the_name_of_a_public_function() -> None:
    """No submodule has the name of a public function, which its import would replace."""
    submodules = {p.stem for p in PACKAGE.glob("*.py")} | {p.name for p in PACKAGE.iterdir() if p.is_dir()}
    assert not submodules & set(gistools.__all__)
