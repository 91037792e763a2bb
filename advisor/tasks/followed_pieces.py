"""Which piece is followed: one begun before, one by its number, or a new one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.book.attempts import Attempt, list_attempts
from advisor.book.sessions import Session, begin_session, find_session, list_sessions
from advisor.book.store import Store
from advisor.errors import BadInput, WrongUse
from advisor.names import did_you_mean
from advisor.routes.cost_answer import RouteCost
from advisor.routes.from_stage import CostFromStage
from advisor.tasks.table_choices import nearest_stages
from advisor.times import now_us

LATEST_US = 2**62


@dataclass(frozen=True)
class OpenPiece:
    """A piece that is not finished, and the stage it is at."""

    session: int
    stage: str


def stage_after(session: Session, log: Sequence[Attempt]) -> str | None:
    """Where a piece is after its attempts; None where the evening ended."""
    return log[-1].reached if log else session.start


def open_pieces(
    store: Store, ahead: CostFromStage, *, route: str, goal: str, but: int | None = None
) -> list[OpenPiece]:
    """The pieces of a route that are not finished, with the stage each is at."""
    found = []
    for session in list_sessions(store, route=route, until_us=LATEST_US):
        if session.session == but or session.goal != goal:
            continue
        log = list_attempts(store, route=route, until_us=LATEST_US, session=session.session)
        stage = stage_after(session, log)
        number = None if stage is None else ahead.number(stage)
        if stage is not None and (number is None or not ahead.is_end(number)):
            found.append(OpenPiece(session.session, stage))
    return found


def pick_session(
    store: Store, cost: RouteCost, *, number: int | None, new: bool, at: str | None
) -> tuple[Session, bool]:
    """The piece to follow: a named one, a new one, or the newest open one.

    Args:
        at: The stage a new piece is at; None for the route's start.
    Returns: The piece, and whether it is new.
    Raises: BadInput, WrongUse: no such piece, or one of another route or goal.
    """
    ahead = CostFromStage(cost)
    if number is not None:
        session = find_session(store, number)
        if session.route != cost.route:
            raise WrongUse(
                f"piece {number} is of route {session.route}",
                right=f"makeworth follow {session.route} --session {number}",
            )
        if session.goal != cost.goal:
            raise WrongUse(
                f"piece {number} was begun --for {session.goal}", right=f"--for {session.goal}"
            )
        return session, False
    opened = [] if new else open_pieces(store, ahead, route=cost.route, goal=cost.goal)
    if opened:
        return find_session(store, opened[-1].session), False
    model = cost.model
    start = model.start if at is None else ahead.number(at)
    if start is None:
        near = nearest_stages(model, at or "")
        right = did_you_mean(at or "", near) or "near are " + ", ".join(near)
        raise BadInput(f"route {cost.route!r} has no stage {at!r}", right=right)
    session = begin_session(
        store, route=cost.route, goal=cost.goal, start=model.stages[start], begun_us=now_us()
    )
    return session, True
