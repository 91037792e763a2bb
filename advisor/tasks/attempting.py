"""Attempts written down: typed one by one, or read from a file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from advisor.book.attempts import (
    Attempt,
    add_attempts,
    entry_of_content,
    list_attempts,
    undo_entry,
)
from advisor.errors import BadInput
from advisor.names import name_key
from advisor.routes.route import PIECE
from advisor.routes.step_names import NamedStep, find_step
from advisor.tasks.logged_files import read_bytes, read_logged_rows
from advisor.tasks.logged_pieces import STAGE_OPTION, PiecePlaces
from advisor.tasks.routing import RouteBook
from advisor.tasks.workspace import Workspace
from advisor.times import now_us, read_time

COLUMNS = ("at", "route", "step", "outcome", "count", "stage")
NEEDED = ("step", "outcome")
MOST_TRIES = 10_000_000


@dataclass(frozen=True)
class LoggedTries:
    """What was written down.

    Attributes:
        entry: Its number, to take it back by; None where nothing was added.
        attempts: As they stand in the book now.
        known: The entry the same file came in by before; None for news.
        notes: What to know beside it.
    """

    entry: int | None
    attempts: tuple[Attempt, ...]
    known: int | None = None
    notes: tuple[str, ...] = ()

    @property
    def tries(self) -> int:
        """How many attempts that is."""
        return sum(each.tries for each in self.attempts)


@dataclass(frozen=True)
class TypedTry:
    """One attempt as typed.

    Attributes:
        at: The time as typed; None for now.
        count: How many came to the same.
        at_stage: What was on the table before, where the route has a pool; None: as the
            attempt before left it.
    """

    route: str
    step: str
    outcome: str
    at: str | None = None
    count: int = 1
    minutes: float | None = None
    note: str | None = None
    at_stage: str | None = None


def log_try(workspace: Workspace, book: RouteBook, typed: TypedTry) -> LoggedTries:
    """Write one attempt down, or a count of like ones.

    Raises: BadInput: a route, step, outcome, time or count that cannot be meant.
    """
    reader = _Reader(workspace, book)
    attempts = reader.attempts(typed)
    with workspace.open_book() as store:
        entry = add_attempts(store, attempts)
    return LoggedTries(entry, attempts, notes=tuple(reader.notes))


def log_tries_file(
    workspace: Workspace, book: RouteBook, file: Path, *, route: str | None = None
) -> LoggedTries:
    """Write down the attempts of a CSV file, all or none; the same file twice adds nothing.

    Args:
        file: Columns at, route, step, outcome, count, stage; step and outcome must be there.
        route: The route of rows that name none.
    Raises: BadInput: what cannot be read, with file, line and column.
    """
    from hashlib import blake2b

    data = read_bytes(file)
    content_hash = blake2b(data, digest_size=16).digest()
    reader = _Reader(workspace, book)
    attempts = tuple(_read_rows(reader, data, file, route))
    if not attempts:
        raise BadInput("no attempt stands in it", file=file, right="write a line for each")
    with workspace.open_book() as store, store.writing():
        known = entry_of_content(store, content_hash)
        if known is not None:
            return LoggedTries(None, (), known=known)
        entry = add_attempts(store, attempts, file=file.name, content_hash=content_hash)
    return LoggedTries(entry, attempts, notes=tuple(dict.fromkeys(reader.notes)))


def take_back(workspace: Workspace, entry: int) -> int:
    """Take an entry back whole; gives the number of attempts in it."""
    with workspace.open_book() as store:
        return undo_entry(store, entry)


class _Reader:
    """Reads attempts as typed, against the routes as they are."""

    def __init__(self, workspace: Workspace, book: RouteBook) -> None:
        self._workspace = workspace
        self._settings = workspace.settings
        self._book = book
        self._now = now_us()
        self.notes: list[str] = []
        self._step = lru_cache(maxsize=None)(self._find_step)
        self._named = lru_cache(maxsize=None)(book.named)
        self._places = lru_cache(maxsize=None)(self._piece_places)
        self._left_at: dict[str, str | None] = {}

    def attempts(self, typed: TypedTry) -> tuple[Attempt, ...]:
        """The attempt that is meant; of several draws, the first apart from those after it."""
        route = self._named(typed.route)
        step = self._step(route, typed.step)
        if self._book.routes[route].pool is not None:
            return self._of_piece(typed, route, step)
        if typed.at_stage is not None:
            raise BadInput(
                f"route {route!r} has no pool, so its step says where it is taken",
                right=f"leave {STAGE_OPTION} out",
            )
        outcome = step.outcome(typed.outcome)
        return (self._attempt(typed, route, step, outcome=outcome, reached=outcome),)

    def _of_piece(self, typed: TypedTry, route: str, step: NamedStep) -> tuple[Attempt, ...]:
        """An attempt on a piece of a pool; `piece` alone says that nobody saw what came."""
        outcome: str | None = typed.outcome
        if name_key(typed.outcome) == PIECE:
            outcome = self._places(route).sure_outcome(step.name)
        if outcome is None:
            return (self._unseen(typed, route, step),)
        made = self._attempt(typed, route, step, outcome=None, reached=None)
        placed = self._places(route).place(
            step.name,
            outcome,
            at_stage=typed.at_stage,
            before=self._before(route, made.at_us),
        )
        self._left_at[route] = placed.reached
        made = replace(made, stage=placed.stage, outcome=placed.outcome, reached=placed.reached)
        if made.tries == 1 or not placed.again or placed.stage == placed.reached:
            return (made,)
        each = None if made.minutes is None else made.minutes / made.tries
        later = replace(
            made,
            stage=made.reached,
            tries=made.tries - 1,
            minutes=None if each is None else each * (made.tries - 1),
        )
        return (replace(made, tries=1, minutes=each), later)

    def _unseen(self, typed: TypedTry, route: str, step: NamedStep) -> Attempt:
        """An attempt of which nobody saw what came onto the piece."""
        if typed.at_stage is not None:
            raise BadInput(
                f"{PIECE} does not say what came, so {STAGE_OPTION} says nothing to it",
                right="say what was on the piece then, or leave it out",
                step=step.name,
            )
        self._left_at[route] = None
        self.notes.append(
            f"what came onto the piece is not said, so this counts for the odds of step "
            f"{step.name!r} and for what it used up, but not for how lucky you were"
        )
        outcome = step.outcome(typed.outcome)
        return self._attempt(typed, route, step, outcome=outcome, reached=None)

    def _piece_places(self, route: str) -> PiecePlaces:
        return PiecePlaces(self._book.routes[route], money=self._settings.money)

    def _before(self, route: str, at_us: int) -> str | None:
        """Where the attempt before, logged by hand, left the piece; None where nobody said."""
        if route not in self._left_at:
            with self._workspace.open_book(read_only=True) as store:
                log = list_attempts(store, route=route, until_us=at_us)
            own = [each for each in log if each.session is None]
            self._left_at[route] = own[-1].reached if own else None
        return self._left_at[route]

    def _attempt(
        self,
        typed: TypedTry,
        route: str,
        step: NamedStep,
        *,
        outcome: str | None,
        reached: str | None,
    ) -> Attempt:
        if not 1 <= typed.count <= MOST_TRIES:
            raise BadInput(
                f"the count {typed.count} is out of range", right=f"from 1 to {MOST_TRIES}"
            )
        return Attempt(
            at_us=self._now if typed.at is None else self._time(typed.at),
            route=route,
            step=step.name,
            stage=step.stage,
            outcome=outcome,
            reached=reached,
            tries=typed.count,
            minutes=typed.minutes,
            note=typed.note,
        )

    def _find_step(self, route: str, typed: str) -> NamedStep:
        step = find_step(self._book.routes[route], typed)
        if step.places > 1:
            self.notes.append(
                f"step {step.name!r} stands in several places of {route}: its tries cannot be told "
                "apart, so they do not change its odds"
            )
        return step

    def _time(self, typed: str) -> int:
        order = self._settings.date_order
        moment = read_time(typed, self._settings.timezone, order=None if order == "ask" else order)
        if moment.taken is not None:
            self.notes.append(moment.taken)
        return moment.at_us


def _read_rows(reader: _Reader, data: bytes, file: Path, route: str | None) -> Iterator[Attempt]:
    needed = NEEDED if route is not None else (*NEEDED, "route")
    for line, row in read_logged_rows(data, file, columns=COLUMNS, needed=needed):
        yield from _read_row(reader, row, file=file, line=line, route=route)


def _read_row(
    reader: _Reader,
    row: Mapping[str, str],
    *,
    file: Path,
    line: int,
    route: str | None,
) -> tuple[Attempt, ...]:
    try:
        return reader.attempts(
            TypedTry(
                route=row.get("route") or route or "",
                step=row["step"],
                outcome=row["outcome"],
                at=row.get("at") or None,
                count=_read_count(row.get("count") or "1"),
                at_stage=row.get("stage") or None,
            )
        )
    except BadInput as fault:
        raise BadInput(
            fault.what,
            right=fault.right,
            file=file,
            line=line,
            column=fault.column,
            step=fault.step,
        ) from None


def _read_count(text: str) -> int:
    if not text.isascii() or not text.isdigit():
        raise BadInput(f"{text!r} is no count", right="a whole number, 1 or more", column="count")
    return int(text)
