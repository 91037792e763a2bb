"""Value at risk and expected shortfall, read off a lattice and off a route's own law."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from advisor.routes.distribution import cost_distribution
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices
from advisor.routes.total_law import CostDistribution

DAY_SD = 10_000 * 0.2 / np.sqrt(250)


def put_on_lattice(law, *, step, half_width):
    """The law of a loss rounded to the nearest of evenly spaced values."""
    values = step * np.arange(-round(half_width / step), round(half_width / step) + 1)
    pmf = law.cdf(values + step / 2) - law.cdf(values - step / 2)
    return CostDistribution(values[0], step, pmf / pmf.sum(), law.mean(), law.std())


@pytest.mark.parametrize(
    ("level", "at_risk", "shortfall"),
    [
        (0.9, 162.1, 222.0),
        (0.95, 208.1, 260.9),
        (0.975, 247.9, 295.7),
        (0.99, 294.3, 337.1),
        (0.995, 325.8, 365.8),
    ],
)
def test_normal_loss(level, at_risk, shortfall):
    """McNeil, Frey & Embrechts, Quantitative Risk Management (Princeton), chapter 2: one day's
    loss of 10 000 at 20 % a year (from memory)."""
    law = put_on_lattice(stats.norm(scale=DAY_SD), step=0.01, half_width=1500)
    assert law.quantile(level) == pytest.approx(at_risk, abs=0.06)
    assert law.shortfall(level) == pytest.approx(shortfall, abs=0.06)


@pytest.mark.parametrize(
    ("level", "at_risk", "shortfall"),
    [
        (0.9, 137.1, None),
        (0.95, 190.7, None),
        (0.975, 248.3, 357.2),
        (0.99, 335.1, 466.9),
        (0.995, 411.8, 565.7),
    ],
)
def test_student_loss(level, at_risk, shortfall):
    """The same table for Student's t with 4 degrees of freedom and the same variance."""
    scale = DAY_SD / np.sqrt(2)
    law = put_on_lattice(stats.t(4, scale=scale), step=0.05, half_width=40_000)
    assert law.quantile(level) == pytest.approx(at_risk, abs=0.06)
    if shortfall is not None:
        assert law.shortfall(level) == pytest.approx(shortfall, abs=0.06)


@pytest.mark.parametrize(
    ("level", "normal", "exponential"),
    [(0.95, 2.0627, 3.9957), (0.975, 2.3378, 4.6889), (0.99, 2.6652, 5.6052)],
)
def test_closed_forms(level, normal, exponential):
    """phi(z)/(1 - alpha) and 1 - ln(1 - alpha): Rockafellar & Uryasev, Journal of Risk 2 (2000).
    The exponential is the limit of a step that works once in 40 000 tries."""
    law = put_on_lattice(stats.norm(), step=1e-4, half_width=10)
    assert law.shortfall(level) == pytest.approx(normal, abs=6e-5)
    rare = 1 / 40_000
    model, costs = sketch_route([(0, [(rare, 1, rare), (1 - rare, 0, rare)])], done=[1])
    law = cost_distribution(model, best_choices(model, costs), costs)
    assert law.shortfall(level) == pytest.approx(exponential, abs=6e-4)


def test_the_atom_on_the_border_counts_in_part():
    """Acerbi & Tasche, Journal of Banking & Finance 26 (2002) 1487-1503: 0 with 0.92, 10 with
    0.06, 100 with 0.02; the worst 5 % are all of the 100 and half of the 10:
    (0.02 * 100 + 0.03 * 10) / 0.05 = 46."""
    pmf = np.zeros(11)
    pmf[[0, 1, 10]] = 0.92, 0.06, 0.02
    law = CostDistribution(0.0, 10.0, pmf, 2.6, 14.0)
    assert law.quantile(0.95) == 10
    assert law.shortfall(0.95) == pytest.approx(46.0, rel=1e-12)
