"""Lines as people type or paste them: read in one way, or not at all."""

from __future__ import annotations

from fractions import Fraction

import pytest

from advisor.errors import BadInput
from advisor.names import name_key
from advisor.tasks.quote_lines import LineReader, decide_line_decimal

KNOWN = {
    "lantern frame": "lantern frame",
    "mark 2 frame": "Mark 2 Frame",
    "3 star frame": "3 star frame",
    "shell": "shell",
    "crown": "crown",
}


def read(line, decimal="point"):
    return [
        (each.item, each.price, each.money, each.qty, each.side)
        for each in LineReader(KNOWN, decimal).read(line)
    ]


@pytest.mark.parametrize(
    ("line", "item", "price", "money", "qty", "side"),
    [
        ("lantern frame 2.4", "lantern frame", "2.4", None, None, None),
        ("lantern frame 2.4 x60", "lantern frame", "2.4", None, 60, None),
        ("lantern frame x60 @ 2.4 shell", "lantern frame", "2.4", "shell", 60, None),
        ("60 lantern frame 2.4", "lantern frame", "2.4", None, 60, None),
        ("60x lantern frame 2.4", "lantern frame", "2.4", None, 60, None),
        ("12 × lantern frame @2", "lantern frame", "2", None, 12, None),
        ("lantern frame 2.4x60", "lantern frame", "2.4", None, 60, None),
        ("lantern frame 2.4 shell x60", "lantern frame", "2.4", "shell", 60, None),
        ("lantern frame: 2.4 each", "lantern frame", "2.4", None, None, None),
        ("2.4 lantern frame", "lantern frame", "2.4", None, None, None),
        ("7/3 binding wax", "binding wax", "7/3", None, None, None),
        ("binding wax 7/3 crown", "binding wax", "7/3", "crown", None, None),
        ("wanted: 20 binding wax 2", "binding wax", "2", None, 20, "bid"),
        ("Selling lantern frame 2.4", "lantern frame", "2.4", None, None, "ask"),
        ("sold 3 storm lantern 590", "storm lantern", "590", None, 3, "deal"),
        ("  lantern   frame\t2.4  ", "lantern frame", "2.4", None, None, None),
        ("mark 2 frame 2.4", "Mark 2 Frame", "2.4", None, None, None),
        ("MARK 2 frame x6 @ 2.4", "Mark 2 Frame", "2.4", None, 6, None),
        ("3 star frame 2.4", "3 star frame", "2.4", None, None, None),
        ("tier 3 frame 2.4", "tier 3 frame", "2.4", None, None, None),
        ("fox 2.4", "fox", "2.4", None, None, None),
        ("蜜蝋 2.4 x60", "蜜蝋", "2.4", None, 60, None),
        ("lantern frame 1'250.5", "lantern frame", "1250.5", None, None, None),
        ("lantern frame 60 @ 2.4", "lantern frame", "2.4", None, 60, None),
        ("buying lantern frame 12 for 2 crown / 12", "lantern frame", "1/6", "crown", 12, "bid"),
        ("2.4 crown lantern frame x60", "lantern frame", "2.4", "crown", 60, None),
        ("lantern frame | 2.4 | 60", "lantern frame", "2.4", None, 60, None),
        ("- lantern frame 2.4", "lantern frame", "2.4", None, None, None),
    ],
)
def test_one_quote_a_line(line, item, price, money, qty, side):
    assert read(line) == [(item, Fraction(price), money, qty, side)]


@pytest.mark.parametrize("at", ["", "@ ", "@"])
@pytest.mark.parametrize("slash", [" / ", "/", "/ ", " /"])
@pytest.mark.parametrize("count", ["", " x4", "x4"])
@pytest.mark.parametrize("money", ["crown", "pebbles"])
@pytest.mark.parametrize("item", ["frostglass", "mark 2 frame"])
def test_a_price_for_several_units_in_every_spacing(at, slash, count, money, item):
    (quote,) = read(f"{item} {at}2.5 {money}{slash}12{count}")
    qty = 4 if count else None
    assert quote == (KNOWN.get(item, item), Fraction(5, 24), money, qty, None)


@pytest.mark.parametrize(
    ("line", "qty"),
    [
        ("frostglass@2.5 crown/12", None),
        ("frostglass 2.5crown/12", None),
        ("4 frostglass 2.5 crown / 12", 4),
        ("frostglass 2.5 crown / 12x 4", 4),
        ("2.5 crown / 12 frostglass", None),
    ],
)
def test_more_spellings_of_a_price_for_several_units(line, qty):
    assert read(line) == [("frostglass", Fraction(5, 24), "crown", qty, None)]


def test_a_ladder_of_prices_for_several_units():
    assert read("frostglass 2.5 crown / 12 x4; 3 crown/12 x2") == [
        ("frostglass", Fraction(5, 24), "crown", 4, None),
        ("frostglass", Fraction(1, 4), "crown", 2, None),
    ]


@pytest.mark.parametrize(
    "line",
    ["frostglass / 12", "frostglass 2 / @ 3", "frost 3/4 glass 2", "frost 7/3 crown / 2"],
)
def test_what_is_left_of_a_price_is_no_name(line):
    with pytest.raises(BadInput, match="could not be read"):
        read(line)


@pytest.mark.parametrize(
    ("line", "item", "price", "qty", "side", "trader"),
    [
        ("[20:14] Wen: WTB marsh oil 3.0", "marsh oil", "3", None, "bid", "Wen"),
        ("[20:14:05] Tansy Rook: 5 marsh oil 3", "marsh oil", "3", 5, None, "Tansy Rook"),
        ("Wen: selling 5 marsh oil at 3.3 each", "marsh oil", "3.3", 5, "ask", "Wen"),
        ("Wen: lantern frame 2.4", "lantern frame", "2.4", None, None, "Wen"),
        ("Wen: 5 lantern frame 2.4", "lantern frame", "2.4", 5, None, "Wen"),
        ("lantern frame: wanted 20 binding wax 2", None, None, None, None, None),
        ("glow moss: 2.4 each", "glow moss", "2.4", None, None, None),
        ("selling 5 marsh oil for 3.3", "marsh oil", "3.3", 5, "ask", None),
        ("selling marsh oil for 3.3 ea", "marsh oil", "3.3", None, "ask", None),
        ("buying marsh oil @ 3.3 each", "marsh oil", "3.3", None, "bid", None),
        ("offering marsh oil each 3.3", "marsh oil", "3.3", None, "ask", None),
        ("WTS frostglass 12 x4 !!", "frostglass", "12", 4, "ask", None),
        ("marsh oil\t3.2\t5", "marsh oil", "3.2", 5, None, None),
        ("WTB marsh oil\t3\tx5", "marsh oil", "3", 5, "bid", None),
    ],
)
def test_lines_of_chat(line, item, price, qty, side, trader):
    """Common practice, no source: how traders write offers in chat."""
    if item is None:
        with pytest.raises(BadInput, match="would be a new item"):
            read(line)
        return
    (quote,) = LineReader(KNOWN, "point").read(line)
    said = (quote.item, quote.price, quote.money, quote.qty, quote.side, quote.trader)
    assert said == (item, Fraction(price), None, qty, side, trader)


def test_a_price_that_could_be_for_all_says_how_it_was_taken():
    def taken(line):
        return LineReader(KNOWN, "point").read(line)[0].taken

    assert "for each one" in taken("selling 5 marsh oil for 3.3")
    for plain in (
        "selling 5 marsh oil for 3.3 each",
        "selling marsh oil for 3",
        "5 marsh oil at 3",
    ):
        assert taken(plain) is None


@pytest.mark.parametrize(
    "line",
    [
        *("[tavern] marsh oil 3", "marsh oil per 3", "marsh oil (fine) 3", "oil: fine 3 3 2"),
        *("1. lantern frame 2.4", "lantern frame 2.4;marsh oil 3", "marsh oil 60 @ 2.4"),
        *("2.4 shell marsh oil x5", "lantern frame x5 60 @ 2.4"),
    ],
)
def test_a_new_item_with_what_is_no_name_is_not_read(line):
    with pytest.raises(BadInput, match="could not be read"):
        read(line)
    key = "marsh oil (fine)"
    (quote,) = LineReader({key: key}, "point").read("marsh oil (fine) 3")
    assert quote.item == key


def test_an_item_that_begins_like_a_side_is_known_by_its_name():
    known = {"wanted poster": "wanted poster"}
    (quote,) = LineReader(known, "point").read("wanted poster 3")
    assert (quote.item, quote.side) == ("wanted poster", None)


def test_a_ladder_in_one_line():
    rungs = [("2.4", 60), ("2.5", 20), ("3", 100)]
    expected = [("lantern frame", Fraction(price), None, qty, None) for price, qty in rungs]
    assert read("lantern frame 2.4 x60; 2.5 x20; 3 x100") == expected
    assert read("lantern frame 2.4 x60, 2.5 x20, 3 x100") == expected


@pytest.mark.parametrize(
    "line",
    [
        "hello", "2.4", "60 2.4", "lantern frame", "lantern frame 60 2.4", "60 lantern frame",
        "frame 1 250", "frame x0 2", "frame x1.5 2", "frame -2", "frame nan", "frame 1e400",
        "frame 0", "frame x6 x7 2", "frame 2/0", "=1+1 2", "fra\x1b[31mme 2", "x 2.4", "@ 2", "",
        "lantern frame 2.4 x60; hello", "lantern frame 9999999999999999999",
    ],
)  # fmt: skip
def test_what_could_be_meant_otherwise_is_not_read(line):
    with pytest.raises(BadInput, match="could not be read"):
        read(line)


def test_open_numbers_are_not_read():
    with pytest.raises(BadInput, match=r"1\.25 or 1250"):
        read("frame 1,250", None)
    assert read("frame 1,250", "comma") == [("frame", Fraction("1.25"), None, None, None)]


@pytest.mark.parametrize(
    ("lines", "points_are_decimal", "decided"),
    [
        (["frame 2.5", "wax 1,250"], False, "point"),
        (["frame 2,5", "wax 1.250"], False, "comma"),
        (["frame 2"], False, "point"),
        (["frame 2.125"], True, "point"),
        (["frame: 2.5 x60, 2.6 x20"], False, "point"),
    ],
)
def test_the_lines_of_a_call_decide_together(lines, points_are_decimal, decided):
    told = decide_line_decimal(lines, told=None, points_are_decimal=points_are_decimal)
    assert told == decided


@pytest.mark.parametrize(
    ("lines", "points_are_decimal"),
    [(["frame 2.125"], False), (["frame 2,125"], True), (["frame 2.5", "wax 2,5"], True)],
)
def test_lines_that_stay_open_are_refused(lines, points_are_decimal):
    with pytest.raises(BadInput, match="--decimal"):
        decide_line_decimal(lines, told=None, points_are_decimal=points_are_decimal)
    assert decide_line_decimal(lines, told="comma", points_are_decimal=True) == "comma"


def test_pasted_lines_that_disagree_are_named():
    lines, numbers = ["wax 3", "frame 2.5", "wax 2,5"], [1, 4, 7]
    with pytest.raises(BadInput) as both:
        decide_line_decimal(lines, told=None, points_are_decimal=False, line_numbers=numbers)
    assert "'2.5' in line 4 has a decimal point, '2,5' in line 7" in str(both.value)
    with pytest.raises(BadInput, match=r"'2\.125' in line 3 could be"):
        decide_line_decimal(["wax 2.125"], told=None, points_are_decimal=False, line_numbers=[3])


def test_a_known_name_may_hold_a_comma_a_new_one_is_given_apart():
    known = LineReader({"bell, plain": "bell, plain"}, "point")
    for line in ("bell, plain 40 x2", "2 Bell, plain 40", "bell, plain x2 @ 40"):
        (quote,) = known.read(line)
        assert (name_key(quote.item), quote.price, quote.qty) == ("bell, plain", 40, 2)
    ladder = known.read("bell, plain 40 x2; 41 x3")
    assert [(each.price, each.qty) for each in ladder] == [(40, 2), (41, 3)]
    with pytest.raises(BadInput, match="would be a new item"):
        read("binding wax, moss 3")
