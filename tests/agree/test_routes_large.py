"""Routes large enough for looking ahead, against linear programming (HiGHS) and each other.

The least cost to go solves: maximise the sum of v(s) subject to v(s) <= c(a) + P(a) v
for every action a at s. Source: Puterman, Markov Decision Processes (Wiley 1994),
section 7.2.7, for the program; HiGHS through scipy.optimize.linprog.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.sparse import coo_array

from advisor.routes import solve
from advisor.routes.actions import average_costs, tabulate_actions
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices

STAGES = 400


def sketch_random(seed, *, setback, gain):
    """Three steps a stage, some up, some staying, some falling back; some outcomes earn."""
    random = np.random.default_rng(seed)
    actions = []
    for stage in range(STAGES):
        for _ in range(int(random.integers(1, 4))):
            price = float(random.uniform(1.0, 9.0))
            fail, stay = random.uniform(0.0, 1.0) / setback, random.uniform(0.0, 0.4)
            onward = min(stage + int(random.integers(1, 4)), STAGES)
            back = max(stage - int(random.integers(1, setback)), 0)
            back_cost = price - (gain if random.random() < 0.3 else 0.0)
            outcomes = [(1 - fail - stay, onward, price), (stay, stage, price)]
            actions.append((stage, [*outcomes, (fail, back, back_cost)]))
    return sketch_route(actions, done=[STAGES])


def least_cost_by_program(model, costs):
    table = tabulate_actions(model)
    moves = table.moves.tocoo()
    count = len(table.stage)
    rows = coo_array(
        (
            np.concatenate((np.ones(count), -moves.data)),
            (
                np.concatenate((np.arange(count), moves.row)),
                np.concatenate((table.stage, moves.col)),
            ),
        ),
        shape=(count, table.stage_count),
    ).tocsr()
    bounds = [(None, None) if acts else (0, 0) for acts in table.has_actions]
    found = linprog(
        -np.ones(table.stage_count), A_ub=rows, b_ub=average_costs(model, table, costs),
        bounds=bounds, method="highs",
    )  # fmt: skip
    assert found.status == 0, found.message
    return found.x


@pytest.mark.parametrize(
    ("seed", "setback", "gain"),
    [(1, 2, 0.0), (2, 10, 0.0), (3, 80, 0.0), (4, 10, 2.0), (5, 40, 3.0)],
)
def test_looking_ahead_finds_the_least_cost(seed, setback, gain):
    model, costs = sketch_random(seed, setback=setback, gain=gain)
    found = best_choices(model, costs)
    by_program = least_cost_by_program(model, costs)
    reached = ~np.isnan(found.cost_to_go)
    assert found.cost_to_go[reached] == pytest.approx(by_program[reached], rel=1e-6, abs=1e-6)
    assert found.upper - found.lower <= 1e-9 * max(1.0, abs(found.lower))


@pytest.mark.parametrize("seed", range(6))
def test_looking_ahead_changes_no_answer(seed, monkeypatch):
    model, costs = sketch_random(10 + seed, setback=30, gain=2.0)
    ahead = best_choices(model, costs)
    monkeypatch.setattr(solve, "LOOK_AHEAD_FROM", STAGES + 1)
    plain = best_choices(model, costs)
    assert ahead.iterations < plain.iterations
    assert ahead.actions.tolist() == plain.actions.tolist()
    assert ahead.cost_to_go == pytest.approx(plain.cost_to_go, rel=1e-12, nan_ok=True)
