"""Posteriors of a chance, against published figures.

BE01: Gelman et al., Bayesian Data Analysis, 3rd ed. (CRC 2013), section 2.4: 437 girls
among 980 births with placenta previa, flat prior: mean 0.446, sd 0.016, median 0.446,
95 % interval [0.415, 0.477].

BE02: the same book, table 2.1: conjugate priors of mean m and size k, Beta(m k, (1-m) k).
On top of the flat prior that is k - 2 tries, of which m k - 1 came.

BE03: NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.1: exact two-sided 90 %
limits for 4 defects in 20: 0.071354 and 0.401029. The limits of Clopper and Pearson are
quantiles of Beta(x, n - x + 1) and Beta(x + 1, n - x).

BE04: Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 5 (exact limits).

BE05: no success in n tries: Laplace's rule of succession 1 / (n + 2) (Feller, vol. 1, V.2);
exact upper 95 % limit against the rule of three, Hanley & Lippman-Hand, JAMA 249 (1983).
"""

from __future__ import annotations

import pytest
from scipy.stats import beta

from advisor.routes.posterior import OddsPosterior, learn_posterior

GIRLS, BOYS = 437, 543


def test_be01_flat_prior():
    posterior = learn_posterior(None, [GIRLS, BOYS], trust=50)
    assert posterior.alphas == (438, 544)
    assert posterior.mean()[0] == pytest.approx(0.446, abs=6e-4)
    assert beta(*posterior.alphas).std() == pytest.approx(0.016, abs=6e-4)
    limits = [posterior.quantile(0, share) for share in (0.5, 0.025, 0.975)]
    assert limits == pytest.approx([0.446, 0.415, 0.477], abs=6e-4)


@pytest.mark.parametrize(
    ("prior_mean", "prior_size", "limits"),
    [
        (0.5, 2, [0.446, 0.415, 0.477]),
        (0.485, 5, [0.446, 0.415, 0.477]),
        (0.485, 10, [0.446, 0.415, 0.477]),
        (0.485, 20, [0.447, 0.416, 0.478]),
        (0.485, 100, [0.450, 0.420, 0.479]),
        (0.485, 200, [0.453, 0.424, 0.481]),
    ],
)
def test_be02_stated_odds_as_tries(prior_mean, prior_size, limits):
    trust = prior_size - 2
    stated = (prior_mean * prior_size - 1) / trust if trust else 0.5
    posterior = learn_posterior([stated, 1 - stated], [GIRLS, BOYS], trust=trust)
    own = [posterior.quantile(0, share) for share in (0.5, 0.025, 0.975)]
    assert own == pytest.approx(limits, abs=6e-4)


def exact_limits(came: int, tries: int, level: float) -> tuple[float, float]:
    """Exact limits as quantiles of the posteriors with one success, or one failure, less."""
    tail = (1 - level) / 2
    low = OddsPosterior((came, tries - came + 1)).quantile(0, tail) if came else 0.0
    return low, OddsPosterior((came + 1, tries - came)).quantile(0, 1 - tail)


def test_be03_exact_limits():
    assert exact_limits(4, 20, 0.90) == pytest.approx((0.071354, 0.401029), abs=1.5e-6)


@pytest.mark.parametrize(
    ("came", "tries", "low", "high"),
    [
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0, 0.1684),
        (1, 29, 9e-4, 0.1776),
    ],
)
def test_be04_exact_limits(came, tries, low, high):
    assert exact_limits(came, tries, 0.95) == pytest.approx((low, high), abs=6e-5)


@pytest.mark.parametrize(
    ("tries", "next_one", "upper"),
    [
        (20, 0.04545454545, 0.1391083407),
        (100, 0.009803921569, 0.02951304961),
        (1000, 0.000998003992, 0.002991249545),
    ],
)
def test_be05_no_success_yet(tries, next_one, upper):
    posterior = learn_posterior(None, [0, tries], trust=50)
    assert posterior.single_odds()[0] == pytest.approx(next_one, abs=1e-10)
    limit = OddsPosterior((1, tries)).quantile(0, 0.95)
    assert limit == pytest.approx(upper, abs=1e-10)
    assert limit < 3 / tries
