"""`makeworth quote`: one price, many, a ladder, pasted lines; what is refused."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest


def taken(run):
    return [
        (each["item"], each["price"], each["money"], each["qty"], each["side"])
        for each in run.json["quotes"]
    ]


def test_one_price_with_everything_said(workspace, makeworth):
    words = (
        *("quote", "lantern frame", "2.4", "--qty", "60", "--side", "bid", "--trader", "Hob Lathe"),
        *("--money", "crown", "--at", "2026-09-01 10:00", "--note", "wants them straight"),
        *("--source", "bridge board", "--json"),
    )
    run = makeworth(*words, cwd=workspace)
    (quote,) = run.json["quotes"]
    assert quote == {
        "at": "2026-09-01T10:00:00Z",
        "item": "lantern frame",
        "price": "2.4",
        "money": "crown",
        "side": "bid",
        "qty": 60,
        "trader": "Hob Lathe",
        "source": "bridge board",
        "note": "wants them straight",
    }
    assert run.json["batch"] == 1
    kept = makeworth("prices", "lantern frame", "--quotes", "--json", cwd=workspace)
    assert kept.json["quotes"][0]["trader"] == "Hob Lathe"


@pytest.mark.parametrize(
    ("words", "quotes"),
    [
        (
            ("lantern frame 2.4 x60", "binding wax 7/3"),
            [
                ("lantern frame", "2.4", "shell", 60, "ask"),
                ("binding wax", "7/3", "shell", None, "ask"),
            ],
        ),
        (("lantern frame", "2.4"), [("lantern frame", "2.4", "shell", None, "ask")]),
        (("lantern frame", "7/3 crown"), [("lantern frame", "7/3", "crown", None, "ask")]),
        (("lantern frame", "1 250,50"), [("lantern frame", "1250.5", "shell", None, "ask")]),
        (("lantern frame", "2.5 crown / 12"), [("lantern frame", "5/24", "crown", None, "ask")]),
        (
            ("lantern frame", "2.4x60", "2.5x20", "3 crown x 100"),
            [
                ("lantern frame", "2.4", "shell", 60, "ask"),
                ("lantern frame", "2.5", "shell", 20, "ask"),
                ("lantern frame", "3", "crown", 100, "ask"),
            ],
        ),
        (
            ("lantern frame 2.4 x60; 2.5 x20",),
            [
                ("lantern frame", "2.4", "shell", 60, "ask"),
                ("lantern frame", "2.5", "shell", 20, "ask"),
            ],
        ),
        (
            ("frostglass 2.5 crown / 12", "frostglass @ 2 pebbles/3 x4"),
            [
                ("frostglass", "5/24", "crown", None, "ask"),
                ("frostglass", "2/3", "pebbles", 4, "ask"),
            ],
        ),
        (("wanted: 20 binding wax 2",), [("binding wax", "2", "shell", 20, "bid")]),
        (("LANTERN  Frame", "0.125"), [("lantern frame", "0.125", "shell", None, "ask")]),
        (("lantern frame", "2.125"), [("lantern frame", "2.125", "shell", None, "ask")]),
    ],
)
def test_spellings(workspace, makeworth, words, quotes):
    run = makeworth("quote", *words, "--json", cwd=workspace)
    assert run.code == 0, run.err
    assert taken(run) == quotes


def test_a_ladder_stands_at_one_moment(workspace, makeworth):
    run = makeworth("quote", "lantern frame", "2.4x60", "2.5x20", "--json", cwd=workspace)
    assert len({quote["at"] for quote in run.json["quotes"]}) == 1
    assert run.json["batch"] == 1


PASTED = """\
60 lantern frame 2.4
lantern frame x60 @ 2.5 shell

what a lovely evening
7/3 binding wax
lantern frame 60 2.4
\tclear flux\t1.5
"""


def test_pasted_lines_are_read_or_named(workspace, makeworth):
    run = makeworth("quote", "--paste", "--json", cwd=workspace, text=PASTED)
    assert run.code == 1
    assert taken(run) == [
        ("lantern frame", "2.4", "shell", 60, "ask"),
        ("lantern frame", "2.5", "shell", 60, "ask"),
        ("binding wax", "7/3", "shell", None, "ask"),
        ("clear flux", "1.5", "shell", None, "ask"),
    ]
    assert [each["line"] for each in run.json["unread"]] == [4, 6]
    assert "line 4 was not taken down" in run.err
    assert "2 lines were not taken down" in run.err
    kept = makeworth("prices", "lantern frame", "--quotes", "--json", cwd=workspace)
    assert len(kept.json["quotes"]) == 2


def test_pasted_lines_with_a_decimal_comma(workspace, makeworth):
    text = "lantern frame 2,5\nbinding wax 1.250\n"
    run = makeworth("quote", "--paste", "--json", cwd=workspace, text=text)
    assert [price for _, price, *_ in taken(run)] == ["2.5", "1250"]


def test_rows_pasted_from_a_sheet_with_their_header(workspace, makeworth):
    text = "Item\tPrice\tQty\nlantern frame\t2,40\t60\nlantern fraem\t2,5\t1\nbinding wax\t7/3\t\n"
    words = ("--trader", "Hob Lathe", "--at", "2026-09-01", "--json")
    run = makeworth("quote", "--paste", *words, cwd=workspace, text=text)
    assert run.code == 1
    assert taken(run) == [
        ("lantern frame", "2.4", "shell", 60, "ask"),
        ("binding wax", "7/3", "shell", None, "ask"),
    ]
    assert {quote["trader"] for quote in run.json["quotes"]} == {"Hob Lathe"}
    assert {quote["at"] for quote in run.json["quotes"]} == {"2026-09-01T00:00:00Z"}
    assert [each["line"] for each in run.json["unread"]] == [3]
    assert "near name" in run.err


def test_dates_under_an_unknown_name_of_a_pasted_table(workspace, makeworth):
    text = "Item\tPrice\tDatum\nlantern frame\t2,40\t2026-09-01\n"
    run = makeworth("quote", "--paste", cwd=workspace, text=text)
    assert run.code == 1 and run.is_one_sentence()
    assert "'Datum'" in run.err and 'call it "at"' in run.err and "--at TIME" in run.err
    assert "--map" not in run.err
    said = ("--paste", "--at", "2026-09-02", "--json")
    run = makeworth("quote", *said, cwd=workspace, text=text)
    assert run.json["quotes"][0]["at"] == "2026-09-02T00:00:00Z"
    run = makeworth("quote", "--paste", "--json", cwd=workspace, text=text.replace("Datum", "at"))
    assert run.json["quotes"][0]["at"] == "2026-09-01T00:00:00Z"


@pytest.mark.parametrize(
    ("word", "side"), [("sell", "ask"), ("For  Sale", "ask"), ("WTB", "bid"), ("sold", "deal")]
)
def test_a_side_is_said_in_any_word_that_files_are_read_by(workspace, makeworth, word, side):
    run = makeworth("quote", "lantern frame", "2.4", "--side", word, "--json", cwd=workspace)
    assert taken(run)[0][4] == side


def test_when_it_was_seen_is_shown_in_the_time_of_the_workspace(tmp_path, makeworth):
    makeworth("start", tmp_path / "fen", "--timezone", "Asia/Tokyo", cwd=tmp_path)
    said = ("quote", "lantern frame", "2.4", "--at", "2026-09-01T20:00:00Z")
    assert "2026-09-02 05:00" in makeworth(*said, cwd=tmp_path / "fen").out
    said = (*said[:3], "--at", "2026-09-01 20:00", "--json")
    run = makeworth(*said, cwd=tmp_path / "fen")
    assert run.json["quotes"][0]["at"] == "2026-09-01T11:00:00Z"


def test_a_time_still_to_come_is_told(workspace, makeworth):
    run = makeworth("quote", "lantern frame", "2.4", "--at", "2190-01-01", cwd=workspace)
    assert run.code == 0 and "2190-01-01 00:00 is later than now" in run.err
    run = makeworth("quote", "lantern frame", "2.4", "--at", "2026-09-01", cwd=workspace)
    assert "later than now" not in run.err


CHAT = """\
[20:14] Wen: WTB marsh oil 3.0
selling 5 marsh oil for 3.3
marsh oil\t3.2\t5
WTS frostglass 12 x4 !!
[tavern] Wen: something 3
"""


def test_lines_pasted_from_chat(workspace, makeworth):
    run = makeworth("quote", "--paste", "--json", cwd=workspace, text=CHAT)
    assert taken(run) == [
        ("marsh oil", "3", "shell", None, "bid"),
        ("marsh oil", "3.3", "shell", 5, "ask"),
        ("marsh oil", "3.2", "shell", 5, "ask"),
        ("frostglass", "12", "shell", 4, "ask"),
    ]
    assert [quote["trader"] for quote in run.json["quotes"]] == ["Wen", None, None, None]
    assert [each["line"] for each in run.json["unread"]] == [5]
    assert "names no day" in run.err and "for each one" in run.err


def test_a_word_behind_a_pasted_price_is_not_taken_for_a_money(workspace, makeworth):
    run = makeworth("quote", "--paste", cwd=workspace, text="lantern frame 2.4 today\n")
    assert run.code == 1
    assert "no money 'today'" in run.err


def test_arguments_go_in_all_or_none(workspace, makeworth):
    run = makeworth("quote", "lantern frame 2.4", "what is this", cwd=workspace)
    assert run.code == 1
    assert makeworth("import", "--batches", "--json", cwd=workspace).json == []


def test_a_slip_is_asked_about_and_new_names_are_told(workspace, makeworth):
    run = makeworth("quote", "lantern fraem", "2.4", cwd=workspace)
    assert run.code == 1 and 'did you mean "lantern frame"' in run.err
    run = makeworth("quote", "lantern fraem", "2.4", "--new", "--json", cwd=workspace)
    assert taken(run)[0][0] == "lantern fraem"
    run = makeworth("quote", "moon glass", "2.4", cwd=workspace)
    assert '"moon glass" is new to the book' in run.err


def test_the_answer_says_how_to_take_it_back(workspace, makeworth):
    run = makeworth("quote", "lantern frame", "2.4", cwd=workspace)
    assert "makeworth import --undo 1" in run.out
    assert makeworth("import", "--undo", "1", "--json", cwd=workspace).json["removed"] == 1


@pytest.mark.parametrize(
    ("words", "code", "what"),
    [
        ((), 2, "no price given"),
        (("lantern frame",), 1, "no item and price"),
        (("lantern frame", "nan"), 1, "no finite number"),
        (("lantern frame", "0"), 1, "zero"),
        (("lantern frame", "--", "-5"), 1, "below zero"),
        (("lantern frame", "=1+1"), 1, "formula"),
        (("lantern frame", "1e400"), 1, "above"),
        (("lantern frame", "1,250"), 1, "1.25 or 1250"),
        (("lantern frame", "hello"), 1, "no price"),
        (("frostglass 2.5 crown /", "12"), 1, "would be the item"),
        (("lantern frame 60 2.4",), 1, "both be the price"),
        (("60 lantern frame",), 1, "count or the price"),
        (("lantern\x1b[31m frame", "2.4"), 1, "control character"),
        (("lantern frame", "2.4", "--qty", "0"), 2, "--qty 0"),
        (("lantern frame", "2.4", "--qty", "many"), 2, "--qty"),
        (("lantern frame 2.4 x60", "--qty", "30"), 2, "--qty 30"),
        (("lantern frame", "2.4", "--side", "swap"), 2, "none of ask, bid, deal"),
        (("lantern frame", "2.4", "--at", "soon"), 1, "no date"),
        (("lantern frame", "2.4", "--at", "1890-01-01"), 1, "years are from 1900 to 2200"),
        (("lantern frame", "2.4", "--at", "03/04/2026"), 1, "--date-order"),
        (("lantern frame", "2 crown", "--money", "shell"), 2, "--money"),
        (("lantern frame", "2.4", "--trader", ""), 1, "--trader"),
        (("shell", "2"), 1, "priced in itself"),
        (("lantern frame", "2.4", "--paste"), 2, "--paste"),
        (("--paste",), 1, "nothing was pasted"),
    ],
)
def test_wrong_use_is_told_in_one_sentence_and_nothing_is_kept(
    workspace, makeworth, words, code, what
):
    run = makeworth("quote", *words, cwd=workspace, text="")
    assert run.code == code
    assert run.is_one_sentence()
    assert what in run.err
    assert "\x1b" not in run.err
    assert makeworth("import", "--batches", "--json", cwd=workspace).json == []


def test_what_was_pasted_must_be_text(workspace):
    command = [str(Path(sys.executable).with_name("makeworth")), "quote", "--paste"]
    run = subprocess.run(
        command, cwd=workspace, input=b"\xff\xfe\xff", capture_output=True, check=False
    )
    assert run.returncode == 1
    assert b"no UTF-8 text" in run.stderr and b"Traceback" not in run.stderr
