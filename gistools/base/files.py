"""Files put in place whole: written aside, flushed to the disk, moved in one step."""

from __future__ import annotations

import glob
import os
import re
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from gistools.base.errors import InputError, WriteError

#: how long to wait for a program that has the file open [s]; on Windows such a file cannot be replaced
WAIT_S = 10.0
#: a scratch file older than this [s] was left behind by a program that was killed
LEFTOVER_S = 3600.0
#: names that Windows keeps for devices, and how long a name may be
_RESERVED = {"CON", "PRN", "AUX", "NUL", *(f"{d}{k}" for d in ("COM", "LPT") for k in range(10))}
MOST_CHARACTERS = 120
PIECE_BYTES = 2**20
#: Windows: access denied, sharing violation, lock violation
_IN_USE = (5, 32, 33)


@contextmanager
def atomic_replace(*targets: Path) -> Iterator[list[Path]]:
    """Yield a scratch path beside each target; move all into place when the block ends without an error.

    A target is the old file or the new one, never half of it. When the block fails, the scratch files are
    deleted and the targets stay as they were. Old scratch files of killed programs are deleted too.

    Parameters
    ----------
    targets
        The files to write. Their folders must exist.

    Yields
    ------
    list of Path
        The scratch files to write, in the order of the targets.

    Raises
    ------
    OSError
        If a file cannot be moved. Targets moved before it are then new, the others old.
    """
    scratch = [
        target.with_name(f".{target.name}.part-{os.getpid()}-{threading.get_ident()}") for target in targets
    ]
    for target in targets:
        _delete_leftovers(target)
    try:
        yield scratch
        for path, target in zip(scratch, targets, strict=True):
            _flush(path)
            move(path, target)
        for folder in {target.parent for target in targets}:
            _flush_folder(folder)
    finally:
        for path in scratch:
            for left in (path, path.with_name(path.name + "-journal")):
                with suppress(OSError):  # still open somewhere: it goes an hour later
                    left.unlink(missing_ok=True)


def has_room(folder: Path, size: int) -> bool:
    """Tell whether a file of a size [bytes] can be written in a folder, by writing one and deleting it."""
    probe = folder / f".room-{os.getpid()}"
    try:
        with probe.open("wb") as file:
            for _ in range(size // PIECE_BYTES + 1):
                file.write(bytes(PIECE_BYTES))
            file.flush()
            os.fsync(file.fileno())
    except OSError:
        return False
    finally:
        probe.unlink(missing_ok=True)
    return True


def file_name(text: str, ending: str = "") -> str:
    """Return a name for a file from a text that comes with data: never a path, hidden, reserved or too long.

    Letters, digits, dots, hyphens and underscores stay; all else becomes one underscore. Every file name
    that is
    made from what a site file holds goes through here.
    """
    stem = re.sub(r"[^\w.-]+", "_", text).strip("._-")[:MOST_CHARACTERS].rstrip(".") or "unnamed"
    if stem.split(".")[0].upper() in _RESERVED:
        stem = f"_{stem}"
    return stem + ending


def write_files(files: Mapping[Path, bytes]) -> None:
    """Write several files: all are written aside before the first is moved into place, in the order given."""
    with atomic_replace(*files) as scratch:
        for path, content in zip(scratch, files.values(), strict=True):
            path.write_bytes(content)


def _delete_leftovers(target: Path) -> None:
    for left in target.parent.glob(f".{glob.escape(target.name)}.part-*"):
        with suppress(OSError):  # its writer has just moved it into place, or has it open
            if time.time() - left.stat().st_mtime > LEFTOVER_S:
                left.unlink(missing_ok=True)


def _flush(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def move(path: Path, target: Path) -> None:
    """Move a file or folder into place, on Windows once no other program has it open.

    Raises
    ------
    OSError
        If it cannot be moved; ``strerror`` says that a program has it open where that is why.
    """
    end = time.monotonic() + WAIT_S
    while True:
        try:
            os.replace(path, target)
            return
        except PermissionError as fault:
            number = getattr(fault, "winerror", None)
            if number not in _IN_USE:
                raise
            if time.monotonic() > end:
                fault.strerror = (
                    f"{(target if target.exists() else path).name} is open in another program, or may not be"
                    " written to; close it there"
                )
                raise
            time.sleep(0.05)


def _flush_folder(folder: Path) -> None:
    if os.name == "posix":
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def refuse_new_site(path: Path, replace: bool) -> None:
    """Refuse the path of a site file that is to be made.

    Raises
    ------
    InputError
        If the name does not end in ``.gpkg``, or the file exists and is not to be replaced.
    WriteError
        If its folder is not there.
    """
    if path.suffix.lower() != ".gpkg":
        raise InputError(f"{path}: a site is a GeoPackage; give a name that ends in .gpkg")
    if path.exists() and not replace:
        raise InputError(
            f"{path} is already there; choose another name, or have it replaced (--replace, in a console"
            " replace=True)"
        )
    if not path.parent.is_dir():
        raise WriteError(f"{path.parent}: there is no such folder; make it first")
