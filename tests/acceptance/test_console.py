"""README's console example, line by line in a fresh interpreter, and every public name called for twice."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import gistools as gt

README = Path(__file__).resolve().parents[2] / "README.md"


def test_readme_example_runs_twice(tmp_path: Path) -> None:
    gt.write_sample(tmp_path / "merrowby.gpkg")
    code = README.read_text(encoding="utf-8").split("```python\n")[1].split("```")[0]
    assert "gt.study(site)" in code
    code = code.replace("out/merrowby.gpkg", "merrowby.gpkg")
    code = code.replace("gt.study(site)", "gt.study(site, hole=2, quick=True, only=('lengths', 'carries'))")
    done = subprocess.run([sys.executable, "-c", code + code], cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_public_names_stay_functions() -> None:
    import gistools.cli

    for name in gt.__all__:
        assert callable(getattr(gt, name)), name
        assert callable(getattr(gt, name)), f"{name} the second time"
    assert gistools.cli.main
