"""A route as it is written: steps, outcomes and what is on sale on the way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from advisor.errors import RouteFault
from advisor.routes.amounts import Amount, ItemAmount
from advisor.routes.odds import Odds
from advisor.routes.table import Table
from advisor.routes.toml_lines import LineIndex

PIECE = "piece"
"""In a route with a pool, the outcome that leaves a piece on the table."""


@dataclass(frozen=True)
class Outcome:
    """Where a step may lead.

    Attributes:
        stage: The stage it leads to; may hold varied names in braces.
        odds: How likely it is.
        uses, gives: Items used or given back only if it comes to this; fees are uses.
        minutes: Time taken only if it comes to this, on top of the step's.
        effect: What it does to a piece of a pool, as written; None without one.
        line: Where it is written.
    """

    stage: str
    odds: Odds
    uses: tuple[ItemAmount, ...]
    gives: tuple[ItemAmount, ...]
    minutes: Amount
    effect: Mapping[str, Any] | None
    line: int | None


@dataclass(frozen=True)
class Step:
    """One action from a stage; with `vary`, one for each combination of its values.

    Attributes:
        name: May hold varied names in braces, as may stages and items.
        start: The stage it is taken at (`from`); None where a pool decides.
        outcomes: In the order of the file, at least one.
        uses, gives: Items used or given back whatever comes; fees are uses.
        minutes: Time it takes.
        vary: The values of each varied name, in order.
        when, put, effect: Of a route with a pool, as written; None where not written.
        since: The day (or moment) its odds came into force: what was logged before is
            forgotten; None: all that was logged counts.
        table: The table it is written in, for lines and faults.
    """

    name: str
    start: str | None
    outcomes: tuple[Outcome, ...]
    uses: tuple[ItemAmount, ...]
    gives: tuple[ItemAmount, ...]
    minutes: Amount
    vary: Mapping[str, Sequence[int]]
    when: Mapping[str, Any] | None
    put: Sequence[Any] | None
    effect: Mapping[str, Any] | None
    since: date | None
    table: Table = field(repr=False)

    @property
    def line(self) -> int | None:
        """Where it is written."""
        return self.table.line()


@dataclass(frozen=True)
class MarketStage:
    """A stage that is also an item: it may be bought into or sold out of."""

    stage: str
    item: str
    line: int | None


@dataclass(frozen=True)
class PoolSettings:
    """What a route says about its pool, as written.

    Attributes:
        pool: The pool's name.
        base: The item one starts from.
        item_level: Level of the base.
        finish: The want that makes the piece finished.
        grades: The [[grade]] tables in the order of the file.
        table: The [route] table, for lines and faults.
    """

    pool: str
    base: str
    item_level: int
    finish: Table
    grades: tuple[Table, ...]
    table: Table


@dataclass(frozen=True)
class Route:
    """A way to make a piece, as one file says it.

    Attributes:
        name: The file's name without its ending.
        file: The file.
        makes: The item it makes.
        start: The stage one starts from.
        finish: The stage at which the piece is made.
        about: What it is, in a sentence; may be empty.
        steps: In the order of the file.
        market: Stages that are also items.
        pool: Settings of a route with a pool; None without one.
        lines: The lines of its file.
    """

    name: str
    file: Path
    makes: str
    start: str
    finish: str
    about: str
    steps: tuple[Step, ...]
    market: tuple[MarketStage, ...]
    pool: PoolSettings | None
    lines: LineIndex = field(repr=False)

    def fault(
        self,
        what: str,
        *,
        right: str | None = None,
        line: int | None = None,
        step: str | None = None,
        stage: str | None = None,
        item: str | None = None,
    ) -> RouteFault:
        """An error about this route, ready to raise."""
        return RouteFault(
            what, right=right, file=self.file, line=line, step=step, stage=stage, item=item
        )
