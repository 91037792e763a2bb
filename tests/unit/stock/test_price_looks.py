"""What a look tells of the price ahead: the filter and its unconditional law."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from advisor.decide.stock.price_looks import look_ahead


def walk(start_sd=0.1, quote_sd=0.05, days=8):
    return SimpleNamespace(
        start_log=math.log(3.0),
        start_sd=start_sd,
        drift=np.linspace(-0.02, 0.03, days),
        day_sd=np.full(days, 0.04),
        quote_sd=quote_sd,
    )


def test_first_look_by_hand():
    # P = 0.1^2 + 0.04^2 = 0.0116, R = 0.0025: K = 0.0116 / 0.0141
    look = look_ahead(walk(), 1)[0]
    assert look.sd == pytest.approx(math.sqrt(0.0141))
    assert look.learn == pytest.approx(0.0116 / 0.0141)
    assert look.middle == pytest.approx(3.0 * math.exp(-0.02))


def test_looks_one_after_the_other_are_regression_on_all_of_them():
    """The filter's expectation is the conditional mean of a normal, taken at once."""
    law, days = walk(), 5
    index = np.arange(1, days + 1)
    level_cov = law.start_sd**2 + 0.04**2 * np.minimum.outer(index, index)
    seen_cov = level_cov + law.quote_sd**2 * np.eye(days)
    surprise = np.array([0.1, -0.05, 0.2, 0.0, -0.1])
    at_once = level_cov[-1] @ np.linalg.solve(seen_cov, surprise)
    expected = 0.0
    for look, seen in zip(look_ahead(law, days), surprise, strict=True):
        expected += look.learn * (seen - expected)
    assert expected == pytest.approx(at_once)


def test_all_looks_together_have_the_law_of_the_path():
    """Mean of a lognormal: exp(mean + variance / 2), whatever was learned on the way."""
    law, days = walk(), 8
    looks = look_ahead(law, days)
    mean = looks[-1].mean_price * looks[-1].middle
    for look in looks[:-1]:
        mean *= float(look.odds @ look.prices**look.learn)
    log_var = 0.1**2 + days * 0.04**2 + 0.05**2
    closed_form = 3.0 * math.exp(float(law.drift.sum()) + log_var / 2)
    assert mean == pytest.approx(closed_form, rel=1e-4)


def test_a_known_price_has_nothing_to_tell():
    still = SimpleNamespace(
        start_log=0.0, start_sd=0.0, drift=np.zeros(2), day_sd=np.zeros(2), quote_sd=0.0
    )
    looks = look_ahead(still, 4)  # two days beyond the law: the level stands still
    assert [look.prices.tolist() for look in looks] == [[1.0]] * 4
    assert {look.learn for look in looks} == {0.0}
    assert {look.middle for look in looks} == {1.0}
