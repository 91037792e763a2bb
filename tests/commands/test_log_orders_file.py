"""Orders of a CSV file: all or none, each once, taken back whole, restored from an export."""

from __future__ import annotations

import pytest

HEADER = (
    "at,customer,route,terms,price,money,pieces,supplies,ended,came,delivered,tries,paid,fee,note"
)
ROWS = (
    "2026-11-01,Wren,storm-lantern,fixed,700,,1,mine,2026-11-03,done,,,,0,quick",
    "2026-11-01,Alder,storm-lantern,per try,2.5,,1,customer,2026-11-04,failed,,118,,,",
    "2026-11-02,Sedge,storm-lantern,on success,650,,3,,,,,,,,",
)


@pytest.fixture
def fen(makeworth, tmp_path):
    start = ("start", "fen", "--money", "shell", "--timezone", "UTC")
    assert makeworth(*start, cwd=tmp_path).code == 0
    (tmp_path / "fen" / "orders.csv").write_text("\n".join([HEADER, *ROWS]) + "\n")
    return tmp_path / "fen"


def orders(makeworth, fen):
    return makeworth("log", "order", "--list", "--json", cwd=fen).json


def test_what_each_customer_paid_follows_from_the_terms(makeworth, fen):
    run = makeworth("log", "order", "--csv", "orders.csv", "--json", cwd=fen)
    assert run.code == 0
    wren, alder, sedge = run.json["orders"]
    assert wren["end"]["paid"] == "700"
    assert wren["end"]["fee"] == "0"
    assert wren["note"] == "quick"
    # 118 tries at 2.5 each, of which the market keeps 5 % where nobody says otherwise
    assert (alder["end"]["paid"], alder["end"]["fee"]) == ("295", "14.75")
    assert alder["supplies"] == "customer"
    assert (sedge["pieces"], sedge["supplies"], sedge["end"]) == (3, "mine", None)


def test_the_same_file_counts_once_and_goes_back_whole(makeworth, fen):
    first = makeworth("log", "order", "--csv", "orders.csv", cwd=fen)
    assert "3 orders written down" in first.out
    assert "nothing added" in makeworth("log", "order", "--csv", "orders.csv", cwd=fen).out
    assert len(orders(makeworth, fen)) == 3
    assert "3 orders" in makeworth("log", "order", "--undo", "1", cwd=fen).out
    assert orders(makeworth, fen) == []
    assert makeworth("log", "order", "--csv", "orders.csv", "--json", cwd=fen).json["entry"] == 2


def test_a_file_that_later_entries_speak_of_stays(makeworth, fen):
    makeworth("log", "order", "--csv", "orders.csv", cwd=fen)
    assert makeworth("log", "order", "done", "3", "--at", "2026-11-09", cwd=fen).code == 0
    run = makeworth("log", "order", "--undo", "1", cwd=fen)
    assert run.code == 1
    assert "speaks of order 3" in run.err
    assert len(orders(makeworth, fen)) == 3


def test_an_end_finds_its_order_again_after_an_export(makeworth, fen, tmp_path):
    makeworth("log", "order", "--csv", "orders.csv", cwd=fen)
    assert makeworth("export", "early", cwd=fen).code == 0
    makeworth("log", "order", "done", "3", "--at", "2026-11-09", cwd=fen)
    assert makeworth("export", "late", cwd=fen).code == 0
    start = ("start", "other", "--money", "shell", "--timezone", "UTC")
    assert makeworth(*start, cwd=tmp_path).code == 0
    other = tmp_path / "other"
    for part in ("early", "late"):
        assert makeworth("import", fen / part, cwd=other).code == 0
    ended = {
        each["customer"]: each["end"] and each["end"]["came"] for each in orders(makeworth, other)
    }
    assert ended == {"Wren": "done", "Alder": "failed", "Sedge": "done"}


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("2026-11-01,Wren,storm-lantern,fixed,x,,,,,,,,,,", "no price"),
        ("2026-11-01,,storm-lantern,fixed,3,,,,,,,,,,", "'customer' is empty"),
        ("2026-11-01,Wren,storm-lantern,fixed,3,,,,2026-10-01,done,,,,,", "had not begun"),
        ("2026-11-01,Wren,storm-lantern,fixed,3,,,,,,,4,,,", "has not ended"),
        ("2026-11-01,Wren,storm-lantern,fixed,3,,,,2026-11-02,gone,,,,,", "no end of an order"),
        ("2026-11-01,Wren,storm-lantern,per try,3,,,,2026-11-02,done,,,,,", "paid per try"),
        ("2026-11-01,Wren,storm-lantern,fixed,3,,0,,,,,,,,", "pieces 0"),
        ("2026-11-01,Wren,storm-lantern,fixed,3,,two,,,,,,,,", "no count"),
        ("2026-11-01,Wren,storm-lantern,fixed,3,,,ours,,,,,,,", "'ours'"),
        ("2026-11-01,Wren,moon,fixed,3,,,,,,,,,,", "no route"),
        ("2026-11-01,Wren,storm-lantern,fixed,3,moons,,,,,,,,,", "no rate"),
    ],
)
def test_one_bad_row_and_none_is_taken(makeworth, fen, row, said):
    (fen / "bad.csv").write_text("\n".join([HEADER, ROWS[0], row]) + "\n")
    run = makeworth("log", "order", "--csv", "bad.csv", cwd=fen)
    assert run.code == 1
    assert run.is_one_sentence()
    assert "bad.csv, line 3" in run.err
    assert said in run.err
    assert orders(makeworth, fen) == []


def test_an_order_that_ended_without_a_logged_attempt_is_said_to_cost_too_little(makeworth, fen):
    makeworth("log", "order", "--csv", "orders.csv", cwd=fen)
    cautions = " ".join(makeworth("ledger", cwd=fen).out.split())
    # of the two that ended, the other one used up what the customer brought
    assert "no attempts are logged for order 1, so that" in cautions


def test_an_order_served_from_stock_or_with_logged_attempts_is_not(makeworth, fen):
    new = ("log", "order", "new", "Wren", "storm-lantern", "fixed", "700", "--at", "2026-11-01")
    for _ in range(2):
        assert makeworth(*new, cwd=fen).code == 0
    bought = ("log", "buy", "storm lantern", "1", "560", "--at", "2026-11-02", "--new")
    assert makeworth(*bought, cwd=fen).code == 0
    assert makeworth("log", "order", "done", "1", "--at", "2026-11-03", cwd=fen).code == 0
    tried = ("log", "try", "storm-lantern", "take a frame", "bare frame", "--at", "2026-11-04")
    assert makeworth(*tried, cwd=fen).code == 0
    assert makeworth("log", "order", "failed", "2", "--at", "2026-11-05", cwd=fen).code == 0
    assert "no attempts are logged" not in makeworth("ledger", cwd=fen).out


def test_an_order_that_failed_without_a_logged_attempt_is_told_as_well(makeworth, fen):
    new = ("log", "order", "new", "Wren", "storm-lantern", "fixed", "700", "--at", "2026-11-01")
    assert makeworth(*new, cwd=fen).code == 0
    assert makeworth("log", "order", "failed", "1", "--at", "2026-11-05", cwd=fen).code == 0
    cautions = " ".join(makeworth("ledger", cwd=fen).out.split())
    assert "no attempts are logged for order 1, so that" in cautions
