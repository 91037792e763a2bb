"""The evening's plan against every plan there is; sums of laws against closed forms and dice."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from advisor.decide.evening.evening_plan import Work, plan_evening, profit_of
from advisor.decide.evening.summed_laws import add_laws
from advisor.routes.total_law import CostDistribution


def best_of_all(works, gains, minutes, purse):
    """Every count up to four of each way."""
    best = 0.0
    for counts in product(range(5), repeat=len(works)):
        made = {}
        for work, count in zip(works, counts, strict=True):
            made[work.item] = made.get(work.item, 0) + count
        if any(count > len(gains.get(item, ())) for item, count in made.items()):
            continue
        if sum(w.minutes * c for w, c in zip(works, counts, strict=True)) > minutes + 1e-9:
            continue
        if sum(w.money * c for w, c in zip(works, counts, strict=True)) > purse + 1e-9:
            continue
        best = max(best, profit_of(works, gains, counts))
    return best


AMOUNT = st.integers(0, 40).map(lambda n: n / 4)


@st.composite
def evenings(draw):
    works = [
        Work(draw(st.sampled_from("abc")), draw(AMOUNT), draw(AMOUNT), draw(AMOUNT))
        for _ in range(draw(st.integers(1, 4)))
    ]
    gains = {
        item: sorted(draw(st.lists(AMOUNT.map(lambda x: 2 * x), max_size=4)), reverse=True)
        for item in "ab"
    }
    return works, gains, draw(AMOUNT.map(lambda x: 3 * x)), draw(AMOUNT.map(lambda x: 3 * x))


@settings(max_examples=150, deadline=None)
@given(evenings())
def test_no_other_plan_earns_more(evening):
    works, gains, minutes, purse = evening
    plan = plan_evening(works, gains, minutes=minutes, purse=purse)
    assert plan.profit == pytest.approx(best_of_all(*evening), abs=1e-6)
    used = [
        sum(getattr(w, what) * c for w, c in zip(works, plan.counts, strict=True))
        for what in ("minutes", "money")
    ]
    assert used[0] <= minutes + 1e-6
    assert used[1] <= purse + 1e-6
    assert plan.profit == pytest.approx(profit_of(works, gains, plan.counts))


def test_best_for_an_hour_is_not_always_the_plan():
    """Two pieces of 50 minutes earning 30 each beat one of 70 earning 50 in 100 minutes,
    though that earns more an hour: by hand 60 against 50."""
    works = [Work("short", 10, 50, 10), Work("long", 10, 70, 10)]
    gains = {"short": [40, 40], "long": [60, 60]}
    plan = plan_evening(works, gains, minutes=100, purse=1000)
    assert (plan.counts, plan.profit) == ((2, 0), pytest.approx(60))


def geometric(odds, unit, cells):
    """The law of `unit` times the number of tries to the first success."""
    pmf = stats.geom(odds).pmf(np.arange(1, cells + 1))
    return CostDistribution(
        unit, unit, pmf / pmf.sum(), unit / odds, unit * np.sqrt(1 - odds) / odds
    )


def test_sum_of_like_laws_is_negative_binomial():
    """Three geometric laws of one chance: tries to the third success (closed form)."""
    total = add_laws([geometric(0.2, 2.0, 200)] * 3)
    for tries in (3, 10, 15, 30):
        expected = stats.nbinom(3, 0.2).cdf(tries - 3)
        assert total.chance_within(2.0 * tries) == pytest.approx(expected, abs=1e-9)
    assert total.mean == pytest.approx(30)


def test_sum_of_unlike_laws_as_thrown():
    """Steps of 1.5 and 0.7 on one lattice, and a sure 4: against 400,000 throws (seed 2);
    four standard errors, and what half a cell to either side may shift."""
    total = add_laws(
        [geometric(0.1, 1.5, 400), geometric(0.05, 0.7, 900), CostDistribution.certain(4.0)]
    )
    rng = np.random.default_rng(2)
    thrown = 4 + 1.5 * rng.geometric(0.1, 400_000) + 0.7 * rng.geometric(0.05, 400_000)
    assert total.mean == pytest.approx(33)
    for amount in (15.0, 30.0, 60.0):
        low, high = (np.mean(thrown <= amount + shift) for shift in (-1.5, 1.5))
        assert low - 0.004 <= total.chance_within(amount) <= high + 0.004
    assert float(total.values @ total.pmf) == pytest.approx(33, abs=1e-6)
