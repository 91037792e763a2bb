"""`makeworth ledger --luck`: the contract, by closed forms."""

from __future__ import annotations

import pytest
from scipy import stats

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
PRICE = ("--price", "lantern frame=3")
KEYS = {"route", "tries", "spent", "expected", "luckier_than", "steps"}
STEP_KEYS = {"step", "outcome", "tries", "seen", "stated", "posterior", "surprise"}


@pytest.fixture
def tries(workspace):
    (workspace / "routes" / "tries.toml").write_text(ROUTE)
    return workspace


def luck(makeworth, folder, *words):
    run = makeworth("ledger", "--luck", "tries", *PRICE, *words, "--json", cwd=folder)
    assert run.code == 0, run.err
    return run.json


def log(makeworth, folder, outcome, count, *words):
    words = ("tries", "etch", outcome, "--count", str(count), *words)
    assert makeworth("log", "try", *words, cwd=folder).code == 0


def test_the_contract_by_closed_forms(tries, makeworth):
    log(makeworth, tries, "empty table", 448)
    log(makeworth, tries, "marked frame", 2)
    said = luck(makeworth, tries)
    assert set(said) >= KEYS
    assert (said["tries"], said["finished"]) == (450, 2)
    assert said["spent"] == pytest.approx(450 * 3)
    assert said["expected"] == pytest.approx(2 * 150)
    # the second success at the 450th try or later, ties halved: a negative binomial law
    law = stats.nbinom(2, 0.02)
    assert said["luckier_than"] == pytest.approx(law.sf(448) + law.pmf(448) / 2, abs=1e-7)
    assert said["mean_cost"]["stated"] == pytest.approx(150)
    assert said["mean_cost"]["learned"] == pytest.approx(3 * 499 / 2)
    first, second = said["steps"]
    assert set(first) >= STEP_KEYS
    assert (first["outcome"], first["tries"], first["seen"]) == ("marked frame", 450, 2)
    assert first["stated"] == pytest.approx(0.02)
    known = stats.beta(50 * 0.02 + 2, 50 * 0.98 + 448)
    assert first["posterior"]["mean"] == pytest.approx(known.mean())
    assert first["posterior"]["low_95"] == pytest.approx(known.ppf(0.025))
    assert first["posterior"]["high_95"] == pytest.approx(known.ppf(0.975))
    # two outcomes are one comparison
    wanted = stats.binomtest(2, 450, 0.02).pvalue
    assert first["surprise"] == second["surprise"] == pytest.approx(wanted)


def test_sentences_say_what_it_changes(tries, makeworth):
    log(makeworth, tries, "empty table", 448)
    log(makeworth, tries, "marked frame", 2)
    run = makeworth("ledger", "--luck", "tries", *PRICE, cwd=tries)
    said = " ".join(run.out.split())
    assert "your log says 0.4 % for marked frame (2 of 450) where the file says 2 %" in said
    assert "150 by the stated ones" in said
    assert max(map(len, run.out.splitlines())) <= 80


def test_a_log_as_stated_surprises_nobody(tries, makeworth):
    log(makeworth, tries, "empty table", 98)
    log(makeworth, tries, "marked frame", 2)
    said = luck(makeworth, tries)
    assert said["steps"][0]["surprise"] == pytest.approx(1.0)
    assert said["mean_cost"]["learned"] == pytest.approx(3 * 149 / 2)
    assert 0.3 < said["luckier_than"] < 0.7


def test_only_what_was_logged_by_then_counts(tries, makeworth):
    log(makeworth, tries, "marked frame", 1, "--at", "2026-10-01")
    log(makeworth, tries, "empty table", 60, "--at", "2026-10-05")
    assert luck(makeworth, tries, "--as-of", "2026-10-02")["tries"] == 1
    assert luck(makeworth, tries, "--as-of", "2026-10-06")["tries"] == 61


def test_steps_that_are_gone_are_told(tries, makeworth):
    log(makeworth, tries, "empty table", 5)
    changed = ROUTE.replace('"etch"', '"engrave"')
    (tries / "routes" / "tries.toml").write_text(changed)
    said = luck(makeworth, tries)
    assert (said["spent"], said["steps"]) == (0, [])
    assert any("5 logged" in each for each in said["cautions"])


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--luck", "tries", "--by", "day"), 2, "do not go together"),
        (("--luck",), 2, "--luck"),
        (("--luck", "tires"), 1, 'did you mean "tries"?'),
        (("--luck", "tries"), 1, "no attempts"),
        (("--luck", "tries", "--as-of", "soon"), 1, "soon"),
        (("--luck", "tries", "--price", "lantern frame"), 2, "names no item"),
        (("--lukc", "tries"), 2, "no such option"),
    ],
)
def test_wrong_input_is_one_sentence(tries, makeworth, words, code, said):
    run = makeworth("ledger", *words, cwd=tries)
    assert run.code == code, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err


def test_prices_that_are_missing_are_named(tries, makeworth):
    log(makeworth, tries, "empty table", 5)
    run = makeworth("ledger", "--luck", "tries", cwd=tries)
    assert run.code == 1
    assert run.is_one_sentence()
    assert "lantern frame" in run.err
