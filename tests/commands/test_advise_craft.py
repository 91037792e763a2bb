"""`makeworth advise craft`: the verdict, its JSON, its sentences, its refusals."""

from __future__ import annotations

import shutil

import numpy as np
import pytest

ROUTE = """
[route]
makes = "storm lantern"
start = "empty table"

[[step]]
name = "etch"
from = "empty table"
uses = { "lantern frame" = 1, "binding wax" = 2 }
[step.outcomes]
"storm lantern" = "1 in 40"
"empty table" = "rest"
"""
FIXED = ("--price", "lantern frame=2", "--price", "binding wax=0.5")

ANSWER_KEYS = {
    *("piece", "for", "money", "as_of", "verdict", "route", "buy", "make", "saving"),
    *("chance_make_cheaper", "chance_this_one_cheaper", "uncertainty", "routes"),
    *("break_even", "choices", "reasons", "cautions"),
}


@pytest.fixture
def shop(workspace):
    for file in (workspace / "routes").glob("*.toml"):
        file.unlink()
    (workspace / "routes" / "etched.toml").write_text(ROUTE)
    return workspace


def ask(makeworth, folder, *words):
    run = makeworth("advise", "craft", "storm lantern", *words, "--json", cwd=folder)
    assert run.code == 0, run.err
    return run.json


def test_json_keeps_the_contract(shop, makeworth):
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=150")
    assert set(answer) >= ANSWER_KEYS
    assert set(answer["make"]) >= {"mean", "sd", "quantiles", "shortfall_95"}
    assert set(answer["buy"]) >= {"level", "sd", "quotes", "newest"}
    assert answer["reasons"]
    assert answer["cautions"]


def test_known_prices_make(shop, makeworth):
    """40 tries at 2 + 2 * 0.5: making costs 120."""
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=150")
    assert answer["verdict"] == "make"
    assert answer["route"] == "etched"
    assert answer["make"]["mean"] == pytest.approx(120)
    assert answer["saving"] == {"mean": pytest.approx(30), "sd": 0}
    assert answer["chance_make_cheaper"] == 1
    # at most 50 tries: 1 - (39/40)^50
    assert answer["chance_this_one_cheaper"] == pytest.approx(1 - (39 / 40) ** 50, abs=1e-6)
    assert answer["uncertainty"] == {"luck": pytest.approx(1), "prices": 0, "odds": 0}


def test_known_prices_buy(shop, makeworth):
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=110")
    assert answer["verdict"] == "buy"
    assert answer["chance_make_cheaper"] == 0


def test_break_even_by_hand(shop, makeworth):
    """40 frames at f and 80 waxes at w: 40 f + 80 w = 150; 3 / p = 150 at p = 2 %."""
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=150")
    flips = {each.get("item") or each["odds"]: each for each in answer["break_even"]}
    assert flips["lantern frame"]["flips_at"] == pytest.approx(2.75)
    assert flips["lantern frame"]["change"] == pytest.approx(0.375)
    assert flips["binding wax"]["flips_at"] == pytest.approx(0.875)
    assert flips["etch"]["flips_at"] == pytest.approx(0.02, rel=1e-6)
    assert flips["storm lantern"]["flips_at"] == pytest.approx(120)


def test_ladder_is_walked_for_what_is_used(shop, makeworth):
    """40 frames from a ladder of 10 at 2 and 60 at 3 cost 110, not 80."""
    for words in (("2", "--qty", "10"), ("3", "--qty", "60")):
        run = makeworth("quote", "lantern frame", *words, "--at", "2026-10-01T10:00Z", cwd=shop)
        assert run.code == 0, run.err
    answer = ask(
        makeworth, shop, "--price", "binding wax=0.5", "--price", "storm lantern=150",
        "--as-of", "2026-10-01",
    )  # fmt: skip
    assert answer["make"]["mean"] == pytest.approx(110 + 40)
    assert answer["make"]["sd"] > 0
    assert answer["uncertainty"]["prices"] > 0
    assert sum(answer["uncertainty"].values()) == pytest.approx(1)


def test_caution_in_the_settings_counts(shop, makeworth):
    settings = (shop / "makeworth.toml").read_text()
    assert "caution" in settings
    lines = [
        "caution = 1.0" if line.lstrip("# ").startswith("caution =") else line
        for line in settings.splitlines()
    ]
    (shop / "makeworth.toml").write_text("\n".join(lines))
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=150")
    assert answer["verdict"] == "buy"


def test_two_routes_are_compared(shop, makeworth):
    (shop / "routes" / "bought.toml").write_text(ROUTE.replace('"1 in 40"', '"1 in 50"'))
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=150")
    assert [each["route"] for each in answer["routes"]] == ["etched", "bought"]
    assert answer["routes"][0]["chance_cheapest"] == 1


def test_a_supply_of_a_dearer_route_may_turn_the_answer(shop, makeworth):
    """Etching costs 120, inlaying 30 glass at 5 = 150: buying at 100 is even at 100 / 30."""
    (shop / "routes" / "inlaid.toml").write_text(
        '[route]\nmakes = "storm lantern"\n[[step]]\nname = "inlay"\nfrom = "empty table"\n'
        'uses = { frostglass = 30 }\nto = "storm lantern"\n'
    )
    answer = ask(makeworth, shop, *FIXED, "--price", "frostglass=5", "--price", "storm lantern=100")
    assert answer["verdict"] == "buy"
    flips = {each.get("item") or each["odds"]: each["flips_at"] for each in answer["break_even"]}
    assert flips["frostglass"] == pytest.approx(100 / 30)
    assert flips["lantern frame"] == pytest.approx(1.5)


def test_odds_flip_nothing_where_another_route_is_cheap_enough(shop, makeworth):
    """Making by the certain way costs 130, under 150, whatever the odds of etching."""
    (shop / "routes" / "plain.toml").write_text(
        '[route]\nmakes = "storm lantern"\n[[step]]\nname = "plain"\nfrom = "empty table"\n'
        'fee = 130\nto = "storm lantern"\n'
    )
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=150")
    assert answer["route"] == "etched"
    assert not [each for each in answer["break_even"] if "odds" in each]


def test_a_step_that_never_worked_leaves_the_cost_open(shop, makeworth):
    (shop / "routes" / "etched.toml").write_text(ROUTE.replace('"1 in 40"', "{ seen = [0, 12] }"))
    answer = ask(makeworth, shop, *FIXED)
    assert (answer["verdict"], answer["make"], answer["buy"]) == ("neither", None, None)
    assert "before a success is seen" in answer["reasons"][0]
    run = makeworth("advise", "craft", "storm lantern", *FIXED, cwd=shop)
    assert "what making it costs is not known yet" in run.out
    assert ask(makeworth, shop, *FIXED, "--price", "storm lantern=60")["verdict"] == "buy"


def test_a_piece_that_nobody_sells_is_made(shop, makeworth):
    answer = ask(makeworth, shop, *FIXED)
    assert (answer["verdict"], answer["buy"], answer["saving"]) == ("make", None, None)
    assert any("nobody is seen selling" in each for each in answer["reasons"])


def test_for_sale_stops_where_it_does_not_pay(shop, makeworth):
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=100", "--for", "sale")
    assert answer["verdict"] == "neither"
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=200", "--for", "sale")
    assert answer["verdict"] == "make"
    fee = 0.05
    assert answer["make"]["mean"] == pytest.approx(120 - 200 * (1 - fee))


GLOW_POOL = """
[pool]
slots = { etched = 1 }
[pool.count]
all = { 1 = 1 }
[[base]]
item = "lantern frame"
[[affix]]
name = "bright flame"
kind = "etched"
weight = 1
[[affix]]
name = "dim flame"
kind = "etched"
weight = 3
"""
GLOW = """
[route]
makes = "storm lantern"
pool = "glow"
base = "lantern frame"
item_level = 10
[finish]
all = ["bright flame"]
[[step]]
name = "take a frame"
from = "empty table"
uses = { "lantern frame" = 1 }
put = []
[[step]]
name = "light it"
when = {}
uses = { "binding wax" = 1 }
effect = { redraw = "all" }
[[grade]]
item = "dim lantern"
all = ["dim flame"]
"""


@pytest.mark.parametrize(
    ("price", "profit", "does"),
    [
        # a frame 10, a draw 5; sold at 38 in 1 of 4, else the dim one at 28.5: better than
        # to draw on, which is worth (9.5 - 5) / (1 / 4) = 18
        (40, -15 + 38 / 4 + 28.5 * 3 / 4, "sell out"),
        # at 95 drawing on is worth (95 / 4 - 5) / (1 / 4) = 75
        (100, -10 + 75, "step"),
    ],
)
def test_for_sale_a_lesser_grade_is_sold_where_drawing_on_is_worth_less(
    shop, makeworth, price, profit, does
):
    (shop / "routes" / "etched.toml").write_text(GLOW)
    (shop / "pools").mkdir(exist_ok=True)
    (shop / "pools" / "glow.toml").write_text(GLOW_POOL)
    answer = ask(
        makeworth, shop, "--for", "sale", "--price", "lantern frame=10", "--price",
        "binding wax=5", "--price", f"storm lantern={price}", "--price", "dim lantern=30",
    )  # fmt: skip
    assert answer["verdict"] == "make"
    assert -answer["make"]["mean"] == pytest.approx(profit)
    assert [each["action"] for stage, each in answer["choices"].items() if "dim" in stage] == [does]


@pytest.mark.parametrize(
    ("price", "profit", "does"),
    [
        # half the frames (3) take the mark: sold at 19, for to finish is worth 95 / 10 - 1
        (20, -3 + 19 / 2, "sell out"),
        # at 5 marked frames are bought one after another: (5 + 1) / 0.1 a lantern
        (5, 95 - 60, "step"),
    ],
)
def test_for_sale_the_half_made_piece_is_sold_where_it_brings_more(
    shop, makeworth, price, profit, does
):
    (shop / "routes" / "etched.toml").write_text(
        '[route]\nmakes = "storm lantern"\n'
        '[[step]]\nname = "etch"\nfrom = "table"\nuses = { "lantern frame" = 1 }\n'
        '[step.outcomes]\n"marked frame" = 0.5\n"scrap" = "rest"\n'
        '[[step]]\nname = "seal"\nfrom = "marked frame"\nfee = 1\n'
        '[step.outcomes]\n"storm lantern" = 0.1\n"scrap" = "rest"\n'
        '[[step]]\nname = "sweep up"\nfrom = "scrap"\nfee = 1000\nto = "table"\n'
        '[market]\n"marked frame" = "marked lantern frame"\n'
    )
    answer = ask(
        makeworth, shop, "--for", "sale", "--price", "lantern frame=3", "--price",
        "storm lantern=100", "--price", f"marked lantern frame={price}",
    )  # fmt: skip
    assert -answer["make"]["mean"] == pytest.approx(profit)
    assert answer["choices"]["marked frame"]["action"] == does


def test_one_broken_route_does_not_silence_the_other(shop, makeworth):
    (shop / "routes" / "broken.toml").write_text("[route\n")
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=150")
    assert answer["verdict"] == "make"
    told = [each for each in answer["cautions"] if "broken" in each]
    assert told
    assert "routes/broken.toml" in told[0].replace("\\", "/")
    assert str(shop) not in told[0]


def test_a_route_without_steps_is_said_to_be_left_out(shop, makeworth):
    plain = ROUTE.replace('"etch"', '"mark"').replace('"1 in 40"', '"1 in 50"')
    (shop / "routes" / "marked.toml").write_text(plain)
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=150", "--without", "etch")
    assert [each["route"] for each in answer["routes"]] == ["marked"]
    assert any("etched" in each and "no step" in each for each in answer["cautions"])


def test_ten_more_tries_are_worth_what_the_simulated_evening_saves(shop, makeworth):
    """Seen 4 of 100, the flat prior: p ~ Beta(5, 97), 3 a try, buying at 80: ten tries, then
    make or buy by what is then believed (numpy; E[1/p] = (a + b - 1) / (a - 1)).
    """
    (shop / "routes" / "etched.toml").write_text(ROUTE.replace('"1 in 40"', "{ seen = [4, 100] }"))
    answer = ask(makeworth, shop, *FIXED, "--price", "storm lantern=80")
    told = {each["step"]: each["worth"] for each in answer["worth_of_tries"]}
    random = np.random.default_rng(3)
    odds = random.beta(5, 97, 400_000)
    well = random.binomial(10, odds)
    paid = np.where(3 * 111 / (4 + well) < 80, 3 / odds, 80.0)
    assert 3 * 101 / 4 < 80
    saved = 3 * 101 / 4 - paid.mean()
    assert told["etch"] == pytest.approx(saved, abs=5 * paid.std() / 400_000**0.5)


@pytest.fixture
def seasons(shop, makeworth):
    """Every price seen on 1 October, in a season that ends in December; the next from January."""
    with (shop / "makeworth.toml").open("a") as settings:
        settings.write(
            '\n[[season]]\nname = "autumn fair"\nstart = 2026-09-01\nend = 2026-12-20\n'
            '[[season]]\nname = "winter fair"\nstart = 2027-01-05\nend = 2027-03-20\n'
        )
    goods = ("lantern frame 2", "binding wax 0.5", "storm lantern 150")
    run = makeworth("quote", *goods, "--at", "2026-10-01T10:00Z", cwd=shop)
    assert run.code == 0, run.err
    return shop


@pytest.mark.parametrize(
    ("as_of", "said"),
    [
        ("2026-10-02", None),
        ("2026-12-28", "ended on 2026-12-20"),
        ("2027-01-06", "Every price here is from before the winter fair began on 2027-01-05"),
    ],
)
def test_prices_of_a_season_that_is_over_are_said_to_be_so(seasons, makeworth, as_of, said):
    cautions = ask(makeworth, seasons, "--as-of", as_of)["cautions"]
    assert any(said in each for each in cautions) if said else "fair" not in " ".join(cautions)


def test_one_new_quote_leaves_the_others_of_the_old_season(seasons, makeworth):
    makeworth("quote", "binding wax 0.6", "--at", "2027-01-06T10:00Z", cwd=seasons)
    cautions = ask(makeworth, seasons, "--as-of", "2027-01-06")["cautions"]
    told = [each for each in cautions if "winter fair" in each]
    assert len(told) == 1
    assert "storm lantern, lantern frame" in told[0]
    assert "binding wax" not in told[0]


@pytest.mark.parametrize("columns", [40, 50, 80])
def test_terminal_fits_however_narrow(shop, makeworth, columns):
    words = ("advise", "craft", "storm lantern", *FIXED, "--price", "storm lantern=150")
    run = makeworth(*words, "--against", "2026-10-01", cwd=shop, columns=columns)
    assert run.code == 0, run.err
    assert max(map(len, run.out.splitlines())) <= columns


def test_two_dates_side_by_side(seasons, makeworth):
    """Frames at 2, then at 5: making 120, then 240 (40 tries with 2 waxes at 0.5)."""
    quoted = makeworth("quote", "lantern frame 5", "--at", "2026-10-20T10:00Z", cwd=seasons)
    assert quoted.code == 0, quoted.err
    answer = ask(
        makeworth, seasons, "--as-of", "2026-10-21", "--against", "2026-10-02",
        "--price", "binding wax=0.5",
    )  # fmt: skip
    assert answer["against"]["make"]["mean"] == pytest.approx(120, rel=0.02)
    assert answer["make"]["mean"] > answer["against"]["make"]["mean"]
    assert answer["against"]["as_of"].startswith("2026-10-02")


def test_two_workspaces_side_by_side(shop, makeworth, tmp_path):
    """The other town's etching works once in 50 tries: 150 there, 120 here."""
    other = shutil.copytree(shop, tmp_path / "other")
    (other / "routes" / "etched.toml").write_text(ROUTE.replace("1 in 40", "1 in 50"))
    words = (*FIXED, "--price", "storm lantern=140", "--against", str(other))
    answer = ask(makeworth, shop, *words)
    assert (answer["verdict"], answer["against"]["verdict"]) == ("make", "buy")
    assert answer["against"]["make"]["mean"] == pytest.approx(150)
    run = makeworth("advise", "craft", "storm lantern", *words, cwd=shop)
    told = [line.split() for line in run.out.splitlines()]
    assert ["making", "120", "150"] in told


def test_against_a_folder_that_is_no_workspace(shop, makeworth, tmp_path):
    (tmp_path / "empty").mkdir()
    run = makeworth(
        "advise", "craft", "storm lantern", *FIXED, "--against", tmp_path / "empty", cwd=shop
    )
    assert run.code == 1
    assert run.is_one_sentence(), run.err
    assert "no workspace in this folder" in run.err


def test_terminal_fits_80_columns_and_tells_the_bad_night_first(shop, makeworth):
    run = makeworth(
        "advise", "craft", "storm lantern", *FIXED, "--price", "storm lantern=150", cwd=shop
    )
    assert run.code == 0, run.err
    assert max(map(len, run.out.splitlines())) <= 80
    reasons = [line for line in run.out.splitlines() if line.startswith("- ")]
    assert "bad night" in reasons[0]
    assert "An average is not a promise" in run.out


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("craft", "storm lantren"), 1, 'did you mean "storm lantern"?'),
        (("craft", "moon"), 1, "no route makes this piece"),
        (("craft", "storm lantern"), 1, "lantern frame"),
        (("craft", "storm lantern", *FIXED, "--for", "fame"), 2, "neither keep nor sale"),
        (("craft", "storm lantern", "--price", "=3"), 2, "names no item"),
        (("craft", "storm lantern", "--price", "binding wax=1/0"), 1, "binding wax"),
        (("craft", "storm lantern", *FIXED, "--as-of", "31/31/2026"), 1, "31/31/2026"),
        (("craft", "storm lantern", *FIXED, "--price", "bindign wax=1"), 1, "did you mean"),
        (("craft",), 2, "missing"),
        (("carft", "storm lantern"), 2, "carft"),
        ((), 2, "missing command"),
    ],
)
def test_wrong_input_is_one_sentence(shop, makeworth, words, code, said):
    run = makeworth("advise", *words, cwd=shop)
    assert run.code == code, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err


def test_the_odds_of_a_redraw_are_called_after_its_step(shop, makeworth):
    """Made at 10 + 4 x 5 = 30, bought at 40: as dear where a draw works once in six."""
    (shop / "routes" / "etched.toml").write_text(GLOW)
    (shop / "pools").mkdir(exist_ok=True)
    (shop / "pools" / "glow.toml").write_text(GLOW_POOL)
    answer = ask(
        makeworth, shop, "--price", "lantern frame=10", "--price", "binding wax=5",
        "--price", "storm lantern=40",
    )  # fmt: skip
    assert answer["make"]["mean"] == pytest.approx(30)
    (flip,) = [each for each in answer["break_even"] if "odds" in each]
    assert flip["odds"] == "light it"
    assert flip["flips_at"] == pytest.approx(1 / 6)


def test_odds_typed_for_a_redraw_are_said_to_follow_from_its_weights(shop, makeworth):
    (shop / "routes" / "etched.toml").write_text(GLOW)
    (shop / "pools").mkdir(exist_ok=True)
    (shop / "pools" / "glow.toml").write_text(GLOW_POOL)
    run = makeworth("advise", "craft", "storm lantern", "--odds", "light it=2 %", cwd=shop)
    assert run.code == 1
    assert run.is_one_sentence(), run.err
    assert "step 'light it'" in run.err
    assert "follow from the weights of the pool" in run.err
    assert "certain" not in run.err
