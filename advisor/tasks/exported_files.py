"""The files of an export: their names and columns, and how one row of each is read back."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

from advisor.book.kept_tables import KeptTable, Row
from advisor.book.layouts import layout_row
from advisor.book.restored_rest import RestoredSetAside
from advisor.book.whole_book import price_value
from advisor.errors import BadInput
from advisor.names import name_key
from advisor.quotes import SIDES, price_text
from advisor.times import EPOCH, MICROSECOND

EXPORT_FORM = 1
MANIFEST = "export.json"
QUOTES_FILE, SET_ASIDE_FILE, LAYOUTS_FILE, RULINGS_FILE = FILES = (
    "quotes.csv",
    "set-aside.csv",
    "layouts.json",
    "rulings.csv",
)
QUOTE_HEADER = ("at", "item", "price", "money", "side", "qty", "trader", "source", "note")
SET_ASIDE_HEADER = ("file", "content_hash", "line", "column", "reason", "text")
RULINGS_HEADER = ("fingerprint", "verdict", "at_us")

Read = TypeVar("Read")


def kept_file(table: KeptTable) -> str:
    """The file that holds the rows of a kept table."""
    return f"{table.name}.jsonl"


def hash_of_file(file: Path) -> str:
    """The SHA-256 of a file's bytes, in hexadecimal.

    Raises: BadInput: it cannot be read.
    """
    try:
        with file.open("rb") as content:
            return hashlib.file_digest(content, "sha256").hexdigest()
    except OSError as error:
        said = (error.strerror or str(error)).lower()
        raise BadInput(f"this part of the export cannot be read ({said})", file=file) from None


def read_json(file: Path) -> Any:
    """What a JSON file of the export says.

    Raises: BadInput: it cannot be read, or is not JSON.
    """
    try:
        return json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        raise _not_ours(file) from None


def exported_rows(
    file: Path, header: Sequence[str], *, read: Callable[[Sequence[str]], Read]
) -> Iterator[Read]:
    """Every row of an exported CSV file, streamed.

    Raises: BadInput: a row that export would not write, with its line.
    """
    with file.open(encoding="utf-8", newline="") as content:
        rows = csv.reader(content, strict=True)
        try:
            if next(rows, None) != list(header):
                raise ValueError
            for row in rows:
                yield read(row)
        except (ValueError, TypeError, ArithmeticError, csv.Error):
            raise _not_ours(file, line=rows.line_num) from None


def quote_row(row: Sequence[str]) -> tuple[Any, ...]:
    """A quote as a batch takes it in: at_us, item, price, price_value, money, side, and so on."""
    at, item, price, money, side, qty, *texts = row
    exact = Fraction(price)
    names_sound = all(name_key(name) and name.isprintable() for name in (item, money))
    if exact <= 0 or price_text(exact) != price or side not in SIDES or not names_sound:
        raise ValueError
    units = int(qty) if qty else None
    if units is not None and units < 1:
        raise ValueError
    at_us = (datetime.fromisoformat(at) - EPOCH) // MICROSECOND
    trader, source, note = (text or None for text in texts)
    return (at_us, item, price, price_value(price), money, side, units, trader, source, note)


def set_aside_row(row: Sequence[str]) -> RestoredSetAside:
    """A row set aside, as it was."""
    file, content_hash, line, column, reason, text = row
    content = bytes.fromhex(content_hash) or None
    return RestoredSetAside(file, content, int(line), column or None, reason, text)


def ruling_row(row: Sequence[str]) -> tuple[bytes, str, int]:
    """A ruling: the quote's fingerprint, keep, drop or lifted, and when."""
    fingerprint, verdict, at_us = row
    if verdict not in ("keep", "drop", "lifted"):
        raise ValueError
    return bytes.fromhex(fingerprint), verdict, int(at_us)


def kept_rows_of(file: Path) -> Iterator[Row]:
    """Every row of a kept table as exported, streamed.

    Raises: BadInput: not as export writes it, with the line.
    """
    with file.open("rb") as lines:
        for number, line in enumerate(lines, start=1):
            try:
                row = json.loads(line, object_hook=_from_hex, parse_constant=_refuse)
            except (ValueError, TypeError, RecursionError):
                raise _not_ours(file, line=number) from None
            if not isinstance(row, dict):
                raise _not_ours(file, line=number)
            yield row


def _from_hex(content: Row) -> Any:
    return bytes.fromhex(content["hex"]) if content.keys() == {"hex"} else content


def _refuse(constant: str) -> None:
    raise ValueError(constant)


def exported_layouts(file: Path) -> list[tuple[str, str, str, int]]:
    """Every exported layout, as the book stores it.

    Raises: BadInput: not as export writes it.
    """
    try:
        return [
            layout_row(
                str(each["name"]),
                header=[str(name) for name in each["header"]],
                columns=dict(each["columns"]),
                at_us=int(each["at_us"]),
            )
            for each in read_json(file)
        ]
    except (KeyError, TypeError, ValueError):
        raise _not_ours(file) from None


def _not_ours(file: Path, line: int | None = None) -> BadInput:
    right = "export the book again"
    return BadInput("not as export writes it", right=right, file=file, line=line)
