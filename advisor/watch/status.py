"""How the watch stands, written down for whoever asks from another terminal."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from advisor.watch.hold import FOLDER

STATUS_FILE = "status.json"


@dataclass
class JobState:
    """One job.

    Attributes:
        runs: How often it went well.
        failures: How often it failed in a row.
        last_us, next_us: When it ran last and when it is due.
        words: What came of it when something last did.
        fault: Why it failed the last time; None where it went well.
    """

    name: str
    runs: int = 0
    failures: int = 0
    last_us: int | None = None
    next_us: int | None = None
    words: str = ""
    fault: str | None = None


@dataclass(frozen=True)
class WatchStatus:
    """The whole watch.

    Attributes:
        ended_us: None while it runs, and after it was killed.
        last_round_us: When answers were last worked out and pages written.
    """

    started_us: int
    ended_us: int | None
    last_round_us: int | None
    jobs: tuple[JobState, ...]


def write_status(folder: Path, status: WatchStatus) -> None:
    """Write it, whole or not at all; a disk that is full keeps nobody from working."""
    file = folder / STATUS_FILE
    aside = file.with_name(f".{STATUS_FILE}")
    with suppress(OSError):
        aside.write_text(json.dumps(asdict(status)), encoding="utf-8")
        aside.replace(file)


def read_status(workspace: Path) -> WatchStatus | None:
    """What the watch of a workspace wrote last; None where there is nothing to read."""
    file = workspace / FOLDER / STATUS_FILE
    with suppress(OSError, ValueError, TypeError, KeyError):
        said = json.loads(file.read_text(encoding="utf-8"))
        said["jobs"] = tuple(JobState(**each) for each in said["jobs"])
        return WatchStatus(**said)
    return None
