"""A part of a file as cells: text, line numbers, and the text each row had."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Protocol

from importers.layout import Match
from importers.reading import SetAside

if TYPE_CHECKING:
    import polars as pl


@dataclass
class RawBlock:
    """Rows of a file before their cells are read.

    Attributes:
        cells: One column a column of the file, named "0", "1", ...; text or null.
        lines: The line each row starts in.
        texts: The row as it stands in the file; None: written again from `shown`.
        shown: The cells as shown in a row set aside; None: the cells themselves.
        set_aside: Rows that are broken as a whole.
        comments: How many comment lines were left out.
        lines_taken: How many lines of the file the block spans.
        share_read: How much of the file has been read with it, 0 to 1.
        entries: The number of each row in the file's list; None where it has lines.
    """

    cells: pl.DataFrame
    lines: pl.Series | list[int]
    texts: pl.Series | list[str] | None
    set_aside: list[SetAside] = field(default_factory=list)
    comments: int = 0
    lines_taken: int = 0
    shown: pl.DataFrame | None = None
    share_read: float = 1.0
    entries: pl.Series | None = None

    def below(self, first_line: int) -> RawBlock:
        """Only what stands in this line or further down."""
        import polars as pl

        lines = pl.Series("line", self.lines, dtype=pl.Int64)
        texts = None if self.texts is None else pl.Series("text", self.texts, dtype=pl.String)
        aside = [row for row in self.set_aside if row.line >= first_line]
        whole = replace(self, lines=lines, texts=texts, set_aside=aside)
        if not lines.len() or int(lines[0]) >= first_line:
            return whole
        return whole.keeping(lines >= first_line)

    def keeping(self, keep: pl.Series) -> RawBlock:
        """Only the rows that are marked."""
        import polars as pl

        lines = pl.Series("line", self.lines, dtype=pl.Int64)
        texts = None if self.texts is None else pl.Series("text", self.texts, dtype=pl.String)
        return replace(
            self,
            cells=self.cells.filter(keep),
            lines=lines.filter(keep),
            texts=None if texts is None else texts.filter(keep),
            shown=None if self.shown is None else self.shown.filter(keep),
            entries=None if self.entries is None else self.entries.filter(keep),
        )


class Table(Protocol):
    """A file whose header has been found; its rows can be gone through more than once."""

    match: Match
    notes: list[str]
    numbers: frozenset[str]
    """Canonical columns that hold numbers, not text: nothing to decide about their decimals."""

    @property
    def has_broken_text(self) -> bool:
        """Whether some bytes of the file may be no text."""

    @property
    def found(self) -> str:
        """What was found out, in words."""

    def blocks(self) -> Iterator[RawBlock]:
        """The rows below the header, in order."""


def cells_frame(rows: Sequence[Sequence[str]], width: int) -> pl.DataFrame:
    """Rows of cells as a table of `width` columns; short rows are filled with nothing."""
    import polars as pl

    columns = {
        str(place): [row[place] if place < len(row) else None for row in rows]
        for place in range(width)
    }
    return pl.DataFrame(columns, schema=dict.fromkeys(columns, pl.String))
