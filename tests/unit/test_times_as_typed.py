"""Dates and times as typed: one moment, or a refusal that names the readings."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from advisor.times import (
    UnreadableTime,
    date_orders,
    read_date_option,
    read_time,
    us_to_rfc3339,
)

LISBON = ZoneInfo("Europe/Lisbon")


def shown(text, zone=UTC, order=None):
    return us_to_rfc3339(read_time(text, zone, order=order).at_us)


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2026-09-01", "2026-09-01T00:00:00Z"),
        ("2026-09-01 18:30", "2026-09-01T18:30:00Z"),
        ("2026-09-01t18:30:05z", "2026-09-01T18:30:05Z"),
        ("2026-09-01T18:30:05.123456789+02:00", "2026-09-01T16:30:05.123456Z"),
        ("2026-09-01T18:30:05,5+0200", "2026-09-01T16:30:05.500Z"),
        ("20260901", "2026-09-01T00:00:00Z"),
        ("25/04/2026", "2026-04-25T00:00:00Z"),
        ("4/25/2026 2:05 PM", "2026-04-25T14:05:00Z"),
        ("25.4.2026 9:05", "2026-04-25T09:05:00Z"),
        ("2026/4/25", "2026-04-25T00:00:00Z"),
        ("5/5/2026", "2026-05-05T00:00:00Z"),
        ("1 Sep 2026", "2026-09-01T00:00:00Z"),
        ("September 1, 2026 12:00 am", "2026-09-01T00:00:00Z"),
        ("1-Sept-2026 12:00 pm", "2026-09-01T12:00:00Z"),
        ("1788220800", "2026-09-01T00:00:00Z"),
        ("1788220800.25", "2026-09-01T00:00:00.250Z"),
        ("1788220800123", "2026-09-01T00:00:00.123Z"),
        # 1900 system: day 1 is 1900-01-01 and day 25569 is 1970-01-01.
        ("25569", "1970-01-01T00:00:00Z"),
        ("46266.4375", "2026-09-01T10:30:00Z"),
    ],
)
def test_spellings(text, moment):
    assert shown(text) == moment


def test_local_times_are_of_the_zone():
    assert shown("2026-07-01 12:00", LISBON) == "2026-07-01T11:00:00Z"
    assert shown("2026-12-01 12:00", LISBON) == "2026-12-01T12:00:00Z"
    assert shown("46204.5", LISBON) == "2026-07-01T11:00:00Z"
    assert read_time("2026-07-01 12:00", LISBON).taken is None


def test_clock_changes_say_which_reading_was_taken():
    """Lisbon, 2026: clocks go forward on 29 March at 01:00 and back on 25 October at 02:00."""
    twice = read_time("2026-10-25 01:30", LISBON)
    assert us_to_rfc3339(twice.at_us) == "2026-10-25T00:30:00Z"
    assert "comes twice" in twice.taken and "2026-10-25T00:30:00Z" in twice.taken
    left_out = read_time("2026-03-29 01:30", LISBON)
    assert us_to_rfc3339(left_out.at_us) == "2026-03-29T01:30:00Z"
    assert "is left out" in left_out.taken
    assert read_time("2026-10-25T01:30+00:00", LISBON).taken is None


@pytest.mark.parametrize(
    "text",
    [
        "", "soon", "2026-02-30", "2026-13-01", "31/04/2026", "2026-09-01 24:01", "12:30",
        "2026-09-01T10:00:60Z", "2026-09-01 13:00 pm", "0026-09-01", "3026-09-01", "99999999",
        "2026-W54-1", "1" * 40, "-5", "=NOW()", "2026-09-01T10:00+99:00", "1 Foo 2026",
        "٢٠٢٦-٠٩-٠١", "2026-09-01\x00", "1/2/3/4", "0",
    ],
)  # fmt: skip
def test_what_is_no_date_is_refused(text):
    with pytest.raises(UnreadableTime):
        read_time(text, UTC)


def test_an_open_date_names_its_readings():
    with pytest.raises(UnreadableTime, match=r"2026-03-04 or 2026-04-03.*--date-order"):
        read_time("03/04/2026", UTC)
    assert shown("03/04/2026", order="dmy") == "2026-04-03T00:00:00Z"
    assert shown("03/04/2026", order="mdy") == "2026-03-04T00:00:00Z"
    assert shown("03/04/05", order="ymd") == "2003-04-05T00:00:00Z"
    with pytest.raises(UnreadableTime, match=r"order mdy"):
        read_time("25/04/2026", UTC, order="mdy")


def test_which_orders_a_date_can_have():
    assert date_orders("03/04/2026") == {"dmy", "mdy"}
    assert date_orders("03/04/05") == {"dmy", "mdy", "ymd"}
    assert date_orders("2026-04-03") is None
    assert date_orders("99/99/2026") == frozenset()


def test_as_of_a_date_is_the_end_of_that_day():
    assert us_to_rfc3339(read_date_option("2026-09-01", UTC)) == "2026-09-01T23:59:59.999999Z"
    assert us_to_rfc3339(read_date_option("2026-07-01", LISBON)) == "2026-07-01T22:59:59.999999Z"
    assert us_to_rfc3339(read_date_option("2026-09-01 10:00", UTC)) == "2026-09-01T10:00:00Z"
    # The day on which the clocks go back has 25 hours.
    assert us_to_rfc3339(read_date_option("2026-10-25", LISBON)) == "2026-10-25T23:59:59.999999Z"


def test_times_are_written_as_they_can_be_read():
    for moment in (0, 1, 1_000, 1_000_000, -1, 1_788_220_800_123_456):
        text = us_to_rfc3339(moment)
        assert read_time(text, UTC).at_us == moment
        parsed = datetime.fromisoformat(text)  # the second reader
        assert round(parsed.timestamp() * 1_000_000) == moment
