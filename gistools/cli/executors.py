"""Where the tasks of a study run: this process, several on this machine, or a cluster."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing.connection import Connection
from typing import Any

from gistools.base.errors import InputError

STOPPED = 130  # how a process ends that was stopped
_LOOK_S = 0.05
_LOCK = threading.Lock()
_working = True  # this process, a worker, has no answer to hand over


class Workers(ProcessPoolExecutor):
    """Processes of this machine that end at once when the work is stopped or this process dies.

    Each listens to a pipe whose other end this process alone holds. When that closes, a worker ends itself
    in the middle of its task, never while it hands an answer over.
    """

    def __init__(self, count: int) -> None:
        end, self._own_end = multiprocessing.Pipe(duplex=False)
        context = multiprocessing.get_context("spawn")
        super().__init__(count, context, initializer=_listen, initargs=(end,))

    def submit(self, call: Callable[..., Any], /, *given: Any, **options: Any) -> Future[Any]:
        """Submit a task, as every executor does."""
        return super().submit(_task, call, *given, **options)

    def __exit__(self, kind: Any, *_fault: Any) -> None:
        """Wait for the workers; where an error ends the work, stop them first."""
        if kind is not None:
            self._own_end.close()
        self.shutdown(wait=True, cancel_futures=kind is not None)
        self._own_end.close()


def _task(call: Callable[..., Any], *given: Any, **options: Any) -> Any:
    """Run a task in a worker, which may be ended meanwhile."""
    global _working
    _working = True
    try:
        return call(*given, **options)
    finally:
        with _LOCK:
            _working = False


def _listen(end: Connection) -> None:
    """Leave Ctrl-C to the process that writes, and end with it (first thing a worker does)."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with, args=(end,), daemon=True).start()


def _end_with(end: Connection) -> None:
    with contextlib.suppress(OSError):
        end.poll(None)
    parent = multiprocessing.parent_process()
    while True:
        with _LOCK:
            if _working or parent is None or not parent.is_alive():
                os._exit(STOPPED)
        time.sleep(_LOOK_S)


@contextmanager
def executor_of(workers: int | None, cluster: str | None) -> Iterator[Executor | None]:
    """Yield the executor asked for on the command line, None for this process alone.

    Raises
    ------
    InputError
        If both are asked for, or the library of the cluster is missing or nobody answers at its address.
    """
    if workers and cluster:
        raise InputError("give --workers or --cluster, one of them")
    if cluster:
        try:
            from distributed import Client
        except ImportError as missing:
            raise InputError(
                "a cluster needs the library `distributed` here and on every worker: pip install distributed"
            ) from missing
        try:
            client = Client(cluster, timeout="10s")
        except OSError as fault:
            raise InputError(f"no cluster answers at {cluster}: {fault}") from fault
        with client, client.get_executor() as executor:
            yield executor
    elif workers:
        with Workers(workers) as executor:
            yield executor
    else:
        yield None
