"""Averages over Beta distributions, against closed forms and a library's own rule."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import beta as beta_function
from scipy.special import roots_jacobi

from advisor.routes.quadrature import beta_nodes, combine_nodes, nodes_for_each


@pytest.mark.parametrize(("a", "b"), [(1.0, 1.0), (0.5, 0.5), (2.5, 7.0), (4.25, 165.75), (1, 21)])
@pytest.mark.parametrize("count", [1, 2, 5, 12])
def test_nodes_are_those_of_the_library(a, b, count):
    roots, weights = roots_jacobi(count, b - 1, a - 1)
    own_nodes, own_weights = beta_nodes(a, b, count)
    assert own_nodes == pytest.approx((1 + roots) / 2, rel=1e-9, abs=1e-12)
    assert own_weights == pytest.approx(weights / weights.sum(), rel=1e-9)


@pytest.mark.parametrize(("a", "b"), [(1.5, 3.0), (4.25, 165.75), (2000.0, 90_000.0)])
def test_the_mean_of_one_over_a_chance(a, b):
    """E[1/q] = (a + b - 1) / (a - 1) for q ~ Beta(a, b): the integral of q^(a-2) (1-q)^(b-1)."""
    nodes, weights = beta_nodes(a, b, 3, pole=1)
    assert weights @ (1 / nodes) == pytest.approx((a + b - 1) / (a - 1), rel=1e-11)
    assert weights.sum() == pytest.approx(1.0, abs=1e-14)
    assert weights @ nodes == pytest.approx(a / (a + b), rel=1e-11)


def test_the_mean_of_one_over_a_square():
    nodes, weights = beta_nodes(4.5, 3.0, 4, pole=2)
    exact = beta_function(2.5, 3.0) / beta_function(4.5, 3.0)
    assert weights @ nodes**-2.0 == pytest.approx(exact, rel=1e-12)


def test_combined_nodes_average_products():
    nodes, weights = combine_nodes([beta_nodes(2, 3, 3), beta_nodes(5, 1, 4)])
    assert nodes.shape == (12, 2)
    assert weights @ np.prod(nodes, axis=1) == pytest.approx(2 / 5 * 5 / 6, rel=1e-12)


@pytest.mark.parametrize("chances", range(1, 15))
def test_nodes_never_exceed_what_is_allowed(chances):
    counts = nodes_for_each(chances, 256, most_each=12)
    assert len(counts) == chances
    assert np.prod(counts) <= 256
    assert min(counts) >= 1
