"""Was it luck? The log of a route against its stated odds, at the prices of a moment."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from advisor.book.attempts import list_attempts
from advisor.book.sessions import list_sessions
from advisor.decide.luck import Luck, weigh_luck
from advisor.decide.step_luck import StepLuck, comparisons_made, judge_steps
from advisor.decide.table_moves import TableMoves, trace_moves
from advisor.errors import CannotAnswer
from advisor.figures import amount, difference, percent
from advisor.routes.from_stage import CostFromStage
from advisor.routes.route import PIECE
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, cost_route, count_tries
from advisor.tasks.workspace import Workspace
from advisor.times import us_to_rfc3339

UNPLACED_SHOWN = 5
UNSEEN = "; log what is on the piece then, as makeworth follow shows it, in place of piece"


@dataclass(frozen=True)
class RouteLuck:
    """The luck of a route's log.

    Attributes:
        route, money, as_of_us: What was asked.
        tries: Attempts of steps that were logged.
        luck: What was spent against what chance makes of it, at stated odds.
        steps: Stated odds beside those that came.
        mean_stated, mean_learned: Mean cost of one piece at stated odds, and at the odds
            learned; None where no mean exists.
        cautions: What to know beside it.
        left_out: Attempts that fit no one place of the route.
    """

    route: str
    money: str
    as_of_us: int
    tries: int
    luck: Luck
    steps: tuple[StepLuck, ...]
    mean_stated: float | None
    mean_learned: float | None
    cautions: tuple[str, ...]
    left_out: int = 0


def judge_luck(workspace: Workspace, book: RouteBook, pricing: Pricing, *, route: str) -> RouteLuck:
    """Judge the luck of everything logged for a route.

    Args:
        route: Its name, as in the book of routes.
    Raises: CannotAnswer: nothing is logged, or prices are missing.
    """
    moment = pricing.market.as_of_us
    with workspace.open_book(read_only=True) as store, store.reading():
        log = list_attempts(store, route=route, until_us=moment)
        sessions = list_sessions(store, route=route, until_us=moment)
    if not log:
        raise CannotAnswer(
            f"no attempts of {route} are logged by then",
            right=f"log them: makeworth log try {route} STEP OUTCOME, or makeworth follow {route}",
        )
    stated = cost_route(book, route, pricing=pricing.at_stated_odds())
    learned = cost_route(book, route, pricing=pricing)
    moves = trace_moves(
        stated.model, log, sessions={session.session: session.start for session in sessions}
    )
    tries = count_tries(book, pricing).get(route, {})
    steps, cautions = judge_steps(book.routes[route], tries, trust=pricing.settings.trade.trust)
    logged = sum(sum(by_quarter.values()) for by_quarter in pricing.tries.get(route, {}).values())
    forgotten = logged - sum(tries.values())
    if forgotten:
        cautions += (
            f"{forgotten} attempts are older than the odds of their step (`since`): they are left "
            "out of the odds, and what was spent on them is judged by the odds of today",
        )
    return RouteLuck(
        route=route,
        money=pricing.market.money,
        as_of_us=moment,
        tries=sum(each.tries for each in log if each.action == "step"),
        luck=_weigh(moves, CostFromStage(stated), tries=sum(each.tries for each in log)),
        steps=steps,
        mean_stated=stated.mean,
        mean_learned=learned.mean,
        cautions=(*cautions, *_name_unplaced(moves), *stated.cautions),
        left_out=moves.unplaced.total(),
    )


def _weigh(moves: TableMoves, ahead: CostFromStage, *, tries: int) -> Luck:
    """The luck of what could be placed; none is told of a log of which most could not."""
    luck = weigh_luck(moves, ahead)
    if 2 * moves.unplaced.total() > tries:
        return replace(luck, expected=None, luckier_than=None)
    return luck


def _name_unplaced(moves: TableMoves) -> list[str]:
    told = moves.unplaced.most_common()
    notes = [
        f"{count} logged of {what} fit no one place of the route as it is: not in what was spent"
        + (UNSEEN if what.endswith(f" {PIECE!r}") else "")
        for what, count in told[:UNPLACED_SHOWN]
    ]
    if len(told) > UNPLACED_SHOWN:
        notes.append(f"and {len(told) - UNPLACED_SHOWN} more kinds of attempts likewise")
    return notes


def luck_reasons(answer: RouteLuck) -> list[str]:
    """The answer in sentences."""
    luck, money = answer.luck, answer.money
    found = []
    if luck.expected is not None and luck.luckier_than is not None:
        more = difference(luck.spent, luck.expected)
        gap = f"{amount(abs(more))} {'more' if more > 0 else 'less'}" if more else "just as much"
        found.append(
            f"{amount(luck.spent)} {money} was spent at today's prices where getting this far "
            f"costs {amount(luck.expected)} on average: {gap}."
        )
        you = "You were" if luck.begun == luck.finished else "So far you were"
        found.append(
            f"{you} luckier than {of_hundred(luck.luckier_than)} who make the same "
            "pieces at the stated odds."
        )
    elif answer.left_out:
        found.append(
            f"How lucky this was cannot be told: {answer.left_out} of {answer.tries} attempts fit "
            "no one place of the route."
        )
    for each in answer.steps:
        if each.stated is None or not each.is_surprising or _is_the_rest(each, answer.steps):
            continue
        found.append(
            f"Step {each.step}: your log says {percent(each.seen / each.tries)} for "
            f"{each.outcome} ({each.seen} of {each.tries}) where the file says "
            f"{percent(each.stated)}; by chance alone a count so strange, of any outcome "
            f"compared, comes in {percent(each.corrected)} of logs. Look whether the odds have "
            "changed."
        )
    if not any(each.is_surprising for each in answer.steps) and answer.steps:
        found.append("Every step came out as chance at the stated odds may make it.")
    if answer.mean_stated is not None and answer.mean_learned is not None:
        found.append(
            f"What the log changes: a piece costs {amount(answer.mean_learned)} {money} on "
            f"average by the odds learned, {amount(answer.mean_stated)} by the stated ones."
        )
    return found


def of_hundred(share: float) -> str:
    """A share of one as people of a hundred, never a false none or all.

    >>> of_hundred(0.304), of_hundred(0.999), of_hundred(0.001)
    ('30 of 100', 'over 99 of 100', 'less than 1 of 100')
    """
    if share < 0.005:
        return "less than 1 of 100"
    return f"{'over 99' if share > 0.995 else round(100 * share)} of 100"


def _is_the_rest(each: StepLuck, steps: tuple[StepLuck, ...]) -> bool:
    """Whether it only mirrors the rarer one of a step's two outcomes."""
    own = [other for other in steps if other.step == each.step]
    return len(own) == 2 and each is max(own, key=lambda other: other.stated or 0.0)


def luck_json(answer: RouteLuck) -> dict[str, Any]:
    """The answer by its contract."""
    luck = answer.luck
    return {
        "route": answer.route,
        "money": answer.money,
        "as_of": us_to_rfc3339(answer.as_of_us),
        "tries": answer.tries,
        "spent": luck.spent,
        "expected": luck.expected,
        "luckier_than": luck.luckier_than,
        "begun": luck.begun,
        "finished": luck.finished,
        "mean_cost": {"stated": answer.mean_stated, "learned": answer.mean_learned},
        "steps": [
            {
                "step": each.step,
                "outcome": each.outcome,
                "tries": each.tries,
                "seen": each.seen,
                "stated": each.stated,
                "posterior": {"mean": each.mean, "low_95": each.low_95, "high_95": each.high_95},
                "surprise": each.surprise,
                "surprise_corrected": each.corrected,
            }
            for each in answer.steps
        ],
        "comparisons": comparisons_made(answer.steps),
        "reasons": luck_reasons(answer),
        "cautions": list(answer.cautions),
    }
