"""`makeworth log try` and `follow` on a route with a pool: what came onto the piece.

Three affixes of weights 1, 3 and 4, one drawn each time: the wanted one comes in one draw of
eight, so that the number of draws has a geometric law (closed form).
"""

from __future__ import annotations

import pytest

POOL = """
[pool]
slots = { etched = 1, inlaid = 1 }
[pool.count]
all = { 1 = 1 }
[[base]]
item = "tide bell"
[[affix]]
name = "clear tone"
kind = "etched"
weight = 1
[[affix]]
name = "dull tone"
kind = "etched"
weight = 3
[[affix]]
name = "long ring"
kind = "inlaid"
weight = 4
"""
DRAW = """
[route]
makes = "harbour bell"
pool = "bell"
base = "tide bell"
[[step]]
name = "take a bell"
from = "empty table"
uses = { "tide bell" = 1 }
put = []
[[step]]
name = "wash and draw"
when = {}
uses = { "river dye" = 1 }
effect = { redraw = "all" }
[finish]
all = ["clear tone"]
"""
POLISH = """
[[step]]
name = "cut"
when = {}
uses = { salt = 1 }
[step.outcomes]
piece = { odds = "50 %", effect = { remove = 1 } }
"empty table" = "rest"
"""
PRICES = ("--price", "tide bell=10", "--price", "river dye=2", "--price", "salt=1")


@pytest.fixture
def bell(workspace):
    (workspace / "pools").mkdir(exist_ok=True)
    (workspace / "pools" / "bell.toml").write_text(POOL)
    (workspace / "routes" / "bell.toml").write_text(DRAW)
    return workspace


def log(makeworth, folder, *words):
    run = makeworth("log", "try", *words, cwd=folder)
    assert run.code == 0, run.err
    return run


def luck(makeworth, folder):
    run = makeworth("ledger", "--luck", "bell", *PRICES, "--json", cwd=folder)
    assert run.code == 0, run.err
    return run.json


def follow(makeworth, folder, *lines):
    text = "".join(f"{line}\n" for line in lines)
    run = makeworth("follow", "bell", *PRICES, "--json", cwd=folder, text=text)
    assert run.code == 0, run.err
    return run.json


def check_luck(said):
    """Two draws in vain, the third came: 10 + 3 * 2, where 10 + 8 * 2 is the mean."""
    assert (said["begun"], said["finished"], said["spent"]) == (1, 1, pytest.approx(16))
    assert said["expected"] == pytest.approx(26)
    later = (7 / 8) ** 3
    assert said["luckier_than"] == pytest.approx(later + (7 / 8) ** 2 / 8 / 2, abs=1e-6)
    assert not any("fit no one place" in each for each in said["cautions"])


def test_a_draw_is_one_key_and_one_attempt_of_its_step(bell, makeworth):
    start = follow(makeworth, bell, "1")
    came = {each["stage"]: each for each in start["choices"]}
    assert {each["step"] for each in came.values()} == {"wash and draw"}
    assert {each["outcome"] for each in came.values()} == {"piece"}
    odds = {"harbour bell": 1 / 8, "long ring": 4 / 8, "dull tone": 3 / 8}
    assert sorted(each["odds"] for each in came.values()) == pytest.approx(sorted(odds.values()))
    assert came["harbour bell"]["odds"] == pytest.approx(1 / 8)
    assert {each["cost"] for each in came.values()} == {2}
    others = [stage for stage in came if stage != "harbour bell"]
    once = follow(makeworth, bell, others[0])
    assert (once["attempts"], once["spent"]) == (2, pytest.approx(12))
    back = follow(makeworth, bell, "u")
    assert (back["stage"], back["spent"]) == (start["stage"], pytest.approx(10))
    done = follow(makeworth, bell, *others, "wash and draw: harbour bell")
    assert (done["finished"], done["attempts"]) == (True, 4)
    check_luck(luck(makeworth, bell))


@pytest.mark.parametrize("by_file", [False, True])
def test_what_came_is_logged_by_the_words_of_the_stages(bell, makeworth, by_file):
    rows = [("take a bell", "piece"), *(("wash and draw", each) for each in drawn(makeworth, bell))]
    if by_file:
        file = bell / "tries.csv"
        lines = ["route,step,outcome,count,stage", *(f"bell,{a},{b},1," for a, b in rows)]
        file.write_text("\n".join(lines) + "\n")
        log(makeworth, bell, "--csv", str(file))
    else:
        for step, outcome in rows:
            said = log(makeworth, bell, "bell", step, outcome)
        assert "bell: wash and draw came to harbour bell\n" in said.out
    check_luck(luck(makeworth, bell))


def drawn(makeworth, folder):
    """Two draws in vain by their names, then the one that is wanted."""
    run = makeworth("log", "try", "bell", "wash and draw", "nothing such", cwd=folder)
    names = [each for each in run.err.split('"')[1::2] if each != "harbour bell"]
    return [*names[:2], "harbour bell"]


def test_several_draws_that_came_to_the_same_are_one_piece_drawn_again(bell, makeworth):
    again, _, _ = drawn(makeworth, bell)
    log(makeworth, bell, "bell", "wash and draw", again, "--count", "2", "--minutes", "4")
    said = log(makeworth, bell, "bell", "wash and draw", "harbour bell")
    assert "1 attempt written down" in said.out
    check_luck(luck(makeworth, bell))


@pytest.mark.parametrize("put", [(), ("take a bell",)])
def test_the_ledger_counts_the_bell_that_must_have_been_taken(bell, makeworth, put):
    """One bell at 10 and three draws at 2, whether the taking was written down or not."""
    for words in (("tide bell", "2", "10"), ("river dye", "9", "2")):
        assert makeworth("log", "buy", *words, "--new", cwd=bell).code == 0
    again, _, _ = drawn(makeworth, bell)
    for step in put:
        log(makeworth, bell, "bell", step, "piece")
    log(makeworth, bell, "bell", "wash and draw", again, "--count", "2")
    log(makeworth, bell, "bell", "wash and draw", "harbour bell")
    run = makeworth("ledger", "--json", cwd=bell)
    assert run.code == 0, run.err
    [made] = run.json["made"]
    assert (made["piece"], made["unit_cost"]) == ("harbour bell", pytest.approx(10 + 3 * 2))
    stock = {line["item"]: line["qty"] for line in run.json["stock"]}
    assert stock == {"tide bell": 1, "river dye": 6, "harbour bell": 1}


def test_what_nobody_saw_is_said_and_makes_no_one_lucky(bell, makeworth):
    said = log(makeworth, bell, "bell", "wash and draw", "piece", "--count", "8")
    assert "not for how lucky you were" in said.err
    found = luck(makeworth, bell)
    assert (found["luckier_than"], found["expected"]) == (None, None)
    assert "cannot be told: 8 of 8 attempts fit no one place" in " ".join(found["reasons"])
    assert any("log what is on the piece then" in each for each in found["cautions"])


def test_the_piece_before_is_asked_for_where_it_is_not_known(bell, makeworth):
    (bell / "routes" / "bell.toml").write_text(DRAW + POLISH)
    run = makeworth("log", "try", "bell", "cut", "nothing on it", cwd=bell)
    assert run.code == 1
    assert run.is_one_sentence()
    assert 'from several pieces; say which: --at-stage "' in run.err
    before = run.err.split('--at-stage "')[1].split('"')[0]
    log(makeworth, bell, "bell", "cut", "nothing on it", "--at-stage", before)
    # after a draw it is known; what the file names is logged alike
    log(makeworth, bell, "bell", "wash and draw", before)
    said = log(makeworth, bell, "bell", "cut", "empty table", "--json").json
    assert [(each["stage"], each["outcome"]) for each in said["attempts"]] == [
        (before, "empty table")
    ]
    counts = {each["outcome"]: each["seen"] for each in luck(makeworth, bell)["steps"]}
    assert counts == {"piece": 1, "empty table": 1}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("wash and draw", "clear tome"), "is nothing it comes to"),
        (("wash and draw", "harbour bel"), 'did you mean "harbour bell"?'),
        (("see what comes", "harbour bell"), "has no step 'see what comes'"),
        (("wash and draw", "harbour bell", "--at-stage", "nowhere"), "has no stage 'nowhere'"),
        (("wash and draw", "harbour bell", "--at-stage", "empty table"), "it does from"),
        (("wash and draw", "piece", "--at-stage", "empty table"), "does not say what came"),
    ],
)
def test_wrong_pieces_are_one_sentence(bell, makeworth, words, said):
    run = makeworth("log", "try", "bell", *words, cwd=bell)
    assert run.code == 1
    assert run.is_one_sentence(), run.err
    assert said in run.err


def test_a_budget_that_is_just_enough_is_no_reason_to_stop(bell, makeworth):
    """Five draws at 0.1 leave the sixth of 0.6 its 0.1; in binary, a little less."""
    prices = ("--price", "tide bell=10", "--price", "river dye=0.1")
    vain, _, _ = drawn(makeworth, bell)
    words = ("follow", "bell", *prices, "--at", "nothing on it", "--budget", "0.6")
    run = makeworth(*words, cwd=bell, text=f"{vain}\n" * 5)
    assert run.code == 0, run.err
    last = run.out.rsplit("written down", 1)[1]
    assert "budget: 0.1 of 0.6 left, enough to finish in 1" in " ".join(last.split())
    done = makeworth("follow", "bell", *prices, cwd=bell, text=f"{vain}\n").out
    assert "budget: 0 of 0.6 left; STOP here: the next wash and draw may cost 0.1" in " ".join(
        done.split()
    )


def test_a_draw_written_down_in_two_halves_counts_as_one(bell, makeworth):
    """As a followed piece may be between them, said to be at the stage of its draw."""
    from advisor.book.attempts import Attempt, add_attempts
    from advisor.tasks.workspace import open_workspace

    again, more, wanted = drawn(makeworth, bell)
    between = "wash and draw: what comes"
    rows = [("take a bell", "empty table", "nothing on it")]
    for before, after in (("nothing on it", again), (again, more), (more, wanted)):
        rows += [("wash and draw", before, between), ("see what comes", between, after)]
    log = [
        Attempt(at, "bell", step=step, stage=stage, reached=reached)
        for at, (step, stage, reached) in enumerate(rows)
    ]
    with open_workspace(str(bell)).open_book() as store:
        add_attempts(store, log)
    check_luck(luck(makeworth, bell))
