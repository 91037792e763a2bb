"""The law of the units needed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from advisor.decide.stock.need import NeedLaw
from advisor.errors import BadInput


def geometric(odds, most=3000):
    tries = np.arange(1, most)
    return NeedLaw.of_values(tries, stats.geom.pmf(tries, odds))


def test_mean_and_quantiles_of_a_geometric_need():
    need = geometric(0.025)
    assert need.mean == pytest.approx(40, rel=1e-6)
    for chance in (0.05, 0.5, 0.8, 0.95, 0.99):
        assert need.quantile(chance) == stats.geom.ppf(chance, 0.025)
    assert need.chance_above(100) == pytest.approx(0.975**100, rel=1e-6)


def test_parts_of_a_unit_are_bought_whole():
    need = NeedLaw.of_values([0.5, 1.0, 1.2], [0.2, 0.3, 0.5])
    assert need.pmf == pytest.approx([0.0, 0.5, 0.5])


def test_rounding_of_a_lattice_does_not_add_a_unit():
    assert NeedLaw.of_values([3 * 0.1 * 10], [1.0]).most == 3


def test_stock_on_hand_is_taken_off():
    need = NeedLaw.of_values([1, 2, 3, 4], [0.1, 0.2, 0.3, 0.4])
    left = need.less(3)
    assert left.pmf == pytest.approx([0.6, 0.4])
    assert need.less(4).most == 0
    assert need.less(99).mean == 0
    assert need.less(0) is need


def test_memoryless_need_stays_the_same():
    # geometric: what is still needed, given that the stock did not do, has the same law
    need, left = geometric(0.1), geometric(0.1).less(7)
    given = left.pmf[1:] / left.pmf[1:].sum()
    assert given[:50] == pytest.approx(need.pmf[1:51], rel=1e-6)


def test_sum_of_needs_is_a_negative_binomial():
    total = geometric(0.05).plus(geometric(0.05)).plus(geometric(0.05))
    tries = np.arange(3, 200)
    assert total.pmf[3:200] == pytest.approx(stats.nbinom.pmf(tries - 3, 3, 0.05), abs=1e-9)
    assert total.mean == pytest.approx(60, rel=1e-6)


def test_means_by_transform_are_the_direct_sums():
    need = geometric(0.02)
    short = np.sqrt(np.arange(need.most + 1.0))
    left = -(np.arange(2001.0) ** 0.9)
    stock = np.arange(0, 2001, 37)
    direct = need.mean_over(stock, short=short, left=left)
    at_once = need._mean_over_all(short, left)[stock]
    assert at_once == pytest.approx(direct, rel=1e-9, abs=1e-9)


def test_refusals():
    with pytest.raises(BadInput, match="-1 units on hand"):
        geometric(0.5).less(-1)
    with pytest.raises(BadInput, match="a need of -2 units"):
        NeedLaw.of_values([-2, 1], [0.5, 0.5])


def test_hardly_possible_needs_are_out_of_sight():
    need = geometric(0.5, most=1000)
    assert need.most == 30  # 2^-30 is the last power of two above a thousand-millionth
    assert need.pmf.sum() == pytest.approx(1)
    assert need.chance_above(need.most) == 0
    assert need.chance_above(-1) == 1
