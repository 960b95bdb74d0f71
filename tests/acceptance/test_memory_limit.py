"""A task of a study keeps within its memory."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

BENCH = Path(__file__).resolve().parents[2] / "scripts" / "bench" / "memory.py"


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="the most memory of a process is told by POSIX")
@pytest.mark.parametrize("case", ["hole 1", "560 m"])
def test_a_task_takes_less_than_two_gigabytes(case: str) -> None:
    """Measured 938 and 662 MB."""
    done = subprocess.run(
        (sys.executable, str(BENCH), "--only", case), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
