"""The worth of news on a textbook's decision tree: the oil wildcatter.

H. Raiffa, Decision Analysis: Introductory Lectures on Choices under Uncertainty
(Addison-Wesley 1968), chapter 2; figures from memory. A hole is dry, wet or soaking
with chances .5, .3, .2 and pays -70, 50 or 200 (thousand dollars) if one drills.
A seismic sounding shows no, open or closed structure. In the book: drilling is worth
20 and knowing the hole 35 more. The worth of the sounding follows from its table.
"""

from __future__ import annotations

import numpy as np
import pytest

from advisor.decide.worth_of_news import worth_of_news

HOLES = np.array([0.5, 0.3, 0.2])
PAYS = np.array([-70.0, 50.0, 200.0])
SOUNDING = np.array([[0.6, 0.3, 0.1], [0.3, 0.4, 0.3], [0.1, 0.4, 0.5]])
"""Chance of no, open and closed structure over a dry, wet and soaking hole."""


def costs_of(pays):
    """Drilling costs minus what it pays; leaving it costs nothing."""
    return [(-pay, 0.0) for pay in pays]


def test_drilling_is_worth_twenty():
    assert float(HOLES @ PAYS) == pytest.approx(20)


def test_knowing_the_hole_is_worth_thirty_five():
    """.3 * 50 + .2 * 200 = 55 with full knowledge, 20 without."""
    assert worth_of_news(HOLES, costs_of(PAYS)) == pytest.approx(35)


def test_the_sounding_is_worth_twelve_and_a_half():
    """Bayes by hand: no structure, chance .41, drilling -12.5 / .41, is left alone; open
    11.5 / .35 and closed 21 / .24 are drilled: 32.5 with the sounding, 20 without.
    """
    shown = HOLES @ SOUNDING
    assert shown == pytest.approx([0.41, 0.35, 0.24])
    expected = (HOLES * PAYS) @ SOUNDING / shown
    assert worth_of_news(shown, costs_of(expected)) == pytest.approx(12.5)


def test_a_sounding_that_says_nothing_is_worth_nothing():
    assert worth_of_news([0.3, 0.7], costs_of([20.0, 20.0])) == 0.0
