"""Wheel and sdist: built, looked into, installed in a fresh environment, run (scripts/check_package.py)."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def test_a_file_too_many_or_missing_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(ROOT / "scripts")
    import check_package

    package = {*check_package.NEEDED, "gistools/a.py"}
    check_package.compare("wheel", set(package), package)
    for names in (package - {"gistools/py.typed"}, package | {"tests/test_a.py"}):
        with pytest.raises(SystemExit):
            check_package.compare("wheel", names, package)


@pytest.mark.slow
def test_the_package_is_sound(tmp_path: Path) -> None:
    script = ROOT / "scripts" / "check_package.py"
    done = subprocess.run(
        [sys.executable, script, "--keep", tmp_path], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "the package is sound" in done.stdout
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".gz", ".whl"]
