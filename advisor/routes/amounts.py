"""How much: quantities, minutes and fees, fixed or given for each rung."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from advisor.routes.table import Table, describe_type

LARGEST_EXPONENT = 18
"""Numbers of more than this many digits before or behind the point are refused."""

_NUMBER = r"\d{1,18}(?:[.,]\d{1,18})?"
_TEXT_NUMBER = re.compile(rf"({_NUMBER})(?:\s*/\s*({_NUMBER}))?")
_FEE = re.compile(rf"({_NUMBER}(?:\s*/\s*{_NUMBER})?)\s*(\S.*)?")


@dataclass(frozen=True)
class ByRung:
    """A number for each value of a varied name, or of the difference of two.

    Attributes:
        names: One varied name, or two: the first minus the second.
        values: In the order of the varied name; for a difference, by the difference.
        line: Where it is written.
    """

    names: tuple[str, ...]
    values: tuple[Fraction, ...] | Mapping[int, Fraction]
    line: int | None


Amount = Fraction | ByRung


@dataclass(frozen=True)
class ItemAmount:
    """So many units of one item.

    Attributes:
        item: The item; None is the money that the workspace values everything in.
        amount: Units, >= 0.
        line: Where it is written.
    """

    item: str | None
    amount: Amount
    line: int | None


def exact_number(value: Any) -> Fraction | None:
    """A number as written in the file, exactly; None when it is none that can be used."""
    if isinstance(value, bool):
        return None
    if isinstance(value, Decimal):
        if not value.is_finite() or abs(value.adjusted()) > LARGEST_EXPONENT:
            return None
        return Fraction(value)
    if isinstance(value, int):
        return Fraction(value) if abs(value) < 10**LARGEST_EXPONENT else None
    return None


def text_number(text: str) -> Fraction | None:
    """A number written as text: "12", "2.5", "2,5" or "1/2"; None when it is none.

    >>> text_number("7/3")
    Fraction(7, 3)
    """
    found = _TEXT_NUMBER.fullmatch(text.strip())
    if found is None:
        return None
    over = Fraction(found[1].replace(",", "."))
    if found[2] is None:
        return over
    under = Fraction(found[2].replace(",", "."))
    return over / under if under else None


def read_rungs(table: Table, key: str, read_one: Callable[[Any, str], Fraction]) -> ByRung:
    """Read `{ by = "n", values = [...] }` or `{ by = "a-b", values = { 0 = ... } }`."""
    inner = table.table(key, '{ by = "n", values = [1, 2] }')
    inner.refuse_unknown_keys(("by", "values"))
    names = tuple(part.strip() for part in inner.text("by").split("-"))
    if not 1 <= len(names) <= 2 or not all(names):
        raise inner.fault(
            f"`by` is {inner.values['by']!r}",
            "by",
            right='name one varied name, or a difference of two: "a-b"',
        )
    values = inner.values.get("values")
    line = inner.line()
    if len(names) == 1:
        if not isinstance(values, list):
            raise inner.fault(
                f"`values` is {'missing' if values is None else describe_type(values)}",
                "values",
                right=f"it must be a list with one entry for each value of {names[0]}",
            )
        return ByRung(names, tuple(read_one(each, "values") for each in values), line)
    if not isinstance(values, dict):
        raise inner.fault(
            f"`values` is {'missing' if values is None else describe_type(values)}",
            "values",
            right="it must be a table keyed by the difference, like { -1 = 2, 0 = 1 }",
        )
    return ByRung(names, _by_difference(inner, values, read_one), line)


def _by_difference(
    inner: Table, values: Mapping[str, Any], read_one: Callable[[Any, str], Fraction]
) -> dict[int, Fraction]:
    result = {}
    for difference, value in values.items():
        if not re.fullmatch(r"[+-]?\d{1,9}", difference):
            raise inner.fault(
                f"`values` has the key {difference!r}",
                "values",
                right="each key must be a whole number: the difference",
            )
        result[int(difference)] = read_one(value, "values")
    return result


def is_by_rung(value: Any) -> bool:
    """Whether this is a table that gives a number for each rung."""
    return isinstance(value, dict) and ("by" in value or "values" in value)


def read_amount(table: Table, key: str, *, above_zero: bool) -> Amount:
    """A quantity or a time: a number, or one for each rung.

    Args:
        table: The table that holds it.
        key: Its key.
        above_zero: Whether zero is refused; a rung may always have zero.
    """
    value = table.values[key]
    if is_by_rung(value):
        return read_rungs(table, key, lambda each, _: _amount(table, key, each, False))
    return _amount(table, key, value, above_zero)


def _amount(table: Table, key: str, value: Any, above_zero: bool) -> Fraction:
    number = text_number(value) if isinstance(value, str) else exact_number(value)
    least = "more than 0" if above_zero else "0 or more"
    if number is None:
        found = repr(value) if isinstance(value, str) else _number_or_type(value)
        raise table.fault(f"`{key}` is {found}", key, right=f"it must be a number, {least}")
    if number < 0 or (above_zero and number == 0):
        raise table.fault(f"`{key}` is {value}", key, right=f"it must be {least}")
    return number


def _number_or_type(value: Any) -> str:
    if isinstance(value, (int, Decimal)) and not isinstance(value, bool):
        return str(value) if len(str(value)) < 30 else "a number with too many digits"
    return describe_type(value)


def read_item_amounts(table: Table, key: str) -> tuple[ItemAmount, ...]:
    """Read `uses` or `gives`: a table of items and quantities."""
    inner = table.table(key, '{ "binding wax" = 2 }')
    for item in inner.values:
        if not item.strip():
            raise inner.fault(f"`{key}` has an item without a name", item)
    return tuple(
        ItemAmount(item, read_amount(inner, item, above_zero=True), inner.line(item))
        for item in inner.values
    )


def read_fee(table: Table, key: str = "fee") -> tuple[ItemAmount, ...]:
    """Read a fee: "2 shell", "1/2 crown", a number, or one of these for each rung.

    Returns: One amount for each money that occurs; none where there is no fee.
    """
    if key not in table.values:
        return ()
    value = table.values[key]
    line = table.line(key)
    if not is_by_rung(value):
        amount, money = _fee(table, key, value)
        return (ItemAmount(money, amount, line),)
    moneys: list[str | None] = []

    def note_money(each: Any, _: str) -> Fraction:
        money = _fee(table, key, each)[1]
        if money not in moneys:
            moneys.append(money)
        return Fraction(0)

    read_rungs(table, key, note_money)
    return tuple(_fee_in(table, key, money) for money in moneys)


def _fee_in(table: Table, key: str, money: str | None) -> ItemAmount:
    def part(each: Any, _: str) -> Fraction:
        amount, in_money = _fee(table, key, each)
        return amount if in_money == money else Fraction(0)

    rungs = read_rungs(table, key, part)
    return ItemAmount(money, rungs, rungs.line)


def _fee(table: Table, key: str, value: Any) -> tuple[Fraction, str | None]:
    right = 'write it like "2 shell", "1/2 crown" or 2'
    if isinstance(value, str):
        found = _FEE.fullmatch(value.strip())
        number = found and text_number(found.group(1))
        if found is None or number is None:
            raise table.fault(f"`{key}` is {value!r}", key, right=right)
        return number, found.group(2)
    number = exact_number(value)
    if number is None:
        raise table.fault(f"`{key}` is {_number_or_type(value)}", key, right=right)
    if number < 0:
        raise table.fault(f"`{key}` is {value}", key, right="it must be 0 or more")
    return number, None
