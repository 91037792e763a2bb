"""Rows of a CSV file of logged things: known columns only, all readable or none taken."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from pathlib import Path

from advisor.errors import BadInput
from advisor.names import did_you_mean, name_key


def read_bytes(file: Path) -> bytes:
    """What is in a file.

    Raises: BadInput: it cannot be read.
    """
    try:
        return file.read_bytes()
    except OSError as error:
        said = (error.strerror or str(error)).lower()
        raise BadInput(f"cannot be read ({said})", file=file) from None


def read_logged_rows(
    data: bytes, file: Path, *, columns: Sequence[str], needed: Sequence[str]
) -> Iterator[tuple[int, dict[str, str]]]:
    """Each row with its line number, its cells by column, blank rows left out.

    Args:
        data: What is in the file.
        file: Its name, for faults.
        columns: Every column that may be there; any order, any case.
        needed: Those that must be.
    Raises: BadInput: no UTF-8, no CSV, a column unknown, missing or twice, a row of
        another length.
    """
    try:
        lines = data.decode("utf-8-sig").splitlines(keepends=True)
    except UnicodeDecodeError:
        raise BadInput("is no UTF-8 text", file=file, right="save it as CSV in UTF-8") from None
    rows = csv.reader(lines, strict=True)
    try:
        header = _read_header(next(rows, []), file, columns=columns, needed=needed)
        for cells in rows:
            if any(cell.strip() for cell in cells):
                yield rows.line_num, _row_of(header, cells, file=file, line=rows.line_num)
    except csv.Error as fault:
        raise BadInput(f"is no CSV ({fault})", file=file, line=rows.line_num) from None


def _read_header(
    cells: Sequence[str], file: Path, *, columns: Sequence[str], needed: Sequence[str]
) -> list[str]:
    header = [name_key(cell) for cell in cells]
    for name in header:
        if name not in columns:
            right = did_you_mean(name, columns) or "known are " + ", ".join(columns)
            raise BadInput(f"the column {name!r} is not known", right=right, file=file, line=1)
    twice = [name for name in columns if header.count(name) > 1]
    if twice:
        raise BadInput(f"the column {twice[0]!r} is there twice", file=file, line=1)
    for name in needed:
        if name not in header:
            right = "the first line names the columns: " + ",".join(columns)
            raise BadInput(f"there is no column {name!r}", right=right, file=file, line=1)
    return header


def _row_of(
    header: Sequence[str], cells: Sequence[str], *, file: Path, line: int
) -> dict[str, str]:
    if len(cells) != len(header):
        raise BadInput(
            f"{len(cells)} cells where the header has {len(header)}", file=file, line=line
        )
    return {name: cell.strip() for name, cell in zip(header, cells, strict=True)}
