"""`makeworth ledger`: an evening worked out by hand, in every grouping."""

from __future__ import annotations

import pytest

AS_OF = ("--as-of", "2026-11-03")
SEASON = '\n[[season]]\nname = "autumn fair"\nstart = 2026-11-03\nend = 2026-12-20\n'


@pytest.fixture
def evening(workspace, makeworth):
    """The route as `start` leaves it: a frame, 3 salt and a wax a try; 2 flux; a lens."""

    def run(*words):
        found = makeworth(*words, cwd=workspace)
        assert found.code == 0, found.err

    settings = workspace / "makeworth.toml"
    settings.write_text(settings.read_text() + SEASON)
    run("quote", "clear flux 10.5", "lens setting 35", "storm lantern 560", "crown 20",
        "scrap glass 0.8", "--at", "2026-11-02T19:00")  # fmt: skip
    for words in (
        ("buy", "lantern frame", "60", "2.4", "--trader", "Wren", "--at", "2026-11-02T20:30"),
        ("buy", "binding wax", "60", "0.12 crown", "--trader", "Moss", "--at", "2026-11-02T20:31"),
        ("buy", "etching salt", "200", "0.95", "--at", "2026-11-02T20:32"),
        ("try", "storm-lantern", "etch", "empty table", "--count", "39",
         "--at", "2026-11-02T21:00"),
        ("try", "storm-lantern", "etch", "marked frame", "--at", "2026-11-02T21:30"),
        ("try", "storm-lantern", "seal", "storm lantern", "--at", "2026-11-02T21:40"),
        ("sale", "storm lantern", "1", "560", "--trader", "Ash", "--at", "2026-11-02T22:00"),
        ("order", "new", "Fern", "storm-lantern", "per try", "9", "--supplies", "customer",
         "--at", "2026-11-03T10:00"),
        ("try", "storm-lantern", "etch", "empty table", "--count", "10",
         "--at", "2026-11-03T10:10"),
        ("order", "failed", "1", "--tries", "10", "--at", "2026-11-03T11:00"),
    ):  # fmt: skip
        run("log", *words)
    return workspace


@pytest.fixture
def ledger(evening, makeworth):
    def read(*words):
        run = makeworth("ledger", *AS_OF, *words, "--json", cwd=evening)
        assert run.code == 0, run.err
        return run.json

    return read


# 40 frames at 2.4, 120 salt at 0.95, 40 wax at 2.4, 2 flux at 10.5, 1 lens at 35
MADE = 40 * 2.4 + 120 * 0.95 + 40 * 2.4 + 2 * 10.5 + 35
BOUGHT = 60 * 2.4 + 60 * 0.12 * 20 + 200 * 0.95
NOT_LOGGED = 2 * 10.5 + 35
SOLD, SERVED = 560 * 0.95, 90 * 0.95


def test_totals(ledger):
    said = ledger()
    assert said["money"] == "shell"
    assert said["spent"] == pytest.approx(BOUGHT + NOT_LOGGED)
    assert said["earned"] == pytest.approx(SOLD + SERVED)
    assert said["profit"] == pytest.approx(SOLD + SERVED - MADE)
    assert said["standing"] == pytest.approx(20 * 2.4 + 20 * 2.4 + 80 * 0.95)
    assert said["not_logged"] == pytest.approx(NOT_LOGGED)
    [made] = said["made"]
    assert (made["piece"], made["unit_cost"]) == ("storm lantern", pytest.approx(MADE))
    stock = {line["item"]: (line["qty"], line["unit_cost"]) for line in said["stock"]}
    assert stock == {
        "lantern frame": (20, pytest.approx(2.4)),
        "binding wax": (20, pytest.approx(2.4)),
        "etching salt": (80, pytest.approx(0.95)),
    }
    assert any("never bought through the log" in each for each in said["cautions"])


@pytest.mark.parametrize(
    ("by", "rows"),
    [
        ("piece", {"storm lantern": (MADE, SOLD + SERVED, SOLD + SERVED - MADE)}),
        ("route", {"storm-lantern": (MADE, SOLD + SERVED, SOLD + SERVED - MADE)}),
        ("order", {1: (0, SERVED, SERVED)}),
        (
            "trader",
            {"Wren": (144, 0, 0), "Moss": (144, 0, 0), "Ash": (0, SOLD, SOLD - MADE),
             "Fern": (0, SERVED, SERVED)},
        ),
        (
            "day",
            {"2026-11-02": (BOUGHT + NOT_LOGGED, SOLD, SOLD - MADE),
             "2026-11-03": (0, SERVED, SERVED)},
        ),
        ("season", {"autumn fair": (0, SERVED, SERVED)}),
    ],
)  # fmt: skip
def test_rows(ledger, evening, makeworth, by, rows):
    said = ledger("--by", by)
    found = {row[by]: (row["spent"], row["earned"], row["profit"]) for row in said["by"]}
    for key, row in rows.items():
        assert found[key] == pytest.approx(row), key
    for column in ("spent", "earned", "profit", "standing"):
        assert sum(row[column] for row in said["by"]) == pytest.approx(said[column])
    for row in said["by"]:
        assert row["profit"] == pytest.approx(row["earned"] - row["spent"] + row["standing"])
    shown = makeworth("ledger", *AS_OF, "--by", by, cwd=evening)
    assert shown.code == 0, shown.err
    assert all(len(line) <= 80 for line in shown.out.splitlines())


def test_as_of_sees_nothing_later(ledger):
    said = ledger("--as-of", "2026-11-01")
    assert (said["spent"], said["earned"], said["by"], said["stock"]) == (0, 0, [], [])


def test_first_in_first_out_by_the_settings(evening, ledger, makeworth):
    words = ("log", "buy", "lantern frame", "20", "9", "--at", "2026-11-02T20:31")
    assert makeworth(*words, cwd=evening).code == 0
    frames = {line["item"]: line for line in ledger()["stock"]}["lantern frame"]
    assert frames["unit_cost"] == pytest.approx((60 * 2.4 + 20 * 9) / 80)
    settings = evening / "makeworth.toml"
    text = settings.read_text()
    assert 'ledger = "average"' in text
    settings.write_text(text.replace('ledger = "average"', 'ledger = "fifo"'))
    frames = {line["item"]: line for line in ledger()["stock"]}["lantern frame"]
    assert frames["unit_cost"] == pytest.approx((20 * 2.4 + 20 * 9) / 40)


def test_a_followed_piece_uses_supplies(evening, ledger, makeworth):
    before = {line["item"]: line["qty"] for line in ledger("--as-of", "2027-01-01")["stock"]}
    seen = ("lantern frame 2.4", "binding wax 2.4", "etching salt 0.95")
    assert makeworth("quote", *seen, "--at", "2026-11-02T19:00", cwd=evening).code == 0
    keys = "bare frame\nempty table\nq\n"
    run = makeworth("follow", "storm-lantern", "--for", "keep", cwd=evening, text=keys)
    assert run.code == 0, run.err
    said = ledger("--as-of", "2027-01-01")
    after = {line["item"]: line["qty"] for line in said["stock"]}
    assert before["lantern frame"] - after["lantern frame"] == 1
    assert before["etching salt"] - after["etching salt"] == 3
    assert said["in_making"][0]["cost"] == pytest.approx(2.4 + 3 * 0.95 + 2.4)


def test_the_value_now_is_the_net_sale_level(ledger):
    said = ledger("--price", "lantern frame=4")
    frames = {line["item"]: line for line in said["stock"]}["lantern frame"]
    assert frames["value_now"] == pytest.approx(20 * 4 * 0.95)
    known = [line for line in said["stock"] if line["value_now"] is not None]
    assert said["not_yet"] == pytest.approx(sum(each["value_now"] - each["cost"] for each in known))


@pytest.mark.parametrize(
    ("price", "said"),
    [
        ("0.3", "just as much as it cost"),
        ("0.4", "0.3 more than it cost"),
        ("0.2", "0.3 less than"),
    ],
)
def test_stock_that_brings_its_cost_is_worth_just_as_much(workspace, makeworth, price, said):
    """Three bought at 0.1, 0.3 and 0.5: in binary, 3 x 0.3 is not quite their sum."""
    settings = workspace / "makeworth.toml"
    text = settings.read_text()
    assert 'sale_fee = "5 %"' in text
    settings.write_text(text.replace('sale_fee = "5 %"', 'sale_fee = "0 %"'))
    for paid in ("0.1", "0.3", "0.5"):
        assert makeworth("log", "buy", "frostglass", "1", paid, "--new", cwd=workspace).code == 0
    run = makeworth("ledger", "--price", f"frostglass={price}", cwd=workspace)
    assert run.code == 0, run.err
    assert f"sold now, it would bring {said}" in run.out


def test_an_empty_ledger_says_so(workspace, makeworth):
    run = makeworth("ledger", cwd=workspace)
    assert run.code == 0, run.err
    assert "nothing is in stock" in run.out


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--by", "peice"), 2, 'did you mean "piece"?'),
        (("--by", ""), 2, "known are"),
        (("--by",), 2, "--by"),
        (("--as-of", "soon"), 1, "soon"),
        (("--price", "lantern frame"), 2, "names no item"),
        (("--luck", "storm-lantern", "--by", "day"), 2, "do not go together"),
        (("storm-lantern",), 2, "storm-lantern"),
    ],
)
def test_wrong_input_is_one_sentence(workspace, makeworth, words, code, said):
    run = makeworth("ledger", *words, cwd=workspace)
    assert run.code == code, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err
