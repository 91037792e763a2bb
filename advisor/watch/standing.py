"""How things stand, gathered from outside the watch: who runs it, what it did, what waits."""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from advisor.book.outbox import Message, last_messages
from advisor.tasks.inbox import REASON_ENDING
from advisor.tasks.inbox_look import REFUSED, is_unfinished
from advisor.tasks.sending import OutboxState, outbox_state
from advisor.tasks.workspace import Workspace
from advisor.watch.hold import Holder, find_holder
from advisor.watch.status import WatchStatus, read_status

MESSAGES_SHOWN = 5


@dataclass(frozen=True)
class Standing:
    """How things stand.

    Attributes:
        holder: The watch that is at work; None: there is none.
        status: What the last watch wrote; None: there was none.
        inbox: How many files lie in the inbox.
        refused: How many were put away as refused.
        outbox: What waits to be sent.
        said: The last messages, the newest first.
    """

    holder: Holder | None
    status: WatchStatus | None
    inbox: int
    refused: int
    outbox: OutboxState
    said: Sequence[Message]


def find_standing(workspace: Workspace) -> Standing:
    """Look at everything; changes nothing.

    Raises: BookFault: the book cannot be read.
    """
    said: list[Message] = []
    if workspace.book.exists():
        with workspace.open_book(read_only=True) as store:
            said = last_messages(store, MESSAGES_SHOWN)
    refused = _files_in(workspace.inbox / REFUSED)
    return Standing(
        holder=find_holder(workspace.folder),
        status=read_status(workspace.folder),
        inbox=sum(not is_unfinished(name) for name in _files_in(workspace.inbox)),
        refused=sum(not name.endswith(REASON_ENDING) for name in refused),
        outbox=outbox_state(workspace),
        said=said,
    )


def _files_in(folder: Path) -> list[str]:
    with suppress(OSError), os.scandir(folder) as entries:
        return [each.name for each in entries if each.is_file(follow_symlinks=False)]
    return []
