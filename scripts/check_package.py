"""Build wheel and sdist, look at what is in them, install the wheel and run it: scripts/check_package.py.

The wheel is built from the sdist, so that nothing it needs can be missing there. It is installed in an
environment of its own, and `gistools --help`, `sample`, `check` and a step run from another folder.
`--keep FOLDER` keeps the two files.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
import venv
import zipfile
from pathlib import Path

from _setup import ROOT, run, say, stop

#: beside the package, what the sdist holds
SDIST = ("LICENSE", "README.md", "CHANGELOG.md", "pyproject.toml", "sample_course.gpkg.md", "PKG-INFO")
#: a file of each kind that is no Python and is needed
NEEDED = (
    "gistools/py.typed",
    "gistools/__init__.pyi",
    "gistools/cli/output.schema.json",
    "gistools/sheets/templates/page.html",
    "gistools/sheets/templates/page.css",
)


def main() -> int:
    """Build, look, install, run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--keep", type=Path, help="folder to keep wheel and sdist in")
    keep = parser.parse_args().keep
    with tempfile.TemporaryDirectory() as text:
        folder = Path(text)
        builder = environment(folder / "build", "build")
        say("building sdist and wheel")
        if run(builder, "-m", "build", "--outdir", folder / "dist", ROOT):
            stop("the package could not be built (its message is above)")
        (wheel,) = (folder / "dist").glob("*.whl")
        (sdist,) = (folder / "dist").glob("*.tar.gz")
        look(wheel, sdist)
        python = environment(folder / "fresh", wheel)
        installed(python, folder)
        if keep is not None:
            keep.mkdir(parents=True, exist_ok=True)
            for path in (wheel, sdist):
                shutil.copy(path, keep)
    say("the package is sound")
    return 0


def environment(folder: Path, requirement: str | Path) -> Path:
    """Make an environment with one thing installed and return its Python."""
    say(f"an environment with {Path(requirement).name}")
    venv.create(folder, with_pip=True)
    python = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    if run(python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", requirement):
        stop(f"{requirement} could not be installed (pip's message is above)")
    return python


def look(wheel: Path, sdist: Path) -> None:
    """Compare what is in the two files with the package as it stands here."""
    package = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "gistools").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    about = {name for name in names if name.split("/")[0].endswith(".dist-info")}
    compare("wheel", names - about, package)
    for ending in ("METADATA", "entry_points.txt", "licenses/LICENSE"):
        if not any(name.endswith(ending) for name in about):
            stop(f"the wheel has no {ending}")
    with tarfile.open(sdist) as archive:
        files = {member.name.partition("/")[2] for member in archive.getmembers() if member.isfile()}
    compare("sdist", files - {*SDIST, ".gitignore"}, package)  # the builder takes .gitignore along
    missing = set(SDIST) - files
    if missing:
        stop(f"the sdist lacks {', '.join(sorted(missing))}")
    say(f"wheel {wheel.stat().st_size / 1e6:.1f} MB, sdist {sdist.stat().st_size / 1e6:.1f} MB,"
        f" {len(package)} files of the package in both")  # fmt: skip


def compare(kind: str, names: set[str], package: set[str]) -> None:
    """Stop where a file is too many or missing."""
    for words, odd in (("lacks", {*package, *NEEDED} - names), ("should not have", names - package)):
        if odd:
            stop(f"the {kind} {words} {', '.join(sorted(odd)[:5])} ({len(odd)} in all)")


def installed(python: Path, folder: Path) -> None:
    """Run the installed program from a folder that has nothing of this project."""
    program = python.with_name("gistools.exe" if os.name == "nt" else "gistools")
    elsewhere = folder / "elsewhere"
    elsewhere.mkdir()
    site = elsewhere / "x.gpkg"
    env = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "PROJ", "GDAL"))}
    for words, expected in (
        (("--help",), "where_to_play"),
        (("sample", site), "x.gpkg"),
        (("check", site), "nothing"),
        (("lengths", site, "--hole", "1"), "back"),
    ):
        done = subprocess.run(
            [program, *words], cwd=elsewhere, env=env, capture_output=True, text=True, encoding="utf-8"
        )
        say("gistools " + " ".join(str(w) for w in words).replace(str(elsewhere) + os.sep, ""))
        if done.returncode != 0:
            stop(f"exit code {done.returncode}:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
        if expected not in done.stdout:
            stop(f"its output has no {expected!r}:\n{done.stdout[-2000:]}")


if __name__ == "__main__":
    sys.exit(main())
