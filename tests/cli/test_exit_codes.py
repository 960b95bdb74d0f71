"""Exit codes and last words: stopped, a closed pipe, a console that cannot show a sign, a fault."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import gistools as gt

POSIX = pytest.mark.skipif(os.name != "posix", reason="signals and pipes of POSIX")
COMMAND = (sys.executable, "-m", "gistools")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return gt.write_sample(tmp_path_factory.mktemp("exit") / "merrowby.gpkg")


@POSIX
@pytest.mark.slow
@pytest.mark.parametrize("delay_s", [0.6, 1.2, 2.5])
def test_ctrl_c_ends_with_130_whenever_it_comes(site: Path, delay_s: float) -> None:
    """Also in the loading of libraries and in the first moments of a step.

    A step that is done sooner ends with 0.
    """
    before = site.read_bytes()
    words = (*COMMAND, "flag-views", str(site), "--show-only", "--quiet")
    child = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    time.sleep(delay_s)
    child.send_signal(signal.SIGINT)
    _, said = child.communicate(timeout=120)
    # before the command line is loaded Python itself dies of the signal, which a shell calls 130
    assert child.returncode in (0, 130, -signal.SIGINT), said
    assert child.returncode != 130 or "stopped by the user" in said
    assert site.read_bytes() == before


@pytest.mark.parametrize("interrupt", ["KeyboardInterrupt", "gt.Cancelled('stopped by the user')"])
def test_stopped_work_ends_with_130(site: Path, interrupt: str) -> None:
    code = (
        "import gistools as gt, gistools.cli.main as cli, gistools.steps.catalogue as catalogue\n"
        f"def stop(*_, **__): raise {interrupt}\n"
        f"catalogue.run = stop\ncli.main(['lengths', {str(site)!r}])"
    )
    done = subprocess.run((sys.executable, "-c", code), capture_output=True, text=True, check=False)
    assert done.returncode == 130 and done.stderr.strip() == "gistools: stopped by the user"


@POSIX
def test_a_closed_pipe_is_quiet(site: Path) -> None:
    hear, tell = os.pipe()
    os.close(hear)
    words = (*COMMAND, "lengths", str(site), "--show-only", "--json", "--quiet")
    done = subprocess.run(words, stdout=tell, stderr=subprocess.PIPE, text=True, check=False)
    os.close(tell)
    assert (done.returncode, done.stderr) == (141, "")


def test_a_console_of_another_code_page_shows_what_it_can() -> None:
    env = {**os.environ, "PYTHONIOENCODING": "cp1252", "PYTHONUTF8": "0"}
    code = (
        "import click, gistools.cli.main as cli\n"
        "cli.find = lambda *_: click.echo('10 m³ ≥ 5 m²')\ncli.main(['about', 'x'])"
    )
    done = subprocess.run((sys.executable, "-c", code), capture_output=True, env=env, check=False)
    assert done.stdout.splitlines()[0] == b"10 m\xb3 ? 5 m\xb2" and b"Encode" not in done.stderr


def test_a_fault_is_not_said_to_have_written_nothing(site: Path) -> None:
    code = (
        "import gistools.cli.main as cli, gistools.cli.screen as screen\n"
        "def fail(*_, **__): raise RuntimeError('odd')\n"
        f"screen.print_result = fail\ncli.main(['lengths', {str(site)!r}, '--quiet'])"
    )
    done = subprocess.run((sys.executable, "-c", code), capture_output=True, text=True, check=False)
    assert done.returncode == 3 and "RuntimeError: odd" in done.stderr
    assert "othing was written" not in done.stderr
    assert "study_lengths" in [name for name, *_ in _layers(site)], "for it was"


def _layers(path: Path) -> list[tuple[str, ...]]:
    import sqlite3

    link = sqlite3.connect(path)
    rows = link.execute("SELECT table_name FROM gpkg_contents").fetchall()
    link.close()
    return rows
