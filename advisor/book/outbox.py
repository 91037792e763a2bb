"""What the watch said, and to whom it has still to get through; nothing waiting is ever dropped."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from advisor.book.store import Store

LONGEST_WORDS = 2000


@dataclass(frozen=True, slots=True)
class Told:
    """What of an alert was told and has not ended, and when it last was told."""

    marks: frozenset[str]
    told_us: int


@dataclass(frozen=True, slots=True)
class Message:
    """What was said once.

    Attributes:
        alert: The name of the alert; of something else that is told, its subject.
        receivers: Marks of those to send it to; none: it stands in the book alone.
    """

    at_us: int
    alert: str
    words: str
    receivers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Waiting:
    """A message that one receiver has not taken yet.

    Attributes:
        id: Of the delivery.
        receiver: Its mark.
        tries: How often it was tried.
        next_us: Not to be tried before.
        fault: Why it failed the last time; None where it was not tried.
    """

    id: int
    receiver: str
    at_us: int
    alert: str
    words: str
    tries: int
    next_us: int
    fault: str | None


def read_told(store: Store) -> dict[str, Told]:
    """What was told, by the alert's name."""
    rows = store.connection.execute("SELECT alert, marks, told_us FROM told_alerts")
    return {alert: Told(frozenset(json.loads(marks)), at) for alert, marks, at in rows}


def write_news(store: Store, told: Mapping[str, Told], messages: Iterable[Message]) -> None:
    """Write down what is told now, with the messages about it: all or nothing."""
    with store.writing() as connection:
        for alert, each in told.items():
            connection.execute(
                """INSERT INTO told_alerts (alert, marks, told_us) VALUES (?, ?, ?)
                   ON CONFLICT (alert) DO UPDATE
                   SET marks = excluded.marks, told_us = excluded.told_us""",
                (alert, json.dumps(sorted(each.marks)), each.told_us),
            )
        for message in messages:
            row = connection.execute(
                "INSERT INTO messages (at_us, alert, words) VALUES (?, ?, ?) RETURNING id",
                (message.at_us, message.alert, message.words[:LONGEST_WORDS]),
            )
            number = int(row.fetchone()[0])
            connection.executemany(
                "INSERT INTO deliveries (message_id, receiver, next_us) VALUES (?, ?, ?)",
                [(number, receiver, message.at_us) for receiver in message.receivers],
            )


def list_waiting(store: Store) -> list[Waiting]:
    """All that has not got through, oldest first."""
    rows = store.connection.execute(
        """SELECT deliveries.id, receiver, at_us, alert, words, tries, next_us, fault
           FROM deliveries JOIN messages ON messages.id = message_id
           WHERE sent_us IS NULL ORDER BY message_id, deliveries.id"""
    )
    return [Waiting(*row) for row in rows]


def posts_since(store: Store, since_us: int) -> dict[str, list[int]]:
    """When each receiver took something since a moment; a summary counts once."""
    rows = store.connection.execute(
        """SELECT DISTINCT receiver, sent_us FROM deliveries
           WHERE sent_us IS NOT NULL AND sent_us > ? ORDER BY sent_us""",
        (since_us,),
    )
    found: dict[str, list[int]] = {}
    for receiver, sent_us in rows:
        found.setdefault(receiver, []).append(sent_us)
    return found


def mark_sent(store: Store, deliveries: Sequence[int], *, sent_us: int) -> None:
    """These have got through, in one post."""
    with store.writing() as connection:
        connection.executemany(
            "UPDATE deliveries SET sent_us = ?, tries = tries + 1, fault = NULL WHERE id = ?",
            [(sent_us, each) for each in deliveries],
        )


def mark_failed(store: Store, deliveries: Sequence[int], *, fault: str, next_us: int) -> None:
    """These have not: to be tried again from a moment on."""
    with store.writing() as connection:
        connection.executemany(
            "UPDATE deliveries SET tries = tries + 1, fault = ?, next_us = ? WHERE id = ?",
            [(fault, next_us, each) for each in deliveries],
        )


def send_elsewhere(store: Store, delivery: int, receivers: Sequence[str], *, next_us: int) -> None:
    """A waiting delivery goes to other receivers instead; to none: it stands in the book alone."""
    with store.writing() as connection:
        gone = connection.execute(
            "DELETE FROM deliveries WHERE id = ? AND sent_us IS NULL RETURNING message_id",
            (delivery,),
        ).fetchone()
        if gone is not None:
            connection.executemany(
                """INSERT INTO deliveries (message_id, receiver, next_us) VALUES (?, ?, ?)
                   ON CONFLICT (message_id, receiver) DO NOTHING""",
                [(gone[0], receiver, next_us) for receiver in receivers],
            )


def last_messages(store: Store, most: int) -> list[Message]:
    """What was said last, the newest first; receivers left out."""
    rows = store.connection.execute(
        "SELECT at_us, alert, words FROM messages ORDER BY id DESC LIMIT ?", (most,)
    )
    return [Message(*row) for row in rows]
