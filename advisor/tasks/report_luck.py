"""Logged tries in the order of time, against what the stated odds expect."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from advisor.book.attempts import Attempt, list_attempts
from advisor.names import name_key
from advisor.tasks.workspace import Workspace
from reports.decision_data import TriesCourse

POINTS = 120
BANDS = {"80": 0.80, "95": 0.95}


def count_course(
    workspace: Workspace, luck: Mapping[str, Any], *, until_us: int
) -> tuple[TriesCourse, ...]:
    """For each step of a luck answer, how its rarest stated outcome came, try by try.

    Only the tries that the answer itself counts are drawn: where it has forgotten some
    (odds that came into force later), the newest of that number.
    """
    with workspace.open_book(read_only=True) as store, store.reading():
        log = list_attempts(store, route=luck["route"], until_us=until_us)
    courses = []
    for step in dict.fromkeys(each["step"] for each in luck["steps"]):
        rows = [each for each in luck["steps"] if each["step"] == step and each["stated"]]
        if rows and rows[0]["tries"]:
            row = min(rows, key=lambda each: each["stated"])
            courses.append(_course(row, _newest(_tries_of(log, step), row["tries"])))
    return tuple(courses)


def _tries_of(log: Sequence[Attempt], step: str) -> list[tuple[str, int]]:
    key = name_key(step)
    return [
        (name_key(each.outcome or each.reached or ""), each.tries)
        for each in log
        if each.action == "step" and name_key(each.step or "") == key
    ]


def _newest(tries: list[tuple[str, int]], count: int) -> list[tuple[str, int]]:
    """The newest tries, so many of them."""
    kept: list[tuple[str, int]] = []
    for outcome, times in reversed(tries):
        if count <= 0:
            break
        kept.append((outcome, min(times, count)))
        count -= times
    return kept[::-1]


def _course(row: Mapping[str, Any], tries: Sequence[tuple[str, int]]) -> TriesCourse:
    from scipy.stats import binom

    wanted, odds = name_key(row["outcome"]), float(row["stated"])
    so_far = np.cumsum([times for _, times in tries])
    seen = np.cumsum([times if outcome == wanted else 0 for outcome, times in tries])
    at = np.unique(np.linspace(0, int(so_far[-1]), POINTS).round().astype(int))
    low_high = {
        f"{end}_{name}": binom.ppf(share, at, odds).tolist()
        for name, width in BANDS.items()
        for end, share in (("low", (1 - width) / 2), ("high", (1 + width) / 2))
    }
    for name in BANDS:  # of no tries at all nothing can come
        low_high[f"low_{name}"][0] = low_high[f"high_{name}"][0] = 0.0
    return TriesCourse(
        step=row["step"],
        outcome=row["outcome"],
        stated=odds,
        tries=[0, *so_far.tolist()],
        seen=[0, *seen.tolist()],
        at=at.tolist(),
        expected=(odds * at).tolist(),
        **low_high,
    )
