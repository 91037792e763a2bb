"""The watch at work: prices in, answers fresh, told when it matters."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event as Flag

from advisor.errors import CannotAnswer, MakeworthError
from advisor.figures import counted
from advisor.tasks.inbox import forget_moved
from advisor.tasks.inbox_look import InboxLook
from advisor.tasks.receivers import addresses_by_mark
from advisor.tasks.reporting import report_workspace
from advisor.tasks.sending import Sender, Sent, send_waiting
from advisor.tasks.telling import tell_alerts
from advisor.tasks.workspace import Workspace, open_workspace
from advisor.times import now_us, us_to_rfc3339
from advisor.watch.intake import Intake, Stopping
from advisor.watch.journal import Journal, words_of
from advisor.watch.pauses import Pauses
from advisor.watch.schedule import Clock, Schedule
from advisor.watch.sources import Sources
from advisor.watch.status import JobState, WatchStatus, write_status

INBOX_SECONDS = 2.0
SEND_SECONDS = 15.0
STATUS_SECONDS = 30.0
INBOX, ALERTS, PAGES, SEND = "inbox", "alerts", "pages", "send"
JOBS = (INBOX, ALERTS, PAGES, SEND)


@dataclass
class Watch:
    """All that one watch does.

    Attributes:
        workspace: As its settings were last understood.
        folder: For the watch's own files.
        journal: Where it tells what happens.
        clock: What it goes by.
        stop: Set when it is to end.
        sender: How posts are sent; None: with apprise.
        threads: Send beside the other jobs, so that a slow receiver keeps nobody waiting.
    """

    workspace: Workspace
    folder: Path
    journal: Journal
    clock: Clock
    stop: Flag = field(default_factory=Flag)
    sender: Sender | None = None
    threads: bool = True
    failed: int = 0

    def __post_init__(self) -> None:
        self.started_us = now_us()
        self.states = {name: JobState(name) for name in JOBS}
        self.last_round_us: int | None = None
        self._mute: dict[str, str] = {}
        self._pauses = Pauses()
        self._sources = Sources()
        self._sources.settings_changed(self.workspace.folder)
        look = InboxLook(self.workspace.inbox, self.workspace.folder)
        self._intake = Intake(look, self.journal, self.stop, self.clock.steady)
        self._schedule: Schedule | None = None
        self._status_at, self._has_news = 0.0, True
        self._works: dict[str, Callable[[], str | None]] = {
            INBOX: self._take_inbox,
            ALERTS: self._tell_alerts,
            PAGES: self._write_pages,
            SEND: self._send,
        }

    def run(self) -> None:
        """Work until told to end."""
        self._begin()
        self._schedule = schedule = Schedule(self.clock, threads=self.threads)
        often = 60.0 * self.workspace.settings.watch.every_minutes
        pace = {INBOX: INBOX_SECONDS, ALERTS: often, PAGES: often, SEND: SEND_SECONDS}
        for name in JOBS:
            schedule.add(name, self._job(name), seconds=pace[name], beside=name == SEND)
        self._write_status(now=True)
        schedule.run()
        self.note_end("ended")

    def run_once(self) -> bool:
        """One round of every job, in order; whether all went well."""
        self._begin()
        self._look_once_more_if_needed()
        self.do_each(JOBS)
        self.note_end("ended")
        return self.failed == 0

    def do_each(self, names: Sequence[str]) -> None:
        """Run these jobs now, in order; none keeps the next from running."""
        for name in names:
            if not self.stop.is_set():
                self._attempt(name)

    def _begin(self) -> None:
        self.journal.tell("info", "watch", f"begins in {self.workspace.folder}")
        for name, addresses in addresses_by_mark(self.workspace.settings).items():
            if not addresses:
                self.journal.tell("warning", "send", f"the variable {name[1:]} holds no address")
        try:
            forget_moved(self.workspace)
        except (MakeworthError, OSError) as fault:
            self.journal.tell("warning", INBOX, str(fault))

    def note_end(self, words: str) -> None:
        """Write down that it has ended; may be called while a job is still under way."""
        self._write_status(now=True, ended=True)
        self.journal.tell("info", "watch", words)

    def _look_once_more_if_needed(self) -> None:
        """A file is whole when it has stood still from one look to the next."""
        try:
            waiting = self._intake.first_look()
        except (MakeworthError, OSError):
            return  # the job itself will tell
        if waiting:
            self.clock.wait(INBOX_SECONDS)

    def _job(self, name: str) -> Callable[[], None]:
        def run() -> None:
            if self._pauses.may_try(name, self.clock.steady()) and not self.stop.is_set():
                self._attempt(name)
            # Beside the others, the schedule may not be asked: it waits for them.
            if name != SEND:
                self._write_status()

        return run

    def _attempt(self, name: str) -> None:
        """Run one job; whatever goes wrong in it is told, and keeps no other from running."""
        state = self.states[name]
        try:
            words = self._works[name]()
        except Stopping:
            return
        except Exception as fault:
            self._note_failure(name, fault)
            return
        if self._pauses.failures(name):
            self.journal.tell("info", name, "goes well again")
            self._pauses.note_success(name)
        state.failures, state.fault = 0, None
        state.runs, state.last_us = state.runs + 1, now_us()
        if words is not None:
            state.words, self._has_news = words, True

    def _note_failure(self, name: str, fault: Exception) -> None:
        words = words_of(fault)
        pause = self._pauses.note_failure(name, self.clock.steady())
        self.failed += 1
        state = self.states[name]
        state.failures, state.fault, state.last_us = self._pauses.failures(name), words, now_us()
        again = "" if self._schedule is None else f"; tried again in {_span(pause)}"
        self.journal.tell("error", name, words + again)
        self._has_news = True

    def _take_inbox(self) -> str | None:
        self._read_settings_anew()
        words = self._intake.take_all(self.workspace, self._on_part)
        if self._sources.changed(self.workspace) and self._schedule is not None:
            self._schedule.wake(ALERTS)
            self._schedule.wake(PAGES)
        return words

    def _read_settings_anew(self) -> None:
        """Settings at fault are told; the ones before hold on until they are mended."""
        if not self._sources.settings_changed(self.workspace.folder):
            return
        try:
            self.workspace = open_workspace(str(self.workspace.folder))
        except MakeworthError as fault:
            self.journal.tell("error", "watch", f"{fault}; the settings before hold on")
            return
        self.journal.tell("info", "watch", "the settings are read anew")
        if self._schedule is not None:
            for name in (ALERTS, PAGES):
                self._schedule.every(name, 60.0 * self.workspace.settings.watch.every_minutes)

    def _tell_alerts(self) -> str:
        told = tell_alerts(self.workspace)
        mute = {name: state.words for name, state in told.states.items() if state.holds is None}
        for name, words in mute.items():
            if self._mute.get(name) != words:
                what = told.states[name].what
                self.journal.tell("info", "alert", f"{what}: cannot be told yet: {words}")
        self._mute = mute
        for message in told.messages:
            self.journal.tell("warning", "alert", message.words)
        if told.messages and self._schedule is not None:
            self._schedule.wake(SEND)
        holding = sum(bool(state.holds) for state in told.states.values())
        return f"{counted(len(told.states), 'alert')}, {holding} holding, {len(told.messages)} news"

    def _write_pages(self) -> str:
        try:
            written = report_workspace(self.workspace, on_part=self._on_part)
        except CannotAnswer as fault:
            return str(fault)
        finally:
            self.last_round_us = now_us()
        if written.written:
            self.journal.tell("info", PAGES, f"{counted(len(written.written), 'file')} written")
        return f"{len(written.written)} written, {len(written.unchanged)} as they were"

    def _send(self) -> str | None:
        sent = send_waiting(self.workspace, sender=self.sender)
        for each in sent:
            self._tell_sent(each)
        through = sum(each.messages for each in sent if each.fault is None)
        return f"{counted(through, 'message')} sent" if sent else None

    def _tell_sent(self, sent: Sent) -> None:
        messages = counted(sent.messages, "message")
        if sent.fault is None:
            self.journal.tell("info", SEND, f"{messages} to {sent.receiver}")
            return
        again = "" if sent.next_us is None else f"; again at {us_to_rfc3339(sent.next_us)[:19]}Z"
        said = f"{messages} to {sent.receiver} not sent: {sent.fault}{again}"
        self.journal.tell("warning", SEND, said)

    def _on_part(self, _: object) -> None:
        """Called in the middle of long work: where one may stop."""
        if self.stop.is_set():
            raise Stopping

    def _write_status(self, *, now: bool = False, ended: bool = False) -> None:
        """Write down how it stands: after each event, and now and then."""
        steady = self.clock.steady()
        if not (now or self._has_news) and steady - self._status_at < STATUS_SECONDS:
            return
        self._status_at, self._has_news = steady, False
        for name, state in self.states.items():
            state.next_us = None if ended else self._next_us(name, steady)
        write_status(
            self.folder,
            WatchStatus(
                started_us=self.started_us,
                ended_us=now_us() if ended else None,
                last_round_us=self.last_round_us,
                jobs=tuple(self.states.values()),
            ),
        )

    def _next_us(self, name: str, steady: float) -> int | None:
        due = None if self._schedule is None else self._schedule.next_us(name)
        left = int(self._pauses.left(name, steady) * 1_000_000)
        return None if due is None else max(due, now_us() + left)

    def secrets(self) -> Iterable[str]:
        """Every address of the settings, that no line may hold."""
        return [a for each in addresses_by_mark(self.workspace.settings).values() for a in each]


def _span(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"
