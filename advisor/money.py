"""Prices and amounts as people type them: read exactly, or refused for one named reason.

A number may have a decimal point or a decimal comma, and thousands marks:
`12.5`, `1 250,50`, `1,250.50`, `1'250`. Which of the two marks is the decimal
one is decided for a whole column (`decide_decimal`), never for one cell:
"1,250" alone says nothing. A price is a number, and may be for several units
(`7/3`, `2.5 crown / 12`) and name its money (`2 crown`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from typing import Literal

from advisor.errors import BadInput

DecimalMark = Literal["point", "comma"]
Evidence = Literal["point", "comma", "open"]

LARGEST = Fraction(10**15)
SMALLEST = Fraction(1, 10**12)
TOLD_SMALLEST = "a millionth of a millionth"
LONGEST_NUMBER = 60

SPACES = " \u00a0\u202f\u2009"
APOSTROPHES = "'\u2019"
GROUP_MARKS = SPACES + APOSTROPHES

EACH = frozenset({"each", "ea", "ea.", "apiece", "a piece", "per unit", "per piece", "per item"})
"""Words behind a number that say it is for one unit, and name no money."""

_NUMBER = rf"[0-9.,](?:[0-9.,{GROUP_MARKS}]*[0-9])?(?:[eE][+-]?[0-9]+)?"
_PRICE = re.compile(
    rf"(?P<amount>{_NUMBER})\s*(?:/\s*(?P<units>{_NUMBER})\s*)?"
    rf"(?:(?P<money>[^\s0-9/.,][^0-9/]*?)\s*(?:/\s*(?P<units_after>{_NUMBER}))?)?"
)


def _number_form(decimal: str, group: str) -> re.Pattern[str]:
    grouped = rf"[0-9]{{1,3}}(?P<mark>[{group}{GROUP_MARKS}])[0-9]{{3}}(?:(?P=mark)[0-9]{{3}})*"
    return re.compile(
        rf"(?P<whole>{grouped}|[0-9]+|)(?:{decimal}(?P<part>[0-9]+))?(?:[eE](?P<power>[+-]?[0-9]+))?"
    )


_FORMS = {"point": _number_form(r"\.", ","), "comma": _number_form(",", r"\.")}
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)\b|[+-]?∞|#num!|#div/0!", re.IGNORECASE)
_NEGATIVE = re.compile(r"[-\u2212\u2013]\s*[0-9.,]|\(\s*[0-9.,]+\s*\)$")


class Unreadable(BadInput):
    """A typed value that cannot be read; `reason` is one short fixed word or two."""

    def __init__(self, reason: str, what: str, *, right: str | None = None) -> None:
        self.reason = reason
        super().__init__(what, right=right)


@dataclass(frozen=True, slots=True)
class TypedPrice:
    """A price of one unit as typed: exact, > 0; `money` is None where none was named."""

    price: Fraction
    money: str | None


def read_number(text: str, decimal: DecimalMark | None = "point") -> Fraction:
    """The number a text says, exactly.

    Args:
        text: As typed; may have thousands marks.
        decimal: Which mark stands before the decimals; None: not decided, only
            numbers that mean the same either way are read.
    Raises: Unreadable: "empty", "control character", "formula", "not finite",
        "negative", "open decimal", "too large", "too small", "not a number".
    """
    cleaned = _clean(text)
    if decimal is None:
        if decimal_evidence(cleaned) is not None:
            raise _open_decimal(cleaned)
        decimal = "point"
    form = _FORMS[decimal].fullmatch(cleaned)
    if form is None or not (form["whole"] or form["part"]):
        mark = {"point": "a decimal point", "comma": "a decimal comma"}[decimal]
        raise Unreadable("not a number", f"{_show(text)} is no number with {mark}")
    whole = re.sub("[^0-9]", "", form["whole"])
    return _scaled(whole, form["part"] or "", form["power"] or "0", text=text)


def read_price(text: str, decimal: DecimalMark | None = "point") -> TypedPrice:
    """The price of one unit that a text says, in any spelling.

    >>> read_price("2.5 crown / 12")
    TypedPrice(price=Fraction(5, 24), money='crown')
    >>> read_price("1 250,50", "comma")
    TypedPrice(price=Fraction(2501, 2), money=None)

    Args:
        text: "12.5", "1 250,50", "7/3", "2 crown", "2.5 crown / 12", "7/3 crown".
        decimal: As in `read_number`.
    Raises: Unreadable: as `read_number`, and "zero".
    """
    amount, money = _typed_amount(text, decimal)
    if amount == 0:
        raise Unreadable("zero", f"the price {_show(text)} is zero", right="a price is above zero")
    _refuse_out_of_range(amount, text)
    return TypedPrice(amount, money)


def read_amount(text: str, decimal: DecimalMark | None = "point") -> tuple[Fraction, str | None]:
    """An amount of money, zero allowed, and the money if one is named.

    >>> read_amount("2 shell"), read_amount("0.5")
    ((Fraction(2, 1), 'shell'), (Fraction(1, 2), None))

    Raises: Unreadable: as `read_number`.
    """
    return _typed_amount(text, decimal)


def read_percent(text: str) -> Fraction:
    """A share of one: "5 %" or "0.05".

    >>> read_percent("5 %"), read_percent("2.5%"), read_percent("0.05")
    (Fraction(1, 20), Fraction(1, 40), Fraction(1, 20))

    Raises: Unreadable: as `read_number`; "too large" above one.
    """
    stripped = text.strip()
    share = read_number(stripped.removesuffix("%").rstrip())
    if stripped.endswith("%"):
        share /= 100
    if share > 1:
        raise Unreadable(
            "too large", f"{_show(text)} is more than the whole", right='write "5 %" or 0.05'
        )
    return share


def decimal_evidence(text: str) -> Evidence | None:
    """What one cell tells about its column's decimal mark.

    >>> [decimal_evidence(each) for each in ("12.5", "1 250,50", "1,250", "1.250.000", "12")]
    ['point', 'comma', 'open', 'comma', None]

    Returns: "point" or "comma" where only that reading is possible, "open" where
        both are, None where the cell has neither mark.
    """
    found: Evidence | None = None
    for number in re.findall(_NUMBER, text):
        told = _number_evidence(number)
        if told in ("point", "comma"):
            return told
        found = told or found
    return found


def two_readings(text: str) -> str:
    """The two numbers that an open cell could be: `1.25 or 1250`."""
    readings = sorted({read_price(text, mark).price for mark in ("point", "comma")})
    return " or ".join(format(float(each), ".12g") for each in readings)


def round_half_even(value: Fraction | Decimal | int, *, places: int) -> Decimal:
    """The value at this many decimals; a tie goes to the even digit (IEEE 754 roundTiesToEven).

    >>> round_half_even(Fraction("2.665"), places=2), round_half_even(Fraction("2.675"), places=2)
    (Decimal('2.66'), Decimal('2.68'))
    """
    # round() of a Fraction is exact and breaks ties to even.
    units = round(Fraction(value) * 10**places)
    return Decimal(units).scaleb(-places, Context(prec=max(len(str(units)), 1) + 1))


def round_to_digits(value: Fraction | Decimal | int, digits: int) -> Decimal:
    """The value at this many significant digits; a tie goes to the even digit.

    >>> round_to_digits(Decimal("1.234550"), 5)
    Decimal('1.2346')
    """
    exact = Fraction(value)
    context = Context(prec=digits, rounding=ROUND_HALF_EVEN)
    if isinstance(value, Decimal):
        return context.plus(value)
    return context.divide(Decimal(exact.numerator), Decimal(exact.denominator))


def show_amount(value: Fraction | Decimal | int, *, places: int = 2) -> str:
    """An exact amount as shown: this many decimals at most, half to even, no trailing zeros.

    >>> show_amount(Fraction(7, 3)), show_amount(Fraction(5, 2)), show_amount(Fraction("0.125"))
    ('2.33', '2.5', '0.12')
    """
    text = format(round_half_even(value, places=places), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _typed_amount(text: str, decimal: DecimalMark | None) -> tuple[Fraction, str | None]:
    """Amount over units, and the money named; zero is let through."""
    cleaned = _clean(text)
    form = _PRICE.fullmatch(cleaned)
    if form is None or (form["units"] and form["units_after"]) or not _is_name(form["money"]):
        raise Unreadable(
            "not a number",
            f"{_show(text)} is no price",
            right='a price is written 12.5, 7/3, "2 crown" or "2.5 crown / 12"',
        )
    amount = read_number(form["amount"], decimal)
    units_text = form["units"] or form["units_after"]
    if units_text:
        units = read_number(units_text, decimal)
        if units == 0:
            raise Unreadable("zero", f"{_show(text)} is for no units")
        amount /= units
    money = form["money"]
    return amount, None if money is None or money.lower() in EACH else money


def _is_name(money: str | None) -> bool:
    return money is None or any(letter.isalpha() for letter in money)


def _clean(text: str) -> str:
    """The text without white space around it; refuses what can be no number at all."""
    cleaned = text.strip()
    if not cleaned:
        raise Unreadable("empty", "nothing is written there")
    if (
        not cleaned.replace("\u00a0", " ")
        .replace("\u202f", " ")
        .replace("\u2009", " ")
        .isprintable()
    ):
        raise Unreadable("control character", f"{_show(text)} holds a control character")
    if _NOT_FINITE.match(cleaned):
        raise Unreadable("not finite", f"{_show(text)} is no finite number")
    if _NEGATIVE.match(cleaned) and not re.search(r"[=(]|[0-9]\s*[-+*]", cleaned.lstrip("(")):
        raise Unreadable("negative", f"{_show(text)} is below zero")
    if cleaned[0] in "=@+-":
        raise Unreadable("formula", f"{_show(text)} is a formula", right="write the number itself")
    return cleaned


def _number_evidence(number: str) -> Evidence | None:
    points, commas = number.count("."), number.count(",")
    if not points and not commas:
        return None
    if points and commas:
        last_is_point = number.rindex(".") > number.rindex(",")
        return "point" if last_is_point else "comma"
    mark: Evidence = "point" if points else "comma"
    other: Evidence = "comma" if points else "point"
    if points + commas > 1:
        return other
    before, after = re.split("[.,]", re.sub("[eE].*", "", number))
    could_be_thousands = len(after) == 3 and re.fullmatch("[1-9][0-9]{0,2}", before)
    return "open" if could_be_thousands and after.isdigit() else mark


def _scaled(whole: str, part: str, power: str, *, text: str) -> Fraction:
    """whole.part times ten to the power, refused before it can get huge."""
    if len(whole) + len(part) > LONGEST_NUMBER or abs(int(power[:6])) > LONGEST_NUMBER:
        if power.startswith("-"):
            raise Unreadable("too small", f"{_show(text)} is below {TOLD_SMALLEST}")
        raise Unreadable("too large", f"{_show(text)} is above {LARGEST}")
    value = Fraction(int(whole + part or "0"), 10 ** len(part)) * Fraction(10) ** int(power)
    if value > LARGEST:
        raise Unreadable("too large", f"{_show(text)} is above {LARGEST}")
    return value


def _refuse_out_of_range(amount: Fraction, text: str) -> None:
    if amount > LARGEST:
        raise Unreadable("too large", f"{_show(text)} is above {LARGEST}")
    if amount < SMALLEST:
        raise Unreadable("too small", f"{_show(text)} is below {TOLD_SMALLEST}")


def _open_decimal(text: str) -> Unreadable:
    return Unreadable(
        "open decimal",
        f"{_show(text)} could be {two_readings(text)}",
        right="say which is meant: --decimal point or --decimal comma",
    )


def _show(text: str) -> str:
    """The text in quotes, cut to a readable length."""
    return repr(text if len(text) <= 40 else text[:37] + "...")
