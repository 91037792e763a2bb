"""What lies in the inbox, and which of it is whole: nothing is taken while it is being written."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from advisor.errors import BadInput

SETTLE_SECONDS = 2.0
"""A file is whole when it has not changed for so long and nobody has it open for writing."""

EMPTY_SETTLE_SECONDS = 60.0
"""An empty file is most likely one that somebody is about to fill."""

DONE, REFUSED = "done", "refused"
UNFINISHED = (
    *(".part", ".partial", ".crdownload", ".download", ".tmp", ".temp", ".swp", ".lock"),
    *("~", ".opdownload", ".filepart", ".!ut"),
)


class Shape(NamedTuple):
    """What changes when a file is written to or replaced."""

    size: int
    changed_ns: int
    inode: int
    device: int


class Lying(NamedTuple):
    """A file that is whole."""

    path: Path
    shape: Shape


@dataclass(frozen=True)
class Looked:
    """What one look at the inbox found.

    Attributes:
        whole: Files to take in, the oldest first.
        waiting: How many are not whole yet.
        odd: Names that are left alone, with why; each is told once.
    """

    whole: list[Lying]
    waiting: int
    odd: list[tuple[str, str]]


@dataclass
class InboxLook:
    """Looks again and again, and remembers since when each file has stood still.

    Attributes:
        folder: The inbox.
        workspace: The folder that it must not lead out of.
    """

    folder: Path
    workspace: Path
    _still: dict[str, tuple[Shape, float]] = field(default_factory=dict)
    _odd: set[str] = field(default_factory=set)

    def look(self, steady: float) -> Looked:
        """Look once.

        Args:
            steady: Seconds of a clock that is never set back.
        Raises: BadInput: the inbox cannot be used. OSError: it cannot be read.
        """
        make_inbox(self.folder, self.workspace)
        whole, still, odd = [], {}, {}
        for name, shape, why in _lying_in(self.folder):
            if shape is None:
                odd[name] = why
                continue
            before = self._still.get(name)
            since = before[1] if before is not None and before[0] == shape else steady
            still[name] = (shape, since)
            path = self.folder / name
            if steady - since >= _settle_seconds(shape) and not is_open_for_writing(path):
                whole.append(Lying(path, shape))
        new = [(name, why) for name, why in odd.items() if name not in self._odd]
        self._still, self._odd = still, set(odd)
        whole.sort(key=lambda each: (each.shape.changed_ns, each.path.name))
        return Looked(whole, len(still) - len(whole), new)


def _settle_seconds(shape: Shape) -> float:
    return SETTLE_SECONDS if shape.size else EMPTY_SETTLE_SECONDS


def make_inbox(folder: Path, workspace: Path) -> None:
    """Make the inbox where it is missing.

    Raises: BadInput: it leads out of the workspace, or something else has its name.
    """
    for each in (folder, folder / DONE, folder / REFUSED):
        if each.is_symlink() or (each.exists() and not each.is_dir()):
            raise BadInput("is no folder of the workspace's own", right="move it away", file=each)
    if not folder.is_dir():
        if not workspace.is_dir():
            raise BadInput("the workspace is gone", right="put it back", file=workspace)
        folder.mkdir(exist_ok=True)


def _lying_in(folder: Path) -> Iterator[tuple[str, Shape | None, str]]:
    """Every name in the inbox that may be meant to be taken in; None: it is no plain file."""
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.name in (DONE, REFUSED) or is_unfinished(entry.name):
                continue
            with suppress(FileNotFoundError):
                said = entry.stat(follow_symlinks=False)
                yield entry.name, _shape_of(said), _why_odd(said.st_mode)


def is_unfinished(name: str) -> bool:
    """Whether the name says that it is hidden, or not for others yet."""
    lower = name.lower()
    return lower.startswith((".", "~")) or lower.endswith(UNFINISHED)


def shape_of(path: Path) -> Shape | None:
    """The shape of a plain file; None where there is none of this name."""
    try:
        return _shape_of(path.lstat())
    except FileNotFoundError:
        return None


def _shape_of(said: os.stat_result) -> Shape | None:
    if not stat.S_ISREG(said.st_mode):
        return None
    return Shape(said.st_size, said.st_mtime_ns, said.st_ino, said.st_dev)


def _why_odd(mode: int) -> str:
    if stat.S_ISLNK(mode):
        return "a link is not followed; copy the file itself here"
    if stat.S_ISDIR(mode):
        return "a folder is left alone; put the files themselves here"
    return "no plain file; it is left alone"


def is_open_for_writing(path: Path) -> bool:
    """Whether some process has the file open to write to it; False where that cannot be told.

    The system grants a lease for reading only while nobody may write.
    """
    try:
        import fcntl
        import signal

        lease = (fcntl.F_SETLEASE, fcntl.F_SETSIG)
    except (ImportError, AttributeError):
        return False
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    except OSError:
        return False
    try:
        # Should a writer come just now, tell it by a signal that nobody minds.
        fcntl.fcntl(handle, lease[1], signal.SIGURG)
        fcntl.fcntl(handle, lease[0], fcntl.F_RDLCK)
        fcntl.fcntl(handle, lease[0], fcntl.F_UNLCK)
    except BlockingIOError:
        return True
    except OSError:
        return False
    finally:
        os.close(handle)
    return False
