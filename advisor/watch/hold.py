"""One watch per workspace: a lock that dies with its process, and who has it."""

from __future__ import annotations

import json
import os
import platform
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO

from advisor.errors import BadInput, CannotAnswer
from advisor.times import now_us, us_to_rfc3339

FOLDER = "watch"
HOLD_FILE = "hold.json"
PATIENCE_SECONDS = 0.5
"""Somebody who only asks whether there is a watch has the lock for a moment."""

LOCKED_AT = 2**30
"""Where the one locked byte lies on systems that lock bytes: far behind what is written."""


@dataclass(frozen=True, slots=True)
class Holder:
    """The process that watches.

    Attributes:
        since_us: When it began.
    """

    pid: int
    host: str
    since_us: int

    def __str__(self) -> str:
        return f"process {self.pid} on {self.host}, since {us_to_rfc3339(self.since_us)[:16]}Z"


def watch_folder(workspace: Path) -> Path:
    """The folder for the watch's own files, made where it is missing.

    Raises: BadInput: something else has its name, or it leads out of the workspace.
    """
    folder = workspace / FOLDER
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise BadInput("is no folder of the workspace's own", right="move it away", file=folder)
    folder.mkdir(exist_ok=True)
    return folder


@contextmanager
def hold_workspace(
    workspace: Path, *, pause: Callable[[float], object] = time.sleep
) -> Iterator[Holder]:
    """Be the one watch of a workspace; what a dead one left is taken over.

    Raises: CannotAnswer: another one is at work; it is named.
    """
    file = watch_folder(workspace) / HOLD_FILE
    with file.open("a+", encoding="utf-8") as stream:
        waited = 0.0
        while not _lock(stream):
            if waited >= PATIENCE_SECONDS:
                raise CannotAnswer(
                    f"another watch is at work here: {_read(file) or 'it does not say which'}",
                    right="end that one first, or ask it: makeworth watch --status",
                    file=workspace,
                )
            pause(0.1)
            waited += 0.1
        holder = Holder(os.getpid(), platform.node() or "this computer", now_us())
        stream.truncate(0)
        stream.write(json.dumps(asdict(holder)))
        stream.flush()
        yield holder


def find_holder(workspace: Path) -> Holder | None:
    """The watch that is at work; None where there is none. Changes nothing."""
    file = workspace / FOLDER / HOLD_FILE
    if not file.is_file():
        return None
    with file.open("r+", encoding="utf-8") as stream:
        if _lock(stream):
            return None
    return _read(file) or Holder(0, "a computer that does not say", 0)


def _read(file: Path) -> Holder | None:
    with suppress(OSError, ValueError, TypeError):
        return Holder(**json.loads(file.read_text(encoding="utf-8")))
    return None


def _lock(stream: IO[str]) -> bool:
    """Lock the open file against every other process, until it is closed; False: it is locked."""
    try:
        import fcntl
    except ImportError:
        return _lock_byte(stream)
    try:
        fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _lock_byte(stream: IO[str]) -> bool:
    """The same where files are not locked whole."""
    import msvcrt

    locking = getattr(msvcrt, "locking")  # noqa: B009  known on that system alone
    os.lseek(stream.fileno(), LOCKED_AT, os.SEEK_SET)
    try:
        locking(stream.fileno(), getattr(msvcrt, "LK_NBLCK"), 1)  # noqa: B009
    except OSError:
        return False
    return True
