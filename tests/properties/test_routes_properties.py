"""What must hold of any route, whatever its numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as some

from advisor.errors import RouteFault
from advisor.routes.budget import chance_within_budget
from advisor.routes.chain import sum_chain
from advisor.routes.distribution import cost_distribution
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices
from advisor.routes.stages import END

DRAWS = settings(max_examples=60, deadline=None, derandomize=True)


@some.composite
def routes(draw, least_cost=-3):
    """Up to five stages; every action ends with odds of at least 1/16."""
    count = draw(some.integers(1, 5))
    actions = []
    for stage in range(count):
        for _ in range(draw(some.integers(1, 3))):
            targets = draw(some.lists(some.sampled_from([END, *range(count)]), max_size=3))
            parts = [draw(some.integers(1, 9)) for _ in targets]
            costs = [draw(some.integers(least_cost, 9)) for _ in targets]
            odds = [15 / 16 * part / sum(parts) for part in parts]
            rest = 1.0 - sum(odds)
            last = (rest, END, draw(some.integers(least_cost, 9)))
            actions.append((stage, [*zip(odds, targets, costs, strict=True), last]))
    return actions


def least(actions, start=0):
    model, costs = sketch_route(actions, start=start)
    return best_choices(model, costs).cost_to_go[start]


def close(one, other):
    return abs(one - other) <= 1e-9 * max(1.0, abs(one), abs(other))


@DRAWS
@given(routes(), some.data())
def test_one_more_choice_never_costs_more(actions, data):
    kept = data.draw(some.integers(0, len(actions) - 1))
    fewer = actions[:kept] + actions[kept + 1 :]
    assume({at for at, _ in fewer} == {at for at, _ in actions})
    assert least(actions) <= least(fewer) + 1e-9


@DRAWS
@given(routes(), some.randoms())
def test_order_of_steps_and_numbering_of_stages_do_not_matter(actions, shuffle):
    count = 1 + max(at for at, _ in actions)
    renamed = list(range(count))
    shuffle.shuffle(renamed)
    other = [
        (renamed[at], [(p, t if t == END else renamed[t], c) for p, t, c in outcomes])
        for at, outcomes in actions
    ]
    shuffle.shuffle(other)
    assert close(least(actions), least(other, start=renamed[0]))


@DRAWS
@given(routes(), some.floats(0.01, 1000))
def test_prices_scaled_scale_every_cost(actions, times):
    model, costs = sketch_route(actions)
    one, other = best_choices(model, costs), best_choices(model, times * costs)
    assert close(times * one.cost_to_go[0], other.cost_to_go[0])


@DRAWS
@given(routes(), some.data())
def test_a_step_in_two_parts_costs_the_same(actions, data):
    """A certain half step that pays part of the price, then the rest with the old outcomes."""
    split = data.draw(some.integers(0, len(actions) - 1))
    count = 1 + max(at for at, _ in actions)
    at, outcomes = actions[split]
    part = data.draw(some.integers(0, 5))
    later = (count, [(p, t, c - part) for p, t, c in outcomes])
    other = [*actions[:split], (at, [(1.0, count, part)]), *actions[split + 1 :], later]
    assert close(least(actions), least(other))


@DRAWS
@given(routes())
def test_money_is_conserved(actions):
    """Mean cost is mean use at the buying price less mean gives at the selling price."""
    model, costs = sketch_route(actions)
    choices = best_choices(model, costs)
    sums = sum_chain(model, choices)
    assert close(choices.cost_to_go[0], sums.uses[0].mean - sums.gives[0].mean)
    assert choices.lower - 1e-9 <= choices.cost_to_go[0] <= choices.upper + 1e-9
    assert close(sums.minutes.mean, sums.steps)  # a minute a step in these sketches


@DRAWS
@given(routes())
def test_the_law_has_the_mean_and_spread_of_the_equations(actions):
    model, costs = sketch_route(actions)
    choices = best_choices(model, costs)
    law = cost_distribution(model, choices, costs)
    assert close(law.mean, choices.cost_to_go[0])
    assert abs(law.pmf @ law.values - law.mean) <= 1e-6 * (1 + law.sd)
    spread = np.sqrt(law.pmf @ (law.values - law.mean) ** 2)
    assert abs(spread - law.sd) <= 1e-5 * (1 + law.sd)
    assert np.all(law.pmf >= 0)
    assert law.shortfall(0.95) >= law.quantile(0.95) - 1e-9


@DRAWS
@given(routes(), some.floats(0.3, 3.0))
def test_the_law_of_scaled_prices_is_the_scaled_law(actions, times):
    model, costs = sketch_route(actions)
    choices = best_choices(model, costs)
    law, scaled = (cost_distribution(model, choices, c) for c in (costs, times * costs))
    for share in (0.05, 0.5, 0.95):
        slack = 2 * scaled.step + 3 * scaled.rounding_sd + 1e-9
        below, above = (times * law.quantile(min(1.0, max(0.0, share + s))) for s in (-1e-6, 1e-6))
        assert below - slack <= scaled.quantile(share) <= above + slack


@DRAWS
@given(routes(least_cost=1), some.integers(0, 60))
def test_a_budget_gives_the_law_its_due(actions, budget):
    """With costs that are all positive, the cheapest way finishes in budget as its law says."""
    model, costs = sketch_route(actions)
    choices = best_choices(model, costs)
    law = cost_distribution(model, choices, costs)
    found = chance_within_budget(model, choices, costs, budget=float(budget))
    assert abs(found.cheapest - law.chance_within(budget)) <= 1e-8
    assert found.best >= found.cheapest - 1e-12
    assert (found.switch is None) == (found.best - found.cheapest <= 1e-10)


@DRAWS
@given(routes())
def test_a_route_that_ends_is_never_refused(actions):
    """Every action may end, so no loop is closed and nothing can be refused."""
    model, costs = sketch_route(actions)
    try:
        best_choices(replace(model, start=0), costs)
    except RouteFault as fault:
        raise AssertionError(str(fault)) from fault
