"""Starts a watch and ends it: at a signal within two seconds, whatever it is doing."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager

from advisor.tasks.workspace import Workspace
from advisor.watch.hold import hold_workspace, watch_folder
from advisor.watch.journal import Event, Journal
from advisor.watch.schedule import Clock
from advisor.watch.watching import Watch

GRACE_SECONDS = 1.0
"""So long a job may take to come to a place where it can stop."""

CUT_OFF = 130
"""The exit code of one round that was stopped; ending a watch that runs on is no failure."""

SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")


def run_watch(
    workspace: Workspace, *, once: bool, on_event: Callable[[Event], None] | None = None
) -> bool:
    """Watch a workspace until a signal comes, or for one round.

    A job that cannot stop soon is left in the middle, and the process ends there:
    whatever it was writing is then as it was before.

    Returns: Whether all went well, for one round.
    Raises: KeyboardInterrupt: a signal came in the middle of one round.
        CannotAnswer: another watch is at work. BadInput: the folder cannot be used.
    """
    stop = threading.Event()
    with hold_workspace(workspace.folder):
        folder = watch_folder(workspace.folder)
        watch = Watch(
            workspace,
            folder,
            Journal(folder, on_event=on_event, secrets=lambda: _secrets(watch)),
            Clock(wait=stop.wait, steady=time.monotonic),
            stop=stop,
            threads=not once,
        )
        outcome: list[bool | BaseException] = []
        worker = threading.Thread(target=_work, args=(watch, once, outcome), daemon=True)
        with _signals_set(stop):
            worker.start()
            _wait_for(worker, stop)
        if worker.is_alive() or (stop.is_set() and not once):
            _end_here(watch, in_the_middle=worker.is_alive(), code=CUT_OFF if once else 0)
        watch.journal.close()
    if outcome and isinstance(outcome[0], BaseException):
        raise outcome[0]
    if once and stop.is_set():
        raise KeyboardInterrupt
    return outcome == [True]


def _secrets(watch: Watch) -> Iterable[str]:
    return watch.secrets()


def _work(watch: Watch, once: bool, outcome: list[bool | BaseException]) -> None:
    try:
        if once:
            outcome.append(watch.run_once())
        else:
            watch.run()
            outcome.append(True)
    except BaseException as fault:  # told by the thread that waits
        outcome.append(fault)


def _wait_for(worker: threading.Thread, stop: threading.Event) -> None:
    """Wait for the work to end; after a signal, only so long."""
    while worker.is_alive() and not stop.is_set():
        worker.join(0.1)
    worker.join(GRACE_SECONDS)


def _end_here(watch: Watch, *, in_the_middle: bool, code: int) -> None:
    """End the process: neither a job nor a post that is under way is waited for."""
    if in_the_middle:
        watch.note_end("ended in the middle of a job; nothing is half-written")
    watch.journal.close()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)


@contextmanager
def _signals_set(stop: threading.Event) -> Iterator[None]:
    """While in the block, the signals that ask a process to end set a flag instead."""

    def ask(_number: int, _frame: object) -> None:
        stop.set()

    numbers = [getattr(signal, name) for name in SIGNALS if hasattr(signal, name)]
    before = {number: signal.signal(number, ask) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
