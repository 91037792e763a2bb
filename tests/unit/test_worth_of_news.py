"""The worth of more tries against the beta-binomial law, closed forms and simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from advisor.decide.worth_knowing import share_learned, worth_of_knowing
from advisor.decide.worth_of_news import count_chances, worth_of_tries


@pytest.mark.parametrize(("tries", "a", "b"), [(10, 2.25, 78.75), (1, 1.0, 1.0), (25, 6.0, 166.0)])
def test_chances_of_counts_are_the_beta_binomial_law(tries, a, b):
    law = stats.betabinom(tries, a, b)
    assert count_chances(tries, a, b) == pytest.approx(law.pmf(np.arange(tries + 1)))


def mean_of_one_over(a, b):
    """E[1/p] for p ~ Beta(a, b): what a step that is tried until it works takes."""
    return (a + b - 1) / (a - 1)


@pytest.mark.parametrize(
    ("a", "b", "buy"), [(5.0, 45.0, 11.0), (5.0, 45.0, 14.0), (3.0, 20.0, 9.0)]
)
def test_worth_of_tries_against_a_simulation_of_the_whole_evening(a, b, buy):
    """Draw the odds, see ten tries, then make or buy by what is then believed."""

    def cost_after(well):
        return mean_of_one_over(a + well, b + 10 - well)

    worth = worth_of_tries(
        cost_after, buy, now=mean_of_one_over(a, b), successes=a, failures=b, tries=10
    )
    random = np.random.default_rng(5)
    odds = random.beta(a, b, 400_000)
    well = random.binomial(10, odds)
    believed = np.array([cost_after(each) for each in range(11)])[well]
    paid = np.where(believed < buy, 1.0 / odds, buy)
    without = min(mean_of_one_over(a, b), buy)
    error = 4 * paid.std() / 400_000**0.5
    assert worth > 5 * error / 4
    assert worth == pytest.approx(without - paid.mean(), abs=error)


def test_no_worth_where_no_count_turns_the_answer():
    worth = worth_of_tries(
        lambda well: mean_of_one_over(50 + well, 60 - well), 100.0,
        now=mean_of_one_over(50, 50), successes=50, failures=50,
    )  # fmt: skip
    assert worth == 0.0


def test_one_more_quote_against_a_simulation():
    """Saving 4, unsure by 10; a quote errs by 7.5: choose by the mean that it leaves."""
    lead, doubt, noise = 4.0, 10.0, 7.5
    random = np.random.default_rng(9)
    saving = lead + doubt * random.standard_normal(2_000_000)
    seen = saving + noise * random.standard_normal(2_000_000)
    believed = lead + doubt**2 / (doubt**2 + noise**2) * (seen - lead)
    gained = np.where(believed > 0, saving, 0.0).mean() - lead
    assert worth_of_knowing(lead, share_learned(doubt, noise) * doubt) == pytest.approx(
        gained, abs=0.02
    )
