"""The law of a total by two roads: transforms here, and step by step, closed form or simulation."""

from __future__ import annotations

import random
from collections import defaultdict

import numpy as np
import pytest
from scipy import stats

from advisor.routes.chain import follow_choices, sum_chain
from advisor.routes.distribution import cost_distribution
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import BestChoices, best_choices
from advisor.routes.stages import END

ROUTES = 60


def draw_way(chance: random.Random):
    """A way through up to six stages, costs of both signs, ending with odds of 1/8 or more."""
    count = chance.randint(1, 6)
    actions = []
    for stage in range(count):
        targets = [chance.choice([END, *range(count)]) for _ in range(chance.randint(0, 3))]
        parts = np.array([1 + chance.random() for _ in targets])
        odds = 0.875 * parts / parts.sum() if targets else []
        outcomes = [
            (p, t, chance.choice((-2, 0, 1, 3, 4, 7))) for p, t in zip(odds, targets, strict=True)
        ]
        outcomes.append((0.125 if targets else 1.0, END, chance.choice((-1, 0, 2))))
        actions.append((stage, outcomes))
    return actions


def walk_every_path(actions, *, left=1e-11):
    """Probability of each total, step by step until less than `left` is still going."""
    rows = dict(actions)
    here, law = {(0, 0): 1.0}, defaultdict(float)
    while sum(here.values()) > left:
        onward = defaultdict(float)
        for (stage, total), chance in here.items():
            for odds, target, cost in rows[stage]:
                if target == END:
                    law[total + cost] += chance * odds
                else:
                    onward[target, round(total + cost, 9)] += chance * odds
        here = onward
    return law


def only_way(actions, **options):
    model, costs = sketch_route(actions, **options)
    chosen = np.full(len(model.stages), -1)
    chosen[model.action_stage] = np.arange(len(actions))
    return model, BestChoices(chosen, np.zeros(len(chosen)), 0.0, 0.0, 0), costs


def test_laws_of_random_ways_agree_with_every_path_walked():
    chance = random.Random(11)
    for _ in range(ROUTES):
        actions = draw_way(chance)
        law = cost_distribution(*only_way(actions))
        walked = walk_every_path(actions)
        found = dict(zip(np.rint(law.values / 1e-6) * 1e-6, law.pmf, strict=True))
        for total, probability in walked.items():
            assert found.get(round(total, 6), 0.0) == pytest.approx(probability, abs=1e-9)
        mean = sum(total * p for total, p in walked.items())
        variance = sum((total - mean) ** 2 * p for total, p in walked.items())
        assert law.mean == pytest.approx(mean, abs=1e-7)
        assert law.sd == pytest.approx(np.sqrt(variance), abs=1e-6)
        assert law.pmf.sum() == pytest.approx(1.0, abs=1e-9)


def test_amounts_that_fit_no_lattice_agree_with_every_path_walked():
    """Each cost times pi or sqrt(2): quantiles move by no more than a few cells."""
    chance = random.Random(12)
    for _ in range(6):
        actions = [
            (s, [(p, t, c * (np.pi if c > 2 else np.sqrt(2))) for p, t, c in outcomes])
            for s, outcomes in draw_way(chance)
        ]
        law = cost_distribution(*only_way(actions))
        walked = sorted(walk_every_path(actions, left=1e-5).items())
        totals = np.array([total for total, _ in walked])
        cumulated = np.cumsum([p for _, p in walked])
        slack = 3 * law.step + 4 * law.rounding_sd
        for value in np.linspace(totals[0] - 1, totals[-1] + 1, 60):
            low = cumulated[totals <= value - slack].max(initial=0.0)
            high = cumulated[totals <= value + slack].max(initial=0.0)
            assert low - 2e-4 <= law.chance_within(value) <= high + 2e-4
        assert law.pmf @ law.values == pytest.approx(law.mean, abs=1e-6 * (1 + abs(law.mean)))


@pytest.mark.parametrize("price", [5.0, np.pi])
@pytest.mark.parametrize("p", [1 / 40, 1 / 400, 1 / 4000])
def test_a_step_that_rarely_works(p, price):
    """Geometric law, closed form; with an endless tail it is right to a cell or two at 0.99."""
    law = cost_distribution(*only_way([(0, [(p, 1, price), (1 - p, 0, price)])], done=[1]))
    assert len(law.pmf) > 1000
    for share in (0.05, 0.5, 0.95, 0.99, 0.999):
        exact = price * stats.geom.ppf(share, p)
        assert law.quantile(share) == pytest.approx(exact, abs=2 * law.step)
    tail = stats.geom(p)
    assert law.sd == pytest.approx(price * tail.std(), rel=1e-9)
    assert law.mass_left <= 1e-9


def test_a_way_of_very_many_steps_keeps_its_spread():
    """Steps of 0.0123 and 0.0077 that work once in 100 000 tries: exponential with mean 1000."""
    p = 1e-5
    step = [(p, 1, 0.0123), (1 / 2, 0, 0.0123), (1 / 2 - p, 0, 0.0077)]
    law = cost_distribution(*only_way([(0, step)], done=[1]))
    for share in (0.05, 0.5, 0.95, 0.99):
        exact = -law.mean * np.log1p(-share)
        assert law.quantile(share) == pytest.approx(exact, abs=2 * law.step)


def test_a_million_simulated_runs():
    """Sale of the scraps, a setback and two tries; a million runs inside four standard errors."""
    actions = [
        (0, [(1.0, 1, 7.3)]),
        (1, [(1 / 5, 2, 2.9), (4 / 5, 1, 2.9)]),
        (2, [(0.4, 3, 11.1), (0.35, 2, 3.1), (0.25, 0, -2.2)]),
    ]
    model, costs = sketch_route(actions, done=[3])
    choices = best_choices(model, costs)
    law = cost_distribution(model, choices, costs)
    random_state = np.random.default_rng(5)
    runs = 1_000_000
    stage, total = np.zeros(runs, dtype=int), np.zeros(runs)
    going = np.arange(runs)
    odds = np.array([[1, 0, 0], [1 / 5, 4 / 5, 0], [0.4, 0.35, 0.25]])
    target = np.array([[1, 1, 1], [2, 1, 1], [3, 2, 0]])
    cost = np.array([[7.3, 0, 0], [2.9, 2.9, 0], [11.1, 3.1, -2.2]])
    while len(going):
        at = stage[going]
        pick = (random_state.random(len(going))[:, None] > np.cumsum(odds, axis=1)[at]).sum(axis=1)
        total[going] += cost[at, pick]
        stage[going] = target[at, pick]
        going = going[stage[going] != 3]
    assert abs(total.mean() - law.mean) < 4 * law.sd / np.sqrt(runs)
    kurtosis = np.mean((total - total.mean()) ** 4) / total.var() ** 2
    assert abs(total.std() / law.sd - 1) < 4 * np.sqrt((kurtosis - 1) / 4 / runs)
    for share in (0.05, 0.25, 0.5, 0.8, 0.9, 0.95, 0.99):
        value = law.quantile(share)
        seen = np.mean(total <= value + 2 * law.step)
        seen_below = np.mean(total <= value - 2 * law.step)
        error = 4 * np.sqrt(share * (1 - share) / runs)
        assert seen_below - error <= share <= seen + error
    worst = total[total >= np.quantile(total, 0.95)]
    assert abs(worst.mean() - law.shortfall(0.95)) < 8 * worst.std() / np.sqrt(0.05 * runs)


def test_a_made_item_brings_its_own_luck():
    """A piece that takes three tries on average, each using one lens that itself takes tries:
    a geometric sum of geometric costs is geometric at the product of the odds."""
    lens = cost_distribution(*only_way([(0, [(0.2, 1, 2.0), (0.8, 0, 2.0)])], done=[1]))
    model, choices, costs = only_way([(0, [(1 / 3, 1, 1.0), (2 / 3, 0, 1.0)])], done=[1])
    law = cost_distribution(model, choices, costs * lens.mean, made={0: lens})
    exact = stats.geom(0.2 / 3)
    assert law.mean == pytest.approx(2 * exact.mean(), rel=1e-9)
    assert law.sd == pytest.approx(2 * exact.std(), rel=1e-9)
    tries = np.arange(1, 200)
    found = [law.chance_within(2 * n) for n in tries]
    np.testing.assert_allclose(found, exact.cdf(tries), atol=1e-8)


def test_units_of_a_made_item_are_separate_draws():
    """Three lenses at once: a negative binomial number of tries; half a lens is half a draw."""
    lens = cost_distribution(*only_way([(0, [(0.2, 1, 2.0), (0.8, 0, 2.0)])], done=[1]))
    model, choices, costs = only_way([(0, [(1.0, 1, 3.0)])], done=[1])
    law = cost_distribution(model, choices, costs * lens.mean, made={0: lens})
    exact = stats.nbinom(3, 0.2)
    tries = np.arange(3, 150)
    np.testing.assert_allclose(
        [law.chance_within(2 * n) for n in tries], exact.cdf(tries - 3), atol=1e-8
    )
    model, choices, costs = only_way([(0, [(1.0, 1, 0.5)])], done=[1])
    half = cost_distribution(model, choices, costs * lens.mean, made={0: lens})
    assert half.sd == pytest.approx(lens.sd / 2, rel=1e-9)
    assert half.quantile(0.9) == pytest.approx(lens.quantile(0.9) / 2, abs=half.step)


@pytest.mark.parametrize("pieces", [2, 7, 400])
def test_many_pieces(pieces):
    """The tries for N pieces are negative binomial."""
    one = cost_distribution(*only_way([(0, [(0.05, 1, 3.0), (0.95, 0, 3.0)])], done=[1]))
    law, exact = one.n_fold(pieces), stats.nbinom(pieces, 0.05)
    for share in (0.05, 0.5, 0.95, 0.99):
        assert law.quantile(share) == 3 * (exact.ppf(share) + pieces)
    assert law.mean == pytest.approx(3 * pieces / 0.05, rel=1e-12)
    assert law.sd == pytest.approx(3 * exact.std(), rel=1e-9)


def test_sums_too_wide_for_the_lattice_are_counted_more_coarsely():
    """100 000 pieces at 1 in 4000 tries: normal to a good approximation (central limit)."""
    one = cost_distribution(
        *only_way([(0, [(1 / 4000, 1, 1.0), (1 - 1 / 4000, 0, 1.0)])], done=[1])
    )
    law = one.n_fold(100_000)
    for share in (0.05, 0.5, 0.95):
        exact = stats.norm.ppf(share, loc=law.mean, scale=law.sd)
        assert law.quantile(share) == pytest.approx(exact, abs=0.01 * law.sd)


def test_use_and_minutes_by_hand():
    """Two tries of 3 salt on average, then a seal of 2 flux; each step takes a minute."""
    model, costs = sketch_route([(0, [(0.5, 1, 3), (0.5, 0, 3)]), (1, [(1.0, 2, 2)])], done=[2])
    choices = best_choices(model, costs)
    sums = sum_chain(model, choices)
    assert sums.visits.tolist() == pytest.approx([2, 1, 1])
    assert (sums.steps, sums.minutes.mean) == pytest.approx((3, 3))
    assert sums.uses[0].mean == pytest.approx(8)
    assert sums.uses[0].sd == pytest.approx(3 * np.sqrt(2))  # geometric at 1/2 has variance 2
    assert sums.gives[0].mean == 0


def test_two_hundred_stages_agree_with_the_linear_equations():
    """The transform's mean and spread against moments solved for, with setbacks of up to five."""
    chance = np.random.default_rng(3)
    actions = []
    for stage in range(200):
        back = int(chance.integers(max(0, stage - 5), stage + 1))
        actions.append(
            (stage, [(0.7, stage + 1, 1.7), (0.2, stage, 0.9), (0.1, back, float(chance.random()))])
        )
    model, choices, costs = only_way(actions, done=[200])
    law = cost_distribution(model, choices, costs)
    moments = follow_choices(model, choices.actions).moments(costs)
    assert law.pmf @ law.values == pytest.approx(moments.mean, rel=1e-6)
    spread = np.sqrt(law.pmf @ (law.values - moments.mean) ** 2)
    assert np.hypot(moments.sd, law.rounding_sd) == pytest.approx(spread, rel=1e-5)
