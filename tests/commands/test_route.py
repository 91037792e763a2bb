"""`makeworth route`: closed forms through the whole program, its JSON, its refusals."""

from __future__ import annotations

import pytest
from scipy import stats

COST_KEYS = {"mean", "sd", "quantiles", "shortfall_95"}
QUANTILES = ["0.05", "0.25", "0.5", "0.8", "0.9", "0.95", "0.99"]

TRIES = """
[route]
makes = "marked frame"
start = "empty table"

[[step]]
name = "etch"
from = "empty table"
uses = { "lantern frame" = 1 }
minutes = 0.5
[step.outcomes]
"marked frame" = "2 %"
"empty table" = "rest"
"""


@pytest.fixture
def tries(workspace):
    (workspace / "routes" / "tries.toml").write_text(TRIES)
    return workspace


def ask(makeworth, folder, *words):
    run = makeworth("route", "tries", *words, "--price", "lantern frame=3", "--json", cwd=folder)
    assert run.code == 0, run.err
    return run.json


def test_fifty_tries_on_average(tries, makeworth):
    """Common practice, no source: at 2 % one needs 50 tries, so 50 bases are bought."""
    answer = ask(makeworth, tries)
    assert answer["use"]["lantern frame"]["mean"] == pytest.approx(50)
    assert answer["cost"]["mean"] == pytest.approx(150)
    assert answer["minutes"]["mean"] == pytest.approx(25)
    assert answer["visits"]["empty table"] == pytest.approx(50)
    # sd of a geometric number of tries: sqrt(1 - p) / p
    assert answer["cost"]["sd"] == pytest.approx(3 * 0.98**0.5 / 0.02)


@pytest.mark.parametrize("tries_allowed", [50, 100, 200])
def test_share_of_runs_that_need_more(tries, makeworth, tries_allowed):
    """More than n tries are needed in 0.98^n of all runs."""
    answer = ask(makeworth, tries, "--budget", str(3 * tries_allowed))
    assert 1 - answer["within"]["chance"] == pytest.approx(0.98**tries_allowed, abs=1e-8)


def test_quantiles_are_the_geometric_ones(tries, makeworth):
    answer = ask(makeworth, tries)
    assert list(answer["cost"]["quantiles"]) == QUANTILES
    for share, cost in answer["cost"]["quantiles"].items():
        assert cost == pytest.approx(3 * stats.geom.ppf(float(share), 0.02))


def test_pieces_add_up(tries, makeworth):
    answer = ask(makeworth, tries, "--pieces", "4")
    assert answer["cost"]["mean"] == pytest.approx(600)
    assert answer["cost"]["sd"] == pytest.approx(2 * 3 * 0.98**0.5 / 0.02)
    # four successes at 2 %: a negative binomial number of tries
    tries_needed = stats.nbinom.ppf(0.9, 4, 0.02) + 4
    assert answer["use"]["lantern frame"]["quantiles"]["0.9"] == pytest.approx(tries_needed)


def test_json_keeps_the_contract(tries, makeworth):
    answer = ask(makeworth, tries)
    assert set(answer) >= {
        *("route", "makes", "for", "money", "as_of", "cost", "minutes", "use", "gives"),
        *("choices", "visits", "proof"),
    }
    assert set(answer["cost"]) >= COST_KEYS
    assert answer["for"] == "keep"
    choice = answer["choices"]["empty table"]
    assert (choice["action"], choice["step"]) == ("step", "etch")
    assert choice["cost_to_go"] == pytest.approx(150)
    proof = answer["proof"]
    assert proof["lower"] <= answer["cost"]["mean"] * (1 + 1e-12)
    assert proof["upper"] - proof["lower"] <= 1e-9 * 150
    assert proof["mass_left"] <= 1e-6


def test_a_budget_can_call_for_a_dearer_way(workspace, makeworth):
    """With 6 in hand: two tries at 2.5 and one half succeed in 3/4, the sure way at 5.5 always."""
    (workspace / "routes" / "two.toml").write_text(
        '[route]\nmakes = "lamp"\n[[step]]\nname = "gamble"\nfrom = "table"\nfee = 2.5\n'
        '[step.outcomes]\nlamp = 0.5\ntable = "rest"\n'
        '[[step]]\nname = "sure"\nfrom = "table"\nfee = 5.5\nto = "lamp"\n'
    )
    run = makeworth("route", "two", "--budget", "6", "--json", cwd=workspace)
    assert run.code == 0, run.err
    within = run.json["within"]
    assert run.json["cost"]["mean"] == pytest.approx(5)
    assert within["chance"] == pytest.approx(0.75)
    assert within["cheapest_chance"] == pytest.approx(0.75)
    assert within["best_chance"] == pytest.approx(1)
    assert (within["parts_at"], within["instead"]) == ("table", "sure")
    shown = makeworth("route", "two", "--budget", "6", cwd=workspace).out
    assert "better chance within it, 100 % against 75 %" in " ".join(shown.split())


def test_the_started_workspace_answers(workspace, makeworth):
    fixed = [
        word
        for item in ("lantern frame", "binding wax", "etching salt", "clear flux", "lens setting")
        for word in ("--price", f"{item}=2")
    ]
    run = makeworth("route", "storm-lantern", *fixed, cwd=workspace)
    assert run.code == 0, run.err
    assert max(map(len, run.out.splitlines())) <= 80
    assert "bad night" in run.out


def broken(text):
    return TRIES.replace('"2 %"', text)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (broken('"102 %"'), "etch"),
        (TRIES.replace('"rest"', '"97 %"'), "sum"),
        (TRIES.replace('"empty table" = "rest"', '"empty tabel" = "rest"'), "empty table"),
        (TRIES.replace("uses =", "usse ="), "uses"),
        (broken("nan"), "line"),
        (TRIES.replace('"2 %"', '"0 %"'), "empty table"),
        ("[route\n", "line 1"),
        ("", "empty"),
    ],
)
def test_a_wrong_route_file_is_named(tries, makeworth, content, said):
    (tries / "routes" / "tries.toml").write_text(content)
    run = makeworth("route", "tries", "--price", "lantern frame=3", cwd=tries)
    assert run.code == 1
    assert run.is_one_sentence(), run.err
    assert "tries.toml" in run.err
    assert said in run.err


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("tires", "--price", "lantern frame=3"), 1, 'did you mean "tries"?'),
        (("tries",), 1, "lantern frame"),
        (("tries", "--price", "lantern frame"), 2, "names no item"),
        (("tries", "--price", "lantern frame=cheap"), 1, "cheap"),
        (("tries", "--price", "lantern frame=3 crown"), 1, "crown"),
        (("tries", "--price", "lantern frame=3", "--budget", "plenty"), 1, "plenty"),
        (("tries", "--price", "lantern frame=3", "--pieces", "0"), 2, "--pieces"),
        (("tries", "--price", "lantern frame=3", "--for", "fun"), 2, "neither keep nor sale"),
        (("tries", "--price", "lantern frame=-3"), 1, "lantern frame"),
        (("tries", "--as-of", "yesterday"), 1, "yesterday"),
        (("tries", "--without", "etch"), 1, "no step of it is left"),
        ((), 2, "missing"),
    ],
)
def test_wrong_input_is_one_sentence(tries, makeworth, words, code, said):
    run = makeworth("route", *words, cwd=tries)
    assert run.code == code, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err


def test_json_warns_of_averages_as_the_terminal_does(tries, makeworth):
    assert any("not a promise" in each for each in ask(makeworth, tries)["cautions"])


COIN = """
[route]
makes = "lamp"
start = "table"

[[step]]
name = "light"
from = "table"
uses = { "wick" = 10 }
[step.outcomes]
"lamp" = "50 %"
"ash" = "rest"

[[step]]
name = "sweep"
from = "ash"
to = "table"

[market]
"ash" = "ash heap"
"""


def test_for_sale_the_terminal_shows_profits_not_costs(workspace, makeworth):
    """Half the time 100 - 10 = 90 is won, else the ash is sold: 90 - 10 = 80."""
    (workspace / "routes" / "coin.toml").write_text(COIN)
    (workspace / "makeworth.toml").write_text('money = "shell"\n[trade]\nsale_fee = 0\n')
    prices = ["wick=1", "lamp=100", "ash heap=90"]
    words = [word for price in prices for word in ("--price", price)]
    run = makeworth("route", "coin", "--for", "sale", *words, cwd=workspace)
    assert run.code == 0, run.err
    lines = run.out.splitlines()
    assert lines[2] == "profit: 85 on average, give or take 5 by luck"
    heads = lines.index(next(line for line in lines if line.startswith("chance of profit from")))
    assert lines[heads + 1].split() == ["90", "90", "90", "80", "80", "80", "80"]
    assert lines[heads + 2].startswith("under 81") and lines[heads + 2].endswith("50 %")
    assert any(line.split()[-2:] == ["1", "85"] for line in lines if line.startswith("table"))


def test_a_missing_price_and_a_stage_without_price_are_told_where(workspace, makeworth):
    file = workspace / "routes" / "boat.toml"
    text = (
        '[route]\nmakes = "boat"\n[[step]]\nname = "row"\nfrom = "table"\nuses = { oar = 1 }\n'
        '[step.outcomes]\n"boat" = 0.5\n"table" = "rest"\n[market]\n"table" = "plank bundel"\n'
    )
    file.write_text(text)
    run = makeworth("route", "boat", cwd=workspace)
    assert run.code == 1
    assert "line 6, step 'row': no buying price for 'oar'" in run.err
    run = makeworth("route", "boat", "--price", "oar=3", "--json", cwd=workspace)
    assert any("'plank bundel'" in each and "line 11" in each for each in run.json["cautions"])
    file.write_text(text.replace('"boat" = 0.5', '"boat" = { odds = 0.5, effect = { add = 1 } }'))
    run = makeworth("route", "boat", "--price", "oar=3", cwd=workspace)
    assert run.code == 1
    assert "line 8, step 'row': `effect` is written, but the route names no pool" in run.err


def test_what_the_ladder_adds_is_told(tries, makeworth):
    """Other road: advise craft walks the standing offers, route takes the usual quantity's."""
    makeworth("quote", "lantern frame 2 x10; 4 x500", cwd=tries)
    makeworth("quote", "marked frame 300", cwd=tries)
    plain = makeworth("route", "tries", "--json", cwd=tries).json
    walked = makeworth("advise", "craft", "marked frame", "--json", cwd=tries).json
    extra = walked["routes"][0]["mean"] - plain["cost"]["mean"]
    (told,) = [each for each in plain["cautions"] if "bought at once" in each]
    said = float(told.partition("costs ")[2].split()[0])
    assert said == pytest.approx(abs(extra), rel=0.01)
    assert ("more" in told) == (extra > 0)


def test_an_unknown_key_of_an_outcome_is_named(workspace, makeworth):
    (workspace / "routes" / "tries.toml").write_text(TRIES.replace('"2 %"', "{ ods = 0.25 }"))
    run = makeworth("route", "tries", cwd=workspace)
    assert run.code == 1
    assert 'did you mean "odds"' in run.err
