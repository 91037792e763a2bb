"""Takes files of prices into the book, shows what came of it, and takes batches back."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any

from advisor.errors import BadInput
from advisor.figures import counted
from advisor.names import did_you_mean, name_key
from advisor.tasks.kept_layouts import keep_layout, layout_named, read_layouts, with_kept
from advisor.times import now_us, read_time, us_to_local

if TYPE_CHECKING:
    from advisor.book.batches import BatchResult
    from advisor.book.settings import Settings
    from advisor.book.store import Store
    from advisor.money import DecimalMark
    from advisor.tasks.workspace import Workspace
    from importers.reading import Chunk, Reading, SetAside

MOST_ROWS_TOLD = 10_000

Progress = Callable[[float], None]


@dataclass(frozen=True)
class ImportChoices:
    """What was said about the files to take in; None where nothing was.

    Attributes:
        columns: Canonical column -> what it is called in the file (`--map`).
        layout: Name of the layout to use, or to save `columns` under.
        at, side: When quotes were seen and what they are, where the file does not say.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    layout: str | None = None
    money: str | None = None
    decimal: DecimalMark | None = None
    date_order: str | None = None
    sheet: str | None = None
    at: str | None = None
    side: str | None = None


@dataclass(frozen=True)
class ImportReport:
    """What came of taking in one file; rows = added + known + set aside.

    Attributes:
        batch: None for a trial.
        set_aside: The rows set aside, at most the first 10,000.
        set_aside_count: All of them.
        found: Encoding, delimiter and where the header is, in words.
        columns: Canonical column -> what it is called in the file.
    """

    file: str
    batch: int | None
    rows: int
    added: int
    known: int
    layout: str
    set_aside: Sequence[SetAside]
    set_aside_count: int
    found: str
    columns: Mapping[str, str]
    notes: Sequence[str]

    def to_json(self) -> dict[str, Any]:
        """The answer of `import --json` for one file."""
        return {
            "file": self.file,
            "batch": self.batch,
            "rows": self.rows,
            "added": self.added,
            "known": self.known,
            "layout": self.layout,
            "set_aside": [row._asdict() for row in self.set_aside],
            "set_aside_count": self.set_aside_count,
            "found": self.found,
            "columns": dict(self.columns),
            "notes": list(self.notes),
        }


def import_file(
    workspace: Workspace,
    path: Path,
    *,
    choices: ImportChoices | None = None,
    check: bool = False,
    on_progress: Progress | None = None,
) -> ImportReport:
    """Take in one file, all or nothing.

    Args:
        check: Say what would come of it, and keep nothing.
        on_progress: Called with the share of the file that has been read.
    Raises: BadInput: the file, or its layout, cannot be read. BookFault.
    """
    with workspace.open_book() as store:
        return import_into(
            store, workspace, path, choices=choices, check=check, on_progress=on_progress
        )


def import_into(
    store: Store,
    workspace: Workspace,
    path: Path,
    *,
    choices: ImportChoices | None = None,
    check: bool = False,
    on_progress: Progress | None = None,
) -> ImportReport:
    """As `import_file`, with the book already open; a folder that export wrote goes in whole."""
    from advisor.book.batches import add_batch

    if path.is_dir():
        return _restore(store, path, check=check)
    choices = choices or ImportChoices()
    content_hash = hash_of_content(path)
    reading = _open(store, workspace, path, choices=choices, content_hash=content_hash)
    watch = _Watch(workspace.settings.timezone, on_progress)
    result = add_batch(
        store,
        watch.passing(reading.chunks),
        file=path_text(path),
        content_hash=content_hash,
        layout=reading.layout,
        check=check,
        then=lambda batch: _note_beside(store, batch, path, choices=choices, reading=reading),
    )
    reading.notes.extend(watch.notes())
    if result.rows == 0:
        reading.notes.append("no rows below the header")
    return ImportReport(
        file=path_text(path),
        batch=result.batch,
        rows=result.rows,
        added=result.added,
        known=result.known,
        layout=reading.layout,
        set_aside=watch.set_aside,
        set_aside_count=result.set_aside,
        found=reading.found,
        columns=reading.columns,
        notes=reading.notes,
    )


def path_text(path: Path) -> str:
    """A path as text that can be stored and shown, also where its bytes are no text."""
    return os.fsencode(path).decode("utf-8", "replace")


def hash_of_content(path: Path) -> bytes:
    """What tells whether two files hold the very same bytes.

    Raises: BadInput: no such file.
    """
    if not path.is_file():
        raise BadInput("there is no such file", file=path)
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").digest()


def _restore(store: Store, folder: Path, *, check: bool) -> ImportReport:
    from advisor.tasks.restoring import RESTORED, is_export, restore_export

    if not is_export(folder):
        raise BadInput(
            "is a folder, and none that makeworth export wrote",
            right="name the files in it",
            file=folder,
        )
    result = restore_export(store, folder, check=check)
    return ImportReport(
        file=str(folder),
        batch=result.batch,
        rows=result.rows,
        added=result.added,
        known=result.known,
        layout=RESTORED,
        set_aside=[],
        set_aside_count=result.set_aside,
        found="a whole book as makeworth export wrote it",
        columns={},
        notes=[],
    )


def _open(
    store: Store, workspace: Workspace, path: Path, *, choices: ImportChoices, content_hash: bytes
) -> Reading:
    from advisor.book.items import known_names
    from importers.files import open_reading
    from importers.reading import ReadOptions

    settings = workspace.settings
    known = known_names(store, settings)
    at_us = None
    if choices.at is not None:
        order = _known_order(choices, settings)
        at_us = read_time(choices.at, settings.timezone, order=order).at_us
    saved = read_layouts(store)
    choices = with_kept(choices, saved)
    options = ReadOptions(
        money=_spelled(choices.money, known) if choices.money else settings.money,
        money_is_said=choices.money is not None,
        at_us=_seen_at(store, path, content_hash) if at_us is None else at_us,
        at_is_said=at_us is not None,
        zone=settings.timezone,
        date_order=_known_order(choices, settings),
        decimal=choices.decimal,
        columns=choices.columns,
        sheet=choices.sheet,
        side=choices.side,
        date_order_is_said=choices.date_order is not None,
    )
    only = None
    if choices.layout and not choices.columns:
        only = layout_named(choices.layout, saved)
    return open_reading(path, options, known=known, layouts=saved, only=only)


def _known_order(choices: ImportChoices, settings: Settings) -> str | None:
    order = choices.date_order or settings.date_order
    return None if order == "ask" else order


@dataclass
class _Watch:
    """Looks at a file's parts as they go by.

    Attributes:
        set_aside: The first rows set aside.
        future: How many quotes are dated later than now; `latest_us` the last of them.
    """

    zone: tzinfo
    on_progress: Progress | None
    set_aside: list[SetAside] = field(default_factory=list)
    future: int = 0
    latest_us: int = 0

    def passing(self, chunks: Iterator[Chunk]) -> Iterator[Chunk]:
        """The chunks; what they hold is noted, and progress told."""
        now = now_us()
        for chunk in chunks:
            self.set_aside.extend(chunk.set_aside[: MOST_ROWS_TOLD - len(self.set_aside)])
            later = chunk.rows["at_us"].filter(chunk.rows["at_us"] > now)
            self.future += later.len()
            self.latest_us = max([self.latest_us, *later.top_k(1).to_list()])
            yield chunk
            if self.on_progress is not None:
                self.on_progress(chunk.share_read)

    def notes(self) -> list[str]:
        """What the user should know of the quotes that went by."""
        if not self.future:
            return []
        latest = us_to_local(self.latest_us, self.zone)
        return [
            f"{counted(self.future, 'quote')} dated later than now, up to {latest}: "
            "no answer knows of them before their time"
        ]


def _note_beside(
    store: Store, result: BatchResult, path: Path, *, choices: ImportChoices, reading: Reading
) -> None:
    """What a batch changes beside its own rows; inside its transaction."""
    if result.batch is not None and result.known:
        _take_over_corrected(store, path, batch=result.batch, known=result.known)
    if choices.layout and choices.columns:
        keep_layout(store, choices.layout, choices, reading=reading)


def _seen_at(store: Store, path: Path, content_hash: bytes) -> int:
    """When the quotes of a file without times were seen: when it was last written.

    The same content taken in again keeps the time it had, so that nothing counts
    twice; a clock that was set back does not put quotes into the future.
    """
    from advisor.book.history import batches_of_content

    for batch in batches_of_content(store, content_hash):
        row = store.connection.execute(
            "SELECT at_us FROM quotes WHERE batch_id = ? LIMIT 1", (batch,)
        ).fetchone()
        if row is not None:
            return int(row[0])
    return min(path.stat().st_mtime_ns // 1000, now_us())


def _spelled(name: str, known: Mapping[str, str]) -> str:
    """A money as the book spells it."""
    found = known.get(name_key(name))
    if found is not None:
        return found
    right = did_you_mean(name, known.values())
    if right is not None:
        raise BadInput(f"--money: the book knows no {name!r}", right=right)
    return name


def _take_over_corrected(store: Store, path: Path, *, batch: int, known: int) -> None:
    """Rows that an earlier version of this file had set aside are this batch's from now on.

    An earlier version: a file of the same name of whose quotes this one has at
    least half. What this one could not read either it has set aside itself.
    """
    from advisor.book.history import list_batches, list_set_aside, mark_taken

    earlier = [
        each.batch
        for each in list_batches(store)
        if each.batch != batch
        and each.undone_us is None
        and each.set_aside
        and Path(each.file).name == path_text(Path(path.name))
        and 2 * known >= each.added + each.known > 0
    ]
    for each in earlier:
        mark_taken(store, [row.id for row in list_set_aside(store, each)], by_batch=batch)
