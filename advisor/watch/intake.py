"""The inbox job: every file that is whole is taken in, each on its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Event as Flag

from advisor.errors import BookFault, MakeworthError
from advisor.figures import counted
from advisor.tasks.importing import path_text
from advisor.tasks.inbox import Taken, refuse_file, take_in
from advisor.tasks.inbox_look import InboxLook, Lying
from advisor.tasks.workspace import Workspace
from advisor.watch.journal import Journal, words_of
from advisor.watch.pauses import Pauses

INBOX = "inbox"
MOST_FAULTS = 3
"""A file that Makeworth itself falls over so often is refused, or it would lie there for ever."""


class Stopping(Exception):
    """The user has asked the watch to end: what is under way is left as it was before."""


@dataclass
class Intake:
    """Takes files in and remembers which of them failed.

    Attributes:
        steady: Seconds that never go back.
    """

    look: InboxLook
    journal: Journal
    stop: Flag
    steady: Callable[[], float]
    _pauses: Pauses = field(default_factory=Pauses)

    def first_look(self) -> int:
        """Look at what lies there; how many files must be looked at once more."""
        looked = self.look.look(self.steady())
        self._tell_odd(looked.odd)
        return looked.waiting

    def take_all(self, workspace: Workspace, on_part: Callable[[object], None]) -> str | None:
        """Take in all that is whole; what came of it, or None where there was nothing.

        One file that cannot be read or moved now is left for later and keeps none of the
        others waiting.
        Raises: BookFault: nothing can be taken in now.
        """
        looked = self.look.look(self.steady())
        self._tell_odd(looked.odd)
        self._pauses.keep({path_text_of(each) for each in looked.whole})
        done = refused = 0
        for lying in looked.whole:
            name = path_text_of(lying)
            if self.stop.is_set() or not self._pauses.may_try(name, self.steady()):
                continue
            taken = self._take(workspace, lying, name, on_part)
            if taken is not None:
                done += taken.put is not None and not taken.refused
                refused += taken.refused
        if not done and not refused:
            return None
        return f"{counted(done, 'file')} taken in, {refused} refused"

    def _take(
        self, workspace: Workspace, lying: Lying, name: str, on_part: Callable[[object], None]
    ) -> Taken | None:
        try:
            taken = take_in(workspace, lying, on_progress=on_part)
        except BookFault:
            raise
        except (OSError, MakeworthError) as fault:
            self._leave(name, words_of(fault))
            return None
        except Stopping:
            raise
        except Exception as fault:
            return self._fall_over(workspace, lying, name, fault)
        self._pauses.note_success(name)
        words = f"{name}: {taken.words}"
        if taken.put is not None:
            words += f" -> {INBOX}/{taken.put}"
        self.journal.tell("warning" if taken.refused else "info", INBOX, words)
        return taken

    def _leave(self, name: str, words: str) -> None:
        pause = self._pauses.note_failure(name, self.steady())
        self.journal.tell("error", INBOX, f"{name}: {words}; tried again in {pause:.0f} s")

    def _fall_over(
        self, workspace: Workspace, lying: Lying, name: str, fault: Exception
    ) -> Taken | None:
        words = words_of(fault)
        if self._pauses.failures(name) + 1 < MOST_FAULTS:
            self._leave(name, words)
            return None
        taken = refuse_file(workspace, lying.path, words)
        self.journal.tell("error", INBOX, f"{name}: {words} -> {INBOX}/{taken.put}")
        return taken

    def _tell_odd(self, odd: list[tuple[str, str]]) -> None:
        for name, why in odd:
            self.journal.tell("warning", INBOX, f"{name}: {why}")


def path_text_of(lying: Lying) -> str:
    """The file's name as text that can be stored and shown."""
    return path_text(lying.path.relative_to(lying.path.parent))
