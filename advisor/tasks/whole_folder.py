"""Writes a folder aside and moves it into place, so that it is there whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from advisor.errors import BadInput


@contextmanager
def whole_folder(folder: Path, *, last: str) -> Iterator[Path]:
    """A folder to write into, which becomes `folder` when the block ends well.

    Args:
        folder: A new name, or an empty folder. An empty folder may be someone's
            current folder: it stays, and gets the parts one by one.
        last: The part that comes last then: with it the folder is whole.
    Raises: BadInput: the place is taken, missing, or cannot be written to.
    """
    _refuse_taken(folder)
    # Beside it, or inside it where it exists: the same disk, so that moving is one step.
    place = folder if folder.is_dir() else folder.absolute().parent
    try:
        aside = Path(tempfile.mkdtemp(prefix=f".{folder.absolute().name[:100]}-", dir=place))
    except OSError as error:
        raise _unwritable(folder, error) from None
    try:
        aside.chmod(0o777 & ~_mask_for_new_files())
        yield aside
        _flush(aside)
        _move(aside, folder, last=last)
    except OSError as error:
        raise _unwritable(folder, error) from None
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _refuse_taken(folder: Path) -> None:
    if folder.is_dir():
        if any(folder.iterdir()):
            right = "choose a new or an empty folder"
            raise BadInput("the folder has other files in it", right=right, file=folder)
    elif folder.exists() or folder.is_symlink():
        raise BadInput("there is a file of that name", right="choose another name", file=folder)
    elif not folder.absolute().parent.is_dir():
        right = f"make {folder.absolute().parent} first"
        raise BadInput("the folder that should hold it is missing", right=right, file=folder)


def _flush(folder: Path) -> None:
    """Have the disk hold every file, so that a power cut right after leaves it whole."""
    for each in (*folder.rglob("*"), folder):
        handle = os.open(each, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _move(aside: Path, folder: Path, *, last: str) -> None:
    if not folder.exists():
        aside.rename(folder)
        return
    moved: list[Path] = []
    try:
        for part in sorted(aside.iterdir(), key=lambda part: part.name == last):
            part.rename(folder / part.name)
            moved.append(part)
    except OSError:
        for part in moved:
            (folder / part.name).rename(part)
        raise


def _unwritable(folder: Path, error: OSError) -> BadInput:
    said = (error.strerror or str(error)).lower()
    return BadInput(f"it cannot be written ({said})", right="nothing was made", file=folder)


def _mask_for_new_files() -> int:
    """The process's mask; Python can only read it by setting it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
