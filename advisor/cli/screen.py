"""How answers look on a terminal: plain tables, bars and numbers, 80 columns, no colour.

Nothing here is told by colour or by a character that a screen reader skips;
every picture stands beside its numbers.
"""

from __future__ import annotations

import os
import sys
import textwrap
from collections.abc import Sequence
from typing import Literal

WIDTH = 80
NARROWEST = 40
BAR = "█"
UNBROKEN = "\u00a0"
GAP = "  "
EIGHTHS = "▁▂▃▄▅▆▇█"


def width() -> int:
    """Columns to use: the terminal's, at most 80 and at least 40."""
    import shutil

    return max(NARROWEST, min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns))


def show(text: str = "") -> None:
    """Print one line of an answer."""
    sys.stdout.write(f"{printable(text)}\n")


def say_beside(sentence: str, *, mark: str) -> None:
    """Write one sentence to stderr: wrapped at a terminal, one line for a program."""
    text = mark + printable(sentence)
    if sys.stderr.isatty():
        room = int(os.environ.get("COLUMNS") or os.get_terminal_size(sys.stderr.fileno()).columns)
        text = textwrap.fill(
            text,
            max(room, NARROWEST),
            subsequent_indent="  ",
            break_long_words=False,
            break_on_hyphens=False,
        )
    sys.stderr.write(text + "\n")


def show_sentences(sentences: Sequence[str], *, mark: str = "- ") -> None:
    """Print sentences as a list, wrapped to the width."""
    for sentence in sentences:
        show_wrapped(printable(sentence), first=mark, then=" " * len(mark))


def show_wrapped(text: str, *, first: str = "", then: str = "") -> None:
    """Print a paragraph, wrapped to the width."""
    joined = text.replace(" %", f"{UNBROKEN}%")  # a number keeps its unit
    filled = textwrap.fill(
        joined, width(), initial_indent=first, subsequent_indent=then, break_on_hyphens=False
    )
    sys.stdout.write(filled.replace(UNBROKEN, " ") + "\n")


def unbroken(command: str) -> str:
    """Words that `show_wrapped` and `show_table` leave in one piece, such as a command line."""
    return command.replace(" ", UNBROKEN)


def shortened(path: str, room: int) -> str:
    """A path that fits into so many columns, shortened in the middle; its name goes last.

    >>> shortened("/home/wren/fen market/2026/prices of autumn.csv", 30)
    '/home/w...prices of autumn.csv'
    >>> shortened("/home/wren/prices of the whole autumn fair.csv", 20)
    'price...umn fair.csv'
    >>> shortened("prices.csv", 10)
    'prices.csv'
    """
    from rich.cells import cell_len

    if cell_len(path) <= room:
        return path
    name = path.replace("\\", "/").rsplit("/", 1)[-1]
    if cell_len(name) <= room < cell_len(name) + 5:
        return name
    fits = cell_len(name) + 5 <= room
    path = path if fits else name
    end = len(name) if fits else room - 3 - room // 4
    start = room - 3 - end
    while start + end > 2 and cell_len(path[:start] + path[-end:]) + 3 > room:
        start, end = (start - 1, end) if start > 2 else (start, max(end - 1, 1))  # wide letters
    return f"{path[:start]}...{path[-end:]}"


def show_table(
    headings: Sequence[str], rows: Sequence[Sequence[str]], *, right: str | None = None
) -> None:
    """Print a table that fits the width; long cells are wrapped, none are cut.

    Where not even the longest words fit beside each other, each row becomes a
    paragraph that names its cells.

    Args:
        headings: One a column.
        rows: Cells as text.
        right: One letter a column, "r" for right-aligned, "l" for left; default all left.
    """
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    columns = list(zip(headings, right or "l" * len(headings), *rows, strict=True))
    if rows and sum(map(_room, columns)) + len(GAP) * (len(columns) - 1) > width():
        columns = [column for column in columns if any(column[2:])]
    rooms = _rooms(columns)
    if rooms is None:
        _show_paragraphs([column[0] for column in columns], list(zip(*columns, strict=True))[2:])
        return
    table = Table(box=None, pad_edge=False, padding=(0, len(GAP), 0, 0), header_style="")
    for (heading, letter, *_), room in zip(columns, rooms, strict=True):
        justify: Literal["left", "right"] = "right" if letter == "r" else "left"
        table.add_column(heading, justify=justify, overflow="fold", width=room)
    for row in list(zip(*columns, strict=True))[2:]:
        table.add_row(*(Text(_cell(cell)) for cell in row))
    console = Console(
        width=width(), color_system=None, highlight=False, markup=False, file=sys.stdout
    )
    with console.capture() as captured:
        console.print(table)
    lines = captured.get().replace(UNBROKEN, " ").splitlines()
    sys.stdout.write("\n".join(line.rstrip() for line in lines) + "\n")


def _rooms(columns: Sequence[Sequence[str]]) -> list[int] | None:
    """How wide each column may be, the widest giving way first; None where words do not fit."""
    least = [_room(column, by_word=True) for column in columns]
    rooms = [_room(column) for column in columns]
    over = sum(rooms) + len(GAP) * (len(rooms) - 1) - width()
    for _ in range(max(0, over)):
        giving = [place for place, room in enumerate(rooms) if room > least[place]]
        if not giving:
            return None
        rooms[max(giving, key=rooms.__getitem__)] -= 1
    return rooms


def _room(column: Sequence[str], *, by_word: bool = False) -> int:
    """The columns on the screen that the longest cell takes, or the longest word of any."""
    from rich.cells import cell_len

    cells = [_cell(cell) for cell in (column[0], *column[2:])]
    return max(
        cell_len(part) for cell in cells for part in (cell.split(" ") if by_word else [cell])
    )


def _cell(text: str) -> str:
    """A cell as printed, what is `unbroken` in it still in one piece."""
    return UNBROKEN.join(printable(part) for part in text.split(UNBROKEN))


def _show_paragraphs(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    for row in rows:
        cells = zip(headings, row, strict=True)
        said = [f"{heading} {_cell(cell)}".strip() for heading, cell in cells if cell]
        show_wrapped("; ".join(said), first="- ", then=GAP)


def printable(text: str) -> str:
    """The text with control characters spelled out: a file's words must not steer a terminal.

    >>> printable("a\\x1b[2Jb")
    'a\\\\x1b[2Jb'
    """
    return "".join(each if each.isprintable() else repr(each)[1:-1] for each in text)


def sparkline(values: Sequence[float]) -> str:
    """A small curve of a few characters; says nothing that the row beside it does not.

    >>> sparkline([1, 2, 3, 2, 1])
    '▁▅█▅▁'
    """
    if not values:
        return ""
    low, high = min(values), max(values)
    if high == low:
        return EIGHTHS[3] * len(values)
    scale = (len(EIGHTHS) - 1) / (high - low)
    return "".join(EIGHTHS[int((value - low) * scale + 0.5)] for value in values)


def bars(rows: Sequence[tuple[str, float, str]], *, columns: int = 30) -> list[str]:
    """Lines of a bar chart: label, bar, number.

    Args:
        rows: (label, length >= 0, text behind the bar).
        columns: The width of the longest bar.
    """
    longest = max((length for _, length, _ in rows), default=0.0)
    room = max((len(label) for label, _, _ in rows), default=0)
    lines = []
    for label, length, text in rows:
        filled = round(columns * length / longest) if longest > 0 else 0
        lines.append(f"{label:>{room}}  {BAR * filled:<{columns}}  {text}".rstrip())
    return lines


def is_interactive() -> bool:
    """Whether somebody sits at the terminal."""
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM") != "dumb"
