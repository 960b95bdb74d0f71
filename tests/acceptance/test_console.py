"""README's console example, line by line in a fresh interpreter, and every public name called for twice."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import gistools as gt
from gistools.site.sample import sample_site
from gistools.steps.catalogue import STEPS

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
    import gistools.cli.main

    for name in gt.__all__:
        assert callable(getattr(gt, name)), name
        assert callable(getattr(gt, name)), f"{name} the second time"
    assert gistools.cli.main


def test_readme_names_what_a_console_offers_beside_the_steps() -> None:
    text = README.read_text(encoding="utf-8")
    for name in set(gt._FUNCTIONS) - set(STEPS) - {"run"}:
        assert f"gt.{name}" in text, name


@pytest.mark.slow
def test_explain_answers_in_the_coordinates_of_the_file() -> None:
    """At the middle of the first tee, on a coarse mesh: a full shot that leaves the hole to be finished."""
    site = sample_site().with_settings(mesh_cell_m=8.0)
    tee = gt.lines_of_play(site, hole=2).geometry.iloc[0].coords[0]
    output = gt.explain(site, *tee[:2], hole=2, pin=str(site.layer("pins", 2)["pin"].iloc[0]))
    assert 2.0 < output.remaining_strokes < 6.0 and output.lie == "tee"
    assert output.options[0].costs_strokes == 0.0
    with pytest.raises(gt.InputError, match="there are"):
        gt.explain(site, *tee[:2], hole=2, pin="nowhere")
