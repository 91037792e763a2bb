"""Delimited text (.csv, .tsv, .txt): finds delimiter and header, then reads block by block."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import Path

from advisor.errors import BadInput
from importers.encoding import BLOCK_BYTES, Encoding, find_encoding, text_blocks
from importers.layout import Match
from importers.reading import SetAside
from importers.records import Record, read_records, split_lines
from importers.tables import RawBlock, cells_frame

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
HEADER_WITHIN_RECORDS = 30
SAMPLE_CHARACTERS = 64 * 1024

FindHeader = Callable[[Sequence[str]], Match | None]


@dataclass
class DelimitedTable:
    """A delimited text file whose header has been found."""

    path: Path
    encoding: Encoding
    delimiter: str
    match: Match
    header_line: int
    first_row_line: int
    notes: list[str] = field(default_factory=list)
    numbers: frozenset[str] = frozenset()

    @property
    def found(self) -> str:
        """What was found out, in words."""
        where = f"header in line {self.header_line}" if self.header_line else "no header"
        return f"{self.encoding.name}, {DELIMITERS[self.delimiter]}, {where}"

    @property
    def has_broken_text(self) -> bool:
        """Whether some bytes may be no text."""
        return not self.encoding.is_sound

    def blocks(self, *, block_bytes: int | None = None) -> Iterator[RawBlock]:
        """The rows below the header, in order, a block of so many bytes at a time."""
        block_bytes = block_bytes or BLOCK_BYTES
        line, held, bytes_read = 1, "", 0
        size = max(self.path.stat().st_size, 1)
        texts = text_blocks(self.path, self.encoding, block_bytes=block_bytes)
        pending = next(texts, None)
        while pending is not None:
            following = next(texts, None)
            bytes_read = min(bytes_read + block_bytes, size)
            text = held + pending
            held = ""
            if following is not None:
                cut = max(text.rfind("\n"), text.rfind("\r")) + 1
                text, held = text[:cut], text[cut:]
            if text:
                block, open_text, taken = self._block(text, line, is_last=following is None)
                held, line = open_text + held, line + taken
                block.share_read = bytes_read / size
                yield block
            pending = following

    def _block(self, text: str, line: int, *, is_last: bool) -> tuple[RawBlock, str, int]:
        from importers.fast_lines import simple_block

        block = simple_block(text, self.match, delimiter=self.delimiter, first_line=line)
        if block is not None:
            taken, open_text = block.lines_taken, ""
        else:
            block, open_text, taken = self._careful_block(text, line, is_last=is_last)
        block = block.below(self.first_row_line)
        if is_last and text[-1] not in "\r\n":
            block = without_cut_off(block, self.delimiter, width=len(self.match.header))
        return block, open_text, taken

    def _careful_block(self, text: str, line: int, *, is_last: bool) -> tuple[RawBlock, str, int]:
        """Read record by record: some cells of this block hold line ends, or are broken."""
        lines = split_lines(text)
        records = list(
            read_records(lines, self.delimiter, first_line=line, more_to_come=not is_last)
        )
        taken = len(lines)
        open_text = ""
        if not is_last:
            read = sum(len(split_lines(record.text + "\n")) for record in records)
            taken, open_text = read, "".join(lines[read:])
        return block_of_records(records, self.match), open_text, taken


def open_delimited(path: Path, find_header: FindHeader) -> DelimitedTable:
    """Find out how a text file is laid out.

    Raises: BadInput: no text, empty, no header, two delimiters fit.
    """
    encoding = find_encoding(path)
    text = next(text_blocks(path, encoding, block_bytes=4 * SAMPLE_CHARACTERS), "")
    text = text[:SAMPLE_CHARACTERS]
    if not text.strip():
        raise BadInput("the file is empty", right="nothing was taken in", file=path)
    found = {}
    for delimiter in DELIMITERS:
        header = _find_in_records(text, delimiter, find_header, path=path)
        if header is not None:
            found[delimiter] = header
    if not found:
        raise _no_header(path, text)
    delimiter = next(iter(found)) if len(found) == 1 else _likeliest(text, list(found), path)
    match, header_line, first_row_line = found[delimiter]
    return DelimitedTable(path, encoding, delimiter, match, header_line, first_row_line)


def block_of_records(records: Sequence[Record], match: Match) -> RawBlock:
    """The rows among these records; blank lines and comments are left out and counted."""
    width = len(match.header)
    kept: list[Record] = []
    aside: list[SetAside] = []
    comments = 0
    for record in records:
        if is_blank(record.text, record.cells):
            continue
        if record.text.startswith("#"):
            comments += 1
        elif record.cells is None:
            aside.append(SetAside(record.line, None, "quotes", record.text))
        elif any(cell.strip() for cell in record.cells[width:]):
            aside.append(SetAside(record.line, None, "cells", record.text))
        else:
            kept.append(record)
    rows = [(record.cells or [])[:width] for record in kept]
    return RawBlock(
        cells=cells_frame(rows, width),
        lines=[record.line for record in kept],
        texts=[record.text for record in kept],
        set_aside=aside,
        comments=comments,
    )


def without_cut_off(block: RawBlock, delimiter: str, *, width: int) -> RawBlock:
    """The block, its last row set aside if it ends early: the file has no line end there.

    Early means fewer cells than the row before, or than the header where it is
    the only row: a number cut short would otherwise be read as another number.
    """
    if block.texts is None or len(block.texts) == 0:
        return block
    lines, texts = list(block.lines), list(block.texts)
    counts = [
        len(next(csv.reader([text], delimiter=delimiter, skipinitialspace=True), []))
        for text in texts[-2:]
    ]
    usual = counts[0] if len(counts) == 2 else width
    if counts[-1] >= usual:
        return block
    cut = SetAside(lines[-1], None, "cut off", texts[-1])
    return replace(
        block,
        cells=block.cells.head(-1),
        lines=lines[:-1],
        texts=texts[:-1],
        set_aside=[*block.set_aside, cut],
    )


def is_blank(text: str, cells: Sequence[str] | None) -> bool:
    """Whether a record says nothing: white space and delimiters only."""
    return not text.strip() or (cells is not None and not any(cell.strip() for cell in cells))


def _find_in_records(
    text: str, delimiter: str, find_header: FindHeader, *, path: Path
) -> tuple[Match, int, int] | None:
    """The header under this delimiter: its match, its line and the first line below it."""
    records = read_records(split_lines(text), delimiter)
    for record in islice(records, HEADER_WITHIN_RECORDS):
        if record.cells is None or is_blank(record.text, record.cells):
            continue
        try:
            match = find_header(_without_trailing_blanks(record.cells))
        except BadInput as fault:
            fault.file, fault.line = str(path), record.line
            raise
        if match is None:
            continue
        if not any(match.header):
            return match, 0, 1
        return match, record.line, record.line + len(split_lines(record.text + "\n"))
    return None


def _without_trailing_blanks(cells: Sequence[str]) -> list[str]:
    end = len(cells)
    while end and not cells[end - 1].strip():
        end -= 1
    return list(cells[:end])


def _likeliest(text: str, candidates: list[str], path: Path) -> str:
    """Ask the well-kept library, of the delimiters under which a header was found only."""
    import clevercsv

    try:
        dialect = clevercsv.Sniffer().sniff(text[:8192], delimiters=candidates)
        delimiter = "" if dialect is None else str(dialect.delimiter)
    except clevercsv.Error:
        delimiter = ""
    if delimiter not in candidates:
        names = " or ".join(DELIMITERS[each] for each in candidates)
        raise BadInput(f"the columns could be split at {names}", file=path)
    return delimiter


def _no_header(path: Path, text: str) -> BadInput:
    lines = [line.strip() for line in split_lines(text) if line.strip()]
    seen = re.sub(r"\s+", " ", lines[0])[:80]
    return BadInput(
        f"no line among the first {HEADER_WITHIN_RECORDS} names an item and a price column; "
        f"the first line is {seen!r}",
        right="say which columns they are: --map item=NAME --map price=NAME "
        "(or their numbers, where there is no header); "
        "lines of chat go in by makeworth quote --paste",
        file=path,
    )
