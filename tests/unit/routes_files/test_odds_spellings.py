"""The spellings of odds; every one of these says one in forty, or what stands beside it."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from advisor.errors import RouteFault
from advisor.routes.step_odds import stated_odds
from advisor.routes.vary import Rungs

ONE_IN_FORTY = [
    "0.025", '"2.5 %"', '"2.5%"', '"2,5 %"', '"2.5\u00a0%"', '"1 in 40"', '"1 IN 40"', '"3 in 120"',
    '"0.5 in 20"', '"1/40"', '"1 / 40"', '"0.025"', '"0,025"', '{ odds = "1 in 40" }',
    "{ odds = 0.025 }",
]  # fmt: skip


def odds_of(step) -> np.ndarray:
    return stated_odds(step, Rungs(step.vary))


def two_ways(steps_of, first: str, second: str):
    text = f'[[step]]\nname = "s"\nfrom = "t"\n[step.outcomes]\na = {first}\nb = {second}\n'
    return steps_of(text).steps[0]


@pytest.mark.parametrize("spelling", ONE_IN_FORTY)
def test_one_in_forty(steps_of, spelling):
    step = two_ways(steps_of, spelling, '"rest"')
    assert step.outcomes[0].odds.value == Fraction(1, 40)
    assert odds_of(step).ravel().tolist() == [0.025, 0.975]


@pytest.mark.parametrize("rest", ['"rest"', '"Rest"', '" rest "', '{ odds = "rest" }'])
def test_rest_is_what_the_others_leave(steps_of, rest):
    assert odds_of(two_ways(steps_of, '"1 in 3"', rest)).ravel().tolist() == [1 / 3, 2 / 3]


def test_three_thirds_are_one_exactly(steps_of):
    step = steps_of(
        '[[step]]\nname = "s"\nfrom = "t"\n[step.outcomes]\na = "1 in 3"\nb = "1/3"\nc = "1 in 3"\n'
    ).steps[0]
    assert odds_of(step).sum() == 1.0


def test_rest_of_nothing_is_exactly_nothing(steps_of):
    step = steps_of(
        '[[step]]\nname = "s"\nfrom = "t"\n[step.outcomes]\na = 0.9\nb = 0.1\nc = "rest"\n'
    ).steps[0]
    assert odds_of(step).ravel().tolist() == [0.9, 0.1, 0.0]


def test_weights_are_shares_of_their_sum(steps_of):
    step = two_ways(steps_of, "{ weight = 300 }", "{ weight = 0.5 }")
    assert odds_of(step).ravel().tolist() == [300 / 300.5, 0.5 / 300.5]


def test_a_sum_off_by_less_than_a_billionth_is_rounding(steps_of):
    odds = odds_of(two_ways(steps_of, "0.3333333333", "0.6666666666")).ravel()
    assert odds.sum() == pytest.approx(1.0, abs=1e-15)


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        ("0.5", "0.43", "the odds sum to 0.93"),
        ("0.5", "0.500000002", "the odds sum to 1.000000002"),
        ("0.6", "0.6", "the odds sum to 1.2"),
        ('"1 in 3"', '"1 in 3"', "the odds sum to 0.6666666667"),
        ("{ weight = 0 }", "{ weight = 0 }", "the weights sum to 0"),
    ],
)
def test_a_sum_that_is_not_one_names_line_step_and_sum(steps_of, first, second, said):
    with pytest.raises(RouteFault, match=said) as caught:
        odds_of(two_ways(steps_of, first, second))
    assert (caught.value.line, caught.value.step) == (6, "s")
    assert caught.value.right is not None


def test_more_than_one_leaves_no_rest(steps_of):
    step = steps_of(
        '[[step]]\nname = "s"\nfrom = "t"\n[step.outcomes]\na = 0.9\nb = 0.2\nc = "rest"\n'
    ).steps[0]
    with pytest.raises(RouteFault, match=r"sum to 1\.1; they must sum to 1$"):
        odds_of(step)


def test_one_rung_of_many_that_does_not_sum_to_one_is_named(steps_of):
    step = steps_of(
        '[[step]]\nname = "s {n}"\nvary = { n = "0..2" }\nfrom = "t {n}"\n[step.outcomes]\n'
        'a = { by = "n", values = ["90 %", "80 %", "70 %"] }\n'
        'b = { by = "n", values = ["10 %", "30 %", "30 %"] }\n'
    ).steps[0]
    with pytest.raises(RouteFault, match=r"step 's 1': the odds sum to 1\.1"):
        odds_of(step)


def test_numbers_of_many_digits_are_added_exactly(steps_of):
    """A common denominator beyond 64 bits; the rest is exact all the same."""
    first, second = "0.123456789012345678", '"1 in 999999999999999"'
    step = two_ways(steps_of, first, second)
    step = steps_of(
        f'[[step]]\nname = "s"\nfrom = "t"\n[step.outcomes]\na = {first}\nb = {second}\nc="rest"\n'
    ).steps[0]
    exact = 1 - Fraction("0.123456789012345678") - Fraction(1, 999999999999999)
    assert odds_of(step)[2, 0] == float(exact)
