"""Choices among ways whose odds are in doubt, against the averages of every way by hand.

For p ~ Beta(a, b): E[1/p] = (a + b - 1) / (a - 1), Johnson, Kotz & Balakrishnan,
Continuous Univariate Distributions, vol. 2, section 25.3.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.routes.cost import route_cost

HEAD = '[route]\nmakes = "lamp"\n'


def chancy(number: int, onto: str, seen: tuple[int, int]) -> str:
    """Works at most now and then; costs 1 a try."""
    return (
        f'[[step]]\nname = "try {number}"\nfrom = "t{number}"\nfee = 1\n[step.outcomes]\n'
        f'"{onto}" = {{ seen = [{seen[0]}, {seen[1]}] }}\n"t{number}" = "rest"\n'
    )


def certain(number: int, onto: str, price: float) -> str:
    return f'[[step]]\nname = "pay {number}"\nfrom = "t{number}"\nfee = {price}\nto = "{onto}"\n'


def ask(steps_of, steps: str):
    return route_cost(
        "lantern", routes={"lantern": steps_of(steps, HEAD)}, buy={}, sell={}, money="shell"
    )


def mean_tries(seen: tuple[int, int]) -> float:
    """E[1/p] of Beta(seen + 1, rest + 1), the flat prior where nothing is stated."""
    came, tries = seen
    a, b = came + 1, tries - came + 1
    return (a + b - 1) / (a - 1) if a > 1 else float("inf")


def test_the_sure_way_is_taken_where_the_likeliest_odds_mislead(steps_of):
    """3 of 60: 1/p is 62/4 = 15.5 at the single odds, but 61/3 = 20.3 on average."""
    cost = ask(steps_of, chancy(1, "lamp", (3, 60)) + certain(1, "lamp", 18))
    assert cost.choices["t1"].step == "pay 1"
    assert cost.mean == pytest.approx(18)


def test_a_way_that_may_never_end_gives_way_to_one_that_does(steps_of):
    cost = ask(steps_of, chancy(1, "lamp", (0, 20)) + certain(1, "lamp", 25))
    assert cost.choices["t1"].step == "pay 1"
    assert cost.mean == pytest.approx(25)


SEEN = st.tuples(st.integers(0, 6), st.integers(0, 60)).map(lambda pair: (pair[0], sum(pair)))


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(SEEN, SEEN, st.integers(2, 60), st.integers(2, 60))
def test_of_four_ways_the_one_of_least_average_cost(steps_of, first, second, pay, buy):
    """Two stages, at each a try in doubt or a sure price: the better of both, added up."""
    cost = ask(
        steps_of,
        chancy(1, "t2", first)
        + certain(1, "t2", pay)
        + chancy(2, "lamp", second)
        + certain(2, "lamp", buy),
    )
    by_hand = min(pay, mean_tries(first)) + min(buy, mean_tries(second))
    assert cost.mean == pytest.approx(by_hand, rel=2e-3)
