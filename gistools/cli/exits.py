"""How the command line ends.

Every error is one line for people and an exit code of :mod:`gistools.cli.main`.
"""

from __future__ import annotations

import errno
import io
import os
import sys
import warnings
from typing import Any, NoReturn

import click

from gistools.base.errors import Cancelled, GistoolsError, GistoolsWarning

ON_WINDOWS = os.name == "nt"


class ReaderGone(Exception):
    """Nobody reads standard output any more."""


class GroupWithExitCodes(click.Group):
    """A group of commands that turns errors into exit codes."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; a closed pipe raises :class:`ReaderGone`, which click and rich let pass."""
        try:
            value = super().invoke(ctx)
            sys.stdout.flush()
            return value
        except BrokenPipeError:
            raise ReaderGone from None
        except SystemExit as stop:
            if isinstance(stop.__context__, BrokenPipeError):
                raise ReaderGone from None
            raise

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run, turning every error into one line for people and the exit code that the module names."""
        debug = "--debug" in sys.argv
        warnings.showwarning = _warn  # type: ignore[assignment]
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):  # a sign the console cannot show is no reason to fail
                stream.reconfigure(errors="replace")
        try:
            code = super().main(*args, **{**kwargs, "standalone_mode": False})
            sys.stdout.flush()
            sys.exit(code if isinstance(code, int) else 0)
        except (ReaderGone, BrokenPipeError):
            _close_quietly()
        except click.ClickException as error:
            error.show()
            sys.exit(error.exit_code)
        except (click.Abort, KeyboardInterrupt):
            click.echo("gistools: stopped by the user", err=True)
            sys.exit(130)
        except Cancelled as stop:
            click.echo(f"gistools: {stop}", err=True)
            sys.exit(130)
        except (GistoolsError, OSError) as error:
            if _reader_gone(error):
                _close_quietly()
            if debug:
                raise
            click.echo(f"gistools: {error}", err=True)
            sys.exit(2)
        except Exception as fault:
            if debug:
                raise
            click.echo(
                f"gistools: a fault in the program, not in your data: {type(fault).__name__}: {fault}\n"
                "A site file is written whole or not at all. Please report this with what `--debug` prints.",
                err=True,
            )
            sys.exit(3)


def _warn(message: Any, category: Any, filename: str, line: int, *_more: Any) -> None:
    """Say a warning of the toolkit in one line, any other as Python does."""
    if issubclass(category, GistoolsWarning):
        click.echo(f"Warning: {message}", err=True)
    else:
        click.echo(warnings.formatwarning(message, category, filename, line), err=True, nl=False)


def _reader_gone(error: Exception) -> bool:
    """Tell whether a write failed as Windows says it of a closed pipe: an invalid argument, of no file."""
    invalid = isinstance(error, OSError) and error.errno == errno.EINVAL and error.filename is None
    return invalid and ON_WINDOWS


def _close_quietly() -> NoReturn:
    """End silently where the reader of standard output has gone, also when Python flushes."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    sys.exit(141)
