"""`makeworth log try`: written down once, taken back whole, learned from everywhere."""

from __future__ import annotations

import pytest

ROUTE = """
[route]
makes = "marked frame"
start = "empty table"

[[step]]
name = "etch"
from = "empty table"
uses = { "lantern frame" = 1 }
[step.outcomes]
"marked frame" = "2 %"
"empty table" = "rest"
"""
RUNGS = """
[route]
makes = "bright lantern"
[[step]]
name = "polish {n}"
vary = { n = "0..4" }
from = "gloss {n}"
uses = { wax = 1 }
[step.outcomes]
"gloss {n+1}" = "50 %"
"gloss 0" = "rest"
[[step]]
name = "set"
from = "gloss 5"
to = "bright lantern"
"""
PRICE = ("--price", "lantern frame=3")


@pytest.fixture
def tries(workspace):
    (workspace / "routes" / "tries.toml").write_text(ROUTE)
    return workspace


def log(makeworth, folder, *words):
    run = makeworth("log", "try", *words, cwd=folder)
    assert run.code == 0, run.err
    return run


def mean_cost(makeworth, folder, *words):
    run = makeworth("route", "tries", *PRICE, *words, "--json", cwd=folder)
    assert run.code == 0, run.err
    return run.json["cost"]["mean"]


def test_the_mean_learns_by_the_closed_form(tries, makeworth):
    """a = trust * 2 % + 1 seen, b likewise: the mean number of tries is (a+b-1)/(a-1)."""
    assert mean_cost(makeworth, tries) == pytest.approx(150)
    log(makeworth, tries, "tries", "Etch", "empty  table", "--count", "179")
    said = makeworth("route", "tries", *PRICE, "--json", cwd=tries).json["cautions"]
    assert any(
        each.endswith("179 logged attempts are taken in; --stated-odds leaves them out.")
        for each in said
    )
    log(makeworth, tries, "tries", "etch", "marked frame")
    learned = 3 * (50 + 180 - 1) / (50 * 0.02 + 1 - 1)
    assert mean_cost(makeworth, tries) == pytest.approx(learned)
    assert mean_cost(makeworth, tries, "--stated-odds") == pytest.approx(150)
    assert mean_cost(makeworth, tries, "--odds", "etch=4 %") == pytest.approx(75)
    run = makeworth("route", "tries", *PRICE, cwd=tries)
    assert "180 logged" in " ".join(run.out.split())
    said = makeworth("advise", "craft", "marked frame", *PRICE, "--json", cwd=tries).json
    assert said["make"]["mean"] == pytest.approx(learned)
    assert said["uncertainty"]["odds"] > 0
    said = makeworth(
        "advise", "craft", "marked frame", *PRICE, "--stated-odds", "--json", cwd=tries
    ).json
    assert said["make"]["mean"] == pytest.approx(150)


def test_where_the_answer_flips_is_measured_from_the_learned_odds(tries, makeworth):
    """1 of 50 as stated and 1 of 180 seen are 2 of 230 now; at 100 to buy, 3 % is even."""
    log(makeworth, tries, "tries", "etch", "empty table", "--count", "179")
    log(makeworth, tries, "tries", "etch", "marked frame")
    words = ("advise", "craft", "marked frame", *PRICE, "--price", "marked frame=100", "--json")
    flips = {each["odds"]: each for each in makeworth(*words, cwd=tries).json["break_even"]
             if "odds" in each}  # fmt: skip
    assert flips["etch"]["now"] == pytest.approx(2 / 230)
    assert flips["etch"]["flips_at"] == pytest.approx(0.03)


def test_later_attempts_are_not_seen(tries, makeworth):
    log(makeworth, tries, "tries", "etch", "empty table", "--count", "50", "--at", "2026-10-02")
    assert mean_cost(makeworth, tries, "--as-of", "2026-10-01") == pytest.approx(150)
    assert mean_cost(makeworth, tries, "--as-of", "2026-10-02") == pytest.approx(3 * 101)


@pytest.mark.parametrize(
    ("since", "counted"),
    [
        ("2026-10-01", 170),
        ("2026-10-02", 120),
        ("2026-10-02T20:00:00", 70),
        ("2026-10-02T21:00:00+01:00", 70),
        ("2026-10-02T20:15:00Z", 0),
    ],
)
def test_odds_that_changed_at_a_date_forget_what_was_before(tries, makeworth, since, counted):
    for at, count in (("2026-10-01", 50), ("2026-10-02", 50), ("2026-10-02 20:00", 70)):
        log(makeworth, tries, "tries", "etch", "empty table", "--count", str(count), "--at", at)
    text = ROUTE.replace('from = "empty', f'since = {since}\nfrom = "empty')
    (tries / "routes" / "tries.toml").write_text(text)
    assert mean_cost(makeworth, tries) == pytest.approx(3 * (50 + counted + (1 if counted else 0)))
    run = makeworth("ledger", "--luck", "tries", *PRICE, "--json", cwd=tries)
    told = [each for each in run.json["cautions"] if "older than the odds" in each]
    assert [each.split()[0] for each in told] == ([str(170 - counted)] if counted < 170 else [])


def test_since_is_a_date(tries, makeworth):
    (tries / "routes" / "tries.toml").write_text(
        ROUTE.replace('from = "empty', 'since = "soon"\nfrom = "empty')
    )
    run = makeworth("route", "tries", *PRICE, cwd=tries)
    assert (run.code, run.is_one_sentence()) == (1, True)
    assert "tries.toml, line 8, step 'etch': `since` is text" in run.err


def test_undo_takes_an_entry_back_whole(tries, makeworth):
    entry = log(makeworth, tries, "tries", "etch", "empty table", "--count", "9", "--json").json
    assert (entry["entry"], entry["tries"]) == (1, 9)
    assert log(makeworth, tries, "--undo", "1", "--json").json == {"undone": 1, "tries": 9}
    assert mean_cost(makeworth, tries) == pytest.approx(150)
    listed = log(makeworth, tries, "--list", "--json").json
    assert [(each["entry"], each["undone"] is None) for each in listed] == [(1, False)]
    again = makeworth("log", "try", "--undo", "1", cwd=tries)
    assert again.code == 1
    assert "taken back already" in again.err


def test_a_file_counts_once_and_again_after_undo(tries, makeworth):
    file = tries / "tries.csv"
    file.write_text(
        "at,route,step,outcome,count\r\n"
        "2026-10-01,tries,etch,empty table,49\r\n"
        '"2026-10-01 21:00",tries,ETCH,"marked frame",\r\n\r\n'
    )
    assert log(makeworth, tries, "--csv", file, "--json").json["tries"] == 50
    assert log(makeworth, tries, "--csv", file, "--json").json["known"] == 1
    assert mean_cost(makeworth, tries) == pytest.approx(3 * 99 / 1)
    log(makeworth, tries, "--undo", "1")
    assert log(makeworth, tries, "--csv", file, "--json").json["entry"] == 2
    assert "tries.csv" in log(makeworth, tries, "--list", "tries").out


def test_the_route_may_be_named_beside_the_file(tries, makeworth):
    file = tries / "mine.csv"
    file.write_text("step,outcome\netch,empty table\netch,empty table\n")
    assert log(makeworth, tries, "tries", "--csv", file, "--json").json["tries"] == 2


def test_a_rung_is_logged_by_its_own_name(workspace, makeworth):
    (workspace / "routes" / "bright.toml").write_text(RUNGS)
    said = log(makeworth, workspace, "bright", "polish 3", "gloss 4", "--json").json
    assert said["attempts"][0]["outcome"] == "gloss 4"
    run = makeworth("log", "try", "bright", "polish 3", "gloss 2", cwd=workspace)
    assert run.code == 1
    assert "no outcome" in run.err
    run = makeworth("log", "try", "bright", "polish 9", "gloss 2", cwd=workspace)
    assert 'did you mean "polish' in run.err


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("tires", "etch", "marked frame"), 1, 'did you mean "tries"?'),
        (("tries", "etsch", "marked frame"), 1, 'did you mean "etch"?'),
        (("tries", "etch", "marked fraem"), 1, 'did you mean "marked frame"?'),
        (("tries", "etch {n}", "marked frame"), 1, "known are etch"),
        (("tries", "etch", "marked frame", "--at", "yesterday"), 1, "no date"),
        (("tries", "etch", "marked frame", "--at", "03/04/2026"), 1, "could be"),
        (("tries", "etch", "marked frame", "--count", "0"), 2, "--count"),
        (("tries", "etch", "marked frame", "--count", "9999999999"), 1, "out of range"),
        (("tries", "etch", "marked frame", "--minutes", "-1"), 2, "--minutes"),
        (("tries", "etch"), 2, "a route, a step and an outcome"),
        ((), 2, "a route, a step and an outcome"),
        (("--undo", "7"), 1, "no entry 7"),
        (("--undo", "7", "--list"), 2, "do not go together"),
        (("--undo", "7", "--count", "2"), 2, "--count"),
        (("--csv", "none.csv"), 1, "none.csv"),
    ],
)
def test_wrong_input_is_one_sentence(tries, makeworth, words, code, said):
    run = makeworth("log", "try", *words, cwd=tries)
    assert run.code == code, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no column"),
        ("at,route,step,outcome,count\n", "no attempt"),
        ("route,step,outcome,cuont\n", 'did you mean "count"?'),
        ("route,step,step,outcome\n", "twice"),
        ("step,outcome\netch,marked frame\n", "'route'"),
        ("route,step,outcome\ntries,etch\n", "line 2"),
        ("route,step,outcome\ntries,etch,marked frame\ntries,etch,mark\n", "line 3"),
        ("route,step,outcome,count\ntries,etch,marked frame,2.5\n", "column 'count'"),
        ("route,step,outcome,count\ntries,etch,marked frame,-1\n", "column 'count'"),
        ("at,route,step,outcome\n2026-13-01,tries,etch,marked frame\n", "line 2"),
        ('route,step,outcome\ntries,etch,"marked\n', "CSV"),
        ("route,step,outcome\ntries,etch,m\udcff\n", "UTF-8"),
    ],
)
def test_a_wrong_file_is_refused_whole(tries, makeworth, text, said):
    file = tries / "tries.csv"
    file.write_bytes(text.encode("utf-8", "surrogateescape"))
    run = makeworth("log", "try", "--csv", file, cwd=tries)
    assert run.code == 1, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err
    assert "tries.csv" in run.err
    assert log(makeworth, tries, "--list", "--json").json == []
