"""One line per event, in a file that starts anew when it is full, and to whoever looks on."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Literal

from advisor.errors import MakeworthError
from advisor.times import now_us, us_to_rfc3339

LOG_FILE = "log.txt"
LARGEST_BYTES = 1_000_000
KEPT_FILES = 5
LONGEST_LINE = 1000
SHORTEST_SECRET = 4

Level = Literal["info", "warning", "error"]


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened.

    Attributes:
        subject: The job or thing it is about.
    """

    at_us: int
    level: Level
    subject: str
    words: str

    @property
    def line(self) -> str:
        """Time, level, subject and words, in one line."""
        return f"{us_to_rfc3339(self.at_us)[:19]}Z {self.level:<7} {self.subject:<6} {self.words}"


class Journal:
    """Writes events down; a disk that is full keeps nobody from working."""

    def __init__(
        self,
        folder: Path,
        *,
        on_event: Callable[[Event], None] | None = None,
        secrets: Callable[[], Iterable[str]] = tuple,
    ) -> None:
        """Open the log.

        Args:
            folder: Of the watch's own files.
            on_event: Who looks on.
            secrets: Texts that no line may hold, whatever has put them there.
        """
        self._on_event = on_event
        self._secrets = secrets
        self._handler = _QuietHandler(
            folder / LOG_FILE,
            maxBytes=LARGEST_BYTES,
            backupCount=KEPT_FILES,
            encoding="utf-8",
            errors="replace",
            delay=True,
        )

    def tell(self, level: Level, subject: str, words: str) -> None:
        """Write one event down."""
        event = Event(now_us(), level, _one_line(subject), self._without_secrets(_one_line(words)))
        self._handler.handle(logging.LogRecord("", 0, "", 0, event.line, None, None))
        if self._on_event is not None:
            self._on_event(event)

    def _without_secrets(self, words: str) -> str:
        for secret in self._secrets():
            if len(secret) >= SHORTEST_SECRET:
                words = words.replace(secret, "(address)")
        return words

    def close(self) -> None:
        """Close the file."""
        self._handler.close()


class _QuietHandler(RotatingFileHandler):
    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802  logging's name
        """A line that cannot be written is let go; the event is told on the terminal still."""


def words_of(fault: Exception) -> str:
    """What went wrong, in words; of a fault in Makeworth itself, its kind as well."""
    if isinstance(fault, MakeworthError):
        return str(fault)
    if isinstance(fault, OSError):
        place = f"{fault.filename}: " if fault.filename else ""
        return f"{place}{(fault.strerror or str(fault)).lower()}"
    return f"a fault of Makeworth itself: {type(fault).__name__}: {fault}"


def _one_line(text: str) -> str:
    """Text without line ends and other characters that do not print, and cut short."""
    plain = "".join(each if each.isprintable() else f"\\x{ord(each):02x}" for each in text)
    return plain if len(plain) <= LONGEST_LINE else plain[:LONGEST_LINE] + "..."
