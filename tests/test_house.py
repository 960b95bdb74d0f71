"""The words and floors of the house.

Import contract, circles, names, trust tags, size of kernels' signatures.
"""

from __future__ import annotations

import ast
import csv
import re
import subprocess
import sys
from pathlib import Path

import pytest

import gistools

PACKAGE = Path(gistools.__file__).parent
ROOT = Path(__file__).resolve().parents[1]
MODULES = sorted(PACKAGE.rglob("*.py"))
SCRIPTS = sorted((ROOT / "scripts").rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))
#: names that say nothing of what they hold
FILLERS = {
    "told",
    "found",
    "held",
    "kept",
    "asked",
    "thing",
    "things",
    "what",
    "wanted",
    "near",
    "own",
    "plain",
    "gather",
}
TRUST_TAGS = {"published", "second-hand", "computed", "fit", "assumption", "common practice", "from memory"}
OLD_TAGS = (
    r"\[(seen|tried|derived|secondary|model choice|engineering choice|project fit|second hand)|reference"
    r" sheet"
)
MOST_PARAMETERS = 8
LONGEST_TEST_NAME = 60


def relative(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def test_each_floor_imports_only_floors_below() -> None:
    """The import contract of pyproject.toml, which sees late imports too."""
    program = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run(
        [program, "--no-cache"], cwd=PACKAGE.parent, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout[-3000:]


def test_no_circle_of_files() -> None:
    """Not even imports for type checking alone make a circle."""
    import graphlib

    import grimp

    graph = grimp.build_graph("gistools", exclude_type_checking_imports=False, cache_dir=None)
    edges = {m: graph.find_modules_directly_imported_by(m) for m in graph.modules}
    graphlib.TopologicalSorter(edges).prepare()


@pytest.mark.parametrize("path", MODULES, ids=relative)
def test_no_import_hides_behind_a_name(path: Path) -> None:
    """A module is loaded by name at two doors alone.

    Public names of the package, and steps from their list.
    """
    if relative(path) in ("__init__.py", "steps/catalogue.py"):
        return
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if (
            isinstance(node, ast.Call)
            and getattr(node.func, "attr", getattr(node.func, "id", "")) == "import_module"
        ):
            words = [a.value for a in node.args if isinstance(a, ast.Constant)]
            assert words and not str(words[0]).startswith("gistools"), f"{relative(path)}:{node.lineno}"


@pytest.mark.parametrize("path", [*MODULES, *SCRIPTS, *TESTS], ids=lambda p: p.relative_to(ROOT).as_posix())
def test_names_say_what_they_hold(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            names = [node.id]
        elif isinstance(node, (ast.FunctionDef, ast.ClassDef)):
            names = [node.name]
        elif isinstance(node, ast.arg):
            names = [node.arg]
        assert not FILLERS & set(names), f"{path.name}:{node.lineno}: {names}"


@pytest.mark.parametrize("path", [p for p in MODULES if p.name != "renamed.py"], ids=relative)
def test_words_the_glossary_refuses_are_not_used(path: Path) -> None:
    """Golf's and decision's words that the glossary has another for."""
    text = path.read_text(encoding="utf-8").lower()
    assert not re.findall(r"reward|heroic|played.distance|flag.spot|wish.list", text)


@pytest.mark.parametrize("path", TESTS, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_names_of_tests_are_short_statements(path: Path) -> None:
    """At most 60 characters: what is checked, not how it came about."""
    names = re.findall(r"^\s*def (test_\w+)", path.read_text(encoding="utf-8"), re.MULTILINE)
    assert not [name for name in names if len(name) > LONGEST_TEST_NAME]


@pytest.mark.parametrize(
    "path",
    [*MODULES, *sorted(PACKAGE.rglob("*.csv")), *SCRIPTS, *[t for t in TESTS if t != Path(__file__)]],
    ids=lambda p: p.relative_to(ROOT).as_posix(),
)
def test_trust_tags_are_of_the_closed_list(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert not re.findall(OLD_TAGS, text)


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.csv")), ids=relative)
def test_trust_of_data_is_a_tag_of_the_closed_list(path: Path) -> None:
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for number, row in enumerate(rows, 2):
        tags = re.findall(r"\[([a-z][a-z -]*)\]", row["source"])
        tags += [row["trust"]] if "trust" in row else []
        assert tags and set(tags) <= TRUST_TAGS, f"{path.name}, line {number}: {tags}"


def test_sources_page_explains_the_closed_list() -> None:
    page = (ROOT / "docs" / "sources.md").read_text(encoding="utf-8")
    assert set(re.findall(r"^\| `([a-z -]+)` \|", page, re.MULTILINE)) == TRUST_TAGS


@pytest.mark.parametrize("path", [p for p in MODULES if p.name.endswith("_kernels.py")], ids=relative)
def test_kernels_take_few_parameters(path: Path) -> None:
    """At most eight parameters, unless a measured reason stands beside the ``def``."""
    lines = path.read_text(encoding="utf-8").splitlines()
    for node in ast.walk(ast.parse("\n".join(lines))):
        if isinstance(node, ast.FunctionDef):
            head = " ".join(lines[node.lineno - 1 : node.body[0].lineno])
            assert len(node.args.args) <= MOST_PARAMETERS or "# parameters:" in head, (
                f"{node.name}: {len(node.args.args)}"
            )
