"""Attempts: what was tried at the table, and what came of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from advisor.book.store import Store
from advisor.errors import BadInput
from advisor.times import now_us

Action = Literal["step", "buy in", "sell out", "stop", "moved"]
KIND = "try"

QUARTER_US = 900_000_000
"""Attempts are counted by quarters of an hour: on these, days begin in every time zone."""

LoggedTries = Mapping[str, Mapping[tuple[str, str], Mapping[int, int]]]
"""Counts by route, then (step, outcome), then the quarter of an hour, by its beginning."""


@dataclass(frozen=True, slots=True)
class Attempt:
    """One use of a step, or several that came to the same.

    Attributes:
        at_us: When.
        route: The route's name.
        action: "step"; in a followed piece also what the market was used for, "stop"
            (it was put away), and "moved" (the user said where the piece is).
        step: The step's name; None for other actions.
        stage: Where it was taken; None where nobody said.
        outcome: What it came to, as the route file has it: what counts for the odds;
            None for what the file does not name, such as what a draw gives.
        reached: The stage that was on the table then; None where the evening ended.
        tries: How many times.
        session: The followed piece; None for attempts logged by hand.
        minutes, note: As the user gave them.
    """

    at_us: int
    route: str
    action: Action = "step"
    step: str | None = None
    stage: str | None = None
    outcome: str | None = None
    reached: str | None = None
    tries: int = 1
    session: int | None = None
    minutes: float | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """All that was written down at one time, and is taken back together.

    Attributes:
        entry: Its number.
        file: The file it came from; "" where it was typed.
        tries: How many attempts it holds.
        routes: The routes it speaks of, in words.
        undone_us: When it was taken back; None where it stands.
    """

    entry: int
    written_us: int
    file: str
    tries: int
    routes: str
    undone_us: int | None


def add_attempts(
    store: Store, attempts: Sequence[Attempt], *, file: str = "", content_hash: bytes | None = None
) -> int:
    """Write attempts down as one entry, all or none.

    Returns: The entry's number.
    """
    with store.writing() as connection:
        row = connection.execute(
            """INSERT INTO entries (kind, written_us, file, content_hash)
               VALUES (?, ?, ?, ?) RETURNING id""",
            (KIND, now_us(), file, content_hash),
        ).fetchone()
        connection.executemany(
            """INSERT INTO attempts (entry_id, session_id, at_us, route, action, step, stage,
                                     outcome, reached, tries, minutes, note)
               VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)""",
            (
                (
                    *(row[0], each.session, each.at_us, each.route, each.action, each.step),
                    *(each.stage, each.outcome, each.reached, each.tries, each.minutes),
                    each.note,
                )
                for each in attempts
            ),
        )
    return int(row[0])


def undo_entry(store: Store, entry: int) -> int:
    """Take an entry back whole; it stays in the book, marked.

    Returns: How many attempts it held.
    Raises: BadInput: no such entry, or taken back already.
    """
    with store.writing() as connection:
        row = connection.execute(
            "SELECT undone_us FROM entries WHERE id = ? AND kind = ?", (entry, KIND)
        ).fetchone()
        if row is None:
            raise BadInput(
                f"there is no entry {entry} of attempts", right="see makeworth log try --list"
            )
        if row[0] is not None:
            raise BadInput(f"entry {entry} has been taken back already")
        connection.execute("UPDATE entries SET undone_us = ? WHERE id = ?", (now_us(), entry))
        tries = connection.execute("SELECT sum(tries) FROM attempts WHERE entry_id = ?", (entry,))
        return int(tries.fetchone()[0] or 0)


def entry_of_content(store: Store, content_hash: bytes) -> int | None:
    """The standing entry that a file of these very bytes came in by; None where there is none."""
    row = store.connection.execute(
        "SELECT min(id) FROM entries WHERE content_hash = ? AND kind = ? AND undone_us IS NULL",
        (content_hash, KIND),
    ).fetchone()
    return None if row[0] is None else int(row[0])


def list_entries(store: Store, *, route: str | None = None, newest: int = 20) -> list[Entry]:
    """The newest entries of attempts, newest first, the ones taken back among them."""
    rows = store.connection.execute(
        """SELECT entries.id, written_us, file, sum(tries), group_concat(DISTINCT route), undone_us
           FROM entries JOIN attempts ON entry_id = entries.id
           WHERE kind = ?1 AND (?2 IS NULL OR route = ?2)
           GROUP BY entries.id ORDER BY entries.id DESC LIMIT ?3""",
        (KIND, route, newest),
    )
    return [Entry(*row) for row in rows]


def read_tries(store: Store, *, until_us: int) -> LoggedTries:
    """How often each (step, outcome) was logged, by route, as known at a moment."""
    rows = store.connection.execute(
        """SELECT route, step, outcome, at_us / ?2 * ?2 AS quarter, sum(tries) FROM attempts
           JOIN entries ON entries.id = entry_id
           WHERE action = 'step' AND outcome IS NOT NULL AND undone_us IS NULL AND at_us <= ?1
           GROUP BY route, step, outcome, quarter ORDER BY route, step, outcome, quarter""",
        (until_us, QUARTER_US),
    )
    found: dict[str, dict[tuple[str, str], dict[int, int]]] = {}
    for route, step, outcome, quarter, tries in rows:
        found.setdefault(route, {}).setdefault((step, outcome), {})[quarter] = tries
    return found


def list_attempts(
    store: Store, *, route: str, until_us: int, session: int | None = None
) -> list[Attempt]:
    """The attempts of a route, or of one followed piece, in the order of their times."""
    rows = store.connection.execute(
        """SELECT at_us, route, action, step, stage, outcome, reached, tries, session_id,
                  minutes, note
           FROM attempts JOIN entries ON entries.id = entry_id
           WHERE route = ?1 AND at_us <= ?2 AND undone_us IS NULL
                 AND (?3 IS NULL OR session_id = ?3)
           ORDER BY at_us, attempts.id""",
        (route, until_us, session),
    )
    return [Attempt(*row) for row in rows]
