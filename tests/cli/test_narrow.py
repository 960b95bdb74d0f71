"""Narrow terminals: names and figures are shown at any width, and nothing runs over the edge."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

import pytest

import gistools as gt

pty = pytest.importorskip("pty", reason="needs a terminal of POSIX")


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(gt.write_sample(tmp_path_factory.mktemp("narrow") / "m.gpkg"))


def shown(columns: int, *words: str) -> list[str]:
    """What a command shows in a terminal of so many columns."""
    import fcntl
    import struct
    import termios

    env = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES")}
    env |= {"TERM": "xterm", "PYTHONPATH": str(Path(gt.__file__).parents[1])}
    child, terminal = pty.fork()
    if child == 0:
        os.execve(sys.executable, [sys.executable, "-m", "gistools", *words], env)
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 30, columns, 0, 0))
    text = b""
    while True:
        try:
            part = os.read(terminal, 65536)
        except OSError:  # the command has ended
            break
        if not part:
            break
        text += part
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0, text.decode()
    os.close(terminal)
    lines = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", text.decode())
    return lines.replace("\r", "").splitlines()


@pytest.mark.parametrize("columns", [30, 80, *(pytest.param(n, marks=pytest.mark.slow) for n in (46, 132))])
def test_carries_are_shown_with_their_figures(site: str, columns: int) -> None:
    lines = shown(columns, "carries", site, "--hole", "1", "--tee", "back", "--show-only", "--quiet")
    text = " ".join(" ".join(lines).split())
    assert "Teasel" in text and "carry" in text
    carries = gt.carries(gt.open_site(site), hole=1)["carries"]
    burn = carries[(carries["tee"] == "back") & (carries["feature"] == "Teasel Burn")]
    assert f"{burn['carry_m'].iloc[0]:.2f}" in text
    assert max(map(len, lines)) <= columns
