"""Takes in what lies in the inbox, each file once, and puts it away.

The quotes and the note that this file is taken land in one transaction; then the
file is moved, then the note is forgotten. A kill at any moment leaves a file that
is not taken yet, or one that only waits to be moved.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from advisor.book.inbox_files import forget_put_away, is_taken, names_taken, note_taken
from advisor.errors import BadInput, BookFault, MakeworthError
from advisor.figures import counted
from advisor.tasks.importing import ImportReport, hash_of_content, import_into, path_text
from advisor.tasks.inbox_look import DONE, REFUSED, Lying, shape_of
from advisor.tasks.workspace import Workspace

REASON_ENDING = ".reason.txt"
WHAT_NOW = "Nothing of it is in the book. Mend it and put it into inbox/ again, or import it."


class StillWritten(Exception):
    """The file changed while it was read: what was read of it does not count."""


@dataclass(frozen=True)
class Taken:
    """What became of one file.

    Attributes:
        name: As it lay in the inbox.
        put: Where it lies now, from the inbox on; None: it is left for another time.
        added: Quotes that are new to the book.
        words: What came of it.
        refused: It could not be read as prices.
    """

    name: str
    put: str | None
    added: int
    words: str
    refused: bool = False


def take_in(
    workspace: Workspace, lying: Lying, *, on_progress: Callable[[float], None] | None = None
) -> Taken:
    """Take in one file that is whole, and put it away.

    Raises: BookFault: the book cannot be used; OSError: the file cannot be read or moved.
        It then lies where it lay.
    """
    name = path_text(Path(lying.path.name))
    try:
        report = _take_once(workspace, lying, name, on_progress=on_progress)
    except StillWritten:
        return Taken(name, None, 0, "changed while it was read; looked at again later")
    except BookFault:
        raise
    except MakeworthError as fault:
        return _refuse(workspace, lying.path, fault)
    put = put_away(lying.path, workspace.inbox / DONE)
    with workspace.open_book() as store:
        forget_put_away(store, name)
    added = 0 if report is None else report.added
    return Taken(name, f"{DONE}/{path_text(Path(put.name))}", added, _words_of(report))


def _take_once(
    workspace: Workspace,
    lying: Lying,
    name: str,
    *,
    on_progress: Callable[[float], None] | None,
) -> ImportReport | None:
    """Take it in, all or nothing; None where that was done before."""
    content_hash = hash_of_content(lying.path)
    with workspace.open_book() as store:
        if is_taken(store, name, content_hash):
            return None
        with store.writing():
            report = import_into(store, workspace, lying.path, on_progress=on_progress)
            if shape_of(lying.path) != lying.shape:
                raise StillWritten
            note_taken(store, name, content_hash, batch=report.batch)
    return report


def _words_of(report: ImportReport | None) -> str:
    if report is None:
        return "taken in before it could be put away; put away now"
    said = [f"{counted(report.added, 'quote')} new", f"{report.known} known"]
    if report.set_aside_count:
        said.append(f"{counted(report.set_aside_count, 'row')} set aside")
    return ", ".join([*said, *report.notes])


def _refuse(workspace: Workspace, path: Path, fault: MakeworthError) -> Taken:
    shown = str(fault).replace(f"{path}: ", "").replace(f"{path}, ", "")
    return refuse_file(workspace, path, shown)


def refuse_file(workspace: Workspace, path: Path, reason: str) -> Taken:
    """Put a file away that is not to be taken in, with the reason beside it.

    Raises: OSError: it cannot be moved.
    """
    reason_text = f"{reason}\n\n{WHAT_NOW}\n"
    put = put_away(path, workspace.inbox / REFUSED, reason=reason_text)
    name = path_text(Path(path.name))
    return Taken(name, f"{REFUSED}/{path_text(Path(put.name))}", 0, reason, refused=True)


def put_away(path: Path, folder: Path, *, reason: str | None = None) -> Path:
    """Move a file into a folder beside it under a name that nothing there has.

    Args:
        reason: Written beside it first.
    Raises: OSError: it cannot be moved; it then lies where it lay.
    """
    if folder.is_symlink():
        raise BadInput("is no folder of the workspace's own", right="move it away", file=folder)
    folder.mkdir(exist_ok=True)
    number = 1
    while True:
        place = folder / (path.name if number == 1 else f"{path.stem} ({number}){path.suffix}")
        number += 1
        try:
            if not os.path.lexists(place) and reason is not None:
                _write_reason(place, reason)
            _move(path, place)
        except FileExistsError:
            continue
        return place


def _write_reason(place: Path, reason: str) -> None:
    beside = place.with_name(place.name + REASON_ENDING)
    beside.write_text(reason, encoding="utf-8", errors="replace")


def _move(path: Path, place: Path) -> None:
    """Move without ever taking the place of another file.

    Raises: FileExistsError: there is one.
    """
    try:
        place.hardlink_to(path)
    except FileExistsError:
        # Where a kill came between link and unlink, this is the very same file.
        if place.is_symlink() or not place.samefile(path):
            raise
    except OSError:  # a disk that knows no second names
        if os.path.lexists(place):
            raise FileExistsError(place) from None
        path.rename(place)
        return
    path.unlink()


def forget_moved(workspace: Workspace) -> None:
    """Forget notes about files that a kill came upon just after they were moved."""
    if not workspace.book.exists():
        return
    with workspace.open_book(read_only=True) as store:
        names = names_taken(store)
    lying = {path_text(Path(each.name)) for each in workspace.inbox.glob("*")}
    gone = [name for name in names if name not in lying]
    if gone:
        with workspace.open_book() as store, store.writing():
            for name in gone:
                forget_put_away(store, name)
