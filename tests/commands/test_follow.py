"""`makeworth follow`: keys from standard input, written down, taken back, taken up again."""

from __future__ import annotations

import pytest
from scipy import stats

ROUTE = """
[route]
makes = "storm lantern"

[[step]]
name = "take a frame"
from = "empty table"
uses = { "lantern frame" = 1 }
to = "bare frame"

[[step]]
name = "etch"
from = "bare frame"
uses = { "etching salt" = 3 }
[step.outcomes]
"marked frame" = "10 %"
"empty table" = "rest"

[[step]]
name = "seal"
from = "marked frame"
uses = { "clear flux" = 2 }
[step.outcomes]
"storm lantern" = "60 %"
"empty table" = "rest"

[market]
"marked frame" = "marked lantern frame"
"""
PRICES = {
    "lantern frame": 2,
    "etching salt": 1,
    "clear flux": 10,
    "marked lantern frame": 52,
    "storm lantern": 150,
}
# a frame and three salt is 5 a try, 50 a marked frame; with 20 of flux 70, and 6 in 10 hold
MARKED, WHOLE = 50.0, 70 / 0.6
TO_SEAL = WHOLE - MARKED


@pytest.fixture
def table(workspace, makeworth):
    """Runs follow with keys, at fixed prices and stated odds; gives the run."""
    (workspace / "routes" / "storm.toml").write_text(ROUTE)

    def sit(keys="", *words, prices=PRICES, learn=False):
        fixed = [part for item, each in prices.items() for part in ("--price", f"{item}={each}")]
        stated = () if learn else ("--stated-odds",)
        text = "".join(f"{key}\n" for key in keys.split("|")) if keys else ""
        return makeworth("follow", "storm", *fixed, *stated, *words, cwd=workspace, text=text)

    sit.folder = workspace
    return sit


def state(run):
    assert run.code == 0, run.err
    return run.json


def test_what_is_best_and_what_it_costs(table):
    said = state(table("", "--json"))
    assert (said["stage"], said["best"]) == (
        "empty table",
        {"action": "step", "step": "take a frame"},
    )
    assert said["cost_to_go"] == pytest.approx(WHOLE)
    assert (said["spent"], said["luckier_than"]) == (0, pytest.approx(0.5))
    assert said["buy_piece"] == 150
    by_key = {each["key"]: each for each in said["choices"]}
    assert by_key["1"]["stage"] == "bare frame"
    assert by_key["b"]["action"] == "buy in"
    assert by_key["b"]["cost"] == 52
    assert by_key["b"]["cost_to_go"] == pytest.approx(TO_SEAL)


def test_keys_and_names_are_written_down(table):
    said = state(table("1|2|1|marked frame", "--json"))
    assert (said["stage"], said["attempts"]) == ("marked frame", 4)
    assert said["spent"] == pytest.approx(10)
    assert said["expected"] == pytest.approx(MARKED)
    assert said["cost_to_go"] == pytest.approx(TO_SEAL)
    sell = next(each for each in said["choices"] if each["action"] == "sell out")
    assert sell["key"] == "s"
    # at the start settings a sale loses 5 %
    assert sell["cost"] == pytest.approx(-52 * 0.95)
    assert sell["stage"] == "empty table"


def test_the_same_command_takes_it_up_again_and_undo_reaches_back(table):
    state(table("1|1", "--json"))
    again = state(table("", "--json"))
    assert (again["session"], again["stage"]) == (1, "marked frame")
    back = state(table("u", "--json"))
    assert (back["stage"], back["attempts"], back["spent"]) == ("bare frame", 1, 2)
    nothing = table("u|u", "--json")
    assert nothing.code == 1
    assert "nothing to take back" in nothing.err


def test_a_finished_piece_is_told_and_the_next_one_begun(table):
    run = table("1|1|1")
    assert run.code == 0
    assert "finished" in run.out
    fresh = state(table("", "--json"))
    assert (fresh["session"], fresh["stage"]) == (2, "empty table")
    done = state(table("", "--session", "1", "--json"))
    assert (done["finished"], done["stage"], done["spent"]) == (True, "storm lantern", 25)
    # one try of each: only as lucky runs cost as little, ties halved
    assert done["luckier_than"] == pytest.approx(1 - 0.1 * 0.6 / 2, abs=1e-6)


def test_market_actions_are_written_down(table):
    said = state(table("buy in: marked frame|s", "--json"))
    assert said["stage"] == "empty table"
    assert said["spent"] == pytest.approx(52 * 0.05)
    assert said["attempts"] == 0


def test_several_pieces_side_by_side(table):
    state(table("1", "--json"))
    second = state(table("b", "--new", "--json"))
    assert second["session"] == 2
    assert second["others"] == [{"session": 1, "stage": "bare frame"}]
    switched = state(table("p", "--json"))
    assert (switched["session"], switched["stage"]) == (1, "bare frame")
    run = table("", "--session", "1")
    assert "also open: 2 at marked frame" in run.out


def test_put_away_and_back(table):
    gone = state(table("1|x", "--json"))
    assert (gone["put_away"], gone["finished"], gone["choices"]) == (True, True, [])
    assert state(table("", "--json"))["session"] == 2
    back = state(table("u", "--session", "1", "--json"))
    assert (back["put_away"], back["stage"]) == (False, "bare frame")


def chance_within(money):
    """So many tries of 5 until a mark, then 20 for the seal, all over again if it breaks."""
    return sum(
        stats.nbinom(made, 0.1).cdf((money - 20 * made) // 5 - made) * 0.6 * 0.4 ** (made - 1)
        for made in (1, 2, 3, 4)
    )


def test_budget_is_kept_and_says_when_to_stop(table):
    run = table("", "--budget", "103")
    assert "103 of 103 left" in run.out
    said = state(table("1|2", "--json"))
    assert said["within"]["budget"] == 103
    assert said["within"]["left"] == 98
    assert said["within"]["chance"] == pytest.approx(chance_within(98), abs=1e-6)
    # at a marked frame: it holds at once for 20, or 78 are left for all of it
    marked = state(table("1|1", "--new", "--budget", "103", "--json"))
    assert marked["within"]["left"] == 98
    assert marked["within"]["chance"] == pytest.approx(0.6 + 0.4 * chance_within(78), abs=1e-6)
    assert marked["to_go_quantiles"]["0.5"] == pytest.approx(20)
    stop = table("1|2", "--session", "1", "--budget", "11")
    assert "STOP here: the next take a frame may cost 2" in stop.out


def test_sunk_cost_never_enters_the_advice(table):
    first = state(table("", "--json"))
    later = state(table("|".join(["1", "2"] * 30), "--json"))
    for key in ("best", "cost_to_go", "choices", "stage"):
        assert first[key] == later[key]
    assert later["spent"] == pytest.approx(150)
    assert later["luckier_than"] < 0.2


def test_going_on_is_not_advised_where_the_piece_costs_less(table):
    run = table("", prices={**PRICES, "storm lantern": 100})
    assert "STOP: the storm lantern costs 100 to buy" in run.out


def test_for_sale_gains_are_told(table):
    said = state(table("1|1|1", "--for", "sale", "--json"))
    assert said["best"]["action"] == "sell out"
    assert said["cost_to_go"] == pytest.approx(-142.5)
    sold = state(table("s", "--session", "1", "--for", "sale", "--json"))
    assert sold["finished"]
    assert sold["spent"] == pytest.approx(25 - 142.5)
    wrong = table("", "--session", "1")
    assert wrong.code == 2
    assert "--for sale" in wrong.err


def test_the_log_learns_from_the_table(table, makeworth):
    state(table("|".join(["1", "2"] * 40), "--json"))
    # 5 of 50 as stated and 0 of 40 seen: 5 in 90, so a mark costs 90 to make and 52 to buy
    learned = state(table("", "--json", learn=True))
    assert learned["choices"][0]["cost_to_go"] == pytest.approx((52 + 20) / 0.6)
    assert learned["best"] == {"action": "buy in", "step": "marked frame"}
    assert any("learned" in each for each in learned["cautions"])
    luck = makeworth(
        "ledger", "--luck", "storm", *(f"--price={i}={p}" for i, p in PRICES.items()), "--json",
        cwd=table.folder,
    ).json  # fmt: skip
    assert (luck["tries"], luck["begun"], luck["finished"]) == (80, 1, 0)
    assert luck["spent"] == pytest.approx(200)


def test_a_stage_that_is_gone_is_told_and_near_ones_offered(table):
    state(table("1|1", "--json"))
    file = table.folder / "routes" / "storm.toml"
    file.write_text(ROUTE.replace('"marked frame"', '"marked lantern"'))
    run = table("")
    assert run.code == 0
    assert "marked frame, which the route has no longer" in run.out
    lost = state(table("", "--json"))
    assert lost["lost"]
    assert "marked lantern" in [each["stage"] for each in lost["choices"]]
    found = state(table("marked lantern", "--json"))
    assert (found["lost"], found["stage"]) == (False, "marked lantern")


def test_at_says_where_the_piece_is(table):
    begun = state(table("", "--at", "Marked  Frame", "--json"))
    assert (begun["stage"], begun["spent"], begun["luckier_than"]) == (
        "marked frame",
        0,
        pytest.approx(0.5),
    )
    moved = state(table("", "--at", "empty table", "--json"))
    assert (moved["session"], moved["stage"]) == (1, "empty table")


def test_it_reads_plainly(table):
    run = table("1|2|b")
    assert max(map(len, run.out.splitlines())) <= 80
    assert "\x1b" not in run.out
    assert "do: take a frame, with 1 lantern frame" in run.out
    assert "written down: etch: empty table" in run.out
    assert "It is spent whatever comes" in " ".join(run.out.split())


@pytest.mark.parametrize(
    ("keys", "words", "code", "said"),
    [
        ("9", (), 1, "line 1: '9' is no key here; keys are 1, b, u, x, p, q"),
        ("1|marked fraem", (), 1, "line 2: 'marked fraem' is no key here; did you mean \"marked"),
        ("p", (), 1, "no other piece"),
        ("x|x", (), 1, "line 2: the piece is finished"),
        ("", ("--session", "7"), 1, "no followed piece 7"),
        ("", ("--session", "7", "--new"), 2, "do not go together"),
        ("", ("--at", "marked fraem"), 1, 'did you mean "marked frame"?'),
        ("", ("--budget", "plenty"), 1, "plenty"),
        ("", ("--budget", "-5"), 1, "--budget"),
        ("", ("--for", "fun"), 2, "neither keep nor sale"),
        ("", ("--price", "clear flux"), 2, "names no item"),
    ],
)
def test_wrong_input_is_one_sentence(table, keys, words, code, said):
    run = table(keys, *words, "--json")
    assert run.code == code, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err


def test_a_wrong_key_loses_nothing_before_it(table):
    assert table("1|zzz").code == 1
    assert state(table("", "--json"))["stage"] == "bare frame"


def test_wrong_routes_and_missing_prices_are_named(table, makeworth):
    run = makeworth("follow", "strom", cwd=table.folder)
    assert (run.code, run.is_one_sentence()) == (1, True)
    assert "storm" in run.err
    run = table("", prices={"lantern frame": 2})
    assert (run.code, run.is_one_sentence()) == (1, True)
    assert "etching salt" in run.err
    (table.folder / "routes" / "other.toml").write_text(ROUTE)
    state(table("1", "--json"))
    run = makeworth(
        "follow", "other", "--session", "1", *(f"--price={i}={p}" for i, p in PRICES.items()),
        cwd=table.folder,
    )  # fmt: skip
    assert run.code == 2
    assert "makeworth follow storm --session 1" in run.err


def test_at_a_terminal_one_key_is_enough_and_a_wrong_one_is_forgiven(table, monkeypatch):
    keys = iter("1z\r2uq")
    monkeypatch.setattr("advisor.cli.screen.is_interactive", lambda: True)
    monkeypatch.setattr("typer.getchar", lambda: next(keys))
    run = table("")
    assert run.code == 0, run.err
    assert "'z' is no key here" in run.err
    assert "taken back: etch: empty table" in run.out
    assert next(keys, None) is None
    monkeypatch.setattr("advisor.cli.screen.is_interactive", lambda: False)
    assert state(table("", "--json"))["stage"] == "bare frame"


POOL = """
[pool]
slots = { etched = 1, inlaid = 1 }
[pool.count]
all = { 1 = 1 }
[[base]]
item = "lantern frame"
[[affix]]
name = "steady flame"
kind = "etched"
weight = 100
[[affix]]
name = "chime"
kind = "inlaid"
weight = 300
"""
DRAWN = """
[route]
makes = "storm lantern"
pool = "lantern"
base = "lantern frame"
item_level = 1
start = "empty table"
[[step]]
name = "take a frame"
from = "empty table"
uses = { "lantern frame" = 1 }
put = []
to = "piece"
[[step]]
name = "etch anew"
when = {}
uses = { "etching salt" = 2 }
[step.outcomes]
piece = { odds = "50 %", effect = { redraw = "all" } }
"empty table" = "rest"
[finish]
all = ["steady flame"]
"""


def test_pieces_of_a_pool_are_followed_by_what_is_on_them(table, makeworth):
    (table.folder / "pools" / "lantern.toml").write_text(POOL)
    (table.folder / "routes" / "drawn.toml").write_text(DRAWN)

    def sit(*lines):
        prices = ("--price", "lantern frame=2", "--price", "etching salt=1", "--json")
        text = "".join(f"{line}\n" for line in lines)
        return state(makeworth("follow", "drawn", *prices, cwd=table.folder, text=text))

    # one redraw in four has the flame, one etching in two comes to a redraw
    start = sit()
    assert start["stage"] == "empty table"
    bare = sit("1")
    assert bare["best"]["step"] == "etch anew"
    names = {each["stage"]: each for each in bare["choices"]}
    assert names["empty table"]["odds"] == pytest.approx(0.5)
    lost = sit("empty table")
    assert (lost["stage"], lost["spent"]) == ("empty table", 4)
    drawn = next(name for name in names if name != "empty table")
    came = sit("1", drawn)
    while not came["finished"]:
        stages = [each["stage"] for each in came["choices"]]
        came = sit("storm lantern" if "storm lantern" in stages else stages[0])
    assert came["stage"] == "storm lantern"
    assert came["spent"] == pytest.approx(8)
    told = makeworth(
        "ledger", "--luck", "drawn", "--price", "lantern frame=2", "--price", "etching salt=1",
        "--json", cwd=table.folder,
    ).json  # fmt: skip
    assert (told["finished"], told["spent"]) == (1, pytest.approx(8))
    # both etchings count for the odds of the step as the file has it
    assert [(each["outcome"], each["seen"]) for each in told["steps"]] == [
        ("piece", 1),
        ("empty table", 1),
    ]
