"""What reading a file gives: chunks of good rows, rows set aside, and what was found out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, tzinfo
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import polars as pl

    from advisor.money import DecimalMark

FIELDS = ("at", "item", "price", "money", "side", "qty", "trader", "source", "note")
"""The canonical columns, in the order in which they are written."""

NEEDED = ("item", "price")


class SetAside(NamedTuple):
    """A row that could not be read.

    Attributes:
        line: Line of the file (of the sheet) that the row starts in, from 1.
        column: Canonical name of the column at fault; None where it is the whole row.
        reason: One of `reasons.REASONS`.
        text: The row as it stands in the file.
        entry: Its number in the file's list, from 1, where the file is a list.
    """

    line: int
    column: str | None
    reason: str
    text: str
    entry: int | None = None


@dataclass(frozen=True, slots=True)
class Chunk:
    """A part of a file, read.

    Attributes:
        rows: line, at_us, item, price (canonical text), price_value, money, side,
            qty, trader, source, note.
        set_aside: The rows of this part that could not be read.
        share_read: How much of the file has been read with it, 0 to 1.
    """

    rows: pl.DataFrame
    set_aside: list[SetAside]
    share_read: float = 1.0


@dataclass(frozen=True)
class ReadOptions:
    """What the user or the workspace says about a file.

    Attributes:
        money: The money of prices that name none.
        at_us: When quotes were seen, where the file does not say.
        zone: Where times without an offset are local.
        date_order: "dmy", "mdy" or "ymd"; None: the file must decide.
        decimal: "point" or "comma"; None: the file must decide.
        columns: Canonical column -> what it is called in the file (`--map`).
        money_is_said: The money was said for this very file: a saved layout's gives way.
        sheet: Which sheet of a spreadsheet.
        at_is_said: The time was said for this very file: cells left empty have it too.
        side: "ask", "bid" or "deal": what quotes are, where the file does not say.
        date_order_is_said: The order was said for this very file: a saved layout's gives way.
    """

    money: str
    at_us: int
    zone: tzinfo = UTC
    date_order: str | None = None
    decimal: DecimalMark | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    money_is_said: bool = False
    sheet: str | None = None
    at_is_said: bool = False
    side: str | None = None
    date_order_is_said: bool = False


@dataclass
class Reading:
    """A file opened for reading.

    Attributes:
        layout: Name of the layout that fits it.
        header: Its column names.
        columns: Canonical column -> what it is called in the file.
        found: What was found out, in words: encoding, delimiter, where the header is.
        chunks: The parts, read as they are asked for. Asking may raise BadInput.
        notes: Sentences for the user; complete once the chunks have been read.
    """

    layout: str
    header: tuple[str, ...]
    columns: Mapping[str, str]
    found: str
    chunks: Iterator[Chunk]
    notes: list[str]
