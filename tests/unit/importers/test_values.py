"""Cells: what is read, what is set aside and why; text from files is data and nothing more."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from advisor.errors import BadInput
from importers.reasons import REASONS

LISBON = ZoneInfo("Europe/Lisbon")


@pytest.mark.parametrize(
    ("cell", "reason"),
    [
        ("NaN", "not finite"),
        ("inf", "not finite"),
        ("-inf", "not finite"),
        ("1e400", "too large"),
        ("9" * 60, "too large"),
        ("1e-400", "too small"),
        ("0", "zero"),
        ("0.000", "zero"),
        ("-2.5", "negative"),
        ("", "empty"),
        ("2.\x005", "control character"),
        ("\x1b[2J2.5", "control character"),
        ("=1+1", "formula"),
        ("=cmd|' /C calc'!A0", "formula"),
        ("@SUM(A1)", "formula"),
        ("<script>alert(1)</script>", "not a number"),
        ("about five", "not a number"),
        ("0.0000000000001", "too small"),
        ("9" * 5000, "not a number"),
    ],
)
def test_prices_that_are_none(read, cell, reason):
    if "\x00" in cell:  # such a file is no text at all
        with pytest.raises(BadInput, match=r"zero bytes"):
            read(f"item,price\nwax,2.5\nflux,{cell}\n")
        return
    result = read(f"item,price\nwax,2.5\nflux,{cell}\n")
    assert result.faults == [(3, "price", reason)]
    assert result.set_aside[0].text == f"flux,{cell}"
    assert reason in REASONS
    assert result.column("item") == ["wax"]


@pytest.mark.parametrize(
    ("cell", "reason"),
    [
        ("0", "zero"),
        ("-3", "negative"),
        ("1.5", "not whole"),
        ("a few", "not a number"),
        ("nan", "not finite"),
        ("9999999999999", "too large"),
        ("1e300", "too large"),
        ("=A1", "formula"),
        ("7/3", "not a number"),
    ],
)
def test_counts_that_are_none(read, cell, reason):
    assert read(f"item,price,qty\nwax,2.5,{cell}\n").faults == [(2, "qty", reason)]


def test_counts_in_many_spellings(read):
    text = (
        'item,price,qty\na,2.5,60\nb,2.5,60.0\nc,2.5,1 200\nd,2.5,"1,200"\ne,2.5,1e3\nf,2.5,007\n'
    )
    assert read(text).column("qty") == [60, 60, 1200, 1200, 1000, 7]


def test_a_count_of_a_thousand_is_not_read_as_one(read):
    result = read("item;price;qty\na;2,5;1,000\nb;2,5;1.000\n")
    assert result.faults == [(2, "qty", "open decimal")]
    assert result.column("qty") == [1000]


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("=HYPERLINK(1)", "formula"),
        ("@SUM(1)", "formula"),
        ("+cmd|'/C calc'!A0", "formula"),
        ("w\x1b[31max", "control character"),
        ("wa\u202ex", "control character"),
        ("w\u200bax", "control character"),
        ("x" * 201, "too long"),
    ],
)
def test_names_that_are_none(read, name, reason):
    assert read(f"item,price\n{name},2.5\n").faults == [(2, "item", reason)]


@pytest.mark.parametrize(
    "name",
    ["<b>wax</b>", "<script>alert(1)</script>", "'; DROP TABLE quotes; --", "+2 blade", "-5 charm",
     "../../etc/passwd", "蜜蝋", "🕯️ wax", "{{ 7*7 }}", "%s%n", "wax & salt", "Ωmega"],
)  # fmt: skip
def test_html_code_and_every_script_are_names_like_others(read, name):
    assert read(f"item,price\n{name},2.5\n").column("item") == [name]


def test_notes_are_kept_as_they_are(read):
    note = "\x1b[31mred\x1b[0m =1+1 <b>"
    result = read(f"item,price,note,source\nwax,2.5,{note},=2+2\n")
    assert result.rows[0]["note"] == note
    assert result.rows[0]["source"] == "=2+2"


def test_names_match_by_case_space_and_unicode_form_but_not_by_likeness(read):
    text = (
        "item,price\nLANTERN  frame,1.5\nlantern\u00a0frame,1.6\nｌａｎｔｅｒｎ frame,1.7\n"
        "lantern fraem,1.8\nlantern frames,1.9\nlanternframe,2.1\nbinding wax,2.2\n"
        "mark 3 frame,2.3\nmark II frame,2.4\nmark 2 fram,2.5\n"
    )
    result = read(text, known=["lantern frame", "mark 2 frame", "mark III frame"])
    assert result.column("item") == [
        *["lantern frame"] * 3,
        "binding wax",
        "mark 3 frame",
        "mark II frame",
    ]
    assert [(line, reason) for line, _, reason in result.faults] == [
        (5, "near name"),
        (6, "near name"),
        (7, "near name"),
        (11, "near name"),
    ]
    assert '"lantern fraem" was set aside: did you mean "lantern frame"?' in result.notes


def test_a_new_name_keeps_its_first_spelling(read):
    text = "item,price\ncafe\u0301 wax,1.5\nCAFÉ  WAX,1.6\n"
    assert read(text).column("item") == ["café wax", "café wax"]


def test_sides_moneys_and_traders(read):
    text = (
        "item,price,money,side,trader\na,2.5,,,\nb,2.5,Crown,WANTED,Hob  Lathe\n"
        "c,2.5 crown,,sold,\nd,2.5 crown,crown,bid,\ne,2.5 crown,shell,ask,\nf,2.5,shell,swap,\n"
        "g,2.5,shell,ask,=1+1\n"
    )
    result = read(text, known=["shell", "crown"])
    assert result.column("money") == ["shell", "crown", "crown", "crown"]
    assert result.column("side") == ["ask", "bid", "deal", "bid"]
    assert result.rows[1]["trader"] == "Hob Lathe"
    assert result.faults == [
        (6, "price", "two moneys"),
        (7, "side", "not a side"),
        (8, "trader", "formula"),
    ]


def test_no_item_is_priced_in_itself(read):
    result = read("item,price,money\nshell,2,\ncrown,12,shell\ncrown,1,Crown\n")
    assert result.column("item") == ["crown"]
    assert result.faults == [(2, None, "own money"), (4, None, "own money")]


def test_a_decimal_comma_is_decided_by_the_column(read):
    text = 'item;price\na;1.250\nb;"2,5"\nc;1 250,50\nd;7/3\n'
    assert read(text).column("price") == ["1250", "2.5", "1250.5", "7/3"]
    assert read("item;price\na;1.250\nb;2.5\n").column("price") == ["1.25", "2.5"]


def test_an_open_column_is_refused_with_both_readings(read):
    with pytest.raises(BadInput, match=r"1.25 or 1250.*--decimal") as fault:
        read("item;price\na;7\nb;1,250\n")
    assert fault.value.line == 3
    assert read("item;price\nb;1,250\n", decimal="comma").column("price") == ["1.25"]
    assert read("item;price\nb;1,250\n", decimal="point").column("price") == ["1250"]


def test_a_column_that_says_both_is_refused(read):
    with pytest.raises(BadInput, match=r"line 2.*line 3.*--decimal"):
        read("item;price\na;2.5\nb;2,5\n")
    result = read("item;price\na;2.5\nb;2,5\n", decimal="comma")
    assert result.faults == [(2, "price", "not a number")]


def test_the_full_canonical_header_says_that_points_are_decimal(read):
    header = "at,item,price,money,side,qty,trader,source,note\n"
    row = "2026-09-01T10:00:00Z,wax,{},,,,,,\n"
    assert read(header + row.format("1.250")).column("price") == ["1.25"]
    with pytest.raises(BadInput, match=r"--decimal"):
        read(header + row.format('"1,250"'))
    assert read(header + row.format('"2,5"')).column("price") == ["2.5"]


def test_dates_are_decided_by_the_whole_file(read):
    text = "item,price,at\na,2.5,03/04/2026\nb,2.5,25/04/2026\n"
    assert read(text).column("at_us") == [1775174400000000, 1777075200000000]
    text = "item,price,at\na,2.5,03/04/2026\nb,2.5,04/25/2026\n"
    assert read(text).column("at_us")[0] == 1772582400000000


def test_an_open_order_of_dates_is_refused_with_both_readings(read):
    text = "item,price,at\na,2.5,05/05/2026\nb,2.5,03/04/2026\n"
    with pytest.raises(BadInput, match=r"2026-04-03 or 2026-03-04.*--date-order") as fault:
        read(text)
    assert fault.value.line == 3
    assert read(text, date_order="mdy").column("at_us")[1] == 1772582400000000
    assert len(read("item,price,at\na,2.5,05/05/2026\n").rows) == 1


def test_two_orders_of_dates_are_refused(read):
    with pytest.raises(BadInput, match=r"line 2.*line 3.*two different orders"):
        read("item,price,at\na,2.5,25/04/2026\nb,2.5,04/25/2026\n")


def test_times_of_many_kinds(read):
    text = (
        "item,price,at\na,2.5,2026-09-01T10:00:00Z\nb,2.5,2026-09-01 11:00\nc,2.5,1788256800\n"
        "d,2.5,1788256800000\ne,2.5,46266.458333333336\nf,2.5,2026-09-01T12:00+02:00\n"
        "g,2.5,2026-09-01 11:00:00.000\nh,2.5,soon\ni,2.5,\n"
    )
    result = read(text, zone=LISBON)
    assert set(result.column("at_us")) == {1788256800000000}
    assert result.faults == [(9, "at", "not a date"), (10, "at", "empty")]


def test_clock_changes_are_told(read):
    text = "item,price,at\na,2.5,2026-10-25 01:30\nb,2.5,2026-10-25 03:30\n"
    result = read(text, zone=LISBON)
    assert result.column("at_us") == [1792888200000000, 1792899000000000]
    assert [note for note in result.notes if "comes twice" in note]


def test_a_file_without_times_says_which_time_it_gets(read):
    result = read("item,price,Shelf\na,2.5,20261025\n", at_us=1_000_000)
    assert result.column("at_us") == [1_000_000]
    assert [note for note in result.notes if "no column says when" in note]
    assert "columns not used: Shelf" in result.notes


@pytest.mark.parametrize(
    "date", ["2026-10-25", "2026-10-25 18:30", "25.10.2026", "03/04/2026", "25 October 2026"]
)
def test_dates_in_a_column_of_an_unknown_name_are_not_passed_over(read, date):
    text = f"Datum;Item;Unit cost;Anzahl\n{date};a;2,5;3\n;b;2,5;3\n"
    with pytest.raises(
        BadInput, match=r"column 'Datum' holds dates.*--map at=\"Datum\".*--at TIME"
    ):
        read(text)
    assert read(text, at_us=7, at_is_said=True).column("at_us") == [7, 7]
    said = {"columns": {"at": "Datum"}, "date_order": "dmy", "at_us": 7, "at_is_said": True}
    first, second = read(text, **said).column("at_us")
    assert first > 7 and second == 7


@pytest.mark.parametrize(("others", "is_asked_about"), [(1, True), (2, False)])
def test_a_column_of_which_half_is_dates_is_asked_about(read, others, is_asked_about):
    text = "item,price,Shelf\na,2.5,2026-10-25\n" + "b,2.5,top\n" * others + "c,2.5,\n"
    if is_asked_about:
        with pytest.raises(BadInput, match="holds dates"):
            read(text)
    else:
        assert len(read(text).rows) == others + 2


@pytest.mark.parametrize("cells", [("46266", "46267"), ("7/3", "2.5"), ("18:30", "x"), ("", "")])
def test_what_is_no_date_is_no_reason_to_refuse(read, cells):
    one, other = cells
    assert len(read(f"item,price,Shelf\na,2.5,{one}\nb,2.5,{other}\n").rows) == 2


def test_the_side_of_rows_that_say_none(read):
    text = "item,price,side\na,2.5,\nb,2.5,sold\n"
    assert read(text, side="bid").column("side") == ["bid", "deal"]
    assert read(text).column("side") == ["ask", "deal"]


def test_every_reason_is_a_short_word_or_two():
    for reason, meaning in REASONS.items():
        assert len(reason.split()) <= 3
        assert meaning and not meaning.endswith(".")


@pytest.mark.parametrize(
    ("header", "side"),
    [
        ("Bid", "bid"),
        ("Ask price", "ask"),
        ("wanted", "bid"),
        ("Sell", "ask"),
        ("Unit cost", "ask"),
    ],
)
def test_the_side_that_the_price_column_is_headed_with(read, header, side):
    columns = {"price": header}
    result = read(f"item,{header}\na,2\n", columns=columns)
    assert result.column("side") == [side]
    told = [note for note in result.notes if "as the price column says" in note]
    assert bool(told) == (header in {"Bid", "Ask price", "wanted"})
    assert read(f"item,{header}\na,2\n", columns=columns, side="deal").column("side") == ["deal"]
    assert read(f"item,{header},side\na,2,\n", columns=columns).column("side") == ["ask"]
