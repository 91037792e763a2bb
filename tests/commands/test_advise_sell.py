"""`makeworth advise sell`: its JSON, its terminal face, its line to put up, its refusals."""

from __future__ import annotations

import math
import shutil

import pytest

from advisor.cli.main import main

ROUTE = """
[route]
makes = "storm lantern"
start = "empty table"

[[step]]
name = "take"
from = "empty table"
uses = { "lantern frame" = 1 }
to = "marked frame"

[[step]]
name = "seal"
from = "marked frame"
uses = { "binding wax" = 4 }
minutes = 30
[step.outcomes]
"storm lantern" = "50 %"
"empty table" = "rest"

[market]
"marked frame" = "marked lantern frame"
"""
SETTINGS = """
money = "shell"
timezone = "UTC"
[trade]
sale_fee = "5 %"
[[season]]
name = "autumn fair"
start = 2026-09-01
end = 2026-10-20
[item."storm lantern"]
sells_per_day = 2
also = ["lantern"]
"""
QUOTES = (
    ("lantern frame", "25"),
    ("binding wax", "1"),
    ("storm lantern", "100", "--trader", "Old Pemmick"),
    ("storm lantern", "104", "--trader", "Tansy Rook"),
    ("storm lantern", "80", "--side", "bid"),
    ("storm lantern", "95", "--side", "deal"),
    ("marked lantern frame", "30"),
    ("marked lantern frame", "14", "--side", "bid"),
    ("crown 125 shell",),
    ("dull lantern", "30"),
)


@pytest.fixture(scope="module")
def first_stall(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sell") / "fen"
    assert main(["start", str(folder), "--timezone", "UTC"]) == 0
    for file in (folder / "routes").glob("*.toml"):
        file.unlink()
    (folder / "routes" / "sealed.toml").write_text(ROUTE)
    (folder / "makeworth.toml").write_text(SETTINGS)
    for words in QUOTES:
        assert main(["quote", *words, "--at", "2026-10-01T10:00Z", "-w", str(folder)]) == 0
    assert main(["quote", "flux 1 crown", "--at", "2026-10-01T10:00Z", "-w", str(folder)]) == 0
    return folder


@pytest.fixture
def stall(first_stall, tmp_path):
    return shutil.copytree(first_stall, tmp_path / "fen")


@pytest.fixture
def ask(makeworth, stall):
    def run(piece, *words, when="2026-10-01T12:00Z"):
        return makeworth("advise", "sell", piece, "--as-of", when, *words, cwd=stall)

    return run


def test_json_keeps_the_contract(ask):
    answer = ask("storm lantern", "--count", "3", "--within", "5", "--json").json
    assert (answer["piece"], answer["count"]) == ("storm lantern", 3)
    assert [each["day"] for each in answer["schedule"]] == [0, 1, 2, 3, 4]
    assert all(set(each) >= {"day", "left", "ask", "sold_by_then"} for each in answer["schedule"])
    assert answer["ask_now"] == answer["schedule"][0]["ask"]
    assert answer["verdict"] == "list now"
    assert answer["floor"] < answer["ask_now"]
    assert all(set(each) >= {"what", "profit_per_hour"} for each in answer["compare"])
    assert answer["reasons"]
    assert answer["cautions"]
    sold = [each["sold_by_then"] for each in answer["schedule"]]
    assert sold == sorted(sold)


def test_brings_more_than_the_habits_it_names(ask):
    answer = ask("storm lantern", "--count", "3", "--within", "5", "--json").json
    one_ask, bids = (each["proceeds"] for each in answer["against"])
    assert answer["expected_proceeds"] >= one_ask > bids
    # bids of 80 less the fee of 5 %, three pieces
    assert bids == pytest.approx(3 * 76, rel=0.02)


def test_a_fixed_price_by_hand(ask):
    """A what-if price of 120 is where listings sell; each day prices stand still. The hourly
    profit of making: proceeds less (frame 25 + wax 4) * 2 for an hour of two seals."""
    answer = ask("storm lantern", "--price", "storm lantern=120", "--within", "1", "--json").json
    made = next(each for each in answer["compare"] if each["what"].startswith("make"))
    assert made["profit"] == pytest.approx(answer["expected_proceeds"] - 58, rel=1e-6)
    assert made["profit_per_hour"] == pytest.approx(made["profit"], rel=1e-6)


def test_half_made_piece_is_compared_with_finishing(ask):
    """From the marked frame: 4 of wax, and in half the cases all again with a new frame: 33;
    an hour on average, for each seal takes half an hour and two are needed."""
    answer = ask("marked lantern frame", "--json").json
    finish = next(each for each in answer["compare"] if each["what"].startswith("finish"))
    make = next(each for each in answer["compare"] if each["what"].startswith("make storm"))
    sold = make["profit"] + 58
    assert finish["profit"] == pytest.approx(sold - answer["expected_proceeds"] - 33, rel=1e-6)
    assert finish["profit_per_hour"] == pytest.approx(finish["profit"], rel=1e-6)


def test_asks_are_before_the_fee_and_levels_after(ask, makeworth, stall):
    """The sale level is what is left of a price; the market's level and the asks are prices."""
    prices = makeworth(
        "prices", "storm lantern", "--as-of", "2026-10-01T12:00Z", "--json", cwd=stall
    ).json
    answer = ask("storm lantern", "--json").json
    assert answer["level"] == pytest.approx(prices["items"][0]["sale"]["level"] / 0.95)


def test_profit_on_money_tied_up(ask):
    """Making ties up 58 on average; finishing what the piece brings as it is, and 33."""
    answer = ask("marked lantern frame", "--json").json
    ways = {" ".join(each["what"].split()[:2]): each for each in answer["compare"]}
    assert ways["make storm"]["profit_per_money"] == pytest.approx(
        ways["make storm"]["profit"] / 58
    )
    tied_up = answer["expected_proceeds"] + 33
    assert ways["finish marked"]["profit_per_money"] == pytest.approx(
        ways["finish marked"]["profit"] / tied_up
    )


def test_terminal_and_post(ask):
    run = ask("lantern", "--count", "3")
    assert run.code == 0, run.err
    assert "LIST NOW" in run.out
    assert max(map(len, run.out.splitlines())) <= 80
    line = ask("lantern", "--count", "3", "--post").out
    assert line.startswith("Offered: 3 storm lantern at ")
    assert len(line.splitlines()) == 1


def test_season_end_cuts_the_days_and_is_said(ask):
    answer = ask("storm lantern", "--within", "60", "--json").json
    assert answer["within"] == 19  # the last day, 20 October, counts
    assert any("cut to 19" in each for each in answer["cautions"])
    assert any("worth nothing" in each for each in answer["cautions"])


def test_more_than_the_market_takes_is_said(ask):
    answer = ask("storm lantern", "--count", "200", "--within", "30", "--json").json
    said = [each for each in answer["cautions"] if "More than the market takes" in each]
    assert len(said) == 1
    assert "until the season ends" in said[0]
    assert "200" in said[0]


def test_no_bids_is_said_and_null(ask):
    answer = ask("dull lantern", "--json").json
    assert answer["against"][1]["proceeds"] is None
    assert any("Nobody is seen bidding" in each for each in answer["cautions"])
    assert any("one of yours a day is taken" in each for each in answer["cautions"])


def test_deals_tell_how_many_sell(ask, stall, makeworth):
    """Ten deals of 3 in ten days are 3 a day; one standing ask shares them with you: 1.5."""
    for day in range(21, 31):
        words = ("dull lantern", "28", "--qty", "3", "--side", "deal")
        run = makeworth("quote", *words, "--at", f"2026-09-{day}T12:00Z", cwd=stall)
        assert run.code == 0, run.err
    answer = ask("dull lantern", "--json").json
    assert any("shared among 2 sellers: 1.5 of yours" in each for each in answer["cautions"])
    # thirty units in the 10.0 days since the first deal, half of them yours, for a week
    assert answer["market_takes"] == pytest.approx(1.5 * 7, rel=0.05)


def test_own_sales_move_what_the_settings_say(ask, stall, makeworth):
    """Settings say 2 a day and count as 5 sales. Nine lanterns sold one a day at the level
    of that time, the first of which starts the clock: 5 + 8 sold in 2.5 + 8 days."""
    level = ask("storm lantern", "--json").json["level"]
    for day in range(22, 31):
        words = ("sale", "storm lantern", "1", f"{level:.6f}", "--at", f"2026-09-{day}T12:00Z")
        run = makeworth("log", *words, cwd=stall)
        assert run.code == 0, run.err
    answer = ask("storm lantern", "--json").json
    demand = answer["demand"]
    assert (demand["sold"], demand["assumed"], demand["assumed_counts_as"]) == (8, 2, 5)
    assert demand["a_day"] == pytest.approx(13 / (2.5 + demand["days"]))
    # By hand: asks of then had a median of 102, and the level lies as far below it as now;
    # a quarter of the level's buyers buy at the asks, so the width is log(ask / level) / log 7.
    prices = makeworth(
        "prices", "storm lantern", "--as-of", "2026-10-01T12:00Z", "--json", cwd=stall
    )
    asks, now = prices.json["items"][0]["ask"]["level"], answer["level"]
    above = math.log(level / (102 * now / asks)) / (math.log(asks / now) / math.log(7))
    assert demand["days"] == pytest.approx(8 * 2 / (1 + math.exp(above)), rel=1e-4)
    assert demand["low_95"] < demand["a_day"] < 2
    (said,) = [each for each in answer["cautions"] if each.startswith("Learned from")]
    assert said.startswith("Learned from 9 of yours sold, 8 of them in ")
    assert " days after the first, counted as if at the level" in said


def test_own_listings_tell_how_long_things_stood(ask, stall, makeworth):
    """Two stood from the 28th, one sold a day later, one on the 30th at noon: two sold in
    two days, though both were dear; sold out, nothing stands any more."""
    settings = (stall / "makeworth.toml").read_text()
    (stall / "makeworth.toml").write_text(
        settings.replace('sale_fee = "5 %"', 'sale_fee = "5 %"\nstall = "Wren Hollow"')
    )
    words = ("storm lantern", "95", "--qty", "2", "--trader", "Wren Hollow")
    assert makeworth("quote", *words, "--at", "2026-09-28T12:00Z", cwd=stall).code == 0
    for day in (29, 30):
        words = ("sale", "storm lantern", "1", "95", "--at", f"2026-09-{day}T12:00Z")
        assert makeworth("log", *words, cwd=stall).code == 0
    demand = ask("storm lantern", "--json").json["demand"]
    assert demand["sold"] == 2
    # two days, counted by the share of the level's buyers who pay 95: between 0 and 2
    assert 0 < demand["days"] <= 4
    assert demand["a_day"] == pytest.approx(7 / (2.5 + demand["days"]))


def test_bidders_want_so_many(ask, stall, makeworth):
    """One is wanted at 85, two at 80, said today; the bid of 80 from before said no number, so
    it has to be seen anew. Net of 5 %: three at once bring 85 + 2 * 80 less the fee, and the
    other seven of ten are not wanted today."""
    for price, qty, trader in (("85", "1", "Hob Lathe"), ("80", "2", "Tansy Rook")):
        words = ("storm lantern", price, "--qty", qty, "--side", "bid", "--trader", trader)
        assert makeworth("quote", *words, "--at", "2026-10-01T11:00Z", cwd=stall).code == 0
    words = ("--count", "10", "--within", "2", "--json")
    unsaid = ask("storm lantern", *words).json
    assert unsaid["bidders_want"] == 10
    answer = ask("storm lantern", *words, when="2026-10-02T10:30Z").json
    assert answer["bidders_want"] == 3
    assert answer["against"][1]["proceeds"] == pytest.approx(0.95 * (85 + 160), rel=1e-6)
    assert answer["sell_at_once"] <= 3
    assert answer["expected_proceeds"] < unsaid["expected_proceeds"]
    assert any("wanted each day" in each for each in answer["cautions"])
    assert any("the 3 that are wanted" in each for each in answer["reasons"])


def test_undercutting_and_a_listing_that_stands(ask, stall, makeworth):
    """An ask of 90 stands: undercutting it brings no more than the plan. Looking every third
    day brings no more than every day, and no less than never."""
    words = ("storm lantern", "90", "--qty", "2", "--trader", "Hob Lathe")
    assert makeworth("quote", *words, "--at", "2026-10-01T10:00Z", cwd=stall).code == 0
    daily = ask("storm lantern", "--count", "3", "--json").json
    assert daily["undercut"]["ask"] == pytest.approx(0.99 * 90)
    assert daily["undercut"]["proceeds"] <= daily["expected_proceeds"]
    third = ask("storm lantern", "--count", "3", "--relist", "3", "--json").json
    assert [each["day"] for each in third["schedule"]] == [0, 3, 6]
    assert third["expected_proceeds"] <= daily["expected_proceeds"]
    never = ask("storm lantern", "--count", "3", "--relist", "7", "--json").json
    assert len(never["schedule"]) == 1
    assert never["expected_proceeds"] <= third["expected_proceeds"]


def test_what_is_left_at_the_end_is_worth_what_the_settings_say(ask, stall):
    """With 40 for every lantern never sold, two hundred in a day bring at least 200 * 40."""
    before = ask("dull lantern", "--count", "200", "--within", "1", "--json").json
    settings = (stall / "makeworth.toml").read_text()
    (stall / "makeworth.toml").write_text(settings + '[item."dull lantern"]\nleftover = 4\n')
    after = ask("dull lantern", "--count", "200", "--within", "1", "--json").json
    gain = after["expected_proceeds"] - before["expected_proceeds"]
    assert 4 * 195 < gain <= 4 * 200
    assert any("bring 4" in each for each in after["cautions"])


APART = """
[route]
makes = "binding wax"
start = "scrap table"

[[step]]
name = "take apart"
from = "scrap table"
uses = { "storm lantern" = 1 }
minutes = 6
[step.outcomes]
"binding wax" = { odds = "50 %", gives = { "lantern frame" = 1 } }
"dross" = "rest"

[[step]]
name = "sweep"
from = "dross"
fee = "1 shell"
to = "scrap table"
"""


def test_taking_apart(ask, stall):
    """A step gives a frame back half the time: half its net sale price, no more."""
    (stall / "routes" / "apart.toml").write_text(APART)
    answer = ask("storm lantern", "--json").json
    frame = ask("lantern frame", "--json").json["level"] * 0.95
    assert answer["taken_apart"]["step"] == "take apart"
    assert answer["taken_apart"]["value"] == pytest.approx(frame / 2, rel=1e-6)
    row = next(each for each in answer["compare"] if each["kind"] == "taken apart")
    assert row["profit"] == pytest.approx(frame / 2 - answer["expected_proceeds"])


def test_every_kind_is_compared(ask):
    """The half-made stage on the way, the supplies as they are: 25 + 4 * 2 = 58 for a lantern
    would bring their net sale prices; making a marked frame costs one frame of 25 and brings
    what selling one as planned does."""
    rows = {each["kind"]: each for each in ask("storm lantern", "--json").json["compare"]}
    assert set(rows) == {"piece", "half-made", "supplies"}
    sold = sum(
        units * ask(item, "--json").json["level"] * 0.95
        for item, units in (("lantern frame", 2), ("binding wax", 8))
    )
    assert rows["supplies"]["profit"] == pytest.approx(sold - 58, rel=1e-6)
    half = [e for e in ask("storm lantern", "--json").json["compare"] if e["kind"] == "half-made"]
    made = next(each for each in half if each["what"].startswith("make marked"))
    brings = ask("marked lantern frame", "--json").json["expected_proceeds"]
    assert made["profit"] == pytest.approx(brings - 25, rel=1e-6)
    assert rows["supplies"]["what"] == "sell the supplies of sealed instead of using them"


def test_what_is_left_is_told_in_words(ask):
    one, many = (" ".join(ask("lantern", "--count", count).out.split()) for count in ("1", "3"))
    assert "left: unsold pieces to expect that morning, half the time more, half fewer;" in one
    assert "if 1, if 3: the ask should only 1, or still all 3, be left." in many
    assert "if 1" not in one


def test_quotes_not_believed_are_said(ask, makeworth, stall):
    """One ask at a tenth of the others: said with the answer, and beside the line to put up."""
    assert "not believed" not in ask("storm lantern").out
    assert ask("storm lantern", "--post").err == ""
    words = ("quote", "storm lantern", "9", "--trader", "Crake", "--at", "2026-10-01T11:00Z")
    assert makeworth(*words, cwd=stall).code == 0
    assert "! Quotes not believed, see prices ITEM --quotes: storm lantern (1)." in (
        ask("storm lantern").out
    )
    post = ask("storm lantern", "--post")
    assert post.out.startswith("Offered: 1 storm lantern at ")
    assert "note: Quotes not believed" in post.err
    old = ask("dull lantern", when="2026-10-11T12:00Z")
    assert "Old prices: dull lantern (10 days)" in old.out
    assert "One quote only: dull lantern." in old.out


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["storm lantern", "--relist", "0"], 2, "1 to 120 days"),
        (["storm lanter"], 1, 'did you mean "storm lantern"'),
        (["moonbeam"], 1, "nothing is known"),
        (["storm lantern", "--count", "0"], 2, "1 to 1000"),
        (["storm lantern", "--within", "0"], 2, "1 to 120 days"),
        (["storm lantern", "--within", "-3"], 2, "1 to 120 days"),
        (["crown"], 1, "money"),
        (["storm lantern", "--price", "storm lantern=0"], 1, "price"),
        (["storm lantern", "--price", "12"], 2, "names no item"),
        (["storm lantern", "--price", "storm lanter=12"], 1, 'did you mean "storm lantern"'),
    ],
)
def test_refusals(ask, words, code, said):
    run = ask(*words)
    assert run.code == code
    assert run.is_one_sentence()
    assert said in run.err


def test_item_without_a_price_it_sells_at(ask):
    run = ask("storm lantern", when="2026-09-01T00:00Z")
    assert run.code == 1
    assert run.is_one_sentence()
