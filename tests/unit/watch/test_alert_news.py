"""What is told, when, and how often: the rules of the README worked by hand on a clock."""

from __future__ import annotations

from datetime import time
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.decide.alerts.conditions import AlertState, judge_verdict
from advisor.decide.alerts.news import find_news
from advisor.decide.alerts.posting import HOUR_US, Letter, is_quiet, plan_posts

MINUTE = 60_000_000
START = 1_790_000_000_000_000


def state(*marks):
    return AlertState("wax", bool(marks), "words", frozenset(marks))


UNKNOWN = AlertState("wax", None, "words")


def told_at(states, *, at_once=False):
    """Minutes at which a state in each minute was told."""
    memory, minutes = None, []
    for minute, each in enumerate(states):
        memory, news = find_news(each, memory, START + minute * MINUTE, at_once=at_once)
        minutes += [minute] * news
    return minutes


def test_what_holds_is_told_once_and_again_only_after_it_had_ended():
    assert told_at([state("below")] * 300) == [0]
    states = [state()] * 5 + [state("below")] * 100 + [state()] * 100 + [state("below")] * 5
    assert told_at(states) == [5, 205]


def test_what_swings_about_its_limit_is_told_once_an_hour_at_most():
    swing = [state("below"), state()] * 150
    assert told_at(swing) == [0, 60, 120, 180, 240]


def test_what_cannot_be_told_for_a_while_changes_nothing():
    assert told_at([state("below"), *[UNKNOWN] * 100, state("below")]) == [0]


def test_offers_are_each_told_at_once():
    assert told_at([state("a"), state("a", "b"), state("b"), state("b", "c")], at_once=True) == [
        *(0, 1, 3)
    ]


def answers(verdicts):
    """Minutes at which a run of answers was told, and the words."""
    memory, minutes = None, []
    for minute, now in enumerate(verdicts):
        before = None if memory is None else next(iter(memory.marks))
        each = judge_verdict("lamp", before, now, saving=None, money="shell")
        memory, news = find_news(each, memory, START + minute * MINUTE)
        minutes += [(minute, each.words)] * news
    return minutes


def test_a_first_answer_is_no_news_and_a_turn_is():
    assert answers(["make"] * 5 + ["buy"] * 5) == [(5, "it turned from make to buy")]


def test_an_answer_that_turns_to_and_fro_is_not_told_twice_an_hour():
    minutes = [minute for minute, _ in answers(["make", *["buy", "make"] * 120])]
    assert minutes[0] == 1
    assert all(later - earlier >= 60 for earlier, later in pairwise(minutes))


def test_an_answer_that_is_back_within_the_hour_was_only_told_once():
    assert len(answers(["make", "buy", *["make"] * 30, *["buy"] * 200])) == 1


def test_between_the_two_nothing_turns():
    assert answers(["make", "either", "make", "either"] * 60) == []


def letters(count, *, next_us=START):
    return [Letter(number, f"words {number}", next_us) for number in range(count)]


def test_few_letters_go_one_by_one_and_many_in_a_summary():
    few = plan_posts(letters(3), [], START, most_an_hour=3)
    assert [post.deliveries for post in few] == [(0,), (1,), (2,)]
    many = plan_posts(letters(10), [], START, most_an_hour=3)
    assert [post.deliveries for post in many] == [(0,), (1,), tuple(range(2, 10))]
    assert "words 9" in many[-1].body
    assert many[-1].title == "Makeworth: 8 at once"


def test_an_hour_that_is_full_lets_everything_wait():
    posted = [START - HOUR_US + 1, START - 5]
    assert plan_posts(letters(1), posted, START, most_an_hour=2) == []
    assert len(plan_posts(letters(1), posted, START + 1, most_an_hour=2)) == 1


def test_a_receiver_that_failed_is_left_alone_until_its_pause_is_over():
    waiting = [*letters(1, next_us=START + 60), *letters(1)]
    assert plan_posts(waiting, [], START, most_an_hour=5) == []
    assert len(plan_posts(waiting, [], START + 60, most_an_hour=5)) == 2


@given(
    arrivals=st.lists(st.integers(0, 600), max_size=60),
    most=st.integers(1, 5),
)
def test_never_more_than_so_many_in_any_hour_and_none_is_lost(arrivals, most):
    """Played minute by minute; counted afterwards in every window of an hour."""
    waiting, posted, through = [], [], []
    for minute in range(1500):
        now = START + minute * MINUTE
        waiting += [Letter(k, "w", now) for k, at in enumerate(arrivals) if at == minute]
        for post in plan_posts(waiting, posted, now, most_an_hour=most):
            posted.append(now)
            through += post.deliveries
            waiting = [each for each in waiting if each.id not in post.deliveries]
    assert sorted(through) == list(range(len(arrivals)))
    for begin in posted:
        assert sum(begin <= at < begin + HOUR_US for at in posted) <= most


@pytest.mark.parametrize(
    ("clock", "quiet"), [("22:59", False), ("23:00", True), ("03:00", True), ("07:30", False)]
)
def test_quiet_hours_go_past_midnight(clock, quiet):
    assert is_quiet(time.fromisoformat(clock), time(23), time(7, 30)) is quiet
    assert not is_quiet(time.fromisoformat(clock), None, None)
