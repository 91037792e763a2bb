"""The bounds hold whatever rounding did, and say nothing for a way that is not the best.

The very numbers the solver sees (doubles) are read as fractions and the chain
solved exactly; odds such as 1/3 and 0.1 and thousands of steps make rounding matter.
"""

from __future__ import annotations

import random
from fractions import Fraction

import numpy as np
import pytest

from advisor.routes.actions import tabulate_actions
from advisor.routes.certificate import bound_least_cost
from advisor.routes.problem import pose_problem
from advisor.routes.sketch import sketch_route


def pose(actions):
    model, costs = sketch_route(actions)
    table = tabulate_actions(model)
    return model, costs, pose_problem(model, table, np.ones(len(model.stages), bool), costs)


def solve_in_fractions(model, costs, problem, policy):
    count = len(policy)
    odds = problem.table.odds
    matrix = [[Fraction(int(i == j)) for j in range(count)] for i in range(count)]
    right = [Fraction(0)] * count
    for stage, action in enumerate(policy):
        row = problem.table.moves[[action]].tocoo()
        for onto, chance in zip(row.col, row.data, strict=True):
            matrix[stage][onto] -= Fraction(float(chance))
        for outcome in np.flatnonzero(model.outcome_action == action):
            right[stage] += Fraction(float(odds[outcome])) * Fraction(float(costs[outcome]))
    for i in range(count):
        for k in range(count):
            if k != i and matrix[k][i]:
                times = matrix[k][i] / matrix[i][i]
                matrix[k] = [a - times * b for a, b in zip(matrix[k], matrix[i], strict=True)]
                right[k] -= times * right[i]
    return [right[i] / matrix[i][i] for i in range(count)]


def draw_chain(chance: random.Random, choices: int):
    count = chance.randint(2, 6)
    actions = []
    for stage in range(count):
        for _ in range(choices):
            rare = chance.choice((1e-3, 0.02, 1 / 3, 0.1))
            back = chance.randrange(count)
            onward = stage + 1 if stage + 1 < count else -1
            costs = [chance.uniform(-1, 9) for _ in range(3)]
            rest = 1 - rare
            actions.append(
                (
                    stage,
                    [
                        (rare, onward, costs[0]),
                        (0.9 * rest, stage, costs[1]),
                        (0.1 * rest, back, costs[2]),
                    ],
                )
            )
    return actions


def test_bounds_hold_the_exact_cost_of_one_way():
    chance = random.Random(91)
    for _ in range(120):
        model, costs, problem = pose(draw_chain(chance, 1))
        policy = np.arange(len(problem.stages))
        proof = bound_least_cost(problem, policy, 0)
        exact = solve_in_fractions(model, costs, problem, policy)[0]
        assert Fraction(proof.lower) <= exact <= Fraction(proof.upper)
        assert proof.upper - proof.lower <= 1e-9 * proof.size or abs(exact) > 1e9


def test_nothing_is_claimed_for_a_way_that_is_not_best():
    """The other way is cheaper by at least 1e-6; then there is no lower bound to be had."""
    chance = random.Random(92)
    met = 0
    for _ in range(120):
        model, costs, problem = pose(draw_chain(chance, 2))
        ways = [problem.table.first[:-1] + chance.randint(0, 1) for _ in range(2)]
        one, other = (solve_in_fractions(model, costs, problem, way)[0] for way in ways)
        dear, cheap = (ways[0], other) if one > other else (ways[1], one)
        if abs(float(one - other)) < 1e-6:
            continue
        met += 1
        proof = bound_least_cost(problem, dear, 0)
        assert Fraction(proof.upper) >= max(one, other)
        assert proof.lower == -np.inf or Fraction(proof.lower) <= cheap
    assert met > 30


@pytest.mark.parametrize("nudge", [1e-12, 1e-9, 1e-6])
def test_a_slightly_cheaper_action_is_not_overlooked(nudge):
    """Bounds for the dearer of two all but equal actions must reach down to the cheaper."""
    actions = [
        (0, [(0.01, -1, 3.0), (0.99, 0, 3.0)]),
        (0, [(0.01, -1, 3.0 - nudge), (0.99, 0, 3.0 - nudge)]),
    ]
    _, _, problem = pose(actions)
    proof = bound_least_cost(problem, np.array([0]), 0)
    assert proof.lower <= 300 - 100 * nudge


def test_bounds_hold_the_cost_of_the_odds_as_written(tmp_path):
    """One in a million as a fraction: exactly four million, though doubles only come near."""
    from advisor.routes.cost import route_cost
    from advisor.routes.read import read_route

    file = tmp_path / "rare.toml"
    for tries in (10**6, 10**9):
        file.write_text(
            '[route]\nmakes = "gem"\n[[step]]\nname = "try"\nfrom = "table"\n'
            f'uses = {{ frame = 1 }}\n[step.outcomes]\n"gem" = "1 in {tries}"\n"table" = "rest"\n'
        )
        routes = {"rare": read_route(file)}
        cost = route_cost("rare", routes=routes, buy={"frame": 4.0}, sell={}, money="shell")
        assert cost.lower <= 4 * tries <= cost.upper
