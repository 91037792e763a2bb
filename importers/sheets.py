"""Spreadsheets (.xlsx, .ods): finds the sheet and the header, then reads it as text."""

from __future__ import annotations

import logging
import zipfile
import zlib
from fractions import Fraction
from pathlib import Path
from typing import Any

import polars as pl

from advisor.errors import BadInput
from advisor.money import decimal_evidence
from advisor.names import did_you_mean
from importers.cell_tables import CellTable, FindHeader, fields_of_numbers, number_text
from importers.layout import Match
from importers.reading import FIELDS
from importers.workbook_parts import begins_in_1904, formulas_without_value

HEADER_WITHIN_ROWS = 30
# Spreadsheets keep and show 15 significant digits; what is beyond is binary dust.
SHEET_DIGITS = 15
LARGEST_UNPACKED_BYTES = 2 * 1024**3
# Between 1 January 1904 and the day before 1 January 1900, which is day 1 of that system.
DAYS_TO_1904 = 1462
# NotImplementedError, RuntimeError: packed in a way, or locked, so that it cannot be unpacked.
_BROKEN_ARCHIVE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError)
READ_COLUMNS = tuple(name for name in FIELDS if name not in ("source", "note"))


def open_sheet(path: Path, find_header: FindHeader, *, sheet: str | None) -> CellTable:
    """Find the sheet with a header of prices.

    Args:
        sheet: Its name; None: the only one that has such a header.
    Raises: BadInput: no spreadsheet, no such sheet, no header, or several sheets fit.
    """
    book = _opened(path)
    names: list[str] = list(book.sheet_names)
    if sheet is not None and sheet not in names:
        right = did_you_mean(sheet, names) or f"sheets are {', '.join(names)}"
        raise BadInput(f"there is no sheet {sheet!r}", right=right, file=path)
    tables = {}
    for name in names if sheet is None else [sheet]:
        table = _read_sheet(book, name, find_header, path=path)
        if table is not None:
            tables[name] = table
    table = _only_one(tables, names, path)
    others = [name for name in names if name not in tables]
    if others and sheet is None:
        table.notes.append(f"sheets without prices, not read: {', '.join(others)}")
    return table


def _only_one(tables: dict[str, CellTable], names: list[str], path: Path) -> CellTable:
    if not tables:
        raise BadInput(
            f"no sheet has a line with an item and a price column; sheets are {', '.join(names)}",
            right="say which columns they are: --map item=NAME --map price=NAME",
            file=path,
        )
    first, *others = tables
    if others:
        raise BadInput(
            f"several sheets have prices: {', '.join(tables)}",
            right=f'say which to take: --sheet "{first}"',
            file=path,
        )
    return tables[first]


def _opened(path: Path) -> Any:
    import fastexcel

    # It would say on stderr which columns it takes for text.
    logging.getLogger("fastexcel").addHandler(logging.NullHandler())
    try:
        with zipfile.ZipFile(path) as archive:
            unpacked = sum(entry.file_size for entry in archive.infolist())
            if unpacked > LARGEST_UNPACKED_BYTES:
                raise BadInput(f"unpacked, the file has {unpacked} bytes: too large", file=path)
            # The reader does not look at the checksums: a damaged digit would pass for a price.
            if archive.testzip() is not None:
                raise _damaged(path)
        return fastexcel.read_excel(path)
    except (*_BROKEN_ARCHIVE, fastexcel.FastExcelError, ValueError, OSError) as fault:
        raise _damaged(path) from fault


def _damaged(path: Path) -> BadInput:
    return BadInput(
        "the file is damaged, or no spreadsheet that can be read",
        right="save it again as .xlsx, .ods or .csv",
        file=path,
    )


def _read_sheet(book: Any, name: str, find_header: FindHeader, *, path: Path) -> CellTable | None:
    """The rows of a sheet below its header; None where it has no header of prices."""
    import fastexcel

    try:
        # Without skip_rows, empty rows at the top are left out and rows are counted wrong.
        sheet = book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string")
        frame: pl.DataFrame = sheet.to_polars()
        frame.columns = [str(place) for place in range(frame.width)]
        for place, row in enumerate(frame.head(HEADER_WITHIN_ROWS).iter_rows()):
            match = find_header(["" if cell is None else str(cell) for cell in row])
            if match is not None:
                texts = _with_formulas(frame, match, path=path, sheet=name)
                return _rows_below(book, name, match, place=place, texts=texts, path=path)
    except fastexcel.FastExcelError as fault:
        raise _damaged(path) from fault
    return None


def _with_formulas(texts: pl.DataFrame, match: Match, *, path: Path, sheet: str) -> pl.DataFrame:
    """The cells; where a needed one has a formula but no value, its formula: no silent gap."""
    places = [place for name in READ_COLUMNS for place in match.positions.get(name, ())]
    if not any(texts.to_series(place).null_count() for place in places):
        return texts
    formulas = formulas_without_value(path, sheet)
    columns = []
    for place in places:
        cells = texts.to_series(place).to_list()
        for row, cell in enumerate(cells):
            if cell is None and (row, place) in formulas:
                cells[row] = formulas[row, place]
        columns.append(pl.Series(str(place), cells, dtype=pl.String))
    return texts.with_columns(columns)


def _days_from_1900(texts: pl.Series, floats: pl.Series) -> pl.Series:
    """Bare day numbers of a workbook that counts from 1904, as the others count them."""
    days = [
        number_text(number + DAYS_TO_1904)
        if number is not None and text is not None and _is_text_of(text, number)
        else text
        for text, number in zip(texts.to_list(), floats.to_list(), strict=True)
    ]
    return pl.Series(texts.name, days, dtype=pl.String)


def _rows_below(
    book: Any, name: str, match: Match, *, place: int, texts: pl.DataFrame, path: Path
) -> CellTable:
    has_header = any(match.header)
    start = place + 1 if has_header else 0
    texts = texts.slice(start)
    below = {"header_row": None, "skip_rows": start}
    numbers = fields_of_numbers(match, book.load_sheet(name, **below).to_polars().dtypes)
    floats = book.load_sheet(name, **below, dtypes="float").to_polars()
    texts = texts.with_columns(
        _exact_numbers(texts.to_series(place), floats.to_series(place))
        for field in ("price", "qty")
        for place in match.positions.get(field, ())
    )
    if begins_in_1904(path):
        texts = texts.with_columns(
            _days_from_1900(texts.to_series(at), floats.to_series(at))
            for at in match.positions.get("at", ())
        )
    says_something = pl.any_horizontal(pl.all().str.strip_chars().fill_null("") != "")
    filled = texts.select(says_something.alias("filled")).to_series()
    rows = texts.with_row_index("line", offset=start + 1).filter(filled)
    lines = rows["line"].to_list()
    shown = rows.drop("line")
    where = f"header in row {place + 1}" if has_header else "no header"
    return CellTable(
        cells=shown.with_columns(_neutral_prices(shown, match, numbers)),
        lines=lines,
        match=match,
        found=f"spreadsheet, sheet {name!r}, {where}",
        numbers=numbers,
        shown=shown,
    )


def _exact_numbers(texts: pl.Series, floats: pl.Series) -> pl.Series:
    """The column's text with its number cells to the 15 digits that a spreadsheet keeps.

    The library's text of a number stops at nine decimals.
    """
    exact = [
        text
        if number is None or text is None or not _is_text_of(text, number)
        else number_text(float(f"{number:.{SHEET_DIGITS}g}"))
        for text, number in zip(texts.to_list(), floats.to_list(), strict=True)
    ]
    return pl.Series(texts.name, exact, dtype=pl.String)


def _is_text_of(text: str, number: float) -> bool:
    """Whether this is the library's text of a number cell, not a text that was typed."""
    if not text.isascii() or not text.replace(".", "", 1).removeprefix("-").isdigit():
        return False
    if "." in text and text[-1] in "0.":
        return False
    return abs(float(text) - number) <= 1e-9 * max(1.0, abs(number))


def _neutral_prices(cells: pl.DataFrame, match: Match, numbers: frozenset[str]) -> list[pl.Series]:
    """Number cells among text prices, as fractions: they say nothing of how the text is spelled."""
    places = match.positions["price"]
    if "price" in numbers or len(places) != 1:
        return []
    column = cells.to_series(places[0])
    return [pl.Series(column.name, [_neutral(each) for each in column.to_list()], dtype=pl.String)]


def _neutral(text: str | None) -> str | None:
    if text is None or not text.replace(".", "", 1).isdecimal() or not text.isascii():
        return text
    if decimal_evidence(text) == "open" or number_text(float(text)) != text:
        return text
    exact = Fraction(text)
    return text if exact.denominator == 1 else f"{exact.numerator}/{exact.denominator}"
