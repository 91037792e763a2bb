"""Files, dates and money against published texts.

RFC 4180 (Y. Shafranovich, Common Format and MIME Type for CSV Files, 2005), section 2.
RFC 3339 (G. Klyne, C. Newman, Date and Time on the Internet: Timestamps, 2002), section 5.8.
ISO 8601 week dates: the standard's own boundary examples 2008-12-29 = 2009-W01-1 and
    2010-01-03 = 2009-W53-7 (from memory).
M. Cowlishaw, General Decimal Arithmetic Testcases (IBM): base.decTest and rounding.decTest;
    IEEE 754-2019, roundTiesToEven.
Python Tutorial, chapter 15, Floating-Point Arithmetic: Issues and Limitations (from memory).
csv-spectrum 2.0.0 (npm, Max Ogden, BSD-2-Clause): see csv_spectrum/README.md.
"""

from __future__ import annotations

import csv
import io
import json
import math
from datetime import UTC, date
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from advisor.money import read_number, read_price, round_half_even, round_to_digits, show_amount
from advisor.quotes import price_text
from advisor.times import read_time, us_to_rfc3339
from importers.delimited import open_delimited
from importers.fast_lines import simple_block
from importers.layout import Layout, Match
from importers.records import read_records, split_lines

SPECTRUM = Path(__file__).with_name("csv_spectrum")

RFC_4180 = {
    "rule 1, records end in CR LF": (
        "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
        [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 2, the last line may have no end": (
        "aaa,bbb,ccc\r\nzzz,yyy,xxx",
        [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 5, cells may be quoted or not": (
        '"aaa","bbb","ccc"\r\nzzz,yyy,xxx',
        [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 6, a quoted cell may hold a line end": (
        '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
        [["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 7, a quote inside is doubled": ('"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]),
}


@pytest.mark.parametrize("rule", RFC_4180)
def test_rfc_4180_records(rule):
    text, rows = RFC_4180[rule]
    assert [record.cells for record in read_records(split_lines(text), ",")] == rows
    assert list(csv.reader(io.StringIO(text, newline=""))) == rows  # the second reader


def any_header(cells):
    """Takes the first line for a header, whatever it names."""
    layout = Layout("any", {})
    return Match(layout, tuple(cells), {"item": (0,), "price": (1,)})


@pytest.mark.parametrize("path", sorted(SPECTRUM.glob("*.csv")), ids=lambda path: path.stem)
def test_csv_spectrum(path):
    expected = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    table = open_delimited(path, any_header)
    rows = [
        dict(zip(table.match.header, row, strict=True))
        for block in table.blocks()
        for row in block.cells.iter_rows()
    ]
    assert rows == expected


def test_the_fast_way_never_takes_a_quoted_line_end_for_a_record():
    match = any_header(["a", "b"])
    quoted = (SPECTRUM / "quotes_and_newlines.csv").read_text(encoding="utf-8")
    assert simple_block(quoted, match, delimiter=",", first_line=1) is None
    doubled = (SPECTRUM / "escaped_quotes.csv").read_text(encoding="utf-8")
    block = simple_block(doubled, match, delimiter=",", first_line=1)
    assert block.cells.rows()[1] == ("1", 'ha "ha" ha')


def test_rfc_3339_examples():
    """Section 5.8: an Internet timestamp, two of one instant, and an odd offset."""
    seconds = {
        "1985-04-12T23:20:50.52Z": Fraction("482196050.52"),
        "1996-12-19T16:39:57-08:00": Fraction(851042397),
        "1937-01-01T12:00:27.87+00:20": Fraction("-1041337172.13"),
    }
    for text, epoch in seconds.items():
        assert read_time(text, UTC).at_us == epoch * 1_000_000
    pacific = read_time("1996-12-19T16:39:57-08:00", UTC).at_us
    assert us_to_rfc3339(pacific) == "1996-12-20T00:39:57Z"
    assert pacific == read_time("1996-12-20T00:39:57Z", UTC).at_us


def test_rfc_3339_leap_second_is_the_second_after_it():
    """Section 5.8 has 1990-12-31T23:59:60Z; POSIX time has no room for it, so it rolls on."""
    utc = read_time("1990-12-31T23:59:60Z", UTC).at_us
    assert utc == read_time("1990-12-31T15:59:60-08:00", UTC).at_us
    assert us_to_rfc3339(utc) == "1991-01-01T00:00:00Z"


ISO_WEEKS = {
    "2008-12-29": "2009-W01-1",
    "2010-01-03": "2009-W53-7",
    "2005-01-01": "2004-W53-6",
    "2012-01-01": "2011-W52-7",
}


@pytest.mark.parametrize(("day", "week"), ISO_WEEKS.items())
def test_iso_week_dates(day, week):
    assert read_time(week, UTC) == read_time(day, UTC)
    assert read_time(week.replace("-", ""), UTC) == read_time(day, UTC)
    year, number, weekday = date.fromisoformat(day).isocalendar()
    assert week == f"{year}-W{number:02}-{weekday}"  # the second reader


@pytest.mark.parametrize(
    ("number", "rounded"),
    [
        # base.decTest bsrx421 to bsrx424, precision 5, half even
        ("1.23450", "1.2345"),
        ("1.234549", "1.2345"),
        ("1.234550", "1.2346"),
        ("1.234650", "1.2346"),
    ],
)
def test_decimal_arithmetic_to_five_digits(number, rounded):
    assert round_to_digits(Decimal(number), 5) == Decimal(rounded)
    assert round_to_digits(read_number(number), 5) == Decimal(rounded)


@pytest.mark.parametrize(
    ("first", "second", "rounded"),
    [
        # rounding.decTest radx170, radx186, radx187, radx193, radx194, half even
        ("12345", "0.5", "12346"),
        ("12346", "0.5", "12346"),
        ("12346", "0.50001", "12347"),
        ("12345", "0.49999", "12345"),
        ("12345", "-0.1", "12345"),
    ],
)
def test_decimal_arithmetic_sums_to_five_digits(first, second, rounded):
    assert round_to_digits(Decimal(first) + Decimal(second), 5) == Decimal(rounded)
    assert round_to_digits(Fraction(first) + Fraction(second), 5) == Decimal(rounded)


@pytest.mark.parametrize(
    ("amount", "half_even", "half_up"),
    [
        ("2.675", "2.68", "2.68"),
        ("2.665", "2.66", "2.67"),
        ("0.125", "0.12", "0.13"),
        ("0.135", "0.14", "0.14"),
    ],
)
def test_cents_tie_to_the_even_one(amount, half_even, half_up):
    """IEEE 754-2019 roundTiesToEven; half up shows that the cases tell the two apart."""
    assert show_amount(read_number(amount)) == half_even
    assert round_half_even(Fraction(amount), places=2) == Decimal(half_even)
    assert Decimal(amount).quantize(Decimal("0.01"), ROUND_HALF_UP) == Decimal(half_up)


def test_prices_do_not_fall_into_the_binary_traps():
    """The tutorial's traps, which float falls into and a typed price does not."""
    assert repr(0.1 + 0.2) == "0.30000000000000004"
    assert price_text(read_number("0.1") + read_number("0.2")) == "0.3"
    assert repr(round(2.675, 2)) == "2.67"
    assert round_half_even(read_number("2.675"), places=2) == Decimal("2.68")
    assert repr(math.fsum([0.1] * 10)) == "1.0"
    assert sum(read_number("0.1") for _ in range(10)) == 1
    tenth = "0.1000000000000000055511151231257827021181583404541015625"
    assert str(Decimal(0.1)) == tenth  # noqa: RUF032
    assert price_text(read_price("0.1").price) == "0.1"
