"""Dates and times as people type them, to microseconds since 1970-01-01T00:00Z and back.

ISO 8601 and RFC 3339 (week dates and basic dates too), day/month/year and
month/day/year, English month names, epoch seconds and milliseconds, and the
day numbers of spreadsheets (1900 system). A time without an offset is local to
the workspace's time zone; a date without a time is the start of that day. A
leap second (23:59:60) is taken as the second after it, as POSIX time does.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

from advisor.errors import BadInput

ORDERS = ("dmy", "mdy", "ymd")
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)
FIRST_YEAR, LAST_YEAR = 1900, 2200

# Day 25569 of the 1900 system is 1970-01-01; day numbers up to the year 2200.
SERIAL_OF_EPOCH = 25569
SERIALS = (1.0, 110_000.0)
BASIC_DATES = (19_000_101, 22_001_231)
EPOCH_SECONDS = (1e8, 1e10)
EPOCH_MILLISECONDS = (1e11, 1e13)

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

_CLOCK = (
    r"(?:[T ,]\s*(?P<clock>[0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:[.,][0-9]{1,9})?)?)"
    r"\s*(?P<half>am|pm)?\s*(?P<offset>Z|[+-][0-9]{2}(?::?[0-9]{2})?)?)?"
)
_ISO = re.compile(
    rf"(?P<date>[0-9]{{4}}-[0-9]{{2}}-[0-9]{{2}}|[0-9]{{4}}-?W[0-9]{{2}}-?[0-9]){_CLOCK}",
    re.IGNORECASE,
)
_PARTS = re.compile(
    rf"(?P<first>[0-9]{{1,4}})(?P<mark>[-/.])(?P<second>[0-9]{{1,2}})(?P=mark)(?P<third>[0-9]{{1,4}}){_CLOCK}",
    re.IGNORECASE,
)
_NAMED = re.compile(
    r"(?:(?P<day>[0-9]{1,2})[ .-]*(?P<month>[a-z]{3,9})"
    r"|(?P<month_first>[a-z]{3,9}) (?P<day_after>[0-9]{1,2}))"
    rf"[ .,-]+(?P<year>[0-9]{{4}}){_CLOCK}",
    re.IGNORECASE,
)
_DIGITS = re.compile(r"[0-9]+(?:\.[0-9]+)?")


class UnreadableTime(BadInput):
    """A text that is no date or time, or that is one in more than one way."""


@dataclass(frozen=True, slots=True)
class TypedTime:
    """A moment as typed.

    Attributes:
        at_us: Microseconds since 1970-01-01T00:00Z.
        taken: Which reading was taken, where the clocks were changed and the text
            could be meant in two ways; else None.
    """

    at_us: int
    taken: str | None = None


def read_time(text: str, zone: tzinfo, *, order: str | None = None) -> TypedTime:
    """The moment that a text says.

    >>> read_time("1996-12-19T16:39:57-08:00", UTC).at_us
    851042397000000

    Args:
        zone: Where times without an offset are local.
        order: "dmy", "mdy" or "ymd": how 03/04/2026 is read; None refuses dates
            that have more than one reading.
    Raises: UnreadableTime: not a date, no such day or hour, several readings.
    """
    cleaned = text.strip()
    if _DIGITS.fullmatch(cleaned):
        return _read_digits(cleaned, zone)
    for form, day_of in ((_ISO, _iso_day), (_NAMED, _named_day)):
        found = form.fullmatch(cleaned)
        if found:
            return _at_clock(day_of(found, cleaned), found, zone)
    found = _PARTS.fullmatch(cleaned)
    if found is None:
        raise UnreadableTime(
            f"{_show(text)} is no date", right='write 2026-09-01 or "2026-09-01 18:30"'
        )
    return _at_clock(_parts_day(found, cleaned, order), found, zone)


def date_orders(text: str) -> frozenset[str] | None:
    """The orders in which a date of three numbers can be read; None for other dates.

    >>> sorted(date_orders("03/04/2026")), sorted(date_orders("25/04/2026"))
    (['dmy', 'mdy'], ['dmy'])
    """
    found = _PARTS.fullmatch(text.strip())
    if found is None or _ISO.fullmatch(text.strip()):
        return None
    return frozenset(_readings(found))


def is_written_date(text: str) -> bool:
    """Whether a text is a date, in whatever order; a bare number is none, whatever it may count.

    >>> [is_written_date(each) for each in ("2026-09-01", "3/4/2026 18:30", "46266", "7/3")]
    [True, True, False, False]
    """
    cleaned = text.strip()
    if _DIGITS.fullmatch(cleaned):
        return False
    orders = date_orders(cleaned)
    try:
        read_time(cleaned, UTC, order=min(orders) if orders else None)
    except UnreadableTime:
        return False
    return True


def same_in_every_order(text: str) -> bool:
    """Whether a date of three numbers is one and the same day however it is read."""
    found = _PARTS.fullmatch(text.strip())
    return found is not None and len(set(_readings(found).values())) == 1


def dated(text: str, order: str) -> date:
    """The day that a date of three numbers says in this order."""
    found = _PARTS.fullmatch(text.strip())
    day = None if found is None else _readings(found).get(order)
    if day is None:
        raise UnreadableTime(f"{_show(text)} is no date in the order {order}")
    return day


def read_date_option(text: str, zone: tzinfo) -> int:
    """The moment that a `--as-of` option means, in microseconds.

    A date without a time means the end of that day, local to the zone: what was
    known when the day was over.

    Raises: UnreadableTime: as `read_time`.
    """
    moment = read_time(text, zone)
    if ":" in text or (_DIGITS.fullmatch(text.strip()) and not _is_basic_date(text)):
        return moment.at_us
    day = (EPOCH + moment.at_us * MICROSECOND).astimezone(zone).date()
    return local_us(datetime.combine(day + timedelta(days=1), datetime.min.time()), zone).at_us - 1


def local_us(local: datetime, zone: tzinfo) -> TypedTime:
    """The moment of a local time; where the clocks are changed, says which was taken.

    An hour that comes twice: its first coming. An hour that is left out: as if
    the clocks had not been changed yet.
    """
    first = local.replace(tzinfo=zone, fold=0)
    second = local.replace(tzinfo=zone, fold=1)
    before, after = first.utcoffset(), second.utcoffset()
    at_us = (first - EPOCH) // MICROSECOND
    if before is None or after is None or before == after:
        return TypedTime(at_us)
    why = "comes twice" if before > after else "is left out"
    return TypedTime(
        at_us,
        f"{local:%Y-%m-%d %H:%M} {why} in {zone}, where the clocks are changed: "
        f"taken as {us_to_rfc3339(at_us)}",
    )


def us_to_rfc3339(at_us: int) -> str:
    """A moment in RFC 3339, UTC, with as many decimals as it has.

    >>> us_to_rfc3339(482196050520000), us_to_rfc3339(0)
    ('1985-04-12T23:20:50.520Z', '1970-01-01T00:00:00Z')
    """
    moment = EPOCH + at_us * MICROSECOND
    part = at_us % 1_000_000
    unit = "seconds" if not part else "microseconds" if part % 1000 else "milliseconds"
    return moment.replace(tzinfo=None).isoformat(timespec=unit) + "Z"


def us_to_local(at_us: int, zone: tzinfo) -> str:
    """A moment as a person reads it, in a time zone, to the minute.

    >>> us_to_local(482196050520000, UTC)
    '1985-04-12 23:20'
    """
    return f"{(EPOCH + at_us * MICROSECOND).astimezone(zone):%Y-%m-%d %H:%M}"


def now_us() -> int:
    """This moment, in microseconds."""
    return (datetime.now(UTC) - EPOCH) // MICROSECOND


def _is_basic_date(text: str) -> bool:
    return BASIC_DATES[0] <= float(text) <= BASIC_DATES[1]


def _read_digits(text: str, zone: tzinfo) -> TypedTime:
    """Epoch seconds or milliseconds, a spreadsheet's day number, or a date like 20260901."""
    from fractions import Fraction

    number = Fraction(text)
    if EPOCH_SECONDS[0] <= number < EPOCH_SECONDS[1]:
        return TypedTime(round(number * 1_000_000))
    if EPOCH_MILLISECONDS[0] <= number < EPOCH_MILLISECONDS[1]:
        return TypedTime(round(number * 1000))
    if SERIALS[0] <= number < SERIALS[1]:
        # Spreadsheets keep a day as a double: a tenth of a millisecond is all it holds.
        since = round((number - SERIAL_OF_EPOCH) * 86_400_000) * 1000
        return local_us(datetime(1970, 1, 1) + since * MICROSECOND, zone)
    if BASIC_DATES[0] <= number <= BASIC_DATES[1] and len(text) == 8:
        day = _day(int(text[:4]), int(text[4:6]), int(text[6:]))
        if day is not None:
            return local_us(datetime.combine(day, datetime.min.time()), zone)
    raise UnreadableTime(
        f"{_show(text)} is no date", right='write 2026-09-01 or "2026-09-01 18:30"'
    )


def _iso_day(found: re.Match[str], text: str) -> date:
    try:
        day = date.fromisoformat(found["date"].upper())
    except ValueError:
        raise UnreadableTime(f"there is no such day as {_show(text)}") from None
    return _in_range(day, text)


def _named_day(found: re.Match[str], text: str) -> date:
    month = (found["month"] or found["month_first"]).lower()
    day = None
    if month[:3] in MONTHS and _full_month(month):
        number = MONTHS.index(month[:3]) + 1
        day = _day(int(found["year"]), number, int(found["day"] or found["day_after"]))
    if day is None:
        raise UnreadableTime(f"{_show(text)} is no date")
    return _in_range(day, text)


def _full_month(word: str) -> bool:
    import calendar

    number = MONTHS.index(word[:3]) + 1
    return word in (word[:3], calendar.month_name[number].lower(), "sept")


def _parts_day(found: re.Match[str], text: str, order: str | None) -> date:
    readings = _readings(found)
    if order is not None and len(found["first"]) < 3:
        day = readings.get(order)
        if day is None:
            raise UnreadableTime(f"{_show(text)} is no date in the order {order}")
        return _in_range(day, text)
    days = sorted(set(readings.values()))
    if not days:
        raise UnreadableTime(f"there is no such day as {_show(text)}")
    if len(days) > 1:
        either = " or ".join(day.isoformat() for day in days)
        raise UnreadableTime(
            f"{_show(text)} could be {either}", right="say which is meant: --date-order dmy or mdy"
        )
    return _in_range(days[0], text)


def _readings(found: re.Match[str]) -> dict[str, date]:
    """The day in each order in which the three numbers are a day."""
    first, second, third = found["first"], found["second"], found["third"]
    numbers = int(first), int(second), int(third)
    days: dict[str, date | None] = {}
    if len(first) == 4 and len(third) <= 2:
        days["ymd"] = _day(*numbers)
    elif len(first) <= 2 and len(third) in (2, 4):
        year = numbers[2] if len(third) == 4 else 2000 + numbers[2]
        days["dmy"] = _day(year, numbers[1], numbers[0])
        days["mdy"] = _day(year, numbers[0], numbers[1])
        if len(first) == len(third) == 2:
            days["ymd"] = _day(2000 + numbers[0], numbers[1], numbers[2])
    return {order: day for order, day in days.items() if day is not None}


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _in_range(day: date, text: str) -> date:
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise UnreadableTime(
            f"the year of {_show(text)} is out of range",
            right=f"years are from {FIRST_YEAR} to {LAST_YEAR}",
        )
    return day


def _at_clock(day: date, found: re.Match[str], zone: tzinfo) -> TypedTime:
    """The day at the time of day that was typed, or at its start."""
    local = datetime.combine(day, datetime.min.time())
    if found["clock"] is None:
        return local_us(local, zone)
    local += _since_midnight(found)
    offset = found["offset"]
    if offset is None:
        return local_us(local, zone)
    return TypedTime((local.replace(tzinfo=UTC) - EPOCH - _offset(offset)) // MICROSECOND)


def _since_midnight(found: re.Match[str]) -> timedelta:
    clock, half = found["clock"].replace(",", "."), (found["half"] or "").lower()
    hour_text, minute_text, *rest = clock.split(":")
    whole, _, part = (rest[0] if rest else "0").partition(".")
    hour, minute, second = int(hour_text), int(minute_text), int(whole)
    is_leap_second = second == 60 and minute == 59
    if minute > 59 or (second > 59 and not is_leap_second) or hour > 23:
        raise UnreadableTime(f"there is no such time of day as {_show(found['clock'])}")
    if half:
        if not 1 <= hour <= 12:
            raise UnreadableTime(f"there is no such time of day as {_show(clock + ' ' + half)}")
        hour = hour % 12 + (12 if half == "pm" else 0)
    microsecond = int(part[:6].ljust(6, "0"))
    return timedelta(hours=hour, minutes=minute, seconds=second, microseconds=microsecond)


def _offset(text: str) -> timedelta:
    if text in "Zz":
        return timedelta()
    digits = text[1:].replace(":", "").ljust(4, "0")
    hours, minutes = int(digits[:2]), int(digits[2:])
    if hours > 23 or minutes > 59:
        raise UnreadableTime(f"there is no such offset as {_show(text)}")
    return (-1 if text[0] == "-" else 1) * timedelta(hours=hours, minutes=minutes)


def _show(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:37] + "...")
