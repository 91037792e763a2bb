"""Pieces followed at the table: begun once, taken up again until they are made."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.book.attempts import KIND
from advisor.book.store import Store
from advisor.errors import BadInput


@dataclass(frozen=True, slots=True)
class Session:
    """A piece being made; where it stands follows from its attempts.

    Attributes:
        session: Its number.
        route: The route's name.
        goal: "keep" or "sale".
        start: The stage it was begun at.
        begun_us: When.
        budget: What is to be spent on it at most; None without a limit.
    """

    session: int
    route: str
    goal: str
    start: str
    begun_us: int
    budget: float | None


COLUMNS = "id, route, goal, start, begun_us, budget"


def begin_session(
    store: Store, *, route: str, goal: str, start: str, begun_us: int, budget: float | None = None
) -> Session:
    """Begin a piece."""
    with store.writing() as connection:
        row = connection.execute(
            f"""INSERT INTO sessions (route, goal, start, begun_us, budget)
                VALUES (?, ?, ?, ?, ?) RETURNING {COLUMNS}""",  # noqa: S608
            (route, goal, start, begun_us, budget),
        )
        return Session(*row.fetchone())


def set_budget(store: Store, session: int, *, budget: float) -> None:
    """Change what is to be spent on a piece at most."""
    with store.writing() as connection:
        connection.execute("UPDATE sessions SET budget = ? WHERE id = ?", (budget, session))


def find_session(store: Store, session: int) -> Session:
    """A piece by its number.

    Raises: BadInput: there is none.
    """
    row = store.connection.execute(
        f"SELECT {COLUMNS} FROM sessions WHERE id = ?",  # noqa: S608
        (session,),
    ).fetchone()
    if row is None:
        raise BadInput(
            f"there is no followed piece {session}", right="begin one: makeworth follow ROUTE --new"
        )
    return Session(*row)


def list_sessions(store: Store, *, route: str, until_us: int) -> list[Session]:
    """The pieces of a route, in the order they were begun."""
    rows = store.connection.execute(
        f"SELECT {COLUMNS} FROM sessions WHERE route = ? AND begun_us <= ? ORDER BY id",  # noqa: S608
        (route, until_us),
    )
    return [Session(*row) for row in rows]


def last_entry(store: Store, session: int) -> int | None:
    """The newest standing entry of a piece, the one that undo takes back."""
    row = store.connection.execute(
        """SELECT max(entries.id) FROM attempts JOIN entries ON entries.id = entry_id
           WHERE session_id = ? AND undone_us IS NULL AND kind = ?""",
        (session, KIND),
    ).fetchone()
    return None if row[0] is None else int(row[0])
