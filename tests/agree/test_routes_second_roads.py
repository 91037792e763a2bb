"""The solver against two general libraries: a model checker and an economics toolbox.

Both are only for tests; where one is not installed its tests are skipped and say so.
"""

from __future__ import annotations

import random

import numpy as np
import pytest

from advisor.routes.actions import average_costs, tabulate_actions
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices
from advisor.routes.stages import END

ROUTES = 120


def draw_route(chance: random.Random, *, least_cost: float):
    """Up to twelve stages, up to four actions each, all of which end with odds of 1/16 or more."""
    count = chance.randint(2, 12)
    actions = []
    for stage in range(count):
        for _ in range(chance.randint(1, 4)):
            targets = [chance.randrange(count) for _ in range(chance.randint(0, 4))]
            parts = [chance.random() + 0.01 for _ in targets]
            odds = [15 / 16 * part / sum(parts) for part in parts]
            costs = [chance.uniform(least_cost, 10) for _ in range(len(targets) + 1)]
            ending = (1.0 - sum(odds), END, costs[-1])
            actions.append((stage, [*zip(odds, targets, costs, strict=False), ending]))
    return actions


@pytest.mark.slow
def test_economics_toolbox_agrees():
    """quantecon's DiscreteDP: rewards of both signs, undiscounted but for a factor of 1 - 1e-12,
    the end as one more state that pays nothing."""
    markov = pytest.importorskip("quantecon.markov", reason="quantecon is not installed")
    from scipy.sparse import csr_matrix, hstack, vstack

    chance = random.Random(31)
    for _ in range(ROUTES):
        model, costs = sketch_route(draw_route(chance, least_cost=-6))
        table = tabulate_actions(model)
        count = table.stage_count
        moves = hstack([csr_matrix(table.moves), csr_matrix(table.ending_odds[:, None])])
        moves = vstack([moves, csr_matrix(([1.0], ([0], [count])), shape=(1, count + 1))])
        rewards = np.append(-average_costs(model, table, costs), 0.0)
        process = markov.DiscreteDP(
            rewards,
            csr_matrix(moves),
            1 - 1e-12,
            np.append(table.stage, count),
            np.append(np.arange(len(table.stage)) - table.first[table.stage], 0),
        )
        other = process.solve(method="policy_iteration").v
        found = best_choices(model, costs)
        known = ~np.isnan(found.cost_to_go)
        np.testing.assert_allclose(found.cost_to_go[known], -other[:count][known], atol=1e-8)


def hand_to_model_checker(model, costs):
    datastructures = pytest.importorskip("stormpy.datastructures", reason="stormpy is missing")
    from stormpy import models

    table = tabulate_actions(model)
    count = table.stage_count
    full = np.zeros((len(table.stage) + 1, count + 1))
    full[:-1, :-1] = table.moves.toarray()
    full[:-1, -1] = table.ending_odds
    full[-1, -1] = 1.0
    groups = [*table.first[:-1].tolist(), len(table.stage)]
    labels = models.StateLabeling(count + 1)
    for label, state in (("init", 0), ("done", count)):
        labels.add_label(label)
        labels.add_label_to_state(label, state)
    per_action = np.append(average_costs(model, table, costs), 0.0)
    reward = models.SparseRewardModel[float](
        optional_state_action_reward_vector=per_action.tolist()
    )
    return models.SparseMdp[float](
        models.SparseModelComponents[float](
            transition_matrix=datastructures.build_sparse_matrix(full, groups),
            state_labeling=labels,
            reward_models={"cost": reward},
        )
    )


def test_model_checker_agrees():
    """stormpy's sparse engine by policy iteration on routes whose costs are not negative (with
    negative ones its bounds assume one sign)."""
    stormpy = pytest.importorskip("stormpy", reason="stormpy is not installed")
    from stormpy import environments

    chance = random.Random(32)
    question = stormpy.parse_properties('R{"cost"}min=? [F "done"]')[0]
    environment = environments.sound()
    solver = environment.solver().min_max()
    solver.precision = stormpy.Rational("1/1000000000000")
    for _ in range(ROUTES):
        model, costs = sketch_route(draw_route(chance, least_cost=0))
        process = hand_to_model_checker(model, costs)
        result = stormpy.model_checking(process, question, environment=environment)
        found = best_choices(model, costs)
        for stage in np.flatnonzero(~np.isnan(found.cost_to_go)):
            assert found.cost_to_go[stage] == pytest.approx(
                float(result.get_value(int(stage))), rel=1e-8, abs=1e-9
            )
