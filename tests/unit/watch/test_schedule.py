"""Jobs by a clock that the test moves: two days pass in seconds."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import pairwise

from advisor.watch.pauses import Pauses
from advisor.watch.schedule import Clock, Schedule

DAY = 86_400.0


def schedule_on(played):
    return Schedule(Clock(played.wait, played.steady), threads=False)


def test_two_days_of_jobs_each_at_its_own_pace(played):
    clock = played(2 * DAY)
    schedule, ran = schedule_on(clock), {"quick": [], "slow": []}
    schedule.add("quick", lambda: ran["quick"].append(clock.now), seconds=60)
    schedule.add("slow", lambda: ran["slow"].append(clock.now), seconds=3600)
    schedule.run()
    # Once at the beginning and then after every pace: 2880 minutes, 48 hours.
    assert abs(len(ran["quick"]) - 2881) <= 1
    assert abs(len(ran["slow"]) - 49) <= 1
    gaps = [later - earlier for earlier, later in pairwise(ran["quick"])]
    assert max(gaps) <= 62


def test_jobs_never_overlap_and_what_was_missed_is_made_up_for_once(played):
    clock = played(4 * 3600.0)
    schedule, under_way, most, ran = schedule_on(clock), [], [], []

    def long_one():
        under_way.append("long")
        most.append(len(under_way))
        clock.pass_by(3600)
        under_way.pop()

    def quick_one():
        under_way.append("quick")
        most.append(len(under_way))
        ran.append(clock.now)
        under_way.pop()

    schedule.add("a long one", long_one, seconds=2 * 3600)
    schedule.add("quick", quick_one, seconds=60)
    schedule.run()
    assert max(most) == 1
    # While the long one ran, sixty were missed: one came for them, then the usual pace.
    first = [at for at in ran if 3600 <= at < 3660]
    assert len(first) == 2
    assert ran[0] >= 3600


def test_a_computer_that_slept_makes_up_once(played):
    clock, ran = played(1200.0), []
    schedule = schedule_on(clock)
    schedule.add("job", lambda: ran.append(clock.now), seconds=60)

    def sleep(now):
        if 300 <= now < 310:
            clock.pass_by(50_000)

    clock.on_wait = sleep
    schedule.run()
    assert sum(50_300 <= at < 50_330 for at in ran) == 1
    assert 18 <= len(ran) <= 22


def test_a_clock_that_is_set_back_keeps_no_job_waiting(played):
    clock, ran = played(1200.0), []
    schedule = schedule_on(clock)
    schedule.add("job", lambda: ran.append(clock.now), seconds=60)
    set_back = []

    def back(now):
        if now >= 600 and not set_back:
            set_back.append(now)
            clock.traveller.shift(-5 * 3600)

    clock.on_wait = back
    schedule.run()
    gaps = [later - earlier for earlier, later in pairwise(ran)]
    assert max(gaps) <= 64
    assert 19 <= len(ran) <= 22


def test_a_job_that_fails_keeps_no_other_from_running(played):
    clock, ran = played(600.0), []
    schedule = schedule_on(clock)

    def falls_over():
        raise RuntimeError

    schedule.add("bad", falls_over, seconds=30)
    schedule.add("good", lambda: ran.append(clock.now), seconds=30)
    schedule.run()
    assert 20 <= len(ran) <= 22


def test_a_job_may_be_woken(played):
    clock, ran = played(100.0), []
    schedule = schedule_on(clock)
    schedule.add("answers", lambda: ran.append(clock.now), seconds=3600)
    schedule.add("inbox", lambda: clock.now > 50 and schedule.wake("answers"), seconds=60)
    schedule.run()
    assert len(ran) == 2
    assert schedule.next_us("inbox") is None or schedule.next_us("inbox") > 0
    assert datetime.now(UTC).year == 2026


def test_pauses_grow_from_half_a_minute_to_a_quarter_of_an_hour():
    pauses = Pauses()
    assert [pauses.note_failure("job", 0.0) for _ in range(9)] == [
        *(30, 60, 120, 240, 480, 900, 900, 900, 900)
    ]
    assert not pauses.may_try("job", 899.0)
    assert pauses.may_try("job", 900.0)
    assert pauses.may_try("another", 0.0)
    pauses.note_success("job")
    assert pauses.may_try("job", 0.0)
    assert pauses.failures("job") == 0
