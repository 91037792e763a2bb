"""Opens a file of prices, whatever kind it is of."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.errors import BadInput
from advisor.names import name_key
from advisor.times import us_to_rfc3339
from importers.layout import (
    Layout,
    Match,
    declared_layouts,
    mapped_layout,
    match_header,
    match_numbers,
)
from importers.names import NameBook
from importers.reading import Chunk, Reading, ReadOptions
from importers.side_words import SIDES
from importers.unsaid_dates import refuse_unsaid_dates

if TYPE_CHECKING:
    import polars as pl

    from importers.tables import Table

SPREADSHEET_START = b"PK\x03\x04"
PARQUET_START = b"PAR1"
# "sell" and "buy" are not among them: whose they are stands open.
SIDES_OF_HEADERS = ("ask", "asking", "offered", "bid", "wanted", "deal")


def open_reading(
    path: Path,
    options: ReadOptions,
    *,
    known: Mapping[str, str],
    layouts: Sequence[Layout] = (),
    only: Layout | None = None,
) -> Reading:
    """Find out how a file is laid out, ready to be read.

    Args:
        known: Name key -> item name as the book spells it.
        layouts: Saved layouts; they go before the declared ones.
        only: Use this layout and no other (`--layout`).
    Raises: BadInput: not there, of no known kind, or its layout stays open.
    """
    if not path.is_file():
        what = "is a folder, not a file" if path.is_dir() else "there is no such file"
        raise BadInput(what, file=path)
    table = open_table(path, options, layouts=layouts, only=only, known=known)
    layout = table.match.layout
    money = None if options.money_is_said else layout.money or _money_of_header(table, known)
    said_order = options.date_order if options.date_order_is_said else None
    options = replace(
        options,
        money=money or options.money,
        decimal=options.decimal or layout.decimal,
        date_order=said_order or layout.date_order or options.date_order,
        side=options.side or layout.side or _side_of_header(table),
    )
    notes = table.notes
    if table.match.unused:
        notes.append(f"columns not used: {', '.join(table.match.unused)}")
    if said_order is None and layout.date_order and options.date_order == layout.date_order:
        notes.append(f'dates are read as {layout.date_order}, as the layout "{layout.name}" says')
    if "at" not in table.match.positions:
        refuse_unsaid_dates(path, table, is_said=options.at_is_said)
        notes.append(
            "no column says when: all quotes count as seen "
            f"{us_to_rfc3339(options.at_us // 1_000_000 * 1_000_000)}"
            + ("" if options.at_is_said else ", when the file was written; else say --at TIME")
        )
    return Reading(
        layout=layout.name,
        header=table.match.header,
        columns=table.match.columns,
        found=table.found,
        chunks=_chunks(path, table, options, names=NameBook(known)),
        notes=notes,
    )


def _money_of_header(table: Table, known: Mapping[str, str]) -> str | None:
    """The money that the price column is headed with: "Price (crown)"; None where it is not."""
    _, money = _split_money(table.match.columns["price"], known)
    if money is not None:
        table.notes.append(f"prices that name no money are in {money}, as their column says")
    return money


def _side_of_header(table: Table) -> str | None:
    """The side that the price column is headed with: "Bid"; None where it is not, or rows say."""
    words = name_key(table.match.columns["price"]).split(" ")
    said = " ".join(word for word in words if word not in ("price", "prices"))
    side = SIDES.get(said) if said in SIDES_OF_HEADERS else None
    if side is None or "side" in table.match.positions:
        return None
    table.notes.append(f"all count as {side}, as the price column says")
    return side


def _split_money(cell: str, known: Mapping[str, str]) -> tuple[str, str | None]:
    """A header cell without the known name in brackets at its end, and that name."""
    found = re.fullmatch(r"(.*\S)\s*[(\[]([^()\[\]]+)[)\]]\s*", cell)
    money = None if found is None else known.get(name_key(found[2]))
    return (cell, None) if found is None or money is None else (found[1], money)


def open_table(
    path: Path,
    options: ReadOptions,
    *,
    layouts: Sequence[Layout] = (),
    only: Layout | None = None,
    known: Mapping[str, str] | None = None,
) -> Table:
    """Find the header and how cells are told apart; arguments as those of `open_reading`."""

    def find_header(cells: Sequence[str]) -> Match | None:
        match = match_cells(cells)
        without_moneys = [_split_money(cell, known or {})[0] for cell in cells]
        if match is None and without_moneys != list(cells):
            match = match_cells(without_moneys)
            header = tuple(cell.strip() for cell in cells)
            return None if match is None else replace(match, header=header)
        return match

    def match_cells(cells: Sequence[str]) -> Match | None:
        if only is not None:
            return match_header(cells, [only])
        if options.columns:
            numbered = match_numbers(options.columns, len(cells))
            return numbered or match_header(cells, [mapped_layout(options.columns)])
        return match_header(cells, [*layouts, *declared_layouts()])

    with path.open("rb") as stream:
        start = stream.read(512)
    if start.startswith(PARQUET_START):
        from importers.parquet import open_parquet

        return open_parquet(path, find_header)
    if start.startswith(SPREADSHEET_START):
        from importers.sheets import open_sheet

        return open_sheet(path, find_header, sheet=options.sheet)
    if _begins_as_json(start):
        from importers.json_lists import open_json

        return open_json(path, find_header)
    from importers.delimited import open_delimited

    return open_delimited(path, find_header)


def _begins_as_json(start: bytes) -> bool:
    is_utf16 = start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    text = start.decode("utf-16" if is_utf16 else "utf-8", errors="ignore")
    return text.lstrip("\ufeff \t\r\n")[:1] in ("[", "{")


def _chunks(path: Path, table: Table, options: ReadOptions, *, names: NameBook) -> Iterator[Chunk]:
    """Each block read in turn; complaints about a cell name the file."""
    from importers.rows import RowReader, typed_cells
    from importers.spelling import Spelling

    def all_cells() -> Iterator[pl.DataFrame]:
        return (typed_cells(block, table.match) for block in table.blocks())

    spelling = Spelling(
        all_cells,
        decimal=options.decimal,
        order=options.date_order,
        open_points_are_decimal=table.match.is_full_canonical,
        notes=table.notes,
    )
    reader = RowReader(
        table.match,
        options,
        names,
        spelling=spelling,
        numbers=table.numbers,
        notes=table.notes,
        check_encoding=table.has_broken_text,
    )
    comments = 0
    try:
        for block in table.blocks():
            comments += block.comments
            yield reader.read(block)
    except BadInput as fault:
        fault.file = str(path)
        raise
    spelling.note_other_order()
    if comments:
        table.notes.append(f"comment lines left out: {comments}")
    for typed, near in names.near.items():
        table.notes.append(f'"{typed}" was set aside: did you mean "{near}"?')
