"""Parquet files: columns found by name, read a slice at a time."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

from advisor.errors import BadInput
from importers.cell_tables import FindHeader, fields_of_numbers, typed_text
from importers.layout import Match
from importers.tables import RawBlock

ROWS_A_BLOCK = 200_000


@dataclass
class ParquetTable:
    """A Parquet file whose columns have been found."""

    path: Path
    rows: int
    names: list[str]
    match: Match
    numbers: frozenset[str]
    notes: list[str] = field(default_factory=list)
    has_broken_text: bool = False

    @property
    def found(self) -> str:
        """What was found out, in words."""
        return f"Parquet, {len(self.names)} columns"

    def blocks(self) -> Iterator[RawBlock]:
        """The rows, a slice at a time."""
        for start in range(0, self.rows, ROWS_A_BLOCK):
            with _damage_refused(self.path):
                part = pl.scan_parquet(self.path).slice(start, ROWS_A_BLOCK).collect()
            columns = {str(place): typed_text(part[name]) for place, name in enumerate(self.names)}
            lines = pl.int_range(start + 1, start + 1 + part.height, eager=True)
            yield RawBlock(
                cells=pl.DataFrame(columns),
                lines=lines,
                texts=None,
                share_read=min(1.0, (start + part.height) / self.rows),
            )


def open_parquet(path: Path, find_header: FindHeader) -> ParquetTable:
    """Find the columns of a Parquet file; `line` counts its rows from 1.

    Raises: BadInput: damaged, or no item and price column.
    """
    with _damage_refused(path):
        scan = pl.scan_parquet(path)
        schema = scan.collect_schema()
        rows = int(scan.select(pl.len()).collect().item())
    names = schema.names()
    match = find_header(names)
    if match is None:
        raise BadInput(
            f"no item and price column among {', '.join(names)}",
            right="say which columns they are: --map item=NAME --map price=NAME",
            file=path,
        )
    return ParquetTable(path, rows, names, match, fields_of_numbers(match, schema.dtypes()))


@contextmanager
def _damage_refused(path: Path) -> Iterator[None]:
    """Every way in which polars gives up on a damaged file becomes one BadInput.

    On some damage it panics, which is no Exception, and writes its own trace to
    the process's stderr; that is held back meanwhile.
    """
    try:
        with _stderr_held_back():
            yield
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException, OSError) as fault:
        raise BadInput("the file is damaged, or no Parquet that can be read", file=path) from fault


@contextmanager
def _stderr_held_back() -> Iterator[None]:
    sys.stderr.flush()
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
