"""The sentences of the service answer, and which terms are offered."""

from __future__ import annotations

from dataclasses import replace

import pytest

from advisor.decide.service.customers import OwnOffer, learn_customers
from advisor.decide.service.service_advice import OrdersPrice, decide_service
from advisor.decide.service.service_reasons import (
    ServiceStory,
    agreements,
    service_cautions,
    service_reasons,
)
from advisor.decide.service.service_terms import ServiceTerm
from advisor.decide.service.winning import GoingRate
from advisor.routes.total_law import CostDistribution

FIXED = ServiceTerm("fixed", 40.0, 60.0, 0.9, 0.2, 0.2, 0.01, 50.0, 40.0, 60.0, 1.0)
BY_TRY = ServiceTerm("per try", 3.0, 5.0, 0.9, 0.0, 0.0, 0.0, 50.0, 36.0, 60.0, 1.0)
SUCCESS = ServiceTerm("on success", 40.0, 60.0, 0.9, 0.3, 0.3, 0.1, 50.0, 40.0, 60.0, 0.8)
STORY = ServiceStory(
    makes="polish",
    money="shell",
    orders=1,
    supplies="mine",
    law=CostDistribution.certain(35.0),
    supplies_cost=35.0,
    terms=(FIXED, BY_TRY, SUCCESS),
    by_orders=(OrdersPrice(1, 40.0, 60.0), OrdersPrice(20, 30.0, 58.0)),
    going=GoingRate(65.0, 2.0, 0.06),
    going_level=65.0,
    verdict="offer",
    try_step="rub",
    tries=19,
    deposit=0.0,
    losses={},
    chances_lost={},
    principle="worst",
    caution=0.3,
)


def test_offer_names_floor_rate_and_how_the_floor_falls():
    said = service_reasons(STORY)
    assert said[0] == "Offer it: the floor of 40 shell lies below the going rate of 65 shell."
    assert any("from 40 shell for one to 30 each for 20" in each for each in said)
    assert sum(each.startswith("Agree before you start") for each in said) == 3


def test_only_terms_that_the_going_rate_covers_are_offered():
    story = replace(STORY, going=GoingRate(38.0, 2.0, 0.06), going_level=38.0)
    said = service_reasons(story)
    assert said[0].startswith("Offer it per try only")
    assert [each.split(":")[0] for each in agreements(story)] == ["polish, per try"]


def test_declined_without_terms_to_agree_on():
    story = replace(STORY, going=GoingRate(20.0, 1.0, 0.06), going_level=20.0, verdict="decline")
    said = service_reasons(story)
    assert said[0].startswith("Decline: the going rate of 20 shell")
    assert not any("Agree" in each for each in said)


@pytest.mark.parametrize(
    ("rate", "needed", "verdict"),
    [
        (None, False, "offer"),
        (65.0, True, "offer"),
        (36.0, True, "offer"),
        (35.0, True, "buy the service"),
        (35.0, False, "decline"),
    ],
)
def test_verdict_by_the_lowest_floor(rate, needed, verdict):
    assert decide_service(STORY.terms, rate=rate, needed=needed) == verdict


def test_what_happens_to_a_lost_piece_is_in_every_sentence():
    paid = replace(STORY, losses={"broken lens": 30.0}, chances_lost={"broken lens": 0.1})
    assert all("I pay you 30 shell" in each for each in agreements(paid))
    told = service_cautions(paid, notes=(), odds_unsure=False, luck_left_out=())
    assert any("chance of 10 % an order, 3 shell of the cost" in each for each in told)
    free = replace(paid, losses={"broken lens": 0.0})
    assert all("that is your risk" in each for each in agreements(free))


def test_deposit_is_kept_and_named():
    said = agreements(replace(STORY, deposit=8.0))
    assert "I keep the deposit of 8 shell" in said[2]
    assert "you pay nothing" in agreements(STORY)[2]


@pytest.mark.parametrize(
    ("taken", "said"),
    [
        ((True,), "Of 1 offer of yours 1 was taken: half"),
        ((False,), "Of 1 offer of yours none was taken: half"),
        ((True, False), "Of 2 offers of yours 1 was taken: half"),
        ((True, True), "Of 2 offers of yours 2 were taken: half"),
    ],
)
def test_own_offers_are_counted_in_words(taken, said):
    offers = [OwnOffer(0.0, each) for each in taken]
    customers = learn_customers(offers, ask_log_sd=0.1, level_log_sd=0.05)
    story = replace(STORY, going=replace(STORY.going, customers=customers))
    assert any(each.startswith(said) for each in service_reasons(story))
