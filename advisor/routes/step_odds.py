"""The odds of a step's outcomes together: they must say one thing, and sum to one."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from fractions import Fraction

import numpy as np

from advisor.errors import RouteFault
from advisor.routes.amounts import ByRung
from advisor.routes.odds import CHANCE, REST, UNSTATED, WEIGHT
from advisor.routes.route import Outcome, Step
from advisor.routes.table import Table
from advisor.routes.vary import Rungs, fill_braces

SUM_TOLERANCE = Fraction(1, 10**9)
_SAFE_WHOLE = 2**62


def check_odds_kinds(table: Table, outcomes: Sequence[Outcome]) -> None:
    """Refuse odds that cannot be read together, before any number is compared.

    Raises:
        RouteFault: two `rest`; weights beside odds; odds stated for some outcomes only;
            logged tries that contradict each other.
    """
    kinds = [outcome.odds.kind for outcome in outcomes]
    for outcome in outcomes:
        _refuse_mixed(table, outcome, kinds)
    if kinds.count(REST) > 1:
        second = [outcome for outcome in outcomes if outcome.odds.kind == REST][1]
        raise _fault(table, second, "is a second `rest`", "one outcome takes what is left")
    _check_seen(table, outcomes)


def _refuse_mixed(table: Table, outcome: Outcome, kinds: list[str]) -> None:
    if WEIGHT in kinds and outcome.odds.kind != WEIGHT:
        raise _fault(
            table,
            outcome,
            "has no `weight`, but other outcomes of the step have",
            "give every outcome a weight, or none",
        )
    if UNSTATED in kinds and outcome.odds.kind == CHANCE:
        raise _fault(
            table,
            outcome,
            "has odds, but another outcome of the step has only `seen`",
            "state odds for every outcome (one may be `rest`), or for none",
        )


def _check_seen(table: Table, outcomes: Sequence[Outcome]) -> None:
    logged = [outcome for outcome in outcomes if outcome.odds.seen is not None]
    if not logged:
        return
    for outcome in outcomes:
        if isinstance(outcome.odds.value, ByRung):
            raise _fault(
                table,
                outcome,
                "has odds `by` rung, and the step has `seen`",
                "tries of different rungs are different: log them by the name of the step",
            )
    tries = _seen(logged[0])[1]
    for outcome in logged:
        if _seen(outcome)[1] != tries:
            raise _fault(
                table,
                outcome,
                f"was seen in {_seen(outcome)[1]} tries, another outcome in {tries}",
                "outcomes of one step share their tries",
            )
    came = sum(_seen(outcome)[0] for outcome in logged)
    if came > tries or (came < tries and len(logged) == len(outcomes)):
        raise table.fault(
            f"the outcomes were seen {came} times in {tries} tries",
            right="together they must be seen as often as it was tried",
        )


def _seen(outcome: Outcome) -> tuple[int, int]:
    return outcome.odds.seen or (0, 0)


def _fault(table: Table, outcome: Outcome, what: str, right: str) -> RouteFault:
    return RouteFault(
        f"the outcome {outcome.stage!r} {what}",
        right=right,
        file=table.lines.file,
        line=outcome.odds.line,
        step=table.step,
    )


def stated_odds(step: Step, rungs: Rungs) -> np.ndarray:
    """The odds of each outcome in each row, shape (outcomes, rows); each row sums to 1.

    Sums are taken exactly, on whole numbers over a common denominator, so that
    `rest` is exactly what is left. Outcomes without stated odds share equally here;
    their logged tries are taken in later.

    Raises:
        RouteFault: the odds of a row do not sum to 1 within 1e-9.
    """
    kind = step.outcomes[0].odds.kind
    kinds = {outcome.odds.kind for outcome in step.outcomes}
    if UNSTATED in kinds:
        return np.full((len(step.outcomes), rungs.count), 1 / len(step.outcomes))
    whole, parts = _over_common_denominator(step, rungs)
    total = parts.sum(axis=0)
    if kind == WEIGHT:
        _refuse_rows(step, rungs, total <= 0, lambda _: "the weights sum to 0")
    else:
        total = _fill_rest(step, rungs, parts, whole)
    return np.asarray(parts / total, dtype=np.float64)


def _over_common_denominator(step: Step, rungs: Rungs) -> tuple[int, np.ndarray]:
    """Numerators of each outcome in each row over one denominator, exactly."""
    columns = [rungs.amounts(outcome.odds.value, step.table) for outcome in step.outcomes]
    whole = math.lcm(*(value.denominator for values, _ in columns for value in values))
    largest = max(abs(value) for values, _ in columns for value in values)
    fits = max(whole, int(largest * whole) + 1) * (len(columns) + 1) < _SAFE_WHOLE
    kind: type = np.int64 if fits else object
    parts: np.ndarray = np.empty((len(columns), rungs.count), dtype=kind)
    for row, (values, which) in zip(parts, columns, strict=True):
        row[:] = np.array([int(value * whole) for value in values], dtype=kind)[which]
    return whole, parts


def _fill_rest(step: Step, rungs: Rungs, parts: np.ndarray, whole: int) -> np.ndarray:
    """Give `rest` what is left; refuse rows whose sum is not one; returns the sums."""
    total = parts.sum(axis=0)
    rest = [number for number, each in enumerate(step.outcomes) if each.odds.kind == REST]
    slack = int(whole * SUM_TOLERANCE)

    def tell(row: int) -> str:
        return f"the odds sum to {_short(Fraction(int(total[row]), whole))}"

    if rest:
        _refuse_rows(step, rungs, total > whole + slack, tell)
        parts[rest[0]] = np.maximum(whole - total, 0)
        return np.asarray(parts.sum(axis=0))
    _refuse_rows(step, rungs, (total > whole + slack) | (total < whole - slack), tell)
    return np.asarray(total)


def _short(number: Fraction) -> str:
    """Ten digits, or all of them where ten would read "1"."""
    text = f"{float(number):.10g}"
    return f"{float(number):.17g}" if text == "1" else text


def _refuse_rows(step: Step, rungs: Rungs, wrong: np.ndarray, tell: Callable[[int], str]) -> None:
    rows = np.flatnonzero(wrong)
    if not len(rows):
        return
    right = "they must sum to 1" + (
        "" if any(each.odds.kind == REST for each in step.outcomes) else '; one may be "rest"'
    )
    if step.outcomes[0].odds.kind == WEIGHT:
        right = "one must be more than 0"
    row = int(rows[0])
    raise RouteFault(
        tell(row),
        right=right,
        file=step.table.lines.file,
        line=step.table.line("outcomes"),
        step=fill_braces(step.name, rungs, step.table, row=row),
    )
