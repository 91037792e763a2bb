"""Rows copied from a sheet together with their header: read as a file of prices is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from advisor.errors import BadInput
from advisor.quotes import Quote

if TYPE_CHECKING:
    from importers.reading import ReadOptions, SetAside


@dataclass(frozen=True)
class PastedTable:
    """The quotes of a pasted table, and the rows that could not be read."""

    quotes: list[Quote]
    set_aside: list[SetAside]
    notes: list[str]


def is_table(text: str) -> bool:
    """Whether the first line that says something is a header, its cells parted by tabs."""
    from importers.layout import declared_layouts, match_header

    first = next((line for line in text.splitlines() if line.strip()), "")
    try:
        return "\t" in first and match_header(first.split("\t"), declared_layouts()) is not None
    except BadInput:
        return True  # a header, with something wrong that reading will name


def read_table(text: str, options: ReadOptions, *, known: Mapping[str, str]) -> PastedTable:
    """Read a pasted table.

    Raises: BadInput: its numbers or dates stay open, two columns could be the price.
    """
    from importers.files import open_reading
    from importers.layout import UnsaidColumn

    quotes: list[Quote] = []
    aside: list[SetAside] = []
    with TemporaryDirectory() as folder:
        path = Path(folder) / "pasted lines"
        path.write_text(text, encoding="utf-8", newline="")
        try:
            reading = open_reading(path, options, known=known)
            for chunk in reading.chunks:
                quotes += [_quote(row) for row in chunk.rows.iter_rows(named=True)]
                aside += chunk.set_aside
        except UnsaidColumn as fault:
            right = "leave one of them out"
            if fault.field == "at":
                right = f'if they were, call it "at"{fault.otherwise}'
            raise BadInput(fault.what, right=right, line=fault.line) from None
        except BadInput as fault:
            raise BadInput(
                fault.what, right=fault.right, line=fault.line, column=fault.column
            ) from None
    return PastedTable(quotes, aside, reading.notes)


def _quote(row: Mapping[str, object]) -> Quote:
    fields = {name: row[name] for name in ("at_us", "item", "money", "side", "qty")}
    fields |= {name: row[name] for name in ("trader", "source", "note")}
    return Quote(price=Fraction(str(row["price"])), **fields)  # type: ignore[arg-type]
