"""Reads a line as people type or paste it: "60 lantern frame 2.4", "binding wax 7/3".

A line names an item and one price, and may have a count, a money and a side:

    lantern frame 2.4            lantern frame x60 @ 2.4 shell
    60 lantern frame 2.4         wanted: 20 binding wax 7/3 crown
    7/3 binding wax              lantern frame 2.4 x60; 2.5 x20; 3 x100
    [20:14] Wen: WTB marsh oil for 3.2 each!

The third on the right is a whole ladder; cells parted by tabs or bars are item,
price and count. A line that could be meant in two ways is not read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from advisor.errors import BadInput
from advisor.money import (
    EACH,
    DecimalMark,
    Unreadable,
    decimal_evidence,
    read_number,
    read_price,
    two_readings,
)
from advisor.names import name_key
from advisor.tasks.chat_lines import take_apart
from advisor.tasks.line_names import is_odd_name, split_money_in_front, split_number_behind

LARGEST_COUNT = 10**12
CELLS = "cells parted by tabs or bars are item, price and count"
PRICE_FOR_UNITS = 'write a price for several units "lantern frame 2.5 crown / 12"'
GIVEN_APART = 'if that is its name, give it apart: makeworth quote "NAME" PRICE'
BOTH = 'mark the count ("x60") or the price ("@ 60")'

# One number of a line: no white space inside, else "frame 1 250" had two meanings.
_NUMBER = r"[0-9.,](?:[0-9.,'\u2019\u00a0\u202f]*[0-9])?"
_AMOUNT = rf"{_NUMBER}(?:\s*/\s*{_NUMBER})?"
# The number behind a slash is the units that a price is for, never the count.
_COUNT_X = rf"(?<![0-9/])(?<!/ )(?P<count_x>{_NUMBER})\s?[x×]"
_COUNT = rf"(?:[x×*]\s?(?P<x_count>{_NUMBER})|{_COUNT_X})"
_COUNT_WORD = re.compile(rf"(?:^|(?<=\s)|(?<=[0-9])){_COUNT}(?=\s|$|,|@)", re.IGNORECASE)
_AT_PRICE = re.compile(rf"\s*@\s*(?P<price>{_AMOUNT})\s*(?P<money>[^\W\d][^0-9/@]*)?$")
_PRICE_LAST = re.compile(
    rf"(?P<item>.*\S)\s+(?P<price>{_AMOUNT})(?:\s+(?P<money>[^\W\d][^0-9/@]*))?$"
)
_PRICE_FIRST = re.compile(rf"(?P<price>{_AMOUNT})\s+(?P<item>[^\W\d].*)$")
_FOR_UNITS = rf"(?P<price>{_AMOUNT})\s*(?P<money>[^\W\d][^0-9/@]*?)\s*/\s*(?P<units>{_NUMBER})"
_FOR_UNITS_LAST = re.compile(rf"(?P<item>.*?\S)(?:\s+|\s*@\s*){_FOR_UNITS}(?:\s+each)?$")
_FOR_UNITS_FIRST = re.compile(rf"{_FOR_UNITS}\s+(?P<item>[^\W\d].*)$")
_NUMBER_AT_SLASH = re.compile(r"[0-9]\s*/|/\s*[0-9]")
_COUNT_FIRST = re.compile(r"(?P<count>[0-9]+)\s+(?P<item>\S.*)$")
_RUNG = re.compile(
    rf"(?P<price>{_AMOUNT})(?:\s*(?P<money>[^\W\d][^0-9/@x×*]*?))?"
    rf"(?:\s*/\s*(?P<units>{_NUMBER}))?\s*[x×*]\s*(?P<count>{_NUMBER})$",
    re.IGNORECASE,
)
_BEFORE_NUMBERS = re.compile(r"(?:[0-9]+\s?[x×]?\s+)?[^0-9;]*")
_LETTER = re.compile(r"[^\W\d_]")
_CONNECTING = re.compile(r"(?:\s+(?:for|at|each))+$", re.IGNORECASE)
_LAST_EACH = re.compile(r"(?:^|\s+)(?:" + "|".join(re.escape(w) for w in sorted(EACH)) + ")$", re.I)


@dataclass(frozen=True, slots=True)
class TypedQuote:
    """One price as typed; None where the line does not say.

    Attributes:
        taken: Which reading was taken, where another was possible; else None.
    """

    item: str
    price: Fraction
    money: str | None = None
    qty: int | None = None
    side: str | None = None
    trader: str | None = None
    taken: str | None = None


@dataclass(frozen=True)
class LineReader:
    """Reads lines one by one.

    Attributes:
        known: Name key -> item, so that names with numbers in them are told apart.
        decimal: Which mark stands before decimals; None: an open number is not read.
    """

    known: Mapping[str, str]
    decimal: DecimalMark | None

    def read(self, line: str) -> list[TypedQuote]:
        """The quotes of one line: one, or a ladder.

        Raises: BadInput: the line cannot be read, or could be meant in two ways.
        """
        mark = "\t" if "\t" in line.strip() else "|"
        cells = [" ".join(cell.split(" ")).strip() for cell in line.strip().split(mark)]
        text = re.sub(r"[ ]+", " ", " ".join(cells)).strip().rstrip(" ,;!")
        if not text.replace("\u00a0", " ").replace("\u202f", " ").isprintable():
            raise _unread(line, "it holds a control character")
        said = take_apart(text, self.known)
        quotes = (
            self._cells(cells, line) or self._ladder(said.text, line)
            or [self._single(said.text, line)]
        )  # fmt: skip
        return [replace(each, side=said.side, trader=said.trader) for each in quotes]

    def _cells(self, cells: Sequence[str], line: str) -> list[TypedQuote]:
        """Item, price and count in cells of their own; empty where they are something else."""
        if len(cells) != 3 or not all(cells) or not _LETTER.search(cells[0]):
            return []
        item = take_apart(cells[0], self.known).text
        try:
            price = read_price(cells[1], self.decimal)
            count = self._count(cells[2].strip("x× "))
        except Unreadable as fault:
            raise _unread(line, fault.what, right=CELLS) from None
        self.refuse_odd_name(item, line)
        return [TypedQuote(item, price.price, money=price.money, qty=count)]

    def rung(self, item: str, text: str) -> TypedQuote | None:
        """A step of a ladder, "2.4x60" or "2.4 shell x 60"; None where the text is none."""
        form = _RUNG.fullmatch(text.strip())
        if form is None:
            return None
        price = self._unit_price(form["price"], form["units"])
        return TypedQuote(item, price, money=_money(form["money"]), qty=self._count(form["count"]))

    def _ladder(self, text: str, line: str) -> list[TypedQuote]:
        """The rungs of "frame: 2.4 x60; 2.5 x20"; empty where the line is no ladder."""
        # A comma before the first number belongs to the name: "storm lantern, plain 40".
        name = _BEFORE_NUMBERS.match(text)
        begin = name.end() if name else 0
        first, *rest = re.split(r"\s*;\s*|,\s+", text[begin:])
        if not rest or not rest[-1]:
            return []
        first = text[:begin] + first
        start = self._single(first, line)
        rungs = [self.rung(start.item, each) for each in rest]
        return [] if None in rungs else [start, *(each for each in rungs if each is not None)]

    def _single(self, text: str, line: str) -> TypedQuote:
        item_first = self._after_known_name(text)
        try:
            if item_first is not None:
                item, rest = item_first
                return self._priced(item, rest, line)
            return self._by_form(text, line)
        except Unreadable as fault:
            raise _unread(line, fault.what, right=fault.right) from None

    def _after_known_name(self, text: str) -> tuple[str, str] | None:
        """A known name that holds a number, and what is left of the line without it."""
        numbered = [key for key in self.known if re.search("[0-9]", key)]
        folded = f" {name_key(text)} "
        for key in sorted(numbered, key=len, reverse=True):
            if f" {key} " in folded or f" {key}:" in folded:
                before, _, after = folded.partition(f" {key}")
                return self.known[key], f"{before} {after}".strip(" :")
        return None

    def _priced(self, item: str, rest: str, line: str) -> TypedQuote:
        """What the rest of a line says, once its item is known."""
        read = self._by_form(f"\u2042 {rest}", line, stand_in="\u2042")
        return TypedQuote(item, read.price, money=read.money, qty=read.qty)

    def _by_form(self, text: str, line: str, *, stand_in: str | None = None) -> TypedQuote:
        text, count = self._taken_count(text, line)
        marked, units = _AT_PRICE.search(text), None
        for_units = _FOR_UNITS_LAST.fullmatch(text) or _FOR_UNITS_FIRST.fullmatch(text)
        if for_units:
            item, price, money, units = for_units.group("item", "price", "money", "units")
        elif marked:
            item, price, money = text[: marked.start()], marked["price"], marked["money"]
        else:
            last, first = _PRICE_LAST.fullmatch(text), _PRICE_FIRST.fullmatch(text)
            found = last or first
            if found is None:
                raise _unread(line, "it has no item and price")
            item, price = found["item"], found["price"]
            money = last["money"] if last else None
            if last is None and price.isdigit() and count is None:
                raise _unread(line, f"{price} could be the count or the price", right=BOTH)
        item, connecting = self._without_connecting(item.strip(" :,-"))
        item, count = self._count_in_front(item, count, line)
        if stand_in is None and money is None:
            item, money = split_money_in_front(item, self.known)
        if stand_in is None:
            other = None if marked or for_units else price
            item, count = self._count_behind(item, count, line, other=other)
        if not any(letter.isalpha() for letter in item) and item != stand_in:
            raise _unread(line, "it names no item")
        self.refuse_odd_name(item, line)
        may_begin_with_money = money is None and text.startswith(price)
        if is_odd_name(item, self.known, may_begin_with_money=may_begin_with_money):
            raise _unread(line, f"{item!r} would be a new item", right=GIVEN_APART)
        quote = TypedQuote(item, self._unit_price(price, units), money=_money(money), qty=count)
        is_open = connecting == "for" and (count or 1) > 1 and not _LAST_EACH.search(money or "")
        return replace(quote, taken=_for_one(item, price, count)) if is_open else quote

    def _without_connecting(self, item: str) -> tuple[str, str]:
        """An item without the "for" or "at" in front of its price, and that word."""
        found = _CONNECTING.search(item)
        if found is None or name_key(item) in self.known:
            return item, ""
        return item[: found.start()], " ".join(found[0].lower().split())

    def _unit_price(self, price: str, units: str | None) -> Fraction:
        return read_price(price if units is None else f"{price} / {units}", self.decimal).price

    def refuse_odd_name(self, item: str, line: str) -> None:
        """A new item whose name holds what is left of a price is none."""
        if name_key(item) not in self.known and (
            item.endswith("/") or _NUMBER_AT_SLASH.search(item)
        ):
            raise _unread(line, f"{item!r} would be the item", right=PRICE_FOR_UNITS)

    def _taken_count(self, text: str, line: str) -> tuple[str, int | None]:
        """The line without its "x60", and that count."""
        found = list(_COUNT_WORD.finditer(text))
        if not found:
            return text, None
        if len(found) > 1:
            raise _unread(line, "it has two counts")
        mark = found[0]
        rest = f"{text[: mark.start()]} {text[mark.end() :]}"
        return " ".join(rest.split(" ")).strip(), self._count(mark["x_count"] or mark["count_x"])

    def _count_in_front(self, item: str, count: int | None, line: str) -> tuple[str, int | None]:
        front = _COUNT_FIRST.fullmatch(item)
        if front is None:
            return item, count
        if count is not None:
            raise _unread(line, "it has two counts")
        return front["item"], self._count(front["count"])

    def _count_behind(
        self, item: str, count: int | None, line: str, *, other: str | None
    ) -> tuple[str, int | None]:
        """The item of "lantern frame 60 @ 2.4", and its count.

        Args:
            other: The other number, where nothing marks it as the price.
        """
        name, number = split_number_behind(item, self.known)
        if number is None:
            return item, count
        if other is not None:
            raise _unread(line, f"{number} and {other} could both be the price", right=BOTH)
        if count is not None:
            raise _unread(line, "it has two counts")
        if name_key(name) not in self.known:
            raise _unread(line, f"{item!r} would be a new item", right=GIVEN_APART)
        return name, self._count(number)

    def _count(self, text: str) -> int:
        number = read_number(text, self.decimal)
        if number.denominator != 1 or not 1 <= number <= LARGEST_COUNT:
            raise Unreadable("not whole", f"the count {text!r} is no whole number from 1 up")
        return int(number)


def decide_line_decimal(
    lines: Sequence[str],
    *,
    told: DecimalMark | None,
    points_are_decimal: bool,
    line_numbers: Sequence[int] | None = None,
) -> DecimalMark | None:
    """The decimal mark of the lines of one call, decided by all of them together.

    Args:
        points_are_decimal: "1.250" is one and a quarter where no line says otherwise.
        line_numbers: Of the lines, to be named where the numbers disagree.
    Raises: BadInput: the lines say both, or leave a number open.
    """
    if told is not None:
        return told
    wheres = [""] * len(lines) if line_numbers is None else [f" in line {n}" for n in line_numbers]
    numbers = [
        (number, where)
        for line, where in zip(lines, wheres, strict=True)
        for number in re.findall(_NUMBER, line.replace(", ", " "))
    ]
    said: dict[str | None, tuple[str, str]] = {}
    for number, where in numbers:
        said.setdefault(decimal_evidence(number), (number, where))
    if "point" in said and "comma" in said:
        (point, point_where), (comma, comma_where) = said["point"], said["comma"]
        raise BadInput(
            f"{point!r}{point_where} has a decimal point, {comma!r}{comma_where} a decimal comma",
            right="say which is meant: --decimal point or --decimal comma",
        )
    if "comma" in said:
        return "comma"
    opens = [each for each in numbers if decimal_evidence(each[0]) == "open"]
    open_commas = [each for each in opens if "," in each[0]]
    if "point" in said or not opens or (points_are_decimal and not open_commas):
        return "point"
    number, where = (open_commas or opens)[0]
    raise BadInput(
        f"{number!r}{where} could be {two_readings(number)}",
        right="say which is meant: --decimal point or --decimal comma",
    )


def _money(text: str | None) -> str | None:
    money = _LAST_EACH.sub("", (text or "").strip(" .,"))
    return None if not money or money.lower() in EACH else money


def _for_one(item: str, price: str, count: int | None) -> str:
    return (
        f'"{count} {item} for {price}" is taken as {price} for each one; '
        f'if it is for all of them, write "{price} / {count}"'
    )


def _unread(line: str, why: str, *, right: str | None = None) -> BadInput:
    shown = line.strip()
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    return BadInput(
        f"{shown!r} could not be read: {why}",
        right=right or 'write "lantern frame 2.4 x60" or "60 lantern frame 2.4 shell"',
    )
