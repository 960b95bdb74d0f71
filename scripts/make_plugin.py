"""Make the plug-in of the desktop GIS as a zip: python scripts/make_plugin.py [--to FOLDER].

The zip holds one folder with the metadata the desktop reads, this package, and the list of the libraries that
its algorithm `Install the libraries` puts into an environment of its own. Standard library alone.
"""

from __future__ import annotations

import argparse
import tomllib
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = "golf_holes"
#: the start of the plug-in: this package is brought in without its libraries, which stay with the child
#: process
START = '''"""Plug-in: design and judge strategic golf holes. See metadata.txt."""

import runpy
from pathlib import Path


def classFactory(iface):
    """Return the plug-in; the desktop calls this once."""
    bootstrap = Path(__file__).parent / "gistools" / "desktop" / "bootstrap.py"
    runpy.run_path(str(bootstrap), run_name="bootstrap")
    from gistools.desktop.plugin import Plugin

    return Plugin(iface)
'''
METADATA = """[general]
name=Golf holes
version={version}
qgisMinimumVersion=3.22
description={description}
about=Measures carries, sight, slopes, shots and strokes of golf holes on surveyed ground, ranks the positions
    for each hole location, shapes the ground, and hands setting-out to the crew. Runs in a Python environment
    of its own, which its algorithm 'Install the libraries' makes once.
author=The gistools authors
email=none@example.org
hasProcessingProvider=yes
experimental=False
deprecated=False
category=Analysis
tags=golf,terrain,visibility,earthworks,processing
changelog=See CHANGELOG.md in the folder of the plug-in
"""


def main() -> int:
    """Write the zip and print its path."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--to", type=Path, default=ROOT / "out", help="folder for the zip")
    folder = words.parse_args().to
    folder.mkdir(parents=True, exist_ok=True)
    print(write(folder))
    return 0


def write(folder: Path) -> Path:
    """Write the zip into a folder and return its path; an older one of the same version is replaced."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    version = _version()
    path = folder / f"golf_holes-{version}.zip"
    texts = {
        "__init__.py": START,
        "metadata.txt": METADATA.format(version=version, description=project["description"]),
        "requirements.txt": "\n".join(project["dependencies"]) + "\n",
        "LICENSE": (ROOT / "LICENSE").read_text(encoding="utf-8"),
        "CHANGELOG.md": (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"),
    }
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in texts.items():
            archive.writestr(f"{FOLDER}/{name}", text)
        for file in sorted((ROOT / "gistools").rglob("*")):
            if file.is_file() and "__pycache__" not in file.parts:
                archive.write(file, f"{FOLDER}/{file.relative_to(ROOT).as_posix()}")
    return path


def _version() -> str:
    names: dict[str, str] = {}
    exec((ROOT / "gistools" / "base" / "version.py").read_text(encoding="utf-8"), names)
    return names["__version__"]


if __name__ == "__main__":
    raise SystemExit(main())
