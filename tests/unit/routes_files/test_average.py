"""Costs averaged over unsure odds, against closed forms and plain numerical integration.

For p ~ Beta(a, b): E[1/p] = (a + b - 1) / (a - 1), and
E[1/p^2] = (a + b - 1)(a + b - 2) / ((a - 1)(a - 2)).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy.special import betaln
from scipy.stats import beta

from advisor.routes.cost import route_cost


@pytest.fixture
def price(steps_of):
    """The cost of a route that makes a lamp; every item is one letter and costs 1."""

    def ask(steps: str, **question):
        route = steps_of(steps, '[route]\nmakes = "lamp"\n')
        return route_cost(
            "lantern",
            routes={"lantern": route},
            buy=dict.fromkeys("abcdef", 1.0),
            sell={},
            money="shell",
            **question,
        )

    return ask


def one_over(a: float, b: float) -> float:
    return (a + b - 1) / (a - 1)


def one_over_square(a: float, b: float) -> float:
    return (a + b - 1) * (a + b - 2) / ((a - 1) * (a - 2))


def step(name: str, start: str, used: str, *outcomes: str) -> str:
    lines = "\n".join(outcomes)
    return (
        f'[[step]]\nname = "{name}"\nfrom = "{start}"\nuses = {{ {used} = 1 }}\n'
        f"[step.outcomes]\n{lines}\n"
    )


@pytest.mark.parametrize(
    ("odds", "a", "b"),
    [
        ("{ seen = [1, 20] }", 2, 20),
        ("{ seen = [3, 120] }", 4, 118),
        ('{ odds = "1 in 40", seen = [3, 120] }', 1.25 + 3, 48.75 + 117),
        ('{ odds = "2 %", seen = [0, 1] }', 2, 51),
        ("{ odds = 0.5, seen = [40000, 90000] }", 40025, 50025),
    ],
)
def test_one_step_until_it_works(price, odds, a, b):
    cost = price(step("try", "t", "a", f"lamp = {odds}", 't = "rest"'))
    assert cost.mean == pytest.approx(one_over(a, b), rel=1e-11)
    assert cost.use["a"].mean == pytest.approx(one_over(a, b), rel=1e-11)
    mean_variance = one_over_square(a, b) - one_over(a, b) ** 2 if a > 2 else None
    if mean_variance is not None:
        assert cost.odds_sd == pytest.approx(mean_variance**0.5, rel=1e-8)
        luck = one_over_square(a, b) - one_over(a, b)
        assert cost.law.sd == pytest.approx((mean_variance + luck) ** 0.5, rel=1e-9)


def test_a_chain_with_a_setback(price):
    """V = (1/p + 1) / q, and p and q are independent."""
    cost = price(
        step("one", "t", "a", "u = { seen = [4, 30] }", 't = "rest"')
        + step("two", "u", "b", "lamp = { seen = [2, 9] }", 't = "rest"')
    )
    exact = (one_over(5, 27) + 1) * one_over(3, 8)
    assert cost.mean == pytest.approx(exact, rel=1e-12)


def test_two_outcomes_that_both_work(price):
    """Two of three outcomes of a Dirichlet (3, 2, 16): together Beta(5, 16)."""
    cost = price(
        step("try", "t", "a", "lamp = { seen = [2, 18] }", "u = { seen = [1, 18] }", 't = "rest"')
        + '[[step]]\nname = "go"\nfrom = "u"\nto = "lamp"\nuses = { b = 1 }\n'
    )
    exact = one_over(5, 16) + 2 / 5
    assert cost.mean == pytest.approx(exact, rel=1e-12)
    assert cost.visits["u"] == pytest.approx(2 / 5, rel=1e-12)


def test_rungs_that_share_their_odds(price):
    """Two successes in a row, one unsure chance: V = 1/p + 1/p^2."""
    cost = price(
        '[[step]]\nname = "harden {n}"\nvary = { n = "0..1" }\nfrom = "edge {n}"\n'
        'uses = { a = 1 }\n[step.outcomes]\n"edge {n+1}" = { seen = [6, 20] }\n"edge 0" = "rest"\n'
        '[[step]]\nname = "take"\nfrom = "edge 2"\nto = "lamp"\n'
    )
    assert cost.mean == pytest.approx(one_over(7, 15) + one_over_square(7, 15), rel=1e-12)


def test_a_way_round_an_unsure_step(price):
    """V = (2 - p) / (1 - (1-p)(1-q)), against numerical integration."""
    cost = price(
        step("one", "t", "a", "lamp = { seen = [3, 12] }", 'u = "rest"')
        + step("two", "u", "b", "lamp = { seen = [1, 6] }", 't = "rest"')
    )

    points, shares = np.polynomial.legendre.leggauss(400)
    p, q = np.meshgrid((1 + points) / 2, (1 + points) / 2)
    value = (1 + (1 - p)) / (1 - (1 - p) * (1 - q))
    density = beta.pdf(p, 4, 10) * beta.pdf(q, 2, 6)
    exact = shares @ (value * density) @ shares / 4
    assert cost.mean == pytest.approx(exact, rel=1e-7)


def test_odds_of_a_step_that_is_not_taken_do_not_matter(price):
    cost = price(
        step("one", "t", "a", "lamp = 0.5", 't = "rest"')
        + step("two", "t", "b", "lamp = { odds = 0.01, seen = [0, 5] }", 't = "rest"')
    )
    assert (cost.mean, cost.odds_sd) == (pytest.approx(2), 0.0)


def beta_geometric_quantile(a: float, b: float, share: float) -> int:
    """Least t with 1 - B(a, b + t) / B(a, b) >= share: tries until the first success."""
    tries = np.arange(100_000)
    beyond = np.exp(betaln(a, b + tries) - betaln(a, b))
    return int(tries[np.searchsorted(-beyond, -(1 - share))])


@pytest.mark.parametrize(("came", "tries"), [(3, 120), (30, 1200), (300, 12_000), (3000, 120_000)])
def test_quantiles_are_those_of_the_beta_geometric_law(price, came, tries):
    seen = f"lamp = {{ seen = [{came}, {tries}] }}"
    law = price(step("try", "t", "a", seen, 't = "rest"')).law
    for share in (0.05, 0.25, 0.5, 0.8, 0.9, 0.95, 0.99):
        exact = beta_geometric_quantile(came + 1, tries - came + 1, share)
        assert law.quantile(share) == exact


def test_no_success_seen_and_none_stated_has_no_mean_but_quantiles(price):
    cost = price(step("try", "t", "a", "lamp = { seen = [0, 20] }", 't = "rest"'))
    assert cost.mean is None
    assert cost.odds_sd is None
    assert cost.use["a"].mean is None
    assert cost.visits == {"t": None, "lamp": None}
    assert any("no mean exists: step 'try'" in each for each in cost.cautions)
    for share in (0.05, 0.25, 0.5, 0.8, 0.9):
        exact = beta_geometric_quantile(1, 21, share)
        assert cost.law.quantile(share) == pytest.approx(exact, abs=1, rel=0.01)


def test_one_success_has_a_mean_but_no_spread(price):
    cost = price(step("try", "t", "a", "lamp = { seen = [1, 20] }", 't = "rest"'))
    assert cost.mean == pytest.approx(21)
    assert cost.law.sd == np.inf
    low, high = (1 / beta.ppf(share, 2, 20) for share in (0.84, 0.16))
    assert cost.odds_sd == pytest.approx((high - low) / 2, rel=0.05)
    assert any("no standard deviation exists" in each for each in cost.cautions)


def test_pieces_share_the_odds_whatever_they_are(price):
    """Variance of N pieces: N E[(1-p)/p^2] + N^2 Var(1/p)."""
    cost = price(step("try", "t", "a", "lamp = { seen = [8, 60] }", 't = "rest"'), pieces=10)
    a, b = 9, 53
    between = one_over_square(a, b) - one_over(a, b) ** 2
    within = one_over_square(a, b) - one_over(a, b)
    assert cost.mean == pytest.approx(10 * one_over(a, b), rel=1e-12)
    assert cost.law.sd == pytest.approx((10 * within + 100 * between) ** 0.5, rel=1e-9)
    own = cost.law.pmf @ (cost.law.values - cost.mean) ** 2
    assert own**0.5 == pytest.approx(cost.law.sd, rel=2e-2)


def test_many_unsure_steps_in_a_row(price):
    """Fourteen unsure steps, one after another: more chances than nodes could be combined."""
    names = [*"tuvwxyzklmnopq", "lamp"]
    steps = "".join(
        step(f"go {here}", here, "a", f"{there} = {{ seen = [3, 9] }}", f'{here} = "rest"')
        for here, there in pairwise(names)
    )
    assert price(steps).mean == pytest.approx(14 * one_over(4, 7), rel=1e-12)
