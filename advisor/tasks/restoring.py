"""Takes a whole exported book back in, exactly as it was written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from advisor.book.batches import BatchResult, fill_batch
from advisor.book.kept_tables import KEPT_TABLES, KeptRestore
from advisor.book.restored_rest import add_layouts, add_rulings, add_set_aside
from advisor.book.store import Store
from advisor.errors import BadInput
from advisor.tasks.exported_files import (
    EXPORT_FORM,
    FILES,
    LAYOUTS_FILE,
    MANIFEST,
    QUOTE_HEADER,
    QUOTES_FILE,
    RULINGS_FILE,
    RULINGS_HEADER,
    SET_ASIDE_FILE,
    SET_ASIDE_HEADER,
    exported_layouts,
    exported_rows,
    hash_of_file,
    kept_file,
    kept_rows_of,
    quote_row,
    read_json,
    ruling_row,
    set_aside_row,
)

if TYPE_CHECKING:
    import polars as pl

CHUNK_ROWS = 100_000
RESTORED = "export"
_KNOWN_FILES = {*FILES, *map(kept_file, KEPT_TABLES)}


@dataclass(frozen=True, slots=True)
class QuotesChunk:
    """A part of an exported quotes file, in the shape that a batch takes in."""

    rows: pl.DataFrame
    set_aside: tuple[()] = ()


def is_export(folder: Path) -> bool:
    """Whether this is a folder that `makeworth export` wrote."""
    return (folder / MANIFEST).is_file()


def restore_export(store: Store, folder: Path, *, check: bool = False) -> BatchResult:
    """Take in a whole export as one batch, all or nothing.

    Names are taken as they stand. What the book has already stays as it is.

    Args:
        check: Count truly, but keep nothing.
    Raises: BadInput: the export is damaged, changed, or of a newer form.
    """
    hashes = _checked_hashes(folder)
    with store.writing(keep=not check) as connection:
        result = fill_batch(
            connection,
            _quote_chunks(folder / QUOTES_FILE),
            file=str(folder),
            content_hash=bytes.fromhex(hashes[QUOTES_FILE]),
            layout=RESTORED,
        )
        aside = add_set_aside(
            connection,
            exported_rows(folder / SET_ASIDE_FILE, SET_ASIDE_HEADER, read=set_aside_row),
            batch=result.batch or 0,
        )
        add_layouts(connection, exported_layouts(folder / LAYOUTS_FILE))
        add_rulings(
            connection, exported_rows(folder / RULINGS_FILE, RULINGS_HEADER, read=ruling_row)
        )
        restore = KeptRestore(connection)
        for table in KEPT_TABLES:
            file = folder / kept_file(table)
            # An export of an older form has fewer of these.
            restore.add(table, kept_rows_of(file) if file.name in hashes else ())
    batch = None if check else result.batch
    return replace(result, batch=batch, rows=result.rows + aside, set_aside=aside)


def _checked_hashes(folder: Path) -> dict[str, str]:
    """Refuse an export that is not what was written; returns the hash of each file."""
    manifest = read_json(folder / MANIFEST)
    try:
        form = manifest["makeworth_export"]
        told = {name: str(file["sha256"]) for name, file in manifest["files"].items()}
        if not set(FILES) <= told.keys():
            raise KeyError
    except (KeyError, TypeError, AttributeError):
        right = "export the book again"
        raise BadInput("not the list of an export", right=right, file=folder / MANIFEST) from None
    if form != EXPORT_FORM:
        right = f"this Makeworth reads form {EXPORT_FORM}; update it"
        raise BadInput(f"the export has form {form!r}", right=right, file=folder / MANIFEST)
    for name, wanted in told.items():
        if name not in _KNOWN_FILES:
            right = "update Makeworth"
            raise BadInput(f"this Makeworth knows no {name!r}", right=right, file=folder / MANIFEST)
        if hash_of_file(folder / name) != wanted:
            right = f"take the quotes in as a plain file: makeworth import {folder / QUOTES_FILE}"
            raise BadInput("changed or damaged since the export", right=right, file=folder / name)
    return told


def _quote_chunks(file: Path) -> Iterator[QuotesChunk]:
    rows = exported_rows(file, QUOTE_HEADER, read=quote_row)
    while part := list(islice(rows, CHUNK_ROWS)):
        yield QuotesChunk(_quotes_table(part))


def _quotes_table(rows: Sequence[tuple[Any, ...]]) -> pl.DataFrame:
    import polars as pl

    schema = {
        "at_us": pl.Int64,
        "item": pl.String,
        "price": pl.String,
        "price_value": pl.Float64,
        "money": pl.String,
        "side": pl.String,
        "qty": pl.Int64,
        "trader": pl.String,
        "source": pl.String,
        "note": pl.String,
    }
    return pl.DataFrame(rows, schema=schema, orient="row")
