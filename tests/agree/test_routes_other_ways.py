"""What else could be done at a stage, against the linear equations written out for each."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.routes.other_ways import find_other_ways
from advisor.routes.solve import best_choices


class Answer:
    """What `find_other_ways` reads of an answer."""

    def __init__(self, model, costs):
        from advisor.routes.cost_answer import StageChoice

        found = best_choices(model, costs)
        self.model, self.outcome_costs, self.actions = model, costs, found.actions
        self.best = found.cost_to_go
        self.choices = {
            stage: StageChoice("step", "", float(found.cost_to_go[place]))
            for place, stage in enumerate(model.stages)
            if found.actions[place] >= 0
        }
        self.visits = dict.fromkeys(model.stages, 1.0)


@pytest.mark.parametrize("seed", range(6))
def test_taken_once_then_the_best(seed):
    """Random routes of six stages with three actions each. With T the best way's matrix and r
    its costs, v solves (I - T) v = r (numpy); an action's cost to go is c + p v, never below v."""
    from advisor.routes.sketch import sketch_route

    rng = np.random.default_rng(seed)
    actions, rows = [], []
    for stage in range(6):
        for _ in range(3):
            odds = rng.dirichlet(np.ones(7))
            cost = float(rng.uniform(1, 9))
            actions.append((stage, [(float(p), to, cost) for to, p in enumerate(odds)]))
            rows.append((stage, odds[:6], cost))
    model, costs = sketch_route(actions, done=[6])
    answer = Answer(model, costs)
    taken = [answer.actions[stage] for stage in range(6)]
    moves, spent = (np.array([rows[a][k] for a in taken]) for k in (1, 2))
    value = np.linalg.solve(np.eye(6) - moves, spent)
    others = find_other_ways(answer)
    assert len(others) == 12
    expected = sorted(rows[a][2] + float(rows[a][1] @ value) for a in range(18) if a not in taken)
    assert sorted(each.cost_to_go for each in others) == pytest.approx(expected)
    assert all(each.cost_to_go >= value[model.stages.index(each.stage)] - 1e-9 for each in others)
