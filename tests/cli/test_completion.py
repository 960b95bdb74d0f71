"""Completion: the script of each shell, what is offered, and bash itself where there is one."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from gistools.cli.completion import SHELLS, VARIABLE
from gistools.cli.main import main


def offered(shell: str, line: str) -> list[str]:
    """Return what the program answers a shell that completes the end of a line."""
    words = line.split()
    number = len(words) if line.endswith(" ") else len(words) - 1
    env = {VARIABLE: f"{shell}_complete", "COMP_WORDS": line, "COMP_CWORD": str(number), "COMP_LINE": line}
    code = "import sys; sys.argv[0] = 'gistools'; from gistools.cli.main import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code], env={**os.environ, **env}, capture_output=True, text=True, check=False
    )
    assert not done.stderr, done.stderr
    return done.stdout.splitlines()


@pytest.mark.parametrize("shell", SHELLS)
def test_every_shell_has_a_script_that_calls_the_program(shell: str) -> None:
    done = CliRunner().invoke(main, ["completion", "--shell", shell])
    assert done.exit_code == 0
    assert VARIABLE in done.output and f"{shell}_complete" in done.output and "%(" not in done.output


def test_commands_options_and_choices_are_offered() -> None:
    assert offered("bash", "gistools car") == ["plain,carries"]
    assert offered("bash", "gistools pro") == ["plain,project", "plain,propose_tees"]
    assert "plain,--points" in offered("bash", "gistools as_built_check x.gpkg --po")
    assert {row.split(",")[1] for row in offered("bash", "gistools completion --shell ")} == set(SHELLS)
    assert offered("bash", "gistools study si")[0].startswith("file,")  # a path: the shell's own names


def test_powershell_gets_type_value_and_help() -> None:
    rows = [row.split("\t") for row in offered("powershell", "gistools ca")]
    assert [row[:2] for row in rows] == [["plain", "carries"]] and len(rows[0]) == 3 and rows[0][2]
    assert offered("powershell", "gistools completion --shell b")[0].split("\t")[:2] == ["plain", "bash"]


@pytest.mark.skipif(os.name == "nt" or shutil.which("bash") is None, reason="no bash")
def test_bash_itself_completes_a_step(tmp_path: Path) -> None:
    program = tmp_path / "gistools"
    program.write_text(f"#!{sys.executable}\nfrom gistools.cli.main import main\nmain()\n")
    program.chmod(0o755)
    text = (
        "source <(gistools completion --shell bash); COMP_WORDS=(gistools where_); COMP_CWORD=1;"
        " _gistools_completion gistools; echo ${COMPREPLY[@]}"
    )
    env = {**os.environ, "PATH": f"{tmp_path}{os.pathsep}{os.environ['PATH']}"}
    done = subprocess.run(["bash", "-c", text], env=env, capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "where_to_play", done.stderr
