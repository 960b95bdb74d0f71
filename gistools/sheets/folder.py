"""Files of a folder, written all or none: made beside it first, then moved in one after the other."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from gistools.base.errors import InputError, WriteError
from gistools.base.files import move
from gistools.site.model import Site


def folder_of(site: Site, to: str | Path | None, ending: str) -> Path:
    """Return the folder to write to: the one given, or one beside the site file with an ending.

    Raises
    ------
    InputError
        If none is given and the site was made in memory.
    """
    if to is not None:
        return Path(to)
    if site.path is None:
        raise InputError(f"this site was made in memory: name a folder for the {ending} with to=")
    return site.path.with_name(f"{site.path.stem}_{ending}")


def refuse_existing(folder: Path, names: Sequence[str], replace: bool) -> None:
    """Stop where files are there already and may not be replaced.

    Raises
    ------
    WriteError
        Naming them.
    """
    if folder.exists() and not folder.is_dir():
        raise WriteError(f"{folder} is a file; a folder is needed")
    there = [name for name in names if (folder / name).exists()]
    if there and not replace:
        raise WriteError(
            f"{folder} already has {', '.join(there)}; name another folder, or have them replaced (--replace)"
        )


def put_files(folder: Path, files: Mapping[str, str | bytes], order: Sequence[str]) -> list[Path]:
    """Write files into a folder in an order, text as UTF-8, and return their paths.

    Raises
    ------
    WriteError
        If the folder cannot be written to.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(prefix=".making-", dir=folder))
    except OSError as error:
        raise WriteError(f"the folder {folder} cannot be written to: {error}") from error
    try:
        for name, content in files.items():
            data = content.encode("utf-8") if isinstance(content, str) else content
            (aside / name).write_bytes(data)
        for name in order:
            move(aside / name, folder / name)
    except OSError as error:
        reason = error.strerror or error
        raise WriteError(f"the files could not be written to {folder}: {reason}") from error
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return [folder / name for name in order]
