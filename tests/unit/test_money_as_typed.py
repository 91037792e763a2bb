"""Every spelling of a price is read exactly, or refused for one named reason."""

from __future__ import annotations

from fractions import Fraction

import pytest

from advisor.money import (
    Unreadable,
    decimal_evidence,
    read_amount,
    read_number,
    read_percent,
    read_price,
    two_readings,
)

NBSP, NARROW, THIN = "\u00a0", "\u202f", "\u2009"


@pytest.mark.parametrize(
    ("text", "price", "money"),
    [
        ("12.5", "12.5", None),
        ("7/3", "7/3", None),
        (" 7 / 3 ", "7/3", None),
        ("2 crown", "2", "crown"),
        ("2.5 crown / 12", "2.5/12", "crown"),
        ("7/3 crown", "7/3", "crown"),
        ("1,250.50", "1250.5", None),
        ("1'250.50", "1250.5", None),
        ("1\u2019250", "1250", None),
        ("1 250 000.5 silver mark", "1250000.5", "silver mark"),
        (f"1{NBSP}250.5", "1250.5", None),
        (f"1{NARROW}250.5", "1250.5", None),
        (f"1{THIN}250.5", "1250.5", None),
        (".5", "0.5", None),
        ("007", "7", None),
        ("1e3", "1000", None),
        ("2.5E-3", "0.0025", None),
        ("2.4 each", "2.4", None),
        ("0.1", "1/10", None),
    ],
)
def test_spellings_with_a_point(text, price, money):
    typed = read_price(text)
    number, _, units = price.partition("/")
    assert typed.price == Fraction(number) / Fraction(units or 1)
    assert typed.money == money


@pytest.mark.parametrize(
    ("text", "price"),
    [
        ("12,5", "12.5"),
        ("1 250,50", "1250.5"),
        (f"1{NBSP}250,50", "1250.5"),
        ("1.250,50", "1250.5"),
        ("1.250.000", "1250000"),
        ("1.250", "1250"),
        ("2,5 crown / 12", "5/24"),
        (",5", "0.5"),
    ],
)
def test_spellings_with_a_comma(text, price):
    assert read_price(text, "comma").price == Fraction(price)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "empty"),
        (" \t ", "empty"),
        ("0", "zero"),
        ("0.00", "zero"),
        ("5/0", "zero"),
        ("-2.5", "negative"),
        ("\u22122.5", "negative"),
        ("(2.5)", "negative"),
        ("nan", "not finite"),
        ("NaN", "not finite"),
        ("inf", "not finite"),
        ("-Infinity", "not finite"),
        ("\u221e", "not finite"),
        ("#DIV/0!", "not finite"),
        ("1e400", "too large"),
        ("9" * 400, "too large"),
        ("1e999999999999999999", "too large"),
        ("1000000000000000.5", "too large"),
        ("1e-400", "too small"),
        ("1e-13", "too small"),
        ("=1+1", "formula"),
        ('=HYPERLINK("x")', "formula"),
        ("+1+1", "formula"),
        ("-1+2", "formula"),
        ("@SUM(A1)", "formula"),
        ("2.5\x00", "control character"),
        ("\x1b[31m2.5", "control character"),
        ("2\u202e5", "control character"),
        ("about five", "not a number"),
        ("12,5", "not a number"),
        ("1,25,000", "not a number"),
        ("12 50", "not a number"),
        ("5.", "not a number"),
        ("1/2/3", "not a number"),
        ("1_000", "not a number"),
        ("0x10", "not a number"),
        ("\u0663", "not a number"),
        ("\u00bd", "not a number"),
        ("2 %", "not a number"),
        ("1 crown 20 shell", "not a number"),
        ("<script>2</script>", "not a number"),
    ],
)
def test_what_is_no_price_says_why(text, reason):
    with pytest.raises(Unreadable) as fault:
        read_price(text)
    assert fault.value.reason == reason


def test_an_open_number_is_not_guessed():
    for text in ("1,250", "1.250", "12.500 crown"):
        with pytest.raises(Unreadable) as fault:
            read_price(text, None)
        assert fault.value.reason == "open decimal"
    assert read_price("1250", None).price == 1250
    assert two_readings("1,250") == "1.25 or 1250"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("12.5", "point"),
        ("12,5", "comma"),
        ("1,250.5", "point"),
        ("1.250,5", "comma"),
        ("1,250,000", "point"),
        ("1.250.000", "comma"),
        ("0.125", "point"),
        ("0,125", "comma"),
        ("1250.125", "point"),
        ("1 250.125", "point"),
        (".125", "point"),
        ("1.250", "open"),
        ("12,500", "open"),
        ("7/3", None),
        ("1250", None),
        ("1 250", None),
        ("2,5/3", "comma"),
        ("1.250/3,5", "comma"),
    ],
)
def test_what_one_cell_tells_of_its_column(text, told):
    assert decimal_evidence(text) == told


def test_amounts_may_be_zero_and_shares_are_of_one():
    assert read_amount("0 shell") == (0, "shell")
    assert read_amount("2 shell") == (2, "shell")
    assert read_amount("0.5") == (Fraction(1, 2), None)
    assert read_percent("5 %") == read_percent("0.05") == Fraction(1, 20)
    assert read_percent("100 %") == 1
    for wrong in ("101 %", "1.5", "-5 %", "five", ""):
        with pytest.raises(Unreadable):
            read_percent(wrong)


def test_numbers_are_exact_to_the_last_digit_and_bounded():
    for beyond in ("1e16", "1000000000000000.1"):
        with pytest.raises(Unreadable) as fault:
            read_number(beyond)
        assert fault.value.reason == "too large"
    assert read_number("0." + "1" * 40) == Fraction(int("1" * 40), 10**40)
