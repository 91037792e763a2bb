"""The inbox job alone, over and over, until the process is killed."""

from __future__ import annotations

import sys
import threading
import time
from pathlib import Path

from advisor.tasks import inbox_look
from advisor.tasks.inbox import forget_moved
from advisor.tasks.inbox_look import InboxLook
from advisor.tasks.workspace import open_workspace
from advisor.watch.hold import hold_workspace, watch_folder
from advisor.watch.intake import Intake
from advisor.watch.journal import Journal


def main() -> None:
    inbox_look.SETTLE_SECONDS = 0.02
    place = open_workspace(sys.argv[1])
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 1_000_000
    with hold_workspace(Path(place.folder)):
        journal = Journal(watch_folder(place.folder))
        look = InboxLook(place.inbox, place.folder)
        intake = Intake(look, journal, threading.Event(), time.monotonic)
        forget_moved(place)
        print("ready", flush=True)
        for _ in range(rounds):
            intake.take_all(place, lambda _: None)
            time.sleep(0.03)


if __name__ == "__main__":
    main()
