"""The fast way through a block of delimited text: every record one line, all columns at once.

Gives up (None) where a quoted cell may hold a line end, where quoting is broken or has
space before it and where a line has nothing but quotes; `records` then reads the block
one record at a time.
"""

from __future__ import annotations

import csv
import re

import polars as pl

from importers.layout import Match
from importers.reading import SetAside
from importers.tables import RawBlock


def simple_block(text: str, match: Match, *, delimiter: str, first_line: int) -> RawBlock | None:
    """The rows of a block in which each line is one record; None where that is not sure."""
    lines = _lines(text)
    quoted = _quoted_lines(lines, delimiter)
    if quoted is None:
        return None
    taken = lines.len()
    width = len(match.header)
    frame = pl.DataFrame(
        {"text": lines, "line": pl.int_range(first_line, first_line + taken, eager=True)}
    )
    blank = re.escape(delimiter)
    is_blank = pl.col("text").str.contains(rf"^[\s{blank}]*$")
    is_comment = pl.col("text").str.starts_with("#")
    comments = int(frame.select((is_comment & ~is_blank).sum()).item())
    frame = frame.filter(~is_blank & ~is_comment)
    cells = _cells(frame["text"], delimiter, width=width, has_quotes=quoted)
    overfull = cells.pop("overfull")
    aside = [
        SetAside(line, None, "cells", row)
        for row, line in frame.filter(overfull).select("text", "line").iter_rows()
    ]
    keep = ~overfull
    table = pl.DataFrame(cells)
    if aside:
        frame, table = frame.filter(keep), table.filter(keep)
    return RawBlock(
        cells=table,
        lines=frame["line"],
        texts=frame["text"],
        set_aside=aside,
        comments=comments,
        lines_taken=taken,
    )


def _lines(text: str) -> pl.Series:
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = text.removesuffix("\n")
    return pl.Series("text", [text]).str.split("\n").explode()


def _quoted_lines(lines: pl.Series, delimiter: str) -> bool | None:
    """Whether any line has quotes; None where some line is not sure to be a record by itself."""
    has_quote = lines.str.contains('"', literal=True)
    if not has_quote.any():
        return False
    mark = re.escape(delimiter)
    cell = rf'(?:"(?:[^"]|"")*"|[^"{mark}][^{mark}]*|)'
    whole = rf"^{cell}(?:{mark}{cell})*$"
    unsure = rf'^[\s"{mark}]*$|(?:^|{mark}) +"'
    quoted = lines.filter(has_quote)
    is_sure = quoted.str.contains(whole).all() and not quoted.str.contains(unsure).any()
    return True if is_sure else None


def _cells(
    lines: pl.Series, delimiter: str, *, width: int, has_quotes: bool
) -> dict[str, pl.Series]:
    """Each column's cells, and which rows have more cells than there are columns."""
    plain = _split(lines, delimiter, width)
    if not has_quotes:
        return plain
    places = lines.str.contains('"', literal=True).arg_true()
    records = list(csv.reader(lines.gather(places).to_list(), delimiter=delimiter, strict=True))
    for name, column in plain.items():
        if name == "overfull":
            beyond = [any(cell.strip() for cell in row[width:]) for row in records]
            values = pl.Series(beyond, dtype=pl.Boolean)
        else:
            at = int(name)
            texts = [row[at] if at < len(row) else None for row in records]
            values = pl.Series(texts, dtype=pl.String)
        plain[name] = column.scatter(places, values)
    return plain


def _split(lines: pl.Series, delimiter: str, width: int) -> dict[str, pl.Series]:
    pieces = lines.str.split_exact(delimiter, width).struct.unnest()
    cells = {str(place): pieces.to_series(place) for place in range(width)}
    beyond = pieces.to_series(width)
    overfull = pl.Series("overfull", [False]).new_from_index(0, lines.len())
    if beyond.null_count() < beyond.len():
        mark = re.escape(delimiter)
        after = rf"^(?:[^{mark}]*{mark}){{{width}}}[\s{mark}]*[^\s{mark}]"
        overfull = lines.str.contains(after)
    cells["overfull"] = overfull
    return cells
