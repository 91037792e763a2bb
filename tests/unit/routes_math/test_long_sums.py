"""Sums of laws with more cells than their range is bounded by, block by block."""

from __future__ import annotations

import math

import numpy as np
import pytest

from advisor.routes.total_law import BLOCKS, CostDistribution


@pytest.mark.parametrize("count", [2, 50])
@pytest.mark.parametrize("left", [False, True])
def test_a_long_sum_holds_all_but_a_trifle(count, left):
    """Two values far apart: the sum is binomial on its own lattice, every atom known."""
    cells, share = 40 * BLOCKS, 0.001
    odds = 1 - share if left else share
    pmf = np.zeros(cells)
    pmf[0], pmf[-1] = 1 - odds, odds
    far = float(cells - 1)
    law = CostDistribution(0.0, 1.0, pmf, odds * far, math.sqrt(odds * (1 - odds)) * far)
    total = law.n_fold(count)
    sd = math.sqrt(count) * law.sd
    mean = float(total.values @ total.pmf)
    assert mean == pytest.approx(count * odds * far, abs=1e-5 * sd)
    spread = math.sqrt(float((total.values - mean) ** 2 @ total.pmf))
    assert spread == pytest.approx(sd, rel=2e-3)
    # the atoms within the first and the last hundredth of a step of whole times `far`
    for times in (0, 1) if not left else (count, count - 1):
        near = np.abs(total.values - times * far) < far / 100
        binomial = math.comb(count, times) * odds**times * (1 - odds) ** (count - times)
        assert float(total.pmf[near].sum()) == pytest.approx(binomial, abs=1e-8)
