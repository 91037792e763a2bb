"""The chance of one outcome, in every spelling a user may write it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from advisor.routes.amounts import Amount, exact_number, is_by_rung, read_rungs, text_number
from advisor.routes.table import Table, describe_type

CHANCE, WEIGHT, REST, UNSTATED = "chance", "weight", "rest", "unstated"

SPELLINGS = 'write it like 0.02, "2 %", "1 in 40", "1/40" or "rest"'

_PERCENT = re.compile(r"(.+?)\s*%")
_ONE_IN = re.compile(r"(\S+)\s+in\s+(\S+)", re.IGNORECASE)


@dataclass(frozen=True)
class Odds:
    """The chance of one outcome as it is written.

    Attributes:
        kind: "chance", "weight" (relative to the others of the step), "rest" (what
            the others leave) or "unstated" (only logged tries are given).
        value: The chance or the weight, exactly; 0 for "rest" and "unstated".
        seen: How often it came, of how many logged tries; None where not said.
        line: Where it is written.
    """

    kind: str
    value: Amount
    seen: tuple[int, int] | None
    line: int | None


def certain(line: int | None) -> Odds:
    """The odds of what always happens."""
    return Odds(CHANCE, Fraction(1), None, line)


def read_odds(table: Table, key: str) -> Odds:
    """Read the odds of the outcome under this key of a step's outcomes.

    Args:
        table: The outcomes of a step.
        key: The outcome: where it leads.
    """
    value = table.values[key]
    if is_by_rung(value) or not isinstance(value, dict):
        return _stated(table, key, key, None)
    inner = table.table(key, '{ odds = "2 %" }')
    if "odds" in value and "weight" in value:
        raise inner.fault("has both `odds` and `weight`", "weight", right="keep one of them")
    seen = _seen(inner) if "seen" in value else None
    if "odds" in value:
        return _stated(inner, "odds", key, seen)
    if "weight" in value:
        return Odds(WEIGHT, _weight(inner), seen, inner.line("weight"))
    if seen is not None:
        return Odds(UNSTATED, Fraction(0), seen, inner.line("seen"))
    raise inner.fault(
        f"the outcome {key!r} has no odds", right="give it `odds`, `weight` or `seen`"
    )


def _stated(table: Table, key: str, outcome: str, seen: tuple[int, int] | None) -> Odds:
    value = table.values[key]
    line = table.line(key)
    if is_by_rung(value):
        rungs = read_rungs(table, key, lambda each, _: _chance(table, key, outcome, each))
        return Odds(CHANCE, rungs, seen, line)
    if isinstance(value, str) and value.strip().casefold() == REST:
        return Odds(REST, Fraction(0), seen, line)
    return Odds(CHANCE, _chance(table, key, outcome, value), seen, line)


def _chance(table: Table, key: str, outcome: str, value: Any) -> Fraction:
    found = value if isinstance(value, str) else describe_type(value)
    number = text_chance(value) if isinstance(value, str) else exact_number(value)
    if number is None:
        raise table.fault(f"the odds of {outcome!r} are {found!r}", key, right=SPELLINGS)
    if not 0 <= number <= 1:
        right = "odds lie between 0 and 1"
        if number > 1 and not isinstance(value, str):
            right += f'; a percentage is written "{value} %", a weight {{ weight = {value} }}'
        raise table.fault(f"the odds of {outcome!r} are {value}", key, right=right)
    return number


def text_chance(text: str) -> Fraction | None:
    """Odds written as text, exactly; None when they are none of the known spellings.

    >>> text_chance("1 in 40"), text_chance("2,5 %"), text_chance("1/3")
    (Fraction(1, 40), Fraction(1, 40), Fraction(1, 3))
    """
    text = text.strip()
    percent = _PERCENT.fullmatch(text)
    if percent:
        number = text_number(percent.group(1))
        return None if number is None else number / 100
    one_in = _ONE_IN.fullmatch(text)
    if one_in is None:
        return text_number(text)
    hits, tries = (text_number(each) for each in one_in.groups())
    return hits / tries if hits is not None and tries else None


def _weight(table: Table) -> Amount:
    value = table.values["weight"]

    def read_one(each: Any, _: str = "") -> Fraction:
        number = text_number(each) if isinstance(each, str) else exact_number(each)
        if number is None or number < 0:
            found = each if isinstance(each, str) or number is not None else describe_type(each)
            raise table.fault(
                f"`weight` is {found}", "weight", right="it must be a number, 0 or more"
            )
        return number

    return read_rungs(table, "weight", read_one) if is_by_rung(value) else read_one(value)


def _seen(table: Table) -> tuple[int, int]:
    value = table.values["seen"]
    right = "write how often it came, of how many tries: seen = [3, 120]"
    if not isinstance(value, list) or len(value) != 2:
        raise table.fault(f"`seen` is {describe_type(value)}", "seen", right=right)
    if any(isinstance(each, bool) or not isinstance(each, int) for each in value):
        raise table.fault("`seen` holds something else than whole numbers", "seen", right=right)
    came, tries = value
    if not 0 <= came <= tries < 10**15:
        raise table.fault(f"`seen` is [{came}, {tries}]", "seen", right=right)
    return came, tries
