"""The one door to numba.

``kernel`` compiles a function that takes and returns plain numbers and arrays. Compiled code is kept
between processes in the user's cache folder, in a sub-folder named by a hash of every kernel file: a change
in any helper therefore refreshes every caller, which numba's own per-file cache does not do, and a package
folder that cannot be written to is no obstacle.

``GISTOOLS_JIT=0`` runs the same functions as plain Python (slow; for tests of the kernels themselves).
"""

from __future__ import annotations

import functools
import hashlib
import importlib
import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, overload

import platformdirs

F = TypeVar("F", bound=Callable[..., Any])

ENABLED = os.environ.get("GISTOOLS_JIT", "1") != "0"
KERNEL_FILES = tuple(sorted((Path(__file__).parents[1] / "compute").rglob("*_kernels.py")))
KEEP_CACHES = 3


def kernel_stamp() -> str:
    """Return a hash over all kernel files: the name of the cache folder and part of every result's record."""
    digest = hashlib.sha256()
    for path in (*KERNEL_FILES, Path(__file__)):  # how they are compiled counts too
        if path.exists():
            digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def cache_folder() -> Path | None:
    """Return the folder for compiled kernels, made if need be, or None where none can be written."""
    root = Path(platformdirs.user_cache_dir("gistools", appauthor=False)) / "kernels"
    folder = root / kernel_stamp()
    try:
        if not folder.exists():
            folder.mkdir(parents=True)
            _drop_old(root, folder)
        probe = folder / f".probe-{os.getpid()}"
        probe.touch()
        probe.unlink()
    except OSError:
        return None
    return folder


def compiled_for() -> str:
    """Name what compiled code is good for beside its kernels: Python, compiler and processor."""
    if not ENABLED:
        return "python"
    processor = importlib.import_module("llvmlite.binding").get_host_cpu_name()
    return f"{sys.implementation.cache_tag}-{numba.__version__}-{processor}"


def _drop_old(root: Path, newest: Path) -> None:
    """Keep the last few caches only; other versions of the toolkit may share the folder."""
    others = sorted(
        (p for p in root.iterdir() if p.is_dir() and p != newest),
        key=lambda p: p.stat().st_mtime,
        reverse=True,
    )
    for path in others[KEEP_CACHES:]:
        shutil.rmtree(path, ignore_errors=True)


if ENABLED:
    import numba

    _config: Any = numba.config
    _njit: Any = numba.njit
    _FOLDER = cache_folder()

    def _compiled(
        function: F, *, allocates: bool, python_entry: bool, inline: bool, fastmath: set[str] | bool
    ) -> Any:
        saved = _config.CACHE_DIR
        try:
            _config.CACHE_DIR = str(_FOLDER) if _FOLDER else ""
            dispatcher = _njit(
                cache=_FOLDER is not None,
                nogil=True,
                no_cfunc_wrapper=True,
                no_cpython_wrapper=not python_entry,
                error_model="numpy",
                forceinline=inline,
                fastmath=fastmath,
                _nrt=allocates,
            )(function)
        finally:
            _config.CACHE_DIR = saved
        _share_versions(dispatcher)
        return dispatcher if python_entry else _Internal(dispatcher)

    def _share_versions(dispatcher: Any) -> None:
        """Take constants given by calling kernels as numbers, not as types with a version of their own."""
        resolve = dispatcher.get_call_template

        def of_plain_types(args: Any, kws: Any) -> Any:
            return resolve(tuple(map(numba.core.types.unliteral, args)), kws)

        dispatcher.get_call_template = of_plain_types

    class _Internal:
        """A kernel that other kernels alone call: Python gets an error instead of a crash."""

        def __init__(self, dispatcher: Any) -> None:
            self._dispatcher = dispatcher
            self._numba_type_ = numba.core.types.Dispatcher(dispatcher)  # numba asks for this name
            functools.update_wrapper(self, dispatcher.py_func)

        def __getattr__(self, name: str) -> Any:
            return getattr(self._dispatcher, name)

        def __call__(self, *_args: Any, **_kwargs: Any) -> Any:
            name = self._dispatcher.py_func.__name__
            raise TypeError(f"kernel {name} is called by other kernels only; Python may call {name}.py_func")

    FUSED = {"contract", "nsz", "arcp"}


@overload
def kernel(function: F, /) -> F: ...
@overload
def kernel(
    *, allocates: bool = ..., python_entry: bool = ..., inline: bool = ..., fastmath: bool = ...
) -> Callable[[F], F]: ...
def kernel(
    function: Callable[..., Any] | None = None,
    /,
    *,
    allocates: bool = False,
    python_entry: bool = True,
    inline: bool = False,
    fastmath: bool = False,
) -> Any:
    """Compile a function of numbers, arrays and named tuples; cached on disk, free of the interpreter's lock.

    Parameters
    ----------
    allocates
        The function makes arrays, itself or by an inlined function it calls. Without it the function is
        compiled without counting references to arrays, which saves a fifth to a half of the time of short
        loops (measured). A function that makes arrays without saying so does not compile.
    python_entry
        False for functions that other kernels alone call: no wrapper is compiled. A call from Python raises
        TypeError.
    inline
        Copy the code into every caller: for short steps of long loops.
    fastmath
        Products and sums may be fused, divisions become products, and the inverse root of single precision
        numbers is the processor's estimate improved once, so that loops are vectorised. The last digits
        depend on the processor.
    """

    def decorate(function: F) -> Any:
        if not ENABLED:
            return function
        return _compiled(
            function,
            allocates=allocates,
            python_entry=python_entry,
            inline=inline,
            fastmath=FUSED if fastmath else False,
        )

    return decorate if function is None else decorate(function)
