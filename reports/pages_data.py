"""What the pages are drawn from: plain values, worked out elsewhere.

A page shows these numbers and never makes new ones. Answers that a command also
prints as JSON come in as that very object, so that page and JSON cannot differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from reports import decision_data
from reports.decision_data import Decisions

Answer = decision_data.Answer
"""The object that a command prints with `--json`."""


@dataclass(frozen=True)
class CostOdds:
    """The law of what making one piece costs, as cells of a lattice.

    Attributes:
        costs: Money, ascending, any number of them (drawn more coarsely).
        chances: Their probabilities, same length, summing to 1; luck and unsure
            prices together, as in the quantiles of the same answer.
    """

    costs: Sequence[float]
    chances: Sequence[float]


@dataclass(frozen=True)
class CostPart:
    """One item's part in the mean cost, or that of one's own time.

    Attributes:
        item: The item's name; `kind` says if it is used up or comes back.
        mean_units: Units on average, >= 0.
        unit_price: Money for one unit: what it costs, or what it brings.
        mean_cost: Money on average; negative for what comes back.
        share: `mean_cost` over the mean cost of the whole route; None where that is not > 0.
        kind: "used", "comes back", or "hours" of one's own time.
    """

    item: str
    mean_units: float
    unit_price: float
    mean_cost: float
    share: float | None
    kind: str = "used"


@dataclass(frozen=True)
class PictureStage:
    """One stage of a route in its picture.

    Attributes:
        name: The stage.
        cost_to_go: Mean money from here to the end of the best way; None where there is none.
        start: The evening starts here.
        done: The piece is made here.
        visits: Times on average that the best way comes by; None where not known.
    """

    name: str
    cost_to_go: float | None = None
    start: bool = False
    done: bool = False
    visits: float | None = None


@dataclass(frozen=True)
class PictureEdge:
    """One way from stage to stage in the picture: an outcome of a step, or the market.

    Attributes:
        origin: The stage it leaves.
        target: The stage it leads to; None where the evening ends.
        label: The step's name; the item's name for "buy in" and "sell out".
        odds: The chance that the step comes to this, in (0, 1]; 1 for the market.
        best: It belongs to an action of the best way.
        kind: "step", "buy in", "sell out" or "stop".
        price: Money paid (buy in) or brought in (sell out); None for steps.
    """

    origin: str
    target: str | None
    label: str
    odds: float = 1.0
    best: bool = False
    kind: str = "step"
    price: float | None = None


@dataclass(frozen=True)
class RouteDrawing:
    """One route by which a piece is made.

    Attributes:
        route: Its name, as in `routes` of the advice.
        about: What its file says about it, or None.
        cost: The law of its cost; None where only the mean is known.
        parts: What its mean cost is made of, largest first.
        stages, edges: Its picture, stages in reading order; empty for no picture.
    """

    route: str
    about: str | None = None
    cost: CostOdds | None = None
    parts: Sequence[CostPart] = ()
    stages: Sequence[PictureStage] = ()
    edges: Sequence[PictureEdge] = ()


@dataclass(frozen=True)
class PiecePage:
    """One piece: make or buy, and why.

    Attributes:
        craft: The answer of `advise craft PIECE --json`.
        routes: A drawing for each route that has one, in any order.
    """

    craft: Answer
    routes: Sequence[RouteDrawing] = ()


@dataclass(frozen=True)
class QuoteDot:
    """One quote on the price chart.

    Attributes:
        at: RFC 3339, UTC.
        value: Price of one unit in the workspace's money.
        side: "ask", "bid" or "deal".
        qty: Units, or None where not said.
        trader: The other side, or None.
        screened: Why it does not count, in words; None where it counts.
    """

    at: str
    value: float
    side: str
    qty: int | None = None
    trader: str | None = None
    screened: str | None = None


@dataclass(frozen=True)
class LevelDot:
    """The ask level as it stood at one time, with its 95 % band."""

    at: str
    level: float
    low_95: float
    high_95: float


@dataclass(frozen=True)
class LadderStep:
    """Asks at one price among those standing now: units, price of one, and who asks.

    Attributes:
        guessed: Nobody said how many: as many as are usually listed are taken.
    """

    qty: int
    value: float
    trader: str | None = None
    guessed: bool = False


@dataclass(frozen=True)
class EarlierSeason:
    """The ask level of an earlier season, moved onto the days of this one.

    Attributes:
        season: Its name.
        at: RFC 3339 times in *this* season with the same day number, ascending.
        values: The level then, same length.
    """

    season: str
    at: Sequence[str]
    values: Sequence[float]


@dataclass(frozen=True)
class ItemPage:
    """One item: its quotes, its level, what is ahead.

    Attributes:
        prices: Its object in `items` of `prices ITEM --json`.
        quotes: Every quote of the present season, oldest first, screened ones as well.
        levels: The level day by day, oldest first; may be empty.
        ladder: The asks standing now, cheapest first; may be empty.
        earlier: Earlier seasons to show behind this one.
        cautions: Sentences about this price.
    """

    prices: Answer
    quotes: Sequence[QuoteDot] = ()
    levels: Sequence[LevelDot] = ()
    ladder: Sequence[LadderStep] = ()
    earlier: Sequence[EarlierSeason] = ()
    cautions: Sequence[str] = ()


@dataclass(frozen=True)
class StalePrice:
    """A price that an answer rests on and that has not been seen for long.

    Attributes:
        item: The item.
        newest: RFC 3339 time of its newest quote; None where there is none.
        days_old: Days from then to the report's date; None where there is none.
        behind: The pieces whose answer rests on it.
    """

    item: str
    newest: str | None
    days_old: float | None
    behind: Sequence[str] = ()


@dataclass(frozen=True)
class Report:
    """Everything that one report folder shows.

    Attributes:
        workspace: The workspace's name.
        as_of: RFC 3339 time up to which things were known.
        money: The item everything is valued in.
        pieces: In the order to show them.
        items: In the order to show them; a name that has a page here becomes a link.
        stale: The prices to look at again, oldest first.
        cautions: Sentences that hold for the whole report.
        decisions: The answers beside make or buy, and what is new.
    """

    workspace: str
    as_of: str
    money: str
    pieces: Sequence[PiecePage] = ()
    items: Sequence[ItemPage] = ()
    stale: Sequence[StalePrice] = ()
    cautions: Sequence[str] = ()
    decisions: Decisions = field(default_factory=Decisions)
