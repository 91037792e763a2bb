"""`makeworth advise stock`: its JSON, its terminal face, its refusals."""

from __future__ import annotations

import json
import math
import re
import shutil

import pytest

from advisor.cli.main import main
from advisor.figures import amount

ROUTE = """
[route]
makes = "storm lantern"
start = "empty table"

[[step]]
name = "etch"
from = "empty table"
uses = { "lantern frame" = 1, "binding wax" = 2 }
fee = "1 shell"
[step.outcomes]
"storm lantern" = { odds = "1 in 20", uses = { "lens setting" = 1 } }
"empty table" = "rest"
"""
SETTINGS = """
money = "shell"
timezone = "UTC"
[trade]
sale_fee = "5 %"
[[season]]
name = "autumn fair"
start = 2026-09-01
end = 2026-12-20
[item."lantern frame"]
family = "frames"
usual_qty = 20
also = ["frame"]
[item."binding wax"]
family = "waxes"
usual_qty = 20
lots_of = 10
[item."lens setting"]
family = "services"
"""
NOW = ("--as-of", "2026-10-01T12:00Z")
ITEM_KEYS = {
    *("item", "use", "on_hand", "buy_now", "pay_at_most", "offer", "reserve"),
    *("expected_cost", "plain_cost", "chance_short", "lots"),
}


@pytest.fixture(scope="module")
def first_stall(tmp_path_factory):
    """One route, one evening's ladder of frames, some wax, a service."""
    folder = tmp_path_factory.mktemp("market") / "fen"
    assert main(["start", str(folder), "--timezone", "UTC"]) == 0
    for file in (folder / "routes").glob("*.toml"):
        file.unlink()
    (folder / "routes" / "etched.toml").write_text(ROUTE)
    (folder / "makeworth.toml").write_text(SETTINGS)
    for words in (
        ("lantern frame", "2.4", "--qty", "12", "--trader", "Old Pemmick"),
        ("lantern frame", "2.6", "--qty", "30", "--trader", "Tansy Rook"),
        ("lantern frame", "2.0", "--qty", "20", "--side", "bid"),
        ("binding wax", "1.2", "--qty", "50", "--trader", "Hob Lathe"),
        ("lens setting", "15"),
    ):
        assert main(["quote", *words, "--at", "2026-10-01T10:00Z", "-w", str(folder)]) == 0
    return folder


@pytest.fixture
def stall(first_stall, tmp_path):
    """A stall of one's own for each test."""
    return shutil.copytree(first_stall, tmp_path / "fen")


def ask(makeworth, folder, *words):
    run = makeworth("advise", "stock", "etched", *NOW, *words, "--json", cwd=folder)
    assert run.code == 0, run.err
    return run.json


def by_item(answer):
    return {each["item"]: each for each in answer["items"]}


def test_json_keeps_the_contract(stall, makeworth):
    answer = ask(makeworth, stall, "--pieces", "3", "--within", "6")
    assert answer["route"] == "etched"
    assert answer["pieces"] == 3
    assert answer["within"] == 6
    items = by_item(answer)
    assert set(items) == {"lantern frame", "binding wax", "lens setting"}  # money is no supply
    for each in items.values():
        assert set(each) >= ITEM_KEYS
        assert set(each["use"]) >= {"mean", "quantiles"}
    frame = items["lantern frame"]
    assert set(frame["offer"]) >= {"price", "chance_within"}
    assert [each["day"] for each in frame["reserve"]] == [1, 2, 3, 4, 5]
    assert sum(lot["qty"] for lot in frame["lots"]) == frame["buy_now"]
    assert answer["cautions"]
    assert answer["reasons"]
    shares = {"0.05", "0.25", "0.5", "0.8", "0.9", "0.95", "0.99"}
    assert set(frame["use"]["quantiles"]) == shares
    assert set(frame["lots"][0]) >= {"qty", "unit_price", "trader"}
    assert set(frame["reserve"][0]) >= {"day", "price"}
    assert answer["as_of"] == "2026-10-01T12:00:00Z"
    assert answer["budget"] is None
    # nothing is NaN or infinite, with a purse as without one
    for words in (("--within", "6"), ("--budget", "50"), ("--budget", "0", "--on-hand", "frame=9")):
        text = makeworth("advise", "stock", "etched", *NOW, *words, "--json", cwd=stall).out
        json.loads(text, parse_constant=pytest.fail)


def test_use_is_that_of_the_route(stall, makeworth):
    """Tries until the third success of 1 in 20: 60 on average, two waxes each."""
    items = by_item(ask(makeworth, stall, "--pieces", "3"))
    assert items["lantern frame"]["use"]["mean"] == pytest.approx(60, rel=1e-6)
    assert items["binding wax"]["use"]["mean"] == pytest.approx(120, rel=1e-6)
    one = by_item(ask(makeworth, stall))["lantern frame"]["use"]["quantiles"]
    # 1 - 0.95^n >= 0.5 from n = 14 on, >= 0.95 from n = 59 on
    assert one["0.5"] == 14
    assert one["0.95"] == 59
    assert one["0.95"] == math.ceil(math.log(0.05) / math.log(0.95))


def test_lots_name_the_traders_cheapest_first(stall, makeworth):
    frame = by_item(ask(makeworth, stall, "--pieces", "3"))["lantern frame"]
    first = {"qty": 12, "unit_price": 2.4, "trader": "Old Pemmick", "risk": 0}
    assert frame["lots"][0] == first
    if frame["buy_now"] > 12:
        assert frame["lots"][1]["trader"] == "Tansy Rook"


def test_known_prices_are_a_newsvendor(stall, makeworth):
    """At a fixed price nothing is gained by buying before it is needed."""
    fixed = ("--price", "frame=2", "--price", "binding wax=1", "--price", "lens setting=10")
    items = by_item(ask(makeworth, stall, *fixed))
    assert items["lantern frame"]["buy_now"] == 0
    assert items["lantern frame"]["expected_cost"] == pytest.approx(2 * 20, rel=1e-6)
    assert items["lantern frame"]["offer"] is None
    assert items["lens setting"]["expected_cost"] == pytest.approx(10)
    # buying 20 now and selling what is left at 2 less 5 % is dearer
    assert items["lantern frame"]["plain_cost"] > items["lantern frame"]["expected_cost"]


def test_time_lost_makes_stock_worth_while(stall, makeworth):
    fixed = ("--price", "frame=2", "--price", "binding wax=1", "--price", "lens setting=10")
    settings = (stall / "makeworth.toml").read_text()
    (stall / "makeworth.toml").write_text(settings.replace("[trade]", "[trade]\nhour_value = 120"))
    busy = by_item(ask(makeworth, stall, *fixed, "--trip-minutes", "15"))
    assert busy["lantern frame"]["buy_now"] > 20
    idle = by_item(ask(makeworth, stall, *fixed, "--trip-minutes", "0"))
    assert idle["lantern frame"]["buy_now"] == 0


def test_stock_on_hand_is_taken_off(stall, makeworth):
    plain = by_item(ask(makeworth, stall, "--pieces", "3"))["lantern frame"]
    stocked = by_item(
        ask(makeworth, stall, "--pieces", "3", "--on-hand", "frame=25", "--on-hand", "frame=5")
    )["lantern frame"]
    assert stocked["on_hand"] == 30
    assert stocked["use"] == plain["use"]
    assert stocked["expected_cost"] < plain["expected_cost"]
    enough = by_item(ask(makeworth, stall, "--on-hand", "frame=9999"))["lantern frame"]
    assert enough["buy_now"] == 0
    assert enough["expected_cost"] == 0


def test_whole_lots_and_services(stall, makeworth):
    items = by_item(ask(makeworth, stall, "--pieces", "3"))
    assert items["binding wax"]["buy_now"] % 10 == 0
    assert items["lens setting"]["buy_now"] == 0
    assert items["lens setting"]["reserve"] == []
    assert items["lens setting"]["offer"] is None


def test_what_is_used_up_together(stall, makeworth):
    answer = ask(makeworth, stall, "--pieces", "3")
    (group,) = answer["together"]
    assert set(group["items"]) == {"lantern frame", "binding wax"}
    items = by_item(answer)
    # at one pace: the worse one of the two decides
    assert answer["chance_any_short"] == pytest.approx(
        max(items[name]["chance_short"] for name in group["items"])
    )


def test_a_purse_is_kept_to(stall, makeworth):
    free = ask(makeworth, stall)
    tight = ask(makeworth, stall, "--budget", "30 shell")
    assert free["spend_now"] > 30
    assert tight["spend_now"] <= 30
    assert tight["budget"]["spent"] == pytest.approx(tight["spend_now"])
    assert tight["budget"]["keep"] == pytest.approx(30 - tight["spend_now"])
    assert tight["expected_cost"] >= free["expected_cost"]
    assert tight["budget"]["lower"] <= tight["expected_cost"]
    assert any("does not see the first piece through" in each for each in tight["cautions"])
    nothing = ask(makeworth, stall, "--budget", "0")
    assert nothing["spend_now"] == 0
    assert nothing["budget"]["chance_started"] == 0


def test_how_far_a_purse_lasts_is_the_law_of_the_tries(stall, makeworth):
    """At fixed prices: 1 fee and a frame at 2 each try, wax at 1 in tens, a lens at 10 a piece.

    30 tries come to 90 + 60, and 31 to 93 + 70. So 170 is enough for one piece, or for
    two, if they take 30 tries or fewer: a geometric and a negative binomial law.
    """
    fixed = ("--price", "frame=2", "--price", "binding wax=1", "--price", "lens setting=10")
    said = ask(makeworth, stall, *fixed, "--pieces", "2", "--budget", "170")
    first, both = (each["chance"] for each in said["budget"]["parts"])
    assert first == pytest.approx(1 - 0.95**30, abs=0.03)
    assert both == pytest.approx(1 - 0.95**30 - 30 * 0.05 * 0.95**29, abs=0.03)
    assert said["budget"]["start"] == [{"route": "etched", "pieces": 1}]
    rich = ask(makeworth, stall, *fixed, "--pieces", "2", "--budget", "2000")
    assert rich["budget"]["start"] == [{"route": "etched", "pieces": 2}]
    assert rich["budget"]["lacking"] == pytest.approx(0, abs=0.5)


def test_a_purse_for_several_routes_goes_to_what_is_worth_most(stall, makeworth):
    easy = ROUTE.replace("1 in 20", "1 in 2").replace("storm lantern", "marsh lantern")
    (stall / "routes" / "easy.toml").write_text(easy)
    words = ("--also", "easy=2", "--budget", "90", "--price", "marsh lantern=100")
    said = ask(makeworth, stall, *words)
    assert said["budget"]["start"] == [{"route": "easy", "pieces": 2}]
    assert [each["route"] for each in said["budget"]["parts"]] == ["easy", "easy", "etched"]
    # supplies are those of what is started: twice 2 tries
    assert by_item(said)["lantern frame"]["use"]["mean"] == pytest.approx(4)
    assert any("start 2 of the 3 pieces: 2 by easy" in each for each in said["reasons"])
    assert any("No price of storm lantern is known" in each for each in said["cautions"])


def log(makeworth, stall, *words):
    run = makeworth("log", *words, "--at", "2026-10-01T11:00Z", cwd=stall)
    assert run.code == 0, run.err


def test_a_trader_who_did_not_deliver_costs_the_risk(stall, makeworth):
    """One of one failed: 1.2 / 5 on Beta(0.2, 3.8), times the level."""
    before = by_item(ask(makeworth, stall, "--pieces", "3"))["lantern frame"]
    assert before["lots"][0]["trader"] == "Old Pemmick"
    log(makeworth, stall, "buy", "lantern frame", "5", "1.5", "--trader", "Old Pemmick", "--broken")
    run = makeworth("advise", "stock", "etched", "--pieces", "3", *NOW, cwd=stall)
    assert "Old Pemmick did not deliver 1 of 1 paid deals" in " ".join(run.out.split())
    after = by_item(ask(makeworth, stall, "--pieces", "3"))["lantern frame"]
    assert after["expected_cost"] > before["expected_cost"]
    assert all(each["trader"] != "Old Pemmick" or each["risk"] > 0.5 for each in after["lots"])
    assert after["on_hand"] == 0


def test_on_hand_is_what_the_ledger_has(stall, makeworth):
    log(makeworth, stall, "buy", "lantern frame", "25", "2.2")
    answer = ask(makeworth, stall)
    assert by_item(answer)["lantern frame"]["on_hand"] == 25
    assert any("On hand by the ledger: 25 lantern frame" in each for each in answer["cautions"])
    typed = ask(makeworth, stall, "--on-hand", "frame=7")
    assert by_item(typed)["lantern frame"]["on_hand"] == 7
    assert not any("by the ledger" in each for each in typed["cautions"])
    assert by_item(ask(makeworth, stall, "--on-hand", "frame=0"))["lantern frame"]["on_hand"] == 0


def test_a_price_list_is_used(stall, makeworth):
    items = by_item(ask(makeworth, stall, "--pieces", "3", "--tier", "frame=40:1.6"))
    frame = items["lantern frame"]
    assert frame["buy_now"] >= 40
    assert frame["lots"][0]["unit_price"] == pytest.approx(1.6)
    beyond = by_item(ask(makeworth, stall, "--pieces", "3", "--tier-beyond", "frame=0:2.5,30:1.0"))
    assert beyond["lantern frame"]["buy_now"] > 30


def test_several_routes_at_once(stall, makeworth):
    (stall / "routes" / "other.toml").write_text(ROUTE.replace("1 in 20", "1 in 5"))
    both = ask(makeworth, stall, "--pieces", "2", "--also", "other=4")
    assert both["also"] == [{"route": "other", "pieces": 4}]
    frame = by_item(both)["lantern frame"]
    assert frame["use"]["mean"] == pytest.approx(2 * 20 + 4 * 5, rel=1e-6)


def test_what_two_routes_use_is_short_together(stall, makeworth):
    """Frames and wax go at one pace in both routes: the worse one decides, played out."""
    (stall / "routes" / "other.toml").write_text(ROUTE.replace("1 in 20", "1 in 5"))
    both = ask(makeworth, stall, "--pieces", "2", "--also", "other=4")
    items = by_item(both)
    worst = max(items[name]["chance_short"] for name in ("lantern frame", "binding wax"))
    assert both["chance_any_short"] == pytest.approx(worst, abs=0.04)


def test_curve_shows_what_if(stall, makeworth):
    frame = by_item(ask(makeworth, stall, "--pieces", "3"))["lantern frame"]
    quantities = [point["qty"] for point in frame["curve"]]
    assert quantities == sorted(quantities)
    assert len(quantities) >= 4
    assert frame["buy_now"] in quantities
    best = min(point["expected_cost"] for point in frame["curve"])
    assert frame["expected_cost"] <= best + 1e-9
    assert frame["expected_cost"] <= frame["plain_cost"]


def test_the_season_cuts_the_days_short(stall, makeworth):
    answer = ask(makeworth, stall, "--within", "100")
    assert answer["within"] == 80  # noon of October 1st to the end of December 20th
    assert any("season ends in 80 days" in each for each in answer["cautions"])


def test_leftovers_count_nothing_at_the_end_of_the_season(stall, makeworth):
    for words in (("lantern frame", "2.4"), ("binding wax", "1.2"), ("lens setting", "15")):
        makeworth("quote", *words, "--qty", "60", "--at", "2026-12-19T10:00Z", cwd=stall)
    run = makeworth(
        *("advise", "stock", "etched", "--json", "--as-of", "2026-12-19T12:00Z"), cwd=stall
    )
    assert run.code == 0, run.err
    assert any("counts nothing" in each for each in run.json["cautions"])


def test_prices_of_a_season_that_is_over_are_told(stall, makeworth):
    run = makeworth(
        *("advise", "stock", "etched", "--json", "--as-of", "2027-02-01T12:00Z"), cwd=stall
    )
    assert run.code == 0, run.err
    cautions = " ".join(run.json["cautions"])
    assert "of a market that has closed" in cautions
    assert "Old prices:" in cautions
    assert "One quote only: binding wax, lens setting." in cautions


def test_a_lot_larger_than_any_need_is_said(stall, makeworth):
    settings = (stall / "makeworth.toml").read_text()
    (stall / "makeworth.toml").write_text(settings.replace("lots_of = 10", "lots_of = 5000"))
    answer = ask(makeworth, stall)
    assert any("sold in lots of 5000" in each for each in answer["cautions"])
    assert by_item(answer)["binding wax"]["buy_now"] in (0, 5000)


def test_posts_are_lines_to_put_up(stall, makeworth):
    run = makeworth(
        *("advise", "stock", "etched", "--pieces", "3", "--within", "5", "--post", *NOW), cwd=stall
    )
    assert run.code == 0, run.err
    lines = run.out.splitlines()
    assert any(line.startswith("Wanted: ") and "lantern frame" in line for line in lines)
    assert all("shell each, within 5 days" in line for line in lines)


def test_terminal_fits_80_columns(stall, makeworth):
    for words in ((), ("--within", "9"), ("--budget", "40"), ("--post",)):
        shown = makeworth("advise", "stock", "etched", "--pieces", "3", *NOW, *words, cwd=stall)
        assert shown.code == 0, shown.err
        assert max(map(len, shown.out.splitlines())) <= 80, shown.out
        assert "lantern frame" in shown.out
    shown = makeworth("advise", "stock", "etched", "--pieces", "3", *NOW, cwd=stall).out
    for said in ("BUY NOW", "what if I buy", "Old Pemmick", "not a promise", "can be bait"):
        assert said in shown


def test_terminal_is_readable_at_50_columns(stall, makeworth, monkeypatch):
    monkeypatch.setattr("advisor.cli.screen.WIDTH", 50)
    words = ("--pieces", "3", "--within", "9", "--budget", "400")
    shown = makeworth("advise", "stock", "etched", *NOW, *words, cwd=stall)
    lines = shown.out.splitlines()
    assert max(map(len, lines)) <= 50, shown.out
    # no cell is broken within a word
    assert sum(line.startswith("lantern frame") for line in lines) >= 4


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("etchd",), 1, 'did you mean "etched"?'),
        (("etched", "--pieces", "0"), 2, "--pieces 0 is out of range"),
        (("etched", "--pieces", "-3"), 2, "--pieces -3 is out of range"),
        (("etched", "--pieces", "soon"), 2, "--pieces"),
        (("etched", "--within", "0"), 2, "--within 0 is out of range"),
        (("etched", "--within", "999"), 2, "1 to 120 days"),
        (("etched", "--on-hand", "frame=-4"), 1, "-4 units on hand"),
        (("etched", "--on-hand", "frame=many"), 1, "no number of units"),
        (("etched", "--on-hand", "lantern fraem=4"), 1, 'did you mean "lantern frame"?'),
        (("etched", "--on-hand", "4"), 2, "names no item"),
        (("etched", "--tier", "frame=40"), 2, "no price list"),
        (("etched", "--tier", "40:2"), 2, "names no item"),
        (("etched", "--tier", "frame=40:0"), 1, "a lot and a price above 0"),
        (("etched", "--tier", "frame=40:inf"), 1, "a lot and a price above 0"),
        (("etched", "--tier", "frame=1e300:2"), 1, "a lot of 1e+300 is out of range"),
        (("etched", "--tier", "wool=40:2"), 1, "no step uses this item"),
        (("etched", "--tier", "frame=9:2", "--tier-beyond", "frame=9:2"), 2, "two price lists"),
        (("etched", "--also", "etched"), 2, "names no pieces"),
        (("etched", "--also", "etched=0"), 2, "--also 0 is out of range"),
        (("etched", "--also", "inlaid=2"), 1, "there is no route 'inlaid'"),
        (("etched", "--tied-up", "dear"), 1, "--tied-up"),
        (("etched", "--tied-up", "100 %"), 2, "no share"),
        (("etched", "--trip-minutes", "-1"), 2, "out of range"),
        (("etched", "--budget", "much"), 1, "--budget"),
        (("etched", "--price", "frame=0"), 1, "0"),
        (("etched", "--as-of", "2026-13-01"), 1, "2026-13-01"),
    ],
)
def test_wrong_input_is_one_sentence(stall, makeworth, words, code, said):
    run = makeworth("advise", "stock", *words, *(() if "--as-of" in words else NOW), cwd=stall)
    assert run.code == code, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err


def test_an_item_never_quoted_is_named(stall, makeworth):
    text = ROUTE.replace('"binding wax" = 2', '"binding wax" = 2, "black wax" = 1')
    (stall / "routes" / "etched.toml").write_text(text)
    run = makeworth("advise", "stock", "etched", *NOW, cwd=stall)
    assert run.code == 1
    assert run.is_one_sentence(), run.err
    assert "black wax" in run.err


def test_later_days_are_told_in_words(stall, makeworth):
    """The figures are those of the JSON; what they mean is said with the same figures."""
    words = ("advise", "stock", "etched", "--pieces", "3", "--within", "9", *NOW)
    items = makeworth(*words, "--json", cwd=stall).json["items"]
    shown = makeworth(*words, cwd=stall).out
    assert "buy later" in shown
    assert "on day 1" in shown
    (frame,) = (each for each in items if each["item"] == "lantern frame")
    first = frame["reserve"][0]
    told = f"up to {amount(first['price'], digits=3)}, {first['units']} more"
    assert told in " ".join(shown.split())
    meant = re.search(
        r"up to (\S+), (\d+) more: buy more .* at the price foreseen[^,]*, \2 more",
        (" ".join(shown.split())),
    )
    assert meant is not None
    assert f"costs {meant[1]} each or less" in meant[0]
