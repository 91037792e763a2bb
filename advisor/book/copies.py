"""The copies of the book that are made before its form is changed."""

from __future__ import annotations

import os
import re
import sqlite3
from pathlib import Path

COPIES_FOLDER = "copies"


def copy_before_change(path: Path, version: int) -> Path:
    """Copy the whole book, as it stands, beside itself before its form is changed.

    Written under another name and then moved, so that a copy is whole or absent.
    The number in its name counts up and owes nothing to the clock.

    Args:
        path: The book.
        version: The form that the book has now.
    Returns: The copy, in the folder "copies" beside the book.
    """
    folder = path.parent / COPIES_FOLDER
    folder.mkdir(exist_ok=True)
    number = max((_number(each) for each in folder.glob("book-*.db")), default=0) + 1
    target = folder / f"book-{number:04d}-form-{version}.db"
    unfinished = target.with_suffix(".unfinished")
    unfinished.unlink(missing_ok=True)
    source = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
    copy = sqlite3.connect(unfinished)
    try:
        source.backup(copy)
    finally:
        copy.close()
        source.close()
    _flush(unfinished)
    unfinished.replace(target)
    _flush(folder)
    return target


def newest_copy(path: Path) -> Path | None:
    """The copy made last beside the book at `path`, or None."""
    copies = sorted((path.parent / COPIES_FOLDER).glob("book-*.db"), key=_number)
    return copies[-1] if copies else None


def _number(copy: Path) -> int:
    found = re.match(r"book-(\d+)", copy.name)
    return int(found.group(1)) if found else 0


def _flush(path: Path) -> None:
    """Have the disk hold what was written, so that it survives a power cut."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
