"""Conditions one may be told of: when they begin, when they end, what cannot be told.

Expected answers are the definitions of the settings, worked by hand.
"""

from __future__ import annotations

import pytest

from advisor.decide.alerts.conditions import (
    Offer,
    judge_above,
    judge_bargains,
    judge_below,
    judge_moved,
    judge_short,
    judge_stale,
    judge_verdict,
)


def below(level, limit, *, told=False):
    return judge_below("wax", level, limit, money="shell", advised=False, told=told)


@pytest.mark.parametrize(
    ("level", "told", "holds"),
    [(2.5, False, True), (2.501, False, False), (2.55, True, True), (2.5501, True, False)],
)
def test_a_price_at_its_limit_holds_and_ends_two_per_cent_beyond(level, told, holds):
    state = below(level, 2.5, told=told)
    assert state.holds is holds
    assert bool(state.marks) is holds


@pytest.mark.parametrize(
    ("level", "told", "holds"),
    [(4.0, False, True), (3.999, False, False), (3.92, True, True), (3.9199, True, False)],
)
def test_above_is_the_same_from_the_other_side(level, told, holds):
    assert judge_above("wax", level, 4.0, money="shell", told=told).holds is holds


def test_without_a_price_or_an_advice_nothing_can_be_told():
    assert below(None, 2.5).holds is None
    assert below(2.0, None).holds is None
    assert judge_stale("wax", None, limit_days=3).holds is None
    assert judge_moved("wax", None, 2.0, share=0.1, days=1, told=False).holds is None
    assert judge_bargains("wax", [], None, money="shell").holds is None


def test_a_price_that_moved_up_and_one_that_moved_down_are_two_things():
    up = judge_moved("wax", 2.0, 2.2, share=0.1, days=3, told=False)
    down = judge_moved("wax", 2.0, 1.8, share=0.1, days=3, told=False)
    still = judge_moved("wax", 2.0, 2.19, share=0.1, days=3, told=False)
    assert (up.marks, down.marks, still.marks) == ({"up"}, {"down"}, set())
    assert "10 % up from 2" in up.words


def test_a_stale_price_is_as_old_as_the_limit():
    assert judge_stale("wax", 3.0, limit_days=3).holds is True
    assert judge_stale("wax", 2.9, limit_days=3).holds is False


def test_every_offer_at_the_reserve_or_under_is_a_mark_of_its_own():
    offers = [Offer("a", 2.5, 60, "Ada"), Offer("b", 2.51, 5, None), Offer("c", 1.9, None, None)]
    state = judge_bargains("wax", offers, 2.5, money="shell")
    assert state.marks == {"a", "c"}
    assert state.words.startswith("at 1.9 shell; 60 at 2.5 shell from Ada")


def test_supplies_that_may_not_reach_are_named_the_surest_first():
    state = judge_short("lamp", {"wax": 0.3, "salt": 0.9, "flux": 0.1}, pieces=2, share=0.3)
    assert state.marks == {"wax", "salt"}
    assert state.words.index("salt") < state.words.index("wax")
    assert judge_short("lamp", {"wax": 0.1}, pieces=1, share=0.3).holds is False


def verdict(before, now):
    return judge_verdict("lamp", before, now, saving=-20.0, money="shell")


def test_an_answer_turns_only_across_the_band_where_either_is_as_good():
    turned = verdict("make", "buy")
    assert (turned.holds, turned.marks) == (True, {"buy"})
    assert "making loses 20 shell" in turned.words
    undecided = verdict("make", "either")
    assert (undecided.holds, undecided.marks) == (False, {"make"})
    assert verdict("make", "make").holds is False
    assert verdict("either", "make").marks == {"make"}
    first = verdict(None, "make")
    assert (first.holds, first.what) == (None, "a new answer for lamp")
    assert first.words == "it is make, and no earlier answer is known"


def test_a_first_answer_is_no_change():
    first = verdict(None, "make")
    assert (first.holds, first.marks) == (None, {"make"})
    assert verdict(None, None).holds is None


def test_a_saving_of_nothing_is_no_loss():
    turned = judge_verdict("lamp", "make", "buy", saving=0.0, money="shell")
    assert turned.words == "it turned from make to buy: making costs just as much on average"
