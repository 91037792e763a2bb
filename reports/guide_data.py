"""What a guide is written from: a route for others, as plain values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reports.decision_data import Answer


@dataclass(frozen=True)
class Then:
    """What to do next.

    Attributes:
        kind: "step", "buy in", "sell out", "stop", "done", "look": it hangs on what is
            on the piece, or "either": stop here or go on.
        name: The step's name, or the item that is bought or sold.
        number: Which step of the guide that is; None where it has none.
    """

    kind: str
    name: str = ""
    number: int | None = None


@dataclass(frozen=True)
class Units:
    """Units of one item, for each place where a step is taken.

    Attributes:
        is_money: It is paid as a fee.
    """

    item: str
    units: Sequence[float]
    is_money: bool = False


@dataclass(frozen=True)
class GuideOutcome:
    """What a step may come to; sequences have one entry for each place it is taken at.

    Attributes:
        reached: The stage, in words.
        odds: Chance; 0 where it cannot come to this.
        uses, gives: Used up, or coming back, only if it comes to this.
        then: What to do there; None where it cannot come to this.
    """

    reached: str
    odds: Sequence[float]
    uses: Sequence[Units] = ()
    gives: Sequence[Units] = ()
    then: Sequence[Then | None] = ()


@dataclass(frozen=True)
class GuideStep:
    """One thing to do on the best way.

    Attributes:
        number: From 1 on, in the order one comes by.
        kind: "step", "buy in" or "sell out".
        name: What it is called; of like steps the first and the last.
        places: The stages it is taken at, one row each; empty on pieces of a pool.
        uses: Used up whatever it comes to.
        minutes: Time, one a place.
        outcomes: In the order of the file.
        times: How often it is taken on average.
        when: On which pieces it can be taken, in words; None without a pool.
        effect: What it does to the piece, in words; None without a pool.
        price: What is paid (buy in) or brought in after the fee (sell out).
    """

    number: int
    kind: str
    name: str
    places: Sequence[str]
    uses: Sequence[Units]
    minutes: Sequence[float]
    outcomes: Sequence[GuideOutcome]
    times: float
    when: str | None = None
    effect: str | None = None
    price: float | None = None


@dataclass(frozen=True)
class LookRule:
    """What to do with some of the pieces that a draw may give.

    Attributes:
        then: What to do with them.
        shared: What all of them carry.
        pieces: What else each carries, the likeliest first; not all where there are many;
            empty: wherever it can be done, but for the exceptions.
        count: How many kinds of pieces that are in all.
        exceptions: What else pieces carry that it could be done with, and is not.
    """

    then: Then
    shared: Sequence[str]
    pieces: Sequence[str]
    count: int
    exceptions: Sequence[str] = ()


@dataclass(frozen=True)
class PoolAffix:
    """One affix that the route speaks of.

    Attributes:
        chance: On the piece after a redraw of all; None where the pool does not tell.
        usable: It can come onto this base at this level.
    """

    name: str
    kind: str
    group: str
    tier: int
    from_level: int
    needs: Sequence[str]
    chance: float | None
    usable: bool


@dataclass(frozen=True)
class PoolBase:
    """One base and what becomes of the want on it.

    Attributes:
        why_not: Why it cannot be met at this level; None where it can.
    """

    item: str
    traits: Sequence[str]
    chance: float | None
    least_level: int | None
    best_tiers_from: int | None
    why_not: str | None


@dataclass(frozen=True)
class PoolNotes:
    """What one must know of the pool.

    Attributes:
        wanted: What the piece must have, in words.
        grades: (item, what makes it that) of other qualities that sell.
        slots: How many of each kind fit.
        bases: The route's own first.
        not_drawn: What is wanted and no redraw brings: a step of its own does.
        affixes: Those that the route speaks of.
        exclusions: Wanted things that cannot be together: (one, other, why).
        rules: What to do with what was drawn; the last one is of all other pieces.
    """

    pool: str
    item_level: int
    wanted: str
    grades: Sequence[tuple[str, str]]
    slots: Sequence[tuple[str, int]]
    bases: Sequence[PoolBase]
    not_drawn: Sequence[str]
    affixes: Sequence[PoolAffix]
    exclusions: Sequence[tuple[str, str, str]]
    rules: Sequence[LookRule]


@dataclass(frozen=True)
class StopPlace:
    """A stage where the piece may be sold as it is, or bought.

    Attributes:
        item: What it is in the market.
        sells_for: After the sale fee; None where nobody is seen buying.
        bought_for: None where nobody is seen selling.
        still_to_pay: Mean cost from here to the end.
        then: The best thing to do here.
        begin_here: Whether the best way buys it.
    """

    stage: str
    item: str
    sells_for: float | None
    bought_for: float | None
    still_to_pay: float | None
    then: Then | None
    begin_here: bool = False


@dataclass(frozen=True)
class PriceBehind:
    """One price that the guide rests on.

    Attributes:
        newest: RFC 3339 time of its newest quote; None where there is none.
        made_by: The route that makes it cheaper than it is bought; then `price` is its cost.
    """

    item: str
    price: float
    quotes: int
    newest: str | None
    made_by: str | None = None


@dataclass(frozen=True)
class ShoppingLine:
    """What to buy of one item for one piece.

    Attributes:
        mean: Units on average; None where no mean exists.
        sure: Units that are enough with 50 %, 80 % and 95 %, whole lots where it is sold so.
        note: "in lots of 10", "a service", "for fees", or nothing.
    """

    item: str
    mean: float | None
    sure: Sequence[float]
    unit_price: float
    note: str = ""


@dataclass(frozen=True)
class Guide:
    """A route written out for others.

    Attributes:
        cost: What `route ROUTE --json` prints: cost, minutes, use, gives, made.
        about: What its file says about it.
        buy_price: What the piece costs to buy; None where nobody is seen selling it.
        sell_price: What it brings after the fee; None likewise.
        unused: Steps that are not on the best way.
        shopping: In the order of use.
    """

    cost: Answer
    about: str
    buy_price: float | None
    sell_price: float | None
    steps: Sequence[GuideStep]
    unused: Sequence[str]
    stops: Sequence[StopPlace]
    prices: Sequence[PriceBehind]
    shopping: Sequence[ShoppingLine]
    pool: PoolNotes | None
    cautions: Sequence[str]
