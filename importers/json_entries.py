"""Goes through a JSON list, or JSON lines, entry by entry, a piece of the text at a time."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from advisor.errors import BadInput
from importers.encoding import BLOCK_BYTES, Encoding, text_blocks

LONGEST_ENTRY = 16 * 1024 * 1024
PLAIN_DECIMAL = re.compile(r"[0-9]{1,20}\.[0-9]{1,20}")
NUMBER_GOES_ON = re.compile(r"[-+.eE0-9]*")
WHITE = re.compile(r"[ \t\r\n\ufeff]*")
WHITE_AND_MARK = "\ufeff \t\r\n"


class Entry(NamedTuple):
    """One entry: its fields, or None where it is no object.

    Attributes:
        number: In the list, from 1; None among JSON lines, where the line tells.
        text: As it stands in the file.
    """

    number: int | None
    line: int
    fields: dict[str, Any] | None
    text: str
    share_read: float


class Number(str):
    """A number of a JSON file, with the very digits it was written in."""

    __slots__ = ()

    def is_plain_decimal(self) -> bool:
        """Whether it is digits, a point and digits, not too many."""
        return PLAIN_DECIMAL.fullmatch(self) is not None


class KeyTwice:
    """Stands for an object that has the same key twice."""


def is_list(path: Path, encoding: Encoding) -> bool:
    """Whether the file begins as a list does."""
    for text in text_blocks(path, encoding, block_bytes=BLOCK_BYTES):
        start = text.lstrip(WHITE_AND_MARK)
        if start:
            return start.startswith("[")
    return False


def entries_of(
    path: Path, encoding: Encoding, *, block_bytes: int = BLOCK_BYTES
) -> Iterator[Entry]:
    """Every entry of the file, in order; so many bytes are taken in at a time.

    Raises: BadInput: a list that is no sound JSON, once the place is reached.
    """
    if is_list(path, encoding):
        return _list_entries(path, _Text(path, encoding, block_bytes))
    return _lines(path, encoding, block_bytes)


@dataclass
class _Text:
    """The text of a file, of which a window is held.

    Attributes:
        held, place: The window, and how far it has been read.
        line: The line that the place is in, from 1.
    """

    path: Path
    encoding: Encoding
    block_bytes: int
    held: str = ""
    place: int = 0
    line: int = 1
    is_over: bool = False
    bytes_read: int = 0
    _blocks: Iterator[str] = field(default_factory=lambda: iter(()))

    def __post_init__(self) -> None:
        self._blocks = text_blocks(self.path, self.encoding, block_bytes=self.block_bytes)
        self.size = max(self.path.stat().st_size, 1)

    @property
    def share_read(self) -> float:
        """How much of the file has been read, 0 to 1."""
        return min(1.0, self.bytes_read / self.size)

    def read_on(self) -> bool:
        """Let go of what has been read and take the next block in; False at the end."""
        block = next(self._blocks, None)
        self.is_over = block is None
        self.held = self.held[self.place :] + (block or "")
        self.place = 0
        self.bytes_read += self.block_bytes
        return not self.is_over

    def move_to(self, place: int) -> None:
        """Read up to this place of the window."""
        self.line += self.held.count("\n", self.place, place)
        self.place = place

    def skip_white(self) -> str:
        """Read over white space; the sign behind it, "" at the end."""
        while True:
            found = WHITE.match(self.held, self.place)
            self.move_to(self.place if found is None else found.end())
            if self.place < len(self.held):
                return self.held[self.place]
            if not self.read_on():
                return ""

    def read_value(self, decoder: json.JSONDecoder) -> tuple[Any, str]:
        """The next value, and its text.

        A value that ends where the window does may go on behind it, and so may "1."
        of which "1" is a value.
        """
        while True:
            fault: json.JSONDecodeError | None = None
            end = len(self.held)
            try:
                value, end = decoder.raw_decode(self.held, self.place)
            except json.JSONDecodeError as broken:
                fault = broken
            goes_on = NUMBER_GOES_ON.fullmatch(self.held, end) is not None
            if self.is_over or (fault is None and not goes_on):
                break
            if len(self.held) - self.place > LONGEST_ENTRY or not self.read_on():
                self.is_over = True
        if fault is not None:
            raise fault
        text = self.held[self.place : end]
        self.move_to(end)
        return value, text


def _list_entries(path: Path, text: _Text) -> Iterator[Entry]:
    decoder, number = _decoder(), 0
    text.skip_white()
    text.move_to(text.place + 1)
    sign = text.skip_white()
    try:
        while sign != "]":
            number += 1
            line = text.line
            value, said = text.read_value(decoder)
            fields = value if isinstance(value, dict) else None
            yield Entry(number, line, fields, said, text.share_read)
            sign = text.skip_white()
            if sign == ",":
                text.move_to(text.place + 1)
                text.skip_white()
            elif sign != "]":
                raise json.JSONDecodeError("expected a comma or the end of the list", "", 0)
    except json.JSONDecodeError as fault:
        raise _broken(fault.msg, path, text.line) from None
    except RecursionError:
        raise _broken("nested too deeply", path, text.line) from None
    text.move_to(text.place + 1)
    if text.skip_white():
        raise _broken("something stands behind the list", path, text.line)


def _broken(why: str, path: Path, line: int) -> BadInput:
    return BadInput(
        f"the file is no sound JSON: {why[:1].lower()}{why[1:]}",
        right="nothing of it was taken in",
        file=path,
        line=line,
    )


def _lines(path: Path, encoding: Encoding, block_bytes: int) -> Iterator[Entry]:
    decoder, size = _decoder(), max(path.stat().st_size, 1)
    line, bytes_read, held = 0, 0, ""
    for block in _with_end(text_blocks(path, encoding, block_bytes=block_bytes)):
        bytes_read += block_bytes
        *whole, held = (held + block).split("\n") if block is not None else (held, "")
        for each in whole:
            line += 1
            said = each.strip("\ufeff \t\r")
            if said:
                fields = _object_of(said, decoder)
                yield Entry(None, line, fields, said, min(1.0, bytes_read / size))
        if len(held) > LONGEST_ENTRY:
            raise BadInput(f"a line is longer than {LONGEST_ENTRY} signs", file=path, line=line + 1)


def _with_end(blocks: Iterator[str]) -> Iterator[str | None]:
    yield from blocks
    yield None


def _object_of(line: str, decoder: json.JSONDecoder) -> dict[str, Any] | None:
    try:
        value, end = decoder.raw_decode(line)
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) and end == len(line) else None


def _decoder() -> json.JSONDecoder:
    """Numbers keep their digits; an object that has a key twice is none."""
    return json.JSONDecoder(
        object_pairs_hook=_fields_once,
        parse_float=Number,
        parse_int=Number,
        parse_constant=Number,
    )


def _fields_once(pairs: list[tuple[str, Any]]) -> dict[str, Any] | KeyTwice:
    fields = dict(pairs)
    return fields if len(fields) == len(pairs) else KeyTwice()
