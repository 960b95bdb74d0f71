"""Where the tasks of a study run: this process, several on this machine, or a cluster."""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager

from gistools.base.errors import InputError


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
        with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn")) as executor:
            yield executor
    else:
        yield None
