"""Errors and warnings for people: what is wrong, where, and what to do.

Every error the toolkit raises on purpose derives from :class:`GistoolsError`, so a caller can tell a
mistake in the data or in a choice from a fault in the program. The command line turns them into one line
and exit code 2.
"""

from __future__ import annotations


class GistoolsError(Exception):
    """Root of all errors raised on purpose. The message says what is wrong, where, and what to do."""


class SiteError(GistoolsError, ValueError):
    """The site file, one of its layers or its terrain cannot be used as it is."""


class InputError(GistoolsError, ValueError):
    """A choice given to a function or to the command line is outside what it can be."""


class WriteError(GistoolsError, OSError):
    """Results could not be written. The file on disk is as it was before."""


class Cancelled(GistoolsError):
    """The user stopped the work. Nothing was written."""


def missing_package(purpose: str, extra: str) -> InputError:
    """Return the error of a library that is not installed: what needs it and how to install it."""
    return InputError(
        f"{purpose} needs one more package; install it with: pip install 'golf-gistools[{extra}]'"
    )


class GistoolsWarning(UserWarning):
    """Something was assumed, and the result depends on it."""
