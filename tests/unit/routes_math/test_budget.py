"""The best chance within a budget: by hand, and by plain recursion over every place."""

from __future__ import annotations

import random
from functools import cache

import numpy as np
import pytest

from advisor.errors import CannotAnswer
from advisor.routes.budget import chance_within_budget
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices
from advisor.routes.stages import END


def ask(actions, budget, **options):
    model, costs = sketch_route(actions, **options)
    return chance_within_budget(model, best_choices(model, costs), costs, budget=budget)


LUCK_OR_CERTAINTY = [(0, [(0.1, 1, 5), (0.9, 0, 5)]), (0, [(1.0, 1, 60)])]


@pytest.mark.parametrize(
    ("budget", "cheapest", "best"),
    [
        (4, 0.0, 0.0),
        (5, 0.1, 0.1),
        (59, 1 - 0.9**11, 1 - 0.9**11),
        (60, 1 - 0.9**12, 1.0),
        (100, 1 - 0.9**20, 1.0),
    ],
)
def test_luck_is_cheaper_but_certainty_fits_the_budget(budget, cheapest, best):
    """Tries of 5 that work once in ten cost 50 on average; 60 buys it for sure."""
    found = ask(LUCK_OR_CERTAINTY, budget, done=[1])
    assert (found.cheapest, found.best) == pytest.approx((cheapest, best), abs=1e-12)


def test_the_switch_comes_when_no_more_than_the_certain_price_is_left():
    """With 200 one may try until 60 is left, and only then must pay for certainty."""
    switch = ask(LUCK_OR_CERTAINTY, 200, done=[1]).switch
    assert switch is not None
    assert (switch.stage, switch.money_left, switch.action) == (0, 60, 1)
    assert switch.chance == pytest.approx(1.0)


def test_where_the_cheapest_way_is_best_there_is_no_switch():
    assert ask([(0, [(0.5, 1, 2), (0.5, 0, 2)])], 10, done=[1]).switch is None


def test_a_free_step_is_tried_until_it_works():
    """Free tries at 1 in 50 lead to a stage that wants 10: certain with 10, hopeless with 9."""
    actions = [(0, [(0.02, 1, 0), (0.98, 0, 0)]), (1, [(1.0, 2, 10)])]
    assert ask(actions, 10, done=[2]).best == pytest.approx(1.0, abs=1e-11)
    assert ask(actions, 9, done=[2]).best == 0.0


def test_what_comes_back_may_be_spent():
    """10 is paid; half the time 10 comes back and one tries again, so 10 is enough for ever; the
    other half ends. Without anything coming back the chance would be a half."""
    actions = [(0, [(0.5, END, 10), (0.5, 1, 10)]), (1, [(1.0, 0, -10)])]
    assert ask(actions, 10).best == pytest.approx(1.0, abs=1e-11)


def test_money_that_is_not_there_cannot_be_spent():
    """12 must be laid out before 10 of it comes back: a budget of 11 will not do."""
    actions = [(0, [(1.0, 1, 12)]), (1, [(1.0, END, -10)])]
    assert ask(actions, 11).best == 0.0
    assert ask(actions, 12).best == 1.0


def test_a_done_start_needs_no_money():
    assert ask([(1, [(1.0, 0, 3)])], 0, done=[0]).best == 1.0


def test_too_many_stages_are_refused_in_a_sentence(monkeypatch):
    monkeypatch.setattr("advisor.routes.affordable.PLACES_AT_MOST", 100)
    with pytest.raises(CannotAnswer, match="too many to ask"):
        ask(LUCK_OR_CERTAINTY, 60, done=[1])


def recurse(actions, budget):
    """The best chance by plain recursion; costs are whole and positive."""
    by_stage: dict = {}
    for at, outcomes in actions:
        by_stage.setdefault(at, []).append(outcomes)

    @cache
    def best(stage, left):
        return max(
            sum(
                odds * (1.0 if onto == END else best(onto, left - cost))
                for odds, onto, cost in outcomes
                if cost <= left
            )
            for outcomes in by_stage[stage]
        )

    return best(0, budget)


def test_random_routes_agree_with_plain_recursion():
    chance = random.Random(4)
    parted = 0
    for _ in range(200):
        count = chance.randint(1, 4)
        actions = []
        for stage in range(count):
            for _ in range(chance.randint(1, 3)):
                goes = [chance.choice([END, *range(count)]) for _ in range(2)]
                odds = chance.uniform(0.1, 0.8)
                costs = [chance.randint(1, 9) for _ in range(3)]
                outcomes = [(odds, goes[0], costs[0]), (0.9 - odds, goes[1], costs[1])]
                actions.append((stage, [*outcomes, (0.1, END, costs[2])]))
        budget = chance.randint(0, 60)
        found = ask(actions, budget)
        assert found.best == pytest.approx(recurse(actions, budget), abs=1e-12)
        parted += found.switch is not None
    assert parted > 30


def test_amounts_between_cells_are_nearly_right():
    """Prices times a factor that fits no lattice, the budget as well."""
    exact = ask([(0, [(1 / 8, 1, 5), (7 / 8, 0, 5)])], 103.1, done=[1])
    factor = np.pi / 3
    scaled = ask([(0, [(1 / 8, 1, 5 * factor), (7 / 8, 0, 5 * factor)])], 103.1 * factor, done=[1])
    assert exact.fits
    assert not scaled.fits
    assert scaled.best == pytest.approx(exact.best, abs=2e-3)
