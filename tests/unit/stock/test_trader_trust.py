"""Offers of traders who failed before: the posterior by its closed form, the price by hand."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from advisor.decide.stock.buying_now import OffersNow
from advisor.decide.stock.need import NeedLaw
from advisor.decide.stock.price_tiers import make_tiers
from advisor.decide.stock.supply import weigh_supply
from advisor.decide.stock.supply_question import SupplyQuestion
from advisor.decide.stock.trader_trust import (
    PRIOR_FAILED,
    PRIOR_KEPT,
    TraderRecord,
    tell_trust,
    weigh_trust,
)
from advisor.levels.ladders import Ladder, Rung

PEMMICK, TANSY, HOB = 1, 2, 3


def ladder(*steps, level=2.5):
    return Ladder(tuple(Rung(*step) for step in steps), 0, level, 20, 0.0)


@pytest.mark.parametrize(("kept", "failed"), [(0, 1), (3, 1), (0, 4), (40, 2), (7, 0)])
def test_chance_is_the_mean_of_the_beta_posterior(kept, failed):
    """Mean of Beta(a + failed, b + kept); the reference integrates its density."""
    law = stats.beta(PRIOR_FAILED + failed, PRIOR_KEPT + kept)
    record = TraderRecord(kept=kept, failed=failed)
    assert record.chance_failing == pytest.approx(law.mean())
    assert record.chance_failing == pytest.approx(law.expect(lambda p: p), rel=1e-5)


def test_before_any_deal_one_in_twenty_fails():
    assert TraderRecord(0, 0).chance_failing == pytest.approx(0.05)


def test_a_unit_counts_its_price_and_its_likely_replacement():
    # 1 of 1 failed: 1.2 / 5 = 0.24; 2 + 0.24 * 2.5 = 2.6 is more than 2.4 but less than 3
    trusted = weigh_trust(
        ladder((2.0, 10, PEMMICK), (2.4, 20, TANSY), (3.0, 5, HOB)), {PEMMICK: TraderRecord(0, 1)}
    )
    assert [(each.unit_price, each.trader) for each in trusted.ladder.steps] == [
        (2.4, TANSY),
        (pytest.approx(2.6), PEMMICK),
        (3.0, HOB),
    ]
    assert trusted.risks == {PEMMICK: pytest.approx(0.6)}
    assert trusted.left_aside == ()


def test_dearer_than_looking_further_is_left_aside():
    # 4 of 4 failed: 4.2 / 8; 2 + 0.525 * 2.5 = 3.3 is more than the level 2.5 and than 2.4
    trusted = weigh_trust(
        ladder((2.0, 10, PEMMICK), (2.4, 20, TANSY)), {PEMMICK: TraderRecord(0, 4)}
    )
    assert [each.trader for each in trusted.ladder.steps] == [TANSY]
    assert trusted.left_aside == (Rung(2.0, 10, PEMMICK),)
    alone = weigh_trust(ladder((2.0, 10, PEMMICK)), {PEMMICK: TraderRecord(0, 4)})
    # nobody else stands there: others are looked for at the level
    assert alone.ladder.steps == (Rung(2.5, 10, -1),)


@pytest.mark.parametrize("records", [{}, {PEMMICK: TraderRecord(9, 0)}, {HOB: TraderRecord(0, 3)}])
def test_who_kept_their_word_bears_nothing(records):
    here = ladder((2.0, 10, PEMMICK), (2.4, 20, TANSY))
    trusted = weigh_trust(here, records)
    assert trusted.ladder == here
    assert not trusted.risks


def test_what_is_paid_is_the_asked_price():
    trusted = weigh_trust(
        ladder((2.0, 10, PEMMICK), (2.4, 20, TANSY), (3.0, 5, HOB)), {PEMMICK: TraderRecord(0, 1)}
    )
    for tiers in (None, make_tiers([(50, 2.2)])):
        offers = OffersNow(trusted.ladder, tiers, trusted.risks)
        for units in (0.0, 5.0, 25.0, 33.0, 45.0, 60.0):
            lots = offers.lots_for(units) if units else []
            paid = sum(lot.qty * lot.unit_price for lot in lots)
            risk = sum(lot.qty * lot.risk for lot in lots)
            assert float(offers.paid_for([units])[0]) == pytest.approx(paid)
            assert float(offers.cost_of([units])[0]) == pytest.approx(paid + risk)
    both = OffersNow(trusted.ladder, None, trusted.risks).lots_for(25)
    assert [(lot.trader, lot.qty, lot.unit_price) for lot in both] == [
        (TANSY, 20, 2.4),
        (PEMMICK, 5, pytest.approx(2.0)),
    ]


def test_mean_cost_of_a_lot_is_that_of_every_way_it_may_end():
    """A sure need of 30; every set of failing lots listed, what fails bought again at the level."""
    level, p = 2.5, TraderRecord(0, 1).chance_failing
    records = {PEMMICK: TraderRecord(0, 1), HOB: TraderRecord(0, 1)}
    trusted = weigh_trust(
        ladder((1.2, 10, PEMMICK), (1.3, 10, HOB), (2.4, 20, TANSY), level=level), records
    )
    still = SimpleNamespace(
        start_log=math.log(level),
        start_sd=0.0,
        drift=np.zeros(1),
        day_sd=np.zeros(1),
        quote_sd=0.0,
    )
    need = NeedLaw(np.append(np.zeros(30), 1.0))
    offers = OffersNow(trusted.ladder, None, trusted.risks)
    advice = weigh_supply(SupplyQuestion("wax", need, offers, still))
    assert advice.buy_now == 30
    expected = 0.0
    for fails in itertools.product([False, True], repeat=2):
        odds = math.prod(p if fail else 1 - p for fail in fails)
        expected += odds * (10 * 1.2 + 10 * 1.3 + 10 * 2.4 + 10 * sum(fails) * level)
    assert advice.expected_cost == pytest.approx(expected)
    assert float(advice.spent[advice.place]) == pytest.approx(12 + 13 + 24)


def test_the_sentence_has_the_numbers():
    said = tell_trust(
        *("frame", "Hob Lathe"),
        record=TraderRecord(kept=0, failed=1),
        price=2.0,
        risk=0.6,
        aside=False,
        money="shell",
    )
    assert said == (
        "Hob Lathe did not deliver 1 of 1 paid deals; the next fails with a chance of 24 %: each "
        "frame of theirs at 2 shell counts 2.6, for what fails is bought again."
    )
