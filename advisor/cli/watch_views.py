"""How the watch stands, on the terminal and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from typing import TYPE_CHECKING, Any

from advisor.cli.screen import show, show_sentences, show_table
from advisor.figures import counted
from advisor.times import us_to_local, us_to_rfc3339

if TYPE_CHECKING:
    from advisor.watch.journal import Event
    from advisor.watch.standing import Standing
    from advisor.watch.status import JobState


def show_status(standing: Standing, zone: tzinfo) -> None:
    """Print how the watch stands."""
    show(_first_line(standing, zone))
    status = standing.status
    if status is not None:
        show(f"last round: {_local(status.last_round_us, zone)}")
        show()
        rows = [_job_row(job, zone) for job in status.jobs]
        show_table(("job", "last", "next", "came to"), rows)
        show()
    waiting = counted(standing.inbox, "file")
    show(f"inbox: {waiting} there, {standing.refused} refused so far")
    show(f"to send: {counted(standing.outbox.waiting, 'message')}")
    show_sentences(
        [
            f"{words}: {fault}; tried {counted(tries, 'time')}, again at {next_at[:16]}Z"
            for words, tries, fault, next_at in standing.outbox.failing
        ],
        mark="! ",
    )
    if standing.said:
        show()
        show("said last:")
        show_sentences([f"{_local(each.at_us, zone)} {each.words}" for each in standing.said])


def _first_line(standing: Standing, zone: tzinfo) -> str:
    holder, status = standing.holder, standing.status
    if holder is not None:
        since = us_to_local(holder.since_us, zone)
        return f"a watch is at work since {since}: process {holder.pid} on {holder.host}"
    if status is None:
        return "no watch is at work, and none ever was"
    if status.ended_us is None:
        return "no watch is at work; the last one was cut off"
    return f"no watch is at work; the last one ended {us_to_local(status.ended_us, zone)}"


def _local(at_us: int | None, zone: tzinfo) -> str:
    return "-" if at_us is None else us_to_local(at_us, zone)


def _job_row(job: JobState, zone: tzinfo) -> tuple[str, str, str, str]:
    words = job.words or ("" if job.last_us is None else "nothing new")
    if job.fault is not None:
        words = f"failed {counted(job.failures, 'time')}: {job.fault}"
    return job.name, _local(job.last_us, zone), _local(job.next_us, zone), words


def status_json(standing: Standing) -> dict[str, Any]:
    """The answer of `watch --status --json`; what does not exist is None."""
    holder, status = standing.holder, standing.status
    return {
        "running": holder is not None,
        "process": None if holder is None else holder.pid,
        "host": None if holder is None else holder.host,
        "since": None if holder is None else _utc(holder.since_us),
        "ended": None if status is None or holder is not None else _utc(status.ended_us),
        "last_round": None if status is None else _utc(status.last_round_us),
        "jobs": [] if status is None else [_job_json(job) for job in status.jobs],
        "inbox": standing.inbox,
        "refused": standing.refused,
        "waiting": standing.outbox.waiting,
        "failing": [
            {"receiver": words, "tries": tries, "fault": fault, "next": next_at}
            for words, tries, fault, next_at in standing.outbox.failing
        ],
        "said": [
            {"at": _utc(each.at_us), "alert": each.alert, "words": each.words}
            for each in standing.said
        ],
    }


def _job_json(job: JobState) -> dict[str, Any]:
    return {
        "job": job.name,
        "runs": job.runs,
        "last": _utc(job.last_us),
        "next": _utc(job.next_us),
        "words": job.words,
        "failures": job.failures,
        "fault": job.fault,
    }


def events_json(events: Sequence[Event]) -> list[dict[str, str]]:
    """Events in the order they happened."""
    return [
        {
            "at": us_to_rfc3339(each.at_us),
            "level": each.level,
            "subject": each.subject,
            "words": each.words,
        }
        for each in events
    ]


def _utc(at_us: int | None) -> str | None:
    return None if at_us is None else us_to_rfc3339(at_us)
