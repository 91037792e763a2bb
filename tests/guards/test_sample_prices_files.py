"""The sample holds what its ground truth says; read by Python's csv module and openpyxl alone."""

from __future__ import annotations

import csv
import json
import tomllib
from collections import Counter, defaultdict
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from functools import cache
from pathlib import Path
from statistics import median
from zoneinfo import ZoneInfo

import pytest
from openpyxl import load_workbook

from importers.reasons import REASONS
from sample_prices.make_sample import make_sample

SAMPLE = Path(__file__).parents[2] / "sample_prices"
TRUTH = json.loads((SAMPLE / "expected.json").read_text(encoding="utf-8"))
FACTS = {facts["file"]: facts for facts in TRUTH["files"]}
SETTINGS = tomllib.loads((SAMPLE / "makeworth.toml").read_text(encoding="utf-8"))
TOWN = ZoneInfo("Europe/Lisbon")
STALL_BOOK = ("When seen", "Goods", "Unit cost", "Coin", "Kind", "How many", "Who")


def utc(text: str, form: str | None = None) -> datetime:
    local = datetime.strptime(text, form) if form else datetime.fromisoformat(text)
    return (local if local.tzinfo else local.replace(tzinfo=TOWN)).astimezone(UTC)


def canonical_row(cells: list[str]) -> dict:
    at, item, price, money, side, qty, trader, *_ = cells
    return quote(utc(at), item, Fraction(price), money, side, int(qty), trader)


def semicolon_row(cells: list[str]) -> dict:
    at, item, price, money, side, qty, trader, *_ = cells
    exact = Fraction(price.replace(" ", "").replace(",", "."))
    return quote(utc(at, "%d/%m/%Y %H:%M"), item, exact, money, side, int(qty), trader)


def stall_row(cells: list[str]) -> dict:
    at, item, price, money, side, qty, trader = cells
    if not money:
        amount, _, units = price.partition(" / ")
        number, money = amount.split(" ")
        price = f"{number}/{units}" if units else number
    item = item.lower().replace("lantern frames", "lantern frame")
    return quote(utc(at), item, Fraction(price), money, side.lower(), int(qty), trader)


def sheet_row(cells: tuple) -> dict:
    at, item, price, money, side, qty, trader, *_ = cells
    exact = Fraction(price) if isinstance(price, str) else Fraction(str(price))
    # A spreadsheet keeps a time as a float of days: the minute is exact, the second is not.
    at = (at + timedelta(seconds=30)).replace(second=0, microsecond=0, tzinfo=TOWN)
    return quote(at.astimezone(UTC), item, exact, money, side, int(qty), trader)


def quote(at, item, price, money, side, qty, trader) -> dict:
    return {
        "at": at, "item": item, "price": price, "money": money,
        "side": side, "qty": qty, "trader": trader,
    }  # fmt: skip


def text_lines(name: str, delimiter: str, encoding: str) -> list[list[str]]:
    with (SAMPLE / name).open(encoding=encoding, newline="") as file:
        return list(csv.reader(file, delimiter=delimiter))


@cache
def quotes_by_line(name: str) -> dict[int, dict]:
    """Every readable row of a file, by its line."""
    if name.endswith(".xlsx"):
        rows = list(load_workbook(SAMPLE / name).worksheets[0].iter_rows(values_only=True))
        return {line: sheet_row(cells) for line, cells in enumerate(rows[3:-1], start=4)}
    unread = {row["line"] for row in FACTS[name]["unreadable"]}
    delimiter, encoding, read = {
        "inbox/evening-hall.csv": (";", "cp1252", semicolon_row),
        "inbox/stall-book.csv": (",", "utf-8", stall_row),
    }.get(name, (",", "utf-8", canonical_row))
    lines = enumerate(text_lines(name, delimiter, encoding), start=1)
    return {line: read(cells) for line, cells in lines if line > 1 and line not in unread}


def season_day(at: datetime) -> tuple[int, int]:
    date = at.astimezone(TOWN).date()
    for number, season in enumerate(TRUTH["seasons"]):
        day = (date - datetime.fromisoformat(season["first_day"]).date()).days
        if 0 <= day < season["days_seen"]:
            return number, day
    raise AssertionError(f"{date} lies in no season")


def shell_value(seen: dict, number: int, day: int) -> float:
    rate = TRUTH["seasons"][number]["ask"]["crown"][day] / 1.012
    return float(seen["price"]) * (rate if seen["money"] == "crown" else 1)


def honest_quotes() -> list[dict]:
    planted = {(fault["file"], fault["line"]) for fault in TRUTH["planted"]}
    return [
        seen
        for name in FACTS
        for line, seen in quotes_by_line(name).items()
        if (name, line) not in planted
    ]


@pytest.mark.parametrize("name", list(FACTS))
def test_a_file_holds_what_the_ground_truth_says(name):
    facts, seen = FACTS[name], list(quotes_by_line(name).values())
    assert len(seen) == facts["readable"] == facts["rows"] - len(facts["unreadable"])
    assert Counter(row["side"] for row in seen) == facts["sides"]
    assert Counter(row["money"] for row in seen) == facts["moneys"]
    assert sum(row["qty"] for row in seen) == facts["qty_sum"]
    assert min(row["at"] for row in seen) == utc(facts["oldest"])
    assert max(row["at"] for row in seen) == utc(facts["newest"])
    assert all(row["price"] > 0 and row["qty"] >= 1 for row in seen)


def test_every_planted_fault_stands_on_its_line():
    for fault in TRUTH["planted"]:
        assert quotes_by_line(fault["file"])[fault["line"]]["item"] == fault["item"]
    kinds = Counter(fault["kind"] for fault in TRUTH["planted"])
    assert set(kinds) == {"wrong digit", "bait", "price fixing", "money mix-up", "stale ladder"}


def test_planted_faults_are_far_off_and_honest_quotes_are_not():
    sides = {"ask": "ask", "deal": "sale_net", "bid": "bid"}

    def off(seen: dict) -> float:
        number, day = season_day(seen["at"])
        true = TRUTH["seasons"][number][sides[seen["side"]]][seen["item"]][day]
        return shell_value(seen, number, day) / (true / 0.95 if seen["side"] == "deal" else true)

    least = {"wrong digit": 3, "bait": 1.5, "price fixing": 1.3, "money mix-up": 20}
    least["stale ladder"] = 1.05
    for fault in TRUTH["planted"]:
        far = off(quotes_by_line(fault["file"])[fault["line"]])
        assert max(far, 1 / far) > least[fault["kind"]], fault
    by_item = defaultdict(list)
    for seen in honest_quotes():
        assert 0.6 < off(seen) < 1.6, seen
        by_item[seen["item"]].append(off(seen))
    assert all(0.96 < median(offs) < 1.05 for item, offs in by_item.items() if len(offs) > 30)


def test_a_ladder_costs_the_ask_level_for_the_usual_quantity():
    ladders = defaultdict(list)
    for seen in honest_quotes():
        if seen["side"] == "ask":
            ladders[seen["item"], seen["at"]].append(seen)
    offs = []
    for (item, at), rungs in ladders.items():
        number, day = season_day(at)
        left = wanted = TRUTH["seasons"][number]["usual_qty"][item]
        if len(rungs) < 3 or sum(rung["qty"] for rung in rungs) < wanted:
            continue
        cost = 0.0
        for rung in sorted(rungs, key=lambda rung: shell_value(rung, number, day)):
            taken = min(left, rung["qty"])
            cost += taken * shell_value(rung, number, day)
            left -= taken
        offs.append(cost / wanted / TRUTH["seasons"][number]["ask"][item][day])
    assert len(offs) > 300
    assert 0.99 < median(offs) < 1.01


def test_days_without_quotes_are_days_without_quotes():
    seen_on = {(*season_day(row["at"]), row["item"]) for row in honest_quotes()}
    names = [season["season"] for season in TRUTH["seasons"]]
    for season, item, first, last in TRUTH["gaps"]:
        for number, day, seen in seen_on:
            assert not (
                number == names.index(season) and item in (None, seen) and first <= day <= last
            )


def test_a_quote_stands_once_but_for_those_the_guild_noted_too():
    where = defaultdict(list)
    for name in FACTS:
        for seen in quotes_by_line(name).values():
            where[tuple(seen.values())].append(name)
    twice = Counter(tuple(names) for names in where.values() if len(names) > 1)
    both = ("inbox/evening-hall.csv", "inbox/guild-sheet.xlsx")
    assert twice == {both: FACTS["inbox/guild-sheet.xlsx"]["also_in_evening_hall"]}


def test_dates_of_the_evening_hall_decide_their_own_order():
    rows = text_lines("inbox/evening-hall.csv", ";", "cp1252")[1:]
    assert any(int(row[0][:2]) > 12 for row in rows)
    assert any(not row[6].isascii() for row in rows)


def test_unreadable_rows_of_the_stall_book_are_what_they_are_said_to_be():
    rows = text_lines("inbox/stall-book.csv", ",", "utf-8")
    assert tuple(rows[0]) == STALL_BOOK
    for unread in FACTS["inbox/stall-book.csv"]["unreadable"]:
        cells = rows[unread["line"] - 1]
        with pytest.raises((ValueError, AssertionError)):
            seen = stall_row(cells)
            assert seen["item"] in SETTINGS["item"]
            assert seen["price"] > 0 and seen["side"] in ("ask", "bid", "deal")
        assert unread["reason"] in REASONS


def test_the_sample_is_about_the_promised_size():
    assert 6_000 <= sum(facts["readable"] for facts in TRUTH["files"]) <= 12_000
    assert sum(path.stat().st_size for path in SAMPLE.rglob("*") if path.is_file()) < 2_000_000
    assert 28 <= len({seen["item"] for seen in honest_quotes()}) <= 34


def test_the_script_gives_the_same_sample_again(tmp_path):
    make_sample(tmp_path)
    for name in FACTS:
        if name.endswith(".xlsx"):  # its bytes depend on the versions of openpyxl and zlib
            made, kept = (
                list(load_workbook(folder / name).worksheets[0].iter_rows(values_only=True))
                for folder in (tmp_path, SAMPLE)
            )
            assert made == kept
        else:
            assert (tmp_path / name).read_bytes() == (SAMPLE / name).read_bytes()
    made = (tmp_path / "expected.json").read_bytes()
    assert made == (SAMPLE / "expected.json").read_bytes()
