"""What of an alert is news: told once when it begins, and not to and fro."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.decide.alerts.conditions import AlertState

REST_US = 3_600_000_000
"""After an alert was told, what it turns to within an hour waits until the hour is over."""


@dataclass(frozen=True, slots=True)
class Memory:
    """What of an alert was told and has not ended, and when it last was told."""

    marks: frozenset[str]
    told_us: int


def find_news(
    state: AlertState, memory: Memory | None, now_us: int, *, at_once: bool = False
) -> tuple[Memory | None, bool]:
    """What to remember of an alert from now on, and whether to tell it.

    What cannot be told leaves the memory as it is. What had ended and begins again
    within the hour, as a price that swings about its limit, is told when the hour is
    over, if it still holds then. A clock that was set back does not prolong the hour.

    Args:
        memory: None: it was never looked at.
        at_once: Each mark is news of its own and cannot wait.
    """
    if memory is None:
        return _first_look(state, now_us)
    if state.holds is None:
        return memory, False
    if not state.marks - memory.marks:
        return Memory(state.marks, memory.told_us), False
    if not at_once and 0 <= now_us - memory.told_us < REST_US:
        return memory, False
    return Memory(state.marks, now_us), True


def _first_look(state: AlertState, now_us: int) -> tuple[Memory | None, bool]:
    """What holds already is told, but an answer to compare later ones with is none yet."""
    if state.holds:
        return Memory(state.marks, now_us), True
    if state.holds is None and not state.marks:
        return None, False
    return Memory(state.marks, now_us - REST_US), False
