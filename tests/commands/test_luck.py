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
    assert (first["surprise"], second["surprise"]) == pytest.approx((wanted, wanted))
    assert first["surprise_corrected"] == pytest.approx(wanted)


TWO_STEPS = """
[route]
makes = "tide bell"
start = "raw bell"

[[step]]
name = "strike"
from = "raw bell"
[step.outcomes]
"struck bell" = "1/30"
"raw bell" = "rest"

[[step]]
name = "tune"
from = "struck bell"
[step.outcomes]
"tide bell" = "1/4"
"dull bell" = "1/4"
"struck bell" = "rest"

[[step]]
name = "melt down"
from = "dull bell"
to = "raw bell"
"""


def test_surprise_is_the_plain_exact_test_and_corrected_beside_it(tries, makeworth):
    """One comparison of strike and three of tune; scipy's binomtest, and Holm by statsmodels."""
    from statsmodels.stats.multitest import multipletests

    (tries / "routes" / "tries.toml").write_text(TWO_STEPS)
    for step, outcome, count in (
        *(("strike", "struck bell", 2), ("strike", "raw bell", 29)),
        *(("tune", "tide bell", 1), ("tune", "dull bell", 0), ("tune", "struck bell", 3)),
    ):
        if count:
            words = ("tries", step, outcome, "--count", str(count))
            assert makeworth("log", "try", *words, cwd=tries).code == 0
    said = luck(makeworth, tries)
    counts = [(2, 31, 1 / 30), (1, 4, 1 / 4), (0, 4, 1 / 4), (3, 4, 1 / 2)]
    plain = [stats.binomtest(seen, of, odds).pvalue for seen, of, odds in counts]
    assert plain[0] == pytest.approx(0.277, abs=5e-4)
    corrected = multipletests(plain, method="holm")[1]
    found = {(each["step"], each["outcome"]): each for each in said["steps"]}
    assert said["comparisons"] == 4
    asked = (
        *(("strike", "struck bell"), ("tune", "tide bell")),
        *(("tune", "dull bell"), ("tune", "struck bell")),
    )
    for names, chance, fair in zip(asked, plain, corrected, strict=True):
        assert found[names]["surprise"] == pytest.approx(chance)
        assert found[names]["surprise_corrected"] == pytest.approx(fair)
    shown = makeworth("ledger", "--luck", "tries", cwd=tries).out
    assert "28 %" in next(line for line in shown.splitlines() if "struck bell" in line)
    assert "corrected for 4 comparisons" in " ".join(shown.split())


@pytest.mark.parametrize(
    ("spent", "expected", "gap"),
    [
        (0.1 + 0.2, 0.3, "costs 0.3 on average: just as much."),
        (0.3, 0.1 + 0.2, "costs 0.3 on average: just as much."),
        (0.0, 0.0, "costs 0 on average: just as much."),
        (11.5, 11.4, "costs 11.4 on average: 0.1 more."),
        (3.0, 11.4, "costs 11.4 on average: 8.4 less."),
    ],
)
def test_what_rounding_leaves_is_no_difference(spent, expected, gap):
    from advisor.decide.luck import Luck
    from advisor.tasks.luck import RouteLuck, luck_reasons

    luck = Luck(1, 1, spent, expected, 0.5)
    answer = RouteLuck(
        route="tries", money="shell", as_of_us=0, tries=1, luck=luck, steps=(),
        mean_stated=None, mean_learned=None, cautions=(),
    )  # fmt: skip
    assert luck_reasons(answer)[0].endswith(gap)


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
