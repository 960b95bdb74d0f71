"""The one door to numba.

``kernel`` compiles a function that takes and returns plain numbers and arrays. Compiled code is kept
between processes in the user's cache folder, in a sub-folder named by a hash of every kernel file: a change
in any helper therefore refreshes every caller, which numba's own per-file cache does not do, and a package
folder that cannot be written to is no obstacle.

``GISTOOLS_JIT=0`` runs the same functions as plain Python (slow; for tests of the kernels themselves).
"""

from __future__ import annotations

import hashlib
import importlib
import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import platformdirs

#: names that make arrays: functions that call none of them are compiled without counting who holds an array, which took a fifth
#: to a half of the time of short loops (measured)
MAKERS = {
    "empty",
    "zeros",
    "full",
    "ones",
    "array",
    "arange",
    "astype",
    "copy",
    "room_for",
    "kept_for",
    "desk_for",
}
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

    def kernel(function: F) -> F:
        """Compile ``function`` without the interpreter, cached on disk and free of the interpreter's lock."""
        return _compiled(function)

    def inner(function: F) -> F:
        """Compile like :func:`kernel`, to be called from other kernels alone: there is no way in from Python to compile."""
        return _compiled(function, no_cpython_wrapper=True)

    def folded(function: F) -> F:
        """Compile like :func:`kernel`, and copy the code into every caller: for short steps of long loops."""
        return _compiled(function, no_cpython_wrapper=True, forceinline=True)

    def inlined(function: F) -> F:
        """Compile like :func:`folded`, so that a loop over it can be vectorised.

        Products and sums may be fused, divisions turned into products, and the inverse of a root of single numbers into the
        processor's estimate improved once: the last digits depend on the processor.
        """
        return _compiled(function, forceinline=True, fastmath={"contract", "nsz", "arcp"})

    def _compiled(function: F, **how: Any) -> F:
        how.setdefault("_nrt", bool(MAKERS & set(function.__code__.co_names)))
        saved = _config.CACHE_DIR
        try:
            _config.CACHE_DIR = str(_FOLDER) if _FOLDER else ""
            made = _njit(
                cache=_FOLDER is not None, nogil=True, no_cfunc_wrapper=True, error_model="numpy", **how
            )(function)
        finally:
            _config.CACHE_DIR = saved
        return _one_version(made)

    def _one_version(made: Any) -> Any:
        """Let a constant given by a calling kernel be a plain number, not a type that asks for a version of its own."""
        resolve = made.get_call_template

        def of_plain_types(args: Any, kws: Any) -> Any:
            return resolve(tuple(map(numba.core.types.unliteral, args)), kws)

        made.get_call_template = of_plain_types
        return made

else:

    def kernel(function: F) -> F:
        """Return ``function`` as it is: plain Python was asked for with ``GISTOOLS_JIT=0``."""
        return function

    inner = folded = inlined = kernel
