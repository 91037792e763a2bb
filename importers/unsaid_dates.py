"""Finds dates in a column that goes by no known name: the file says when, in a word of its own."""

from __future__ import annotations

from pathlib import Path

from advisor.times import is_written_date
from importers.layout import UnsaidColumn
from importers.tables import Table

ROWS_LOOKED_AT = 1000


def refuse_unsaid_dates(path: Path, table: Table, *, is_said: bool) -> None:
    """Refuse a file of which no known column says when, while another one holds dates.

    Its quotes would else all count as seen when the file was written. Bare numbers
    are no dates here: they could count anything.

    Args:
        is_said: The user has said when the quotes were seen.
    Raises: UnsaidColumn: with the first such column.
    """
    places = [] if is_said else _columns_of_dates(table)
    if not places:
        return
    name = table.match.header[places[0]] or f"{places[0] + 1}"
    fault = UnsaidColumn(
        f"column {name!r} holds dates, but its name does not say that prices were seen then",
        field="at",
        name=name,
        otherwise="; else say when: --at TIME",
    )
    fault.file = str(path)
    raise fault


def _columns_of_dates(table: Table) -> list[int]:
    """Unused columns of whose filled cells at least half are dates, the first rows looked at."""
    used = {place for places in table.match.positions.values() for place in places}
    unused = [place for place in range(len(table.match.header)) if place not in used]
    block = next(table.blocks(), None) if unused else None
    if block is None:
        return []
    found = []
    for place in unused:
        cells = block.cells[str(place)].head(ROWS_LOOKED_AT).str.strip_chars().drop_nulls()
        filled = [text for text in cells.to_list() if text]
        if filled and 2 * sum(map(is_written_date, filled)) >= len(filled):
            found.append(place)
    return found
