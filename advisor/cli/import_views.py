"""How what was taken in, set aside and taken back looks on a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from typing import TYPE_CHECKING, Protocol

from advisor.cli.screen import (
    printable,
    shortened,
    show,
    show_sentences,
    show_table,
    show_wrapped,
    unbroken,
    width,
)
from advisor.figures import counted
from advisor.times import us_to_local

if TYPE_CHECKING:
    from advisor.book.batches import UndoResult
    from advisor.book.history import Batch, SetAside
    from advisor.tasks.importing import ImportReport

ROWS_SHOWN = 20
TEXT_LINES = 3
FILE, SHORTEST_FILE = 2, 12
INDENT = "  "


class UnreadRow(Protocol):
    """A row set aside, of a file just read or of the book."""

    @property
    def line(self) -> int: ...  # noqa: D102
    @property
    def column(self) -> str | None: ...  # noqa: D102
    @property
    def reason(self) -> str: ...  # noqa: D102
    @property
    def text(self) -> str: ...  # noqa: D102


def show_report(report: ImportReport) -> None:
    """What came of one file."""
    tried = " (tried only, nothing kept)" if report.batch is None else f", batch {report.batch}"
    show_wrapped(printable(f"{report.file}{tried}"), then=INDENT)
    show_wrapped(
        f"{counted(report.rows, 'row')}: {report.added} added, {report.known} known, "
        f"{report.set_aside_count} set aside",
        first=INDENT,
        then=INDENT * 2,
    )
    read_as = printable(f"read as: {report.layout}; {report.found}")
    show_wrapped(read_as, first=INDENT, then=INDENT * 2)
    other = [f"{field} = {name}" for field, name in report.columns.items() if field != name.lower()]
    if other:
        show_wrapped(printable(f"columns: {', '.join(other)}"), first=INDENT, then=INDENT * 2)
    show_sentences(report.notes, mark=f"{INDENT}- ")
    for row in report.set_aside[:ROWS_SHOWN]:
        _show_row(row, entry=row.entry)
    more = report.set_aside_count - ROWS_SHOWN
    if more > 0:
        kept = "" if report.batch is None else f": {unbroken('makeworth import --set-aside')}"
        show_wrapped(f"and {more} more{kept}", first=INDENT)


def show_undone(undone: UndoResult) -> None:
    """What came of taking a batch back."""
    removed = counted(undone.removed, "quote")
    show(f"batch {undone.batch} is taken back: {removed} removed")
    if undone.kept:
        stay = "stays" if undone.kept == 1 else "stay"
        had = "it" if undone.kept == 1 else "them"
        show(f"{INDENT}{undone.kept} {stay}, as a later batch had {had} too")


def show_set_aside(rows: Sequence[SetAside]) -> None:
    """Every row still set aside, by the file it came in, and what the reasons mean."""
    from importers.reasons import REASONS

    if not rows:
        show("nothing is set aside")
        return
    last = None
    for row in rows:
        if (row.batch, row.file) != last:
            show_wrapped(printable(f"{row.file}, batch {row.batch}"), then=INDENT)
            last = row.batch, row.file
        _show_row(row)
    show()
    for reason in sorted({row.reason for row in rows}):
        show_wrapped(f'"{reason}": {REASONS.get(reason, "")}', then=INDENT)
    show_wrapped("Correct the file or the settings and import it again: nothing counts twice.")


def show_batches(batches: Sequence[Batch], *, zone: tzinfo) -> None:
    """Every batch, first to last."""
    if not batches:
        show("nothing has been taken in yet")
        return
    rows = [
        [
            str(each.batch),
            unbroken(us_to_local(each.at_us, zone)),
            printable(each.file or "(by hand)"),
            str(each.added),
            str(each.known),
            str(each.set_aside),
            "taken back" if each.undone_us is not None else "",
        ]
        for each in batches
    ]
    headings = ["batch", "when", "file", "added", "known", "aside", ""]
    others = [max(map(len, column)) for column in zip(headings, *rows, strict=True)]
    room = width() - (sum(others) - others[FILE]) - 2 * (len(headings) - 1)
    for row in rows:
        row[FILE] = shortened(row[FILE], max(room, SHORTEST_FILE))
    show_table(headings, rows, right="rllrrrl")


def _show_row(row: UnreadRow, *, entry: int | None = None) -> None:
    """Where it stands and why it was not read, then its text to the letter, as far as it fits."""
    place = f"line {row.line}" + ("" if entry is None else f", entry {entry}")
    head = f"{INDENT}{place}{'' if row.column is None else f', {row.column}'}: {row.reason}"
    text = printable(row.text)
    if len(head) + 2 + len(text) <= width():
        show(f"{head}: {text}")
        return
    show(f"{head}:")
    room = width() - 3 * len(INDENT)
    for line in range(TEXT_LINES):
        part = text[line * room : (line + 1) * room]
        is_cut = line == TEXT_LINES - 1 and len(text) > TEXT_LINES * room
        if part:
            show(INDENT * 3 + (part[:-3] + "..." if is_cut else part))
