"""Runs jobs by the clock, one after the other, on whatever clock it is given.

A job that missed its time, once or often, is run once. One that fails is left alone
for a pause that grows, and keeps none of the others from running.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from apscheduler.executors.debug import DebugExecutor
from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.job import Job
from apscheduler.schedulers.base import BaseScheduler
from apscheduler.triggers.interval import IntervalTrigger

LONGEST_WAIT_SECONDS = 2.0
"""So often at least the clock is looked at: it may have been set."""

SET_BACK_SECONDS = 1.0
HERE, BESIDE = "default", "beside"


@dataclass
class Clock:
    """Time that passes.

    Attributes:
        steady: Seconds that never go back.
        wait: Waits so many seconds; True: it is time to end.
    """

    wait: Callable[[float], bool]
    steady: Callable[[], float] = time.monotonic


@dataclass
class Schedule:
    """Jobs and when they are due.

    Attributes:
        clock: What it goes by, beside the computer's time of day.
    """

    clock: Clock
    threads: bool = True
    _scheduler: OneByOne = field(init=False)
    _skew: float | None = None

    def __post_init__(self) -> None:
        for name in ("apscheduler",):
            logger = logging.getLogger(name)
            logger.addHandler(logging.NullHandler())
            logger.propagate = False
        beside = ThreadPoolExecutor(1) if self.threads else DebugExecutor()
        self._scheduler = OneByOne(
            timezone=UTC,
            executors={HERE: DebugExecutor(), BESIDE: beside},
            job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
        )
        self._scheduler.start()

    def add(
        self, name: str, run: Callable[[], object], *, seconds: float, beside: bool = False
    ) -> None:
        """Run a job now, and then every so many seconds.

        Args:
            beside: In a thread of its own, for what waits on others.
        """
        self._scheduler.add_job(
            run,
            IntervalTrigger(seconds=seconds, timezone=UTC),
            id=name,
            executor=BESIDE if beside else HERE,
            next_run_time=datetime.now(UTC),
        )

    def every(self, name: str, seconds: float) -> None:
        """From now on, run a job so often."""
        self._scheduler.reschedule_job(name, trigger=IntervalTrigger(seconds=seconds, timezone=UTC))

    def wake(self, name: str) -> None:
        """Run a job as soon as the others have ended."""
        self._scheduler.modify_job(name, next_run_time=datetime.now(UTC))

    def next_us(self, name: str) -> int | None:
        """When a job is due next."""
        job: Job | None = self._scheduler.get_job(name)
        if job is None or job.next_run_time is None:
            return None
        return int(job.next_run_time.timestamp() * 1_000_000)

    def run(self) -> None:
        """Run jobs as they fall due, until the clock says that it is time to end."""
        seconds = 0.0
        while not self.clock.wait(min(seconds, LONGEST_WAIT_SECONDS)):
            self._mind_the_clock()
            seconds = self._scheduler.run_due()
        self._scheduler.shutdown(wait=False)

    def _mind_the_clock(self) -> None:
        """After the computer's clock was set back, nobody waits for the old time to come again."""
        now = datetime.now(UTC)
        skew = now.timestamp() - self.clock.steady()
        if self._skew is not None and skew < self._skew - SET_BACK_SECONDS:
            back = timedelta(seconds=self._skew - skew)
            for job in self._scheduler.get_jobs():
                if job.next_run_time is not None:
                    job.modify(next_run_time=max(job.next_run_time - back, now))
        self._skew = skew


class OneByOne(BaseScheduler):  # type: ignore[misc]  # the library has no types
    """A scheduler without a thread of its own: jobs run where `run_due` is called."""

    def run_due(self) -> float:
        """Run what is due, and return in how many seconds the next job is."""
        seconds = self._process_jobs()
        return LONGEST_WAIT_SECONDS if seconds is None else float(seconds)

    def shutdown(self, wait: bool = True) -> None:
        """End; jobs beside the others are waited for or not."""
        super().shutdown(wait=wait)

    def wakeup(self) -> None:
        """Nothing to do: nobody sleeps between two calls of `run_due`."""
