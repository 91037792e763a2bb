"""What the pages of decisions, luck, ledger and news are drawn from: plain values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

Answer = Mapping[str, Any]
"""The object that a command prints with `--json`."""


@dataclass(frozen=True)
class AskedAnswer:
    """An answer of a command, and how one gets the very same at the terminal.

    Attributes:
        answer: What the command prints with `--json`.
        command: The command, without `--json`.
    """

    answer: Answer
    command: str


@dataclass(frozen=True)
class LossCurve:
    """How likely orders at a fixed price lose money, over the price.

    Attributes:
        orders: How many orders together, each at that price.
        prices: Money for one order, ascending.
        chances: That all together cost more than they bring, same length.
    """

    orders: int
    prices: Sequence[float]
    chances: Sequence[float]


@dataclass(frozen=True)
class ServicePage:
    """What to charge for one route's piece."""

    asked: AskedAnswer
    losses: Sequence[LossCurve] = ()


@dataclass(frozen=True)
class TriesCourse:
    """One step's logged tries in the order of time, against what its stated odds expect.

    Attributes:
        step, outcome: What is counted: how often the step came to this.
        stated: The odds of the route file.
        tries: Tries so far, ascending; a point wherever something was logged.
        seen: How many of them came to the outcome, same length.
        at: Tries at which the bands are given, ascending from 0.
        expected: Mean count after so many tries.
        low_80, high_80, low_95, high_95: Chance alone keeps the count between these with
            at least 80 % and 95 %.
    """

    step: str
    outcome: str
    stated: float
    tries: Sequence[int]
    seen: Sequence[int]
    at: Sequence[int]
    expected: Sequence[float]
    low_80: Sequence[float]
    high_80: Sequence[float]
    low_95: Sequence[float]
    high_95: Sequence[float]


@dataclass(frozen=True)
class LuckPage:
    """The luck of one route's log."""

    asked: AskedAnswer
    courses: Sequence[TriesCourse] = ()


@dataclass(frozen=True)
class LedgerDay:
    """One day of the ledger.

    Attributes:
        day: "2026-10-30", in the workspace's time zone.
        spent, earned: Money that day.
        profit: Won that day on what is no longer there.
        profit_so_far: The sum of the profits since the first day shown.
    """

    day: str
    spent: float
    earned: float
    profit: float
    profit_so_far: float


@dataclass(frozen=True)
class LedgerPage:
    """The ledger, and how profit came about.

    Attributes:
        days: Of the present season (else of all that was logged), oldest first.
        stretch: What the days are of, in words: "autumn fair".
    """

    asked: AskedAnswer
    days: Sequence[LedgerDay] = ()
    stretch: str = ""


@dataclass(frozen=True)
class ReplayDay:
    """One day of a replay.

    Attributes:
        day: "2026-10-30".
        won_so_far: Money won against the plain habit since the first day, by the advice.
        best_so_far: The same, had one known what came.
    """

    day: str
    won_so_far: float
    best_so_far: float


@dataclass(frozen=True)
class ReplayPage:
    """What following the advice would have made."""

    asked: AskedAnswer
    days: Sequence[ReplayDay] = ()


@dataclass(frozen=True)
class Change:
    """Something that is not as it was yesterday.

    Attributes:
        what: The piece or item.
        kind: "piece" or "item".
        before, now: Money, or None where nothing was known.
        words: What happened, a sentence.
    """

    what: str
    kind: str
    before: float | None
    now: float | None
    words: str


@dataclass(frozen=True)
class AlertLine:
    """One alert of the settings and whether it holds.

    Attributes:
        what: What it watches, in words.
        holds: None where it cannot be told.
        words: Why, a sentence.
    """

    what: str
    holds: bool | None
    words: str


@dataclass(frozen=True)
class Decisions:
    """The answers beside make or buy, and what is new.

    Attributes:
        stocks, services: By route.
        sells: By piece.
        lucks: By route; only routes with logged attempts.
        ledger: None where nothing was logged.
        replay: What following the advice would have made; None where none was run.
        changes: Since a day before, the weightiest first.
        since: RFC 3339 time that the changes are counted from; None where nothing was
            known then.
        alerts: In the order of the settings.
        unanswered: Pages that could not be made: what, and why in a sentence.
    """

    stocks: Mapping[str, AskedAnswer] = field(default_factory=dict)
    services: Mapping[str, ServicePage] = field(default_factory=dict)
    sells: Mapping[str, AskedAnswer] = field(default_factory=dict)
    lucks: Mapping[str, LuckPage] = field(default_factory=dict)
    ledger: LedgerPage | None = None
    replay: ReplayPage | None = None
    changes: Sequence[Change] = ()
    since: str | None = None
    alerts: Sequence[AlertLine] = ()
    unanswered: Sequence[tuple[str, str]] = ()
