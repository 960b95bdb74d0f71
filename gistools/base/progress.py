"""Progress of long work, and stopping it."""

from __future__ import annotations

import contextvars
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from gistools.base.errors import Cancelled

_progress: contextvars.ContextVar[Callable[[float, str], None] | None] = contextvars.ContextVar(
    "progress", default=None
)


@contextmanager
def on_progress(callback: Callable[[float, str], None] | None) -> Iterator[None]:
    """Within this context :func:`tick` calls ``callback(share, text)``; raising in it stops the work."""
    token = _progress.set(callback)
    try:
        yield
    finally:
        _progress.reset(token)


def tick(share: float, text: str) -> None:
    """Tell how far the current work is: ``share`` from 0 to 1 and a few words.

    Raises
    ------
    Cancelled
        If the listener asked to stop.
    """
    callback = _progress.get()
    if callback is not None:
        try:
            callback(share, text)
        except KeyboardInterrupt as stop:
            raise Cancelled("stopped by the user; nothing was written") from stop
