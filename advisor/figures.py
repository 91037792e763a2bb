"""Numbers as they are said: short, never in powers of ten, never a false 0 or 100."""

from __future__ import annotations

import math

ROUNDED = 1e-9
"""Numbers this close, relative to the larger, are the same: sums of prices are rounded."""


def amount(value: float | None, *, digits: int = 4) -> str:
    """A number to this many significant digits, never in powers of ten; "-" where there is none.

    >>> amount(122.456), amount(0.001234), amount(1234567.0), amount(2.0), amount(None)
    ('122.5', '0.001234', '1234567', '2', '-')
    """
    if value is None or not math.isfinite(value):
        return "-"
    if value == 0:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def difference(one: float, other: float) -> float:
    """One less the other; exactly 0 where what is left is rounding alone.

    >>> difference(0.1 + 0.2, 0.3), difference(11.5, 11.4) > 0, difference(5.0, 5.0)
    (0.0, True, 0.0)
    """
    if abs(one - other) <= ROUNDED * max(abs(one), abs(other)):
        return 0.0
    return one - other


def counted(number: int, what: str, *, many: str | None = None) -> str:
    """A count with its noun, in the plural where it is not one.

    >>> counted(1, "quote"), counted(0, "quote"), counted(2, "batch", many="batches")
    ('1 quote', '0 quotes', '2 batches')
    """
    return f"{number} {what if number == 1 else many or what + 's'}"


def spell_days(days: float) -> str:
    """A stretch of time in minutes, hours or days, whichever says it best.

    >>> spell_days(0.0000105), spell_days(0.02), spell_days(0.106), spell_days(1.5)
    ('less than a minute', '29 minutes', '2.5 hours', '36 hours')
    >>> spell_days(1 / 1440), spell_days(2.0), spell_days(12.34)
    ('1 minute', '2 days', '12.3 days')
    """
    minutes = days * 1440
    if minutes < 0.95:
        return "less than a minute"
    if minutes < 120:
        number, word, digits = minutes, "minute", 2
    elif days < 2:
        number, word, digits = days * 24, "hour", 2
    else:
        number, word, digits = days, "day", 3
    said = amount(number, digits=digits)
    return f"{said} {word}{'' if said == '1' else 's'}"


def percent(share: float | None) -> str:
    """A share of one in per cent: two digits where small, never a false 0 or 100.

    >>> percent(0.5), percent(0.004), percent(0.99999), percent(0), percent(None)
    ('50 %', '0.4 %', '>99.9 %', '0 %', '-')
    """
    if share is None:
        return "-"
    if 0 < share < 0.0005:
        return "<0.1 %"
    if 0.9995 < share < 1:
        return ">99.9 %"
    small = share < 0.0995 or share > 0.9905
    text = f"{100 * share:.{1 if small else 0}f}"
    return f"{text.removesuffix('.0')} %"
