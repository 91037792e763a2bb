"""Splits delimited text into records, with line numbers that count quoted line ends too.

The rules are those of RFC 4180 as Python's csv module has them (strict): a
quote opens a quoted cell only at its start, a quote inside is doubled; but white
space around the quotes is passed over. A line whose quoting is broken is set
aside alone; reading goes on with the next line.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import NamedTuple

# A quote that opens a cell and is not closed within so many lines is a slip.
LONGEST_RECORD_LINES = 200


class Record(NamedTuple):
    """One record; `cells` is None where its quoting is broken."""

    line: int
    cells: list[str] | None
    text: str


def split_lines(text: str) -> list[str]:
    """The lines with their ends: LF, CR LF or a lone CR, and nothing else."""
    return list(io.StringIO(text, newline=""))


def read_records(
    lines: Sequence[str], delimiter: str, *, first_line: int = 1, more_to_come: bool = False
) -> Iterator[Record]:
    """Each record of these lines, blank ones too.

    Args:
        first_line: The number of the first line.
        more_to_come: Stop before a record that is still open at the end.
    """
    place = 0
    while place < len(lines):
        line = lines[place]
        if '"' not in line:
            bare = line.rstrip("\r\n")
            yield Record(first_line + place, bare.split(delimiter), bare)
            place += 1
            continue
        cells, used = _quoted_record(lines, place, delimiter)
        if cells is None and used == 0:
            if more_to_come:
                return
            used = 1
        text = "".join(lines[place : place + used]).rstrip("\r\n")
        yield Record(first_line + place, cells, text)
        place += used


def _quoted_record(
    lines: Sequence[str], place: int, delimiter: str
) -> tuple[list[str] | None, int]:
    """The cells and how many lines they took; (None, 1) where broken, (None, 0) where open."""
    window = islice(lines, place, place + LONGEST_RECORD_LINES)
    spaced = re.search(rf'(?:^|{re.escape(delimiter)}) +"', lines[place]) is not None
    reader = csv.reader(window, delimiter=delimiter, strict=True, skipinitialspace=spaced)
    try:
        return next(reader), reader.line_num
    except csv.Error:
        tight = re.sub(rf'" +(?={re.escape(delimiter)}|[\r\n]*$)', '"', lines[place])
        cells = None if tight == lines[place] else _quoted_record([tight], 0, delimiter)[0]
        if cells is not None:
            return cells, 1
        ran_out = place + reader.line_num >= len(lines)
        short_of_limit = reader.line_num < LONGEST_RECORD_LINES
        is_open = ran_out and short_of_limit and "".join(lines[place:]).count('"') % 2 == 1
        return None, 0 if is_open else 1
    except StopIteration:  # an empty record; cannot be, as the line holds a quote
        return None, 1
