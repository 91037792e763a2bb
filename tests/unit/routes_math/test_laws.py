"""The law of a total as a value: quantiles, atoms, sums; lattices and lumping. By hand."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.errors import CannotAnswer
from advisor.routes.distribution import cost_distribution
from advisor.routes.lattice import find_common_step, split_onto_lattice
from advisor.routes.lumping import lump_stages
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices
from advisor.routes.total_law import CostDistribution

DIE = CostDistribution(1.0, 1.0, np.full(6, 1 / 6), 3.5, np.sqrt(35 / 12))


def test_a_die():
    assert [DIE.quantile(q) for q in (0.0, 1 / 6, 0.17, 0.5, 1.0)] == [1, 1, 2, 3, 6]
    assert DIE.chance_within(0.99) == 0
    assert DIE.chance_within(3) == pytest.approx(0.5)
    assert DIE.chance_within(100) == 1
    assert DIE.shortfall(0.95) == pytest.approx(6)
    assert DIE.shortfall(0.5) == pytest.approx(5)


def test_two_dice():
    two = DIE.n_fold(2)
    assert two.chance_within(7) == pytest.approx(21 / 36, abs=1e-9)
    assert two.mean == 7
    assert two.sd == pytest.approx(np.sqrt(35 / 6))
    assert DIE.n_fold(1) is DIE


def test_a_certain_cost():
    sure = CostDistribution.certain(12.5)
    assert (sure.quantile(0.05), sure.quantile(0.99), sure.shortfall(0.95)) == (12.5, 12.5, 12.5)
    assert sure.n_fold(4).quantile(0.5) == 50
    assert (sure.chance_within(12.4), sure.chance_within(12.5)) == (0, 1)


def test_a_route_without_luck_has_a_certain_cost():
    model, costs = sketch_route([(0, [(1.0, 1, 1 / 3)]), (1, [(1.0, 2, 1 / 7)])], done=[2])
    law = cost_distribution(model, best_choices(model, costs), costs)
    assert (law.quantile(0.01), law.sd) == (pytest.approx(10 / 21), 0)


def test_amounts_that_cancel_on_every_way_have_no_luck():
    """3.7 paid and 3.7 back at each try, however many: 0 by hand, though rounding adds up."""
    model, costs = sketch_route(
        [(0, [(1.0, 1, 3.7)]), (1, [(0.02, 2, -3.7), (0.98, 0, -3.7)])], done=[2]
    )
    law = cost_distribution(model, best_choices(model, costs + 1.0), costs)
    assert (law.quantile(0.01), law.sd) == (pytest.approx(0.0, abs=1e-12), 0)


def test_a_start_that_is_done_costs_nothing():
    model, costs = sketch_route([(1, [(1.0, 0, 3.0)])], done=[0])
    assert cost_distribution(model, best_choices(model, costs), costs).quantile(0.99) == 0


def test_losses_and_gains_of_one_throw():
    """-3 with 1/4, 0 with 1/4, 8 with 1/2: read off whole."""
    model, costs = sketch_route([(0, [(0.25, 1, -3), (0.25, 1, 0), (0.5, 1, 8)])], done=[1])
    law = cost_distribution(model, best_choices(model, costs), costs)
    assert [law.quantile(q) for q in (0.25, 0.26, 0.5, 0.51)] == [-3, 0, 0, 8]
    assert law.mean == pytest.approx(3.25)


@pytest.mark.parametrize(
    ("amounts", "step"),
    [
        ([6, 9, -15, 0], 3),
        ([0.1, 0.25], 0.05),
        ([7 / 3, 2.0], 1 / 3),
        ([12.34, 0.5], 0.02),
        ([0.0], 1.0),
        ([np.pi, 1.0], None),
    ],
)
def test_the_common_step(amounts, step):
    found = find_common_step(np.array(amounts))
    assert found is None if step is None else found == pytest.approx(step)


def test_splitting_keeps_every_mean():
    amounts = np.array([-2.3, 0.0, 0.7, 5.0])
    split = split_onto_lattice(amounts, 0.5)
    assert split.cell.tolist() == [-5, 0, 1, 10]
    np.testing.assert_allclose(0.5 * (split.cell + split.share), amounts)


def test_stages_with_the_same_future_are_one():
    """Two stages that wait for the same end with the same odds, and one before that leads to both;
    a redraw that forgets where it was."""
    source = np.array([0, 0, 1, 1, 2, 2])
    target = np.array([1, 2, 1, -1, 2, -1])
    kind = np.zeros(6, dtype=int)
    odds = np.array([0.5, 0.5, 0.75, 0.25, 0.75, 0.25])
    lumped = lump_stages(source, target, kind, odds, 0)
    assert len(lumped.rows) == 2
    redraw_source = np.repeat([0, 1, 2], 4)
    redraw_target = np.tile([0, 1, 2, -1], 3)
    lumped = lump_stages(redraw_source, redraw_target, np.zeros(12, int), np.full(12, 0.25), 1)
    only = lumped.start
    assert lumped.rows == {only: {(only, 0): 0.75, (-1, 0): 0.25}}


def test_stages_with_another_future_stay_apart():
    source, target = np.array([0, 0, 1, 2]), np.array([1, 2, -1, -1])
    lumped = lump_stages(source, target, np.array([0, 0, 0, 1]), np.array([0.5, 0.5, 1, 1]), 0)
    assert sorted(lumped.rows) == [0, 1, 2]


def test_a_redraw_over_many_stages_is_quick_and_right():
    """Three hundred stages, from each of which a redraw of 2 leads to any or to the end with odds
    1/301: geometric."""
    count = 300
    row = [(1 / (count + 1), t, 2.0) for t in [*range(count), -1]]
    model, costs = sketch_route([(s, row) for s in range(count)])
    law = cost_distribution(model, best_choices(model, costs), costs)
    assert law.mean == pytest.approx(2 * (count + 1))
    assert law.chance_within(2 * 100) == pytest.approx(1 - (count / (count + 1)) ** 100, abs=1e-9)


def test_a_way_with_more_steps_than_numbers_can_tell_is_said_to_be():
    rungs = [(k, [(0.5, k + 1, 1.1), (0.5, 0, 1.3)]) for k in range(46)]
    model, costs = sketch_route(rungs, done=[46])
    with pytest.raises(CannotAnswer, match="too many steps"):
        cost_distribution(model, best_choices(model, costs), costs)
