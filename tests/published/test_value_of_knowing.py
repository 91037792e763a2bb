"""The unit normal loss integral and the value of knowing, from a table and by integration.

Raiffa & Schlaifer, Applied Statistical Decision Theory (1961), Table II: unit
normal linear-loss integral. Values from memory: L(0) = .3989, L(0.5) = .1978,
L(1) = .08332, L(2) = .008491.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from advisor.decide.worth_knowing import unit_normal_loss, worth_of_knowing


@pytest.mark.parametrize(
    ("u", "loss"), [(0.0, 0.3989), (0.5, 0.1978), (1.0, 0.08332), (2.0, 0.008491)]
)
def test_table_values(u, loss):
    assert unit_normal_loss(u) == pytest.approx(loss, rel=3e-4)


@pytest.mark.parametrize(("lead", "moves"), [(10.0, 5.0), (-3.0, 8.0), (0.0, 1.0), (40.0, 4.0)])
def test_gain_is_the_mean_of_the_better_choice_less_the_better_mean(lead, moves):
    # choose the first way where its lead is positive, else the second (lead 0)
    informed, _ = integrate.quad(
        lambda x: max(x, 0.0) * stats.norm.pdf(x, lead, moves),
        lead - 12 * moves, lead + 12 * moves, points=[0.0], limit=200,
    )  # fmt: skip
    assert worth_of_knowing(lead, moves) == pytest.approx(informed - max(lead, 0.0), abs=1e-8)


def test_what_is_known_is_worth_nothing():
    assert worth_of_knowing(5.0, 0.0) == 0.0
    assert np.isclose(worth_of_knowing(100.0, 1.0), 0.0)
