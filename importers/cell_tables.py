"""Tables of typed cells (spreadsheets, JSON, Parquet), made into text without losing a digit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

import polars as pl

from importers.layout import Match
from importers.reading import FIELDS, SetAside
from importers.tables import RawBlock

FindHeader = Callable[[Sequence[str]], Match | None]


@dataclass
class CellTable:
    """A table that fits in memory.

    Attributes:
        cells: As `tables.RawBlock.cells`.
        shown: The cells as they are shown where a row is set aside; None: as they are.
        set_aside: Entries that are no rows at all.
    """

    cells: pl.DataFrame
    lines: Sequence[int]
    match: Match
    found: str
    notes: list[str] = field(default_factory=list)
    numbers: frozenset[str] = frozenset()
    has_broken_text: bool = False
    shown: pl.DataFrame | None = None
    set_aside: list[SetAside] = field(default_factory=list)

    def blocks(self) -> Iterator[RawBlock]:
        """All rows, as one block."""
        yield RawBlock(
            cells=self.cells,
            lines=list(self.lines),
            texts=None,
            shown=self.shown,
            set_aside=list(self.set_aside),
        )


def typed_text(column: pl.Series) -> pl.Series:
    """A column of numbers, times or anything else as text, exactly."""
    kind = column.dtype
    if kind == pl.String:
        return column
    if kind.is_float():
        # A half-length float by its own shortest text: as a double, 2.4 were 2.4000000953674316.
        numbers = column.cast(pl.String) if kind == pl.Float32 else column
        texts = [None if each is None else number_text(each) for each in numbers.to_list()]
        return pl.Series(column.name, texts, dtype=pl.String)
    if isinstance(kind, pl.Datetime):
        if kind.time_zone is not None:
            moments = column.dt.convert_time_zone("UTC").dt.replace_time_zone(None)
            return moments.dt.strftime("%Y-%m-%dT%H:%M:%S%.6fZ")
        return column.dt.strftime("%Y-%m-%dT%H:%M:%S%.6f")
    if kind.is_nested() or kind in (pl.Binary, pl.Object):
        texts = [None if each is None else str(each) for each in column.to_list()]
        return pl.Series(column.name, texts, dtype=pl.String)
    return column.cast(pl.String)


def number_text(number: float | str) -> str:
    """A number as the shortest decimal text that means it, never in powers of ten.

    Args:
        number: Or the shortest text of it.

    >>> number_text(1e-7), number_text(60.0), number_text(2.4)
    ('0.0000001', '60', '2.4')
    """
    shortest = number if isinstance(number, str) else repr(float(number))
    shortest = shortest.removesuffix(".0")
    exact = Decimal(shortest)
    return format(exact, "f") if exact.is_finite() else shortest


def fields_of_numbers(match: Match, kinds: Sequence[pl.DataType]) -> frozenset[str]:
    """The canonical columns that hold nothing but numbers.

    Args:
        kinds: Type of each column of the file.
    """
    return frozenset(
        name
        for name in FIELDS
        if len(match.positions.get(name, ())) == 1
        and match.positions[name][0] < len(kinds)
        and kinds[match.positions[name][0]].is_numeric()
    )
