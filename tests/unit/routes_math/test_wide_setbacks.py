"""Chains too wild to factor are solved by iteration, with the same answer as by factoring."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import csr_array, eye_array

from advisor.routes import equations, wide_setbacks
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices


def tumbling(count, seed=0):
    """Mostly up by one, now and then back to any earlier stage."""
    random = np.random.default_rng(seed)
    stage = np.arange(count)
    back = random.integers(0, stage + 1)
    fail = np.full(count, 3.0 / count)
    row = np.concatenate((stage[:-1], stage))
    column = np.concatenate((stage[1:], back))
    return csr_array((np.concatenate((1 - fail[:-1], fail)), (row, column)), shape=(count, count))


@pytest.fixture
def never_factored(monkeypatch):
    monkeypatch.setattr(wide_setbacks, "SMALL_BLOCK", 10)
    monkeypatch.setattr(wide_setbacks, "ENTRIES_AT_MOST", 10)


def test_only_wide_and_wild_setbacks_fill(monkeypatch):
    monkeypatch.setattr(wide_setbacks, "SMALL_BLOCK", 10)
    count = 2000
    stage = np.arange(count)
    up = (stage[:-1], stage[1:])

    def with_setbacks(target):
        row, column = np.concatenate((up[0], stage)), np.concatenate((up[1], target))
        return csr_array((np.full(len(row), 0.5), (row, column)), shape=(count, count))

    assert not wide_setbacks.fills_too_much(with_setbacks(np.maximum(stage - 5, 0)))
    assert not wide_setbacks.fills_too_much(with_setbacks(0 * stage))  # one hub
    assert wide_setbacks.fills_too_much(tumbling(count))


def test_iteration_and_factors_agree(never_factored):
    onward = tumbling(1500)
    right = np.random.default_rng(1).random(1500)
    matrix = (eye_array(1500, format="csr") - onward).toarray()
    chain = equations.ChainEquations(onward)
    np.testing.assert_allclose(chain.solve(right), np.linalg.solve(matrix, right), rtol=1e-9)
    np.testing.assert_allclose(
        chain.solve_transposed(right), np.linalg.solve(matrix.T, right), rtol=1e-9
    )


def test_a_route_solved_by_iteration_has_its_proof(never_factored):
    actions = []
    back = np.random.default_rng(2).integers(0, np.arange(400) + 1)
    for stage in range(400):
        actions.append((stage, [(0.99, stage + 1, 2.0), (0.01, int(back[stage]), 1.0)]))
        actions.append((stage, [(1.0, stage + 1, 3.0)]))
    model, costs = sketch_route(actions, done=[400])
    found = best_choices(model, costs)
    assert found.upper - found.lower <= 1e-9 * found.lower
    assert isinstance(
        equations.ChainEquations(tumbling(400))._factors, wide_setbacks.IteratedSolution
    )
