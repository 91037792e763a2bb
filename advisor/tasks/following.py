"""A piece in the making: where it stands, what is best now, and what came of the last attempt.

All that is known of a followed piece is its attempts; stage, cost and luck follow from
them each time, so that leaving, undo and a kill at any moment lose nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.book.attempts import Attempt, add_attempts, list_attempts, undo_entry
from advisor.book.sessions import Session, find_session, last_entry, set_budget
from advisor.book.store import Store
from advisor.decide.luck import Luck, weigh_luck
from advisor.decide.table_moves import trace_moves
from advisor.errors import BadInput
from advisor.figures import difference
from advisor.names import did_you_mean
from advisor.routes.cost_answer import RouteCost
from advisor.routes.from_stage import CostFromStage
from advisor.tasks.followed_pieces import LATEST_US, OpenPiece, open_pieces, stage_after
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import buy_prices
from advisor.tasks.table_choices import (
    MOVED,
    PUT_AWAY,
    TableChoice,
    choices_at,
    find_choice,
    nearest_stages,
)
from advisor.times import now_us


@dataclass(frozen=True)
class TableView:
    """What is to know at the table.

    Attributes:
        session: The piece.
        stage: Where it is, as the log says; None where the evening ended.
        is_lost: Whether the route has no such stage any more.
        is_put_away: Whether it was given up.
        is_finished: Whether nothing is to be done any more.
        choices: What may come, best step first.
        does: The best thing to do: "step", "buy in", "sell out", "stop"; None at an end.
        step: Its step's name, or the stage bought into.
        uses: What that uses up whatever comes: items and units.
        dearest_next: The most money that the best action may cost at once.
        to_go: Mean cost from here on.
        to_go_half, to_go_bad: What it stays within one time in two, and 19 in 20.
        attempts: How many were made.
        unplaced: Of these, how many fit no place of the route as it is: not in what was spent.
        luck: Spent so far, own time counted in, and against chance.
        spent: Money spent so far, what came in taken off.
        laid_out: What of it counts against the budget: for sale, nothing is taken off.
        hour_value: What an hour of one's own time counts for in costs.
        budget, left, chance_within: The limit, what is left of it, and the chance to
            finish within that.
        piece_price: What the finished piece costs to buy; None where nobody asks a price.
        others: Other open pieces of the route.
    """

    session: Session
    stage: str | None
    is_lost: bool
    is_put_away: bool
    is_finished: bool
    choices: tuple[TableChoice, ...]
    does: str | None
    step: str | None
    uses: tuple[tuple[str, float], ...]
    dearest_next: float | None
    to_go: float | None
    to_go_half: float | None
    to_go_bad: float | None
    attempts: int
    unplaced: int
    luck: Luck
    spent: float
    laid_out: float
    hour_value: float
    budget: float | None
    left: float | None
    chance_within: float | None
    piece_price: float | None
    others: tuple[OpenPiece, ...]


class FollowedPiece:
    """A piece at the table, written down attempt by attempt.

    Args:
        store: The open book.
        cost: The route's answer at the prices of the moment, for the piece's goal.
        pricing: Those prices.
        session: The piece.
        written: What outcomes are called, as `written_outcomes` has it.
    """

    def __init__(
        self,
        store: Store,
        cost: RouteCost,
        *,
        pricing: Pricing,
        session: Session,
        written: Sequence[str] | None,
    ) -> None:
        self.store = store
        self.cost = cost
        self.pricing = pricing
        self.session = session
        self.ahead = CostFromStage(cost)
        self._written = written

    def log(self) -> list[Attempt]:
        """What was done with the piece, in order."""
        own = self.session
        return list_attempts(self.store, route=own.route, until_us=LATEST_US, session=own.session)

    def view(self) -> TableView:
        """What is to know now."""
        log = self.log()
        stage = stage_after(self.session, log)
        number = None if stage is None else self.ahead.number(stage)
        lost = stage is not None and number is None
        put_away = bool(log) and log[-1].action == PUT_AWAY
        finished = put_away or (not lost and (number is None or self.ahead.is_end(number)))
        moves = trace_moves(
            self.cost.model, log, sessions={self.session.session: self.session.start}
        )
        view = TableView(
            session=self.session,
            stage=log[-1].stage if put_away else stage,
            is_lost=lost,
            is_put_away=put_away,
            is_finished=finished,
            choices=self._choices(stage, number, finished=finished),
            does=None,
            step=None,
            uses=(),
            dearest_next=None,
            to_go=None,
            to_go_half=None,
            to_go_bad=None,
            attempts=sum(each.action == "step" for each in log),
            unplaced=moves.unplaced.total(),
            luck=weigh_luck(moves, self.ahead),
            spent=moves.spent(self.ahead.money),
            laid_out=moves.spent(self.ahead.purse),
            hour_value=self.cost.hour_value,
            budget=self.session.budget,
            left=None,
            chance_within=None,
            piece_price=buy_prices(self.pricing).get(self.pricing.name(self.cost.makes)),
            others=tuple(self.open_pieces(but=self.session.session)),
        )
        view = self._with_what_is_ahead(view, number) if number is not None else view
        return self._with_budget(view, None if finished else number)

    def _choices(
        self, stage: str | None, number: int | None, *, finished: bool
    ) -> tuple[TableChoice, ...]:
        if finished:
            return ()
        if number is None:
            near = nearest_stages(self.cost.model, stage or "")
            return tuple(
                TableChoice(str(key), MOVED, None, None, name)
                for key, name in enumerate(near, start=1)
            )
        return choices_at(self.ahead, number, written=self._written)

    def _with_what_is_ahead(self, view: TableView, number: int) -> TableView:
        choice = None if view.is_finished else self.cost.choices.get(view.stage or "")
        law = None if choice is None else self.ahead.law(number)
        return replace(
            view,
            does=None if choice is None else choice.action,
            step=None if choice is None else choice.step,
            uses=() if choice is None else self._uses(number),
            dearest_next=self._dearest(number) if view.choices else None,
            to_go=None if view.is_finished else self.ahead.mean(number),
            to_go_half=None if law is None else law.quantile(0.5),
            to_go_bad=None if law is None else law.quantile(0.95),
        )

    def _dearest(self, number: int) -> float | None:
        """The most money that the best action may take at once."""
        action = int(self.cost.actions[number])
        if action < 0:
            return None
        first, last = self._rows(action)
        return float(self.ahead.purse[first:last].max())

    def _rows(self, action: int) -> tuple[int, int]:
        first, last = np.searchsorted(self.cost.model.outcome_action, [action, action + 1])
        return int(first), int(last)

    def _uses(self, number: int) -> tuple[tuple[str, float], ...]:
        """What the best action uses up whatever comes."""
        model, action = self.cost.model, int(self.cost.actions[number])
        first, last = self._rows(action)
        units = model.uses[first:last].toarray().min(axis=0)
        return tuple(
            (model.items[item], float(units[item])) for item in np.flatnonzero(units).tolist()
        )

    def _with_budget(self, view: TableView, number: int | None) -> TableView:
        if view.budget is None:
            return view
        left = difference(view.budget, view.laid_out)
        law = None if number is None else self.ahead.purse_law(number)
        return replace(
            view, left=left, chance_within=None if law is None else law.chance_within(left)
        )

    def choose(self, typed: str) -> TableChoice:
        """Write down what came: a key, or the name of the stage that is on the table now.

        Raises: BadInput: neither; what would be right.
        """
        view = self.view()
        choice = find_choice(view.choices, typed)
        self._write(choice, stage=view.stage)
        return choice

    def put_away(self) -> None:
        """Give the piece up; it can be taken up again by undo.

        Raises: BadInput: it is finished already.
        """
        view = self.view()
        if view.is_finished:
            raise BadInput("the piece is finished", right="u takes the last attempt back, q leaves")
        self._write(TableChoice("x", PUT_AWAY, None, None, None), stage=view.stage)

    def move_to(self, stage: str) -> str:
        """Say where the piece is, whatever the log says; gives the stage's name.

        Raises: BadInput: the route has no such stage.
        """
        model = self.cost.model
        number = self.ahead.number(stage)
        if number is None:
            near = nearest_stages(model, stage)
            right = did_you_mean(stage, near) or "near are " + ", ".join(near)
            raise BadInput(f"route {self.cost.route!r} has no stage {stage!r}", right=right)
        name = model.stages[number]
        self._write(TableChoice("", MOVED, None, None, name), stage=self.view().stage)
        return name

    def undo(self) -> Attempt:
        """Take the last attempt back; gives it.

        Raises: BadInput: there is none.
        """
        entry = last_entry(self.store, self.session.session)
        log = self.log()
        if entry is None or not log:
            raise BadInput("there is nothing to take back")
        undo_entry(self.store, entry)
        return log[-1]

    def set_budget(self, budget: float) -> None:
        """Spend no more on the piece than this."""
        set_budget(self.store, self.session.session, budget=budget)
        self.session = replace(self.session, budget=budget)

    def switch(self) -> None:
        """Go on with the next open piece of the route.

        Raises: BadInput: there is no other.
        """
        others = [each.session for each in self.open_pieces(but=self.session.session)]
        if not others:
            raise BadInput("no other piece of this route is open", right="begin one with --new")
        later = [each for each in others if each > self.session.session]
        self.session = find_session(self.store, (later or others)[0])

    def open_pieces(self, *, but: int | None = None) -> list[OpenPiece]:
        """The route's pieces of the same goal that are not finished."""
        own = self.session
        return open_pieces(self.store, self.ahead, route=own.route, goal=own.goal, but=but)

    def _write(self, choice: TableChoice, *, stage: str | None) -> None:
        add_attempts(
            self.store,
            [
                Attempt(
                    at_us=now_us(),
                    route=self.session.route,
                    action=choice.action,
                    step=choice.step,
                    stage=stage,
                    outcome=choice.outcome,
                    reached=choice.reached,
                    session=self.session.session,
                )
            ],
        )
