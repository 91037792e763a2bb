"""Writes the whole book as plain files, from which import makes the same book again."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from advisor import __version__
from advisor.book.health import refuse_inner_damage
from advisor.book.kept_tables import KEPT_TABLES, KeptTable, Row, kept_rows
from advisor.book.salvage import Salvage, open_damaged
from advisor.book.store import Store, open_store
from advisor.book.whole_book import WholeQuote, every_quote
from advisor.tasks.exported_files import (
    EXPORT_FORM,
    LAYOUTS_FILE,
    MANIFEST,
    QUOTE_HEADER,
    QUOTES_FILE,
    RULINGS_FILE,
    RULINGS_HEADER,
    SET_ASIDE_FILE,
    SET_ASIDE_HEADER,
    hash_of_file,
    kept_file,
)
from advisor.tasks.whole_folder import whole_folder
from advisor.tasks.workspace import BOOK_FILE, find_workspace
from advisor.times import now_us, us_to_rfc3339

_SET_ASIDE = """
    SELECT file, ifnull(lower(hex(content_hash)), ''), line, "column", reason, text
    FROM set_aside WHERE taken_by IS NULL ORDER BY id"""
_LAYOUTS = "SELECT name, header, columns, at_us FROM layouts ORDER BY name"
_RULINGS = """
    SELECT lower(hex(fingerprint)), verdict, at_us FROM quote_overrules
    ORDER BY fingerprint, at_us"""


@dataclass(frozen=True, slots=True)
class ExportResult:
    """What was written.

    Attributes:
        quotes, set_aside, layouts, rulings: How many of each.
        other: Rows of everything else, such as attempts.
        lost: Places of a damaged book that could not be read.
    """

    folder: Path
    quotes: int
    set_aside: int
    layouts: int
    rulings: int
    other: int = 0
    lost: int = 0


def export_book(workspace: str | None, folder: Path, *, salvage: bool = False) -> ExportResult:
    """Write the whole book of a workspace into a new or empty folder.

    Settings, routes and pools are plain files already and stay where they are.

    Args:
        workspace: As for `find_workspace`.
        salvage: Take what can be read from a damaged book.
    Raises:
        BadInput: no workspace; the folder is taken or cannot be written to.
        BookFault: no book, or a damaged one (unless salvaging).
    """
    book = find_workspace(workspace) / BOOK_FILE
    if salvage:
        with open_damaged(book) as damaged, whole_folder(folder, last=MANIFEST) as aside:
            return _salvaged(damaged, aside, folder)
    with (
        open_store(book, read_only=True) as store,
        store.reading(),
        whole_folder(folder, last=MANIFEST) as aside,
    ):
        return _exported(store, aside, folder)


def _exported(store: Store, aside: Path, folder: Path) -> ExportResult:
    refuse_inner_damage(store.connection, store.path)
    read = store.connection.execute
    return _written(
        aside,
        folder,
        quotes=every_quote(store),
        set_aside=read(_SET_ASIDE),
        layouts=read(_LAYOUTS).fetchall(),
        rulings=read(_RULINGS),
        kept={table: kept_rows(store.connection, table) for table in KEPT_TABLES},
    )


def _salvaged(damaged: Salvage, aside: Path, folder: Path) -> ExportResult:
    result = _written(
        aside,
        folder,
        quotes=damaged.quotes(),
        set_aside=damaged.small_table(_SET_ASIDE),
        layouts=damaged.small_table(_LAYOUTS),
        rulings=damaged.small_table(_RULINGS),
        kept={table: damaged.kept_rows(table) for table in KEPT_TABLES},
    )
    return replace(result, lost=damaged.lost)


def _written(
    aside: Path,
    folder: Path,
    *,
    quotes: Iterable[WholeQuote],
    set_aside: Iterable[Sequence[Any]],
    layouts: Sequence[Sequence[Any]],
    rulings: Iterable[Sequence[Any]],
    kept: Mapping[KeptTable, Iterable[Row]],
) -> ExportResult:
    counts = {
        QUOTES_FILE: _write_csv(
            aside / QUOTES_FILE,
            QUOTE_HEADER,
            rows=((us_to_rfc3339(quote.at_us), *quote[1:]) for quote in quotes),
        ),
        SET_ASIDE_FILE: _write_csv(aside / SET_ASIDE_FILE, SET_ASIDE_HEADER, rows=set_aside),
        LAYOUTS_FILE: _write_layouts(aside / LAYOUTS_FILE, layouts),
        RULINGS_FILE: _write_csv(aside / RULINGS_FILE, RULINGS_HEADER, rows=rulings),
    }
    kept_counts = {
        kept_file(table): _write_lines(aside / kept_file(table), rows)
        for table, rows in kept.items()
    }
    _write_json(aside / MANIFEST, _manifest(aside, counts | kept_counts))
    return ExportResult(
        folder,
        quotes=counts[QUOTES_FILE],
        set_aside=counts[SET_ASIDE_FILE],
        layouts=counts[LAYOUTS_FILE],
        rulings=counts[RULINGS_FILE],
        other=sum(kept_counts.values()),
    )


def _write_csv(file: Path, header: Sequence[str], *, rows: Iterable[Sequence[Any]]) -> int:
    """Write rows as RFC 4180 has it, None as nothing, and count them."""
    count = 0
    with file.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\r\n")
        writer.writerow(header)
        for row in rows:
            writer.writerow(row)
            count += 1
    return count


def _write_lines(file: Path, rows: Iterable[Row]) -> int:
    """Write rows as JSON, one a line; bytes as {"hex": ...}."""
    count = 0
    with file.open("w", encoding="utf-8", newline="\n") as out:
        for row in rows:
            out.write(json.dumps(row, ensure_ascii=False, default=_hex) + "\n")
            count += 1
    return count


def _hex(value: bytes) -> dict[str, str]:
    return {"hex": value.hex()}


def _write_layouts(file: Path, layouts: Sequence[Sequence[Any]]) -> int:
    _write_json(
        file,
        [
            {
                "name": name,
                "header": json.loads(header),
                "columns": json.loads(columns),
                "at_us": at_us,
            }
            for name, header, columns, at_us in layouts
        ],
    )
    return len(layouts)


def _write_json(file: Path, content: Any) -> None:
    file.write_text(json.dumps(content, ensure_ascii=False, indent=2) + "\n", encoding="utf-8")


def _manifest(aside: Path, counts: dict[str, int]) -> dict[str, Any]:
    return {
        "makeworth_export": EXPORT_FORM,
        "made_by": f"makeworth {__version__}",
        "made_at": us_to_rfc3339(now_us()),
        "files": {
            name: {"rows": count, "sha256": hash_of_file(aside / name)}
            for name, count in counts.items()
        },
    }
