"""Progress of long work, and stopping it."""

from __future__ import annotations

import contextvars
from collections.abc import Callable, Collection, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, wait
from contextlib import contextmanager
from typing import Any

from gistools.base.errors import Cancelled

#: longest wait before a stop is noticed [s]
WAIT_S = 0.5

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


def as_they_end(tasks: Collection[Future[Any]], words: str, before: int = 0) -> Iterator[Future[Any]]:
    """Yield tasks of an executor as they end, and tell how far they are, which is where the work is stopped.

    The waits are short, since a system may not deliver Ctrl-C to a process that waits for ever (Windows).

    Parameters
    ----------
    tasks
        What was submitted.
    words
        What a task plays, in the plural, for people.
    before
        How many were done before these.

    Raises
    ------
    Cancelled
        If the listener asked to stop.
    """
    waiting, count = set(tasks), before + len(tasks)
    while waiting:
        tick((count - len(waiting)) / count, f"{count - len(waiting)} of {count} {words}")
        ended, waiting = wait(waiting, timeout=WAIT_S, return_when=FIRST_COMPLETED)
        yield from ended
