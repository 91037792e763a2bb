"""On which line of a TOML text each table, key and list entry stands.

The standard reader gives values without lines, and a fault without a line is
hard to mend. The text is known to be valid TOML when it comes here.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePath

KeyPath = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)+")
_SPACE = re.compile(r"[ \t]*")
_KEY = re.compile(r"""[A-Za-z0-9_-]+|"(?:\\.|[^"\\\n])*"|'[^'\n]*'""")
_STRING = re.compile(
    r'''"""(?:\\.|[^\\])*?""""{0,2}|'{3}.*?'{3}'{0,2}|"(?:\\.|[^"\\\n])*"|'[^'\n]*\'''',
    re.DOTALL,
)
_SCALAR = re.compile(r"[^,\]}#\n]+")


@dataclass(frozen=True)
class LineIndex:
    """Lines of one file by the path of keys and list positions.

    Attributes:
        file: The file the lines are of.
        lines: Line number, from 1, of each path that is written in the file.
    """

    file: PurePath
    lines: Mapping[KeyPath, int]

    def line_of(self, path: KeyPath) -> int | None:
        """The line of this path, or of the nearest table around it; None for the file itself."""
        for length in range(len(path), 0, -1):
            line = self.lines.get(path[:length])
            if line is not None:
                return line
        return None


def index_lines(text: str, file: PurePath) -> LineIndex:
    """Find the line of everything written in a valid TOML text.

    >>> index_lines("[a]\\n\\nb.c = [\\n1]", PurePath("x")).lines
    {('a',): 1, ('a', 'b'): 3, ('a', 'b', 'c'): 3, ('a', 'b', 'c', 0): 4}
    """
    return LineIndex(file=file, lines=_Scan(text).whole_text())


class _Scan:
    """One pass over the text; `position` is the next character to look at."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.position = 0
        self.lines: dict[KeyPath, int] = {}
        self.list_lengths: dict[KeyPath, int] = {}
        self.line_ends = [found.start() for found in re.finditer("\n", text)]

    def whole_text(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        self.skip_blank()
        while self.position < len(self.text):
            if self.text[self.position] == "[":
                table = self.header()
            else:
                self.entry(table)
            self.skip_blank()
        return self.lines

    def note(self, path: KeyPath, line: int) -> None:
        self.lines.setdefault(path, line)

    def line(self) -> int:
        return bisect_right(self.line_ends, self.position - 1) + 1

    def skip_blank(self) -> None:
        blank = _BLANK.match(self.text, self.position)
        if blank:
            self.position = blank.end()

    def take(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.position)
        if found is None:
            raise ValueError(f"not TOML at character {self.position}")
        self.position = found.end()
        return found.group()

    def header(self) -> KeyPath:
        line = self.line()
        is_list = self.text.startswith("[[", self.position)
        self.position += 2 if is_list else 1
        names = self.key_names()
        self.position += 2 if is_list else 1
        path: KeyPath = ()
        for number, name in enumerate(names):
            path = (*path, name)
            last = number == len(names) - 1
            if last and is_list:
                self.note(path, line)
                self.list_lengths[path] = self.list_lengths.get(path, 0) + 1
            if path in self.list_lengths:
                path = (*path, self.list_lengths[path] - 1)
            self.note(path, line)
        return path

    def key_names(self) -> list[str]:
        names = []
        while True:
            self.take(_SPACE)
            names.append(_plain_key(self.take(_KEY)))
            self.take(_SPACE)
            if self.text[self.position] != ".":
                return names
            self.position += 1

    def entry(self, table: KeyPath) -> None:
        line = self.line()
        path = table
        for name in self.key_names():
            path = (*path, name)
            self.note(path, line)
        self.position += 1
        self.take(_SPACE)
        self.value(path)

    def value(self, path: KeyPath) -> None:
        start = self.text[self.position]
        if start == "[":
            self.listing(path)
        elif start == "{":
            self.inline_table(path)
        elif start in "\"'":
            self.take(_STRING)
        else:
            self.take(_SCALAR)

    def listing(self, path: KeyPath) -> None:
        self.position += 1
        number = 0
        self.skip_blank()
        while self.text[self.position] != "]":
            here = (*path, number)
            self.note(here, self.line())
            self.value(here)
            number += 1
            self.skip_comma()
        self.position += 1

    def inline_table(self, path: KeyPath) -> None:
        self.position += 1
        self.skip_blank()
        while self.text[self.position] != "}":
            self.entry(path)
            self.skip_comma()
        self.position += 1

    def skip_comma(self) -> None:
        self.skip_blank()
        if self.text[self.position] == ",":
            self.position += 1
            self.skip_blank()


def _plain_key(written: str) -> str:
    if written.startswith("'"):
        return written[1:-1]
    if written.startswith('"'):
        return str(tomllib.loads(f"key = {written}")["key"])
    return written
