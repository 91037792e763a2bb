"""JSON: a list of objects, or one object a line; each entry is a row.

The file is gone through entry by entry, never held whole: once to learn the
keys, and again, some thousands of entries at a time, for the rows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import islice
from pathlib import Path
from typing import Any

import polars as pl

from advisor.errors import BadInput
from importers.cell_tables import FindHeader
from importers.encoding import Encoding, find_encoding
from importers.json_entries import Entry, Number, entries_of, is_list
from importers.layout import Match
from importers.reading import FIELDS, SetAside
from importers.tables import RawBlock

ENTRIES_A_BLOCK = 20_000
MOST_KEYS = 10_000


@dataclass
class JsonTable:
    """A JSON file whose keys have been found.

    Attributes:
        header: Every key of any entry, in the order they come.
    """

    path: Path
    encoding: Encoding
    found: str
    match: Match
    header: Sequence[str]
    numbers: frozenset[str]
    notes: list[str] = field(default_factory=list)

    @property
    def has_broken_text(self) -> bool:
        """Whether some bytes of the file may be no text."""
        return not self.encoding.is_sound

    def blocks(self) -> Iterator[RawBlock]:
        """The entries, some thousands at a time."""
        entries = entries_of(self.path, self.encoding)
        while part := list(islice(entries, ENTRIES_A_BLOCK)):
            yield self._block(part)

    def _neutral_places(self) -> Sequence[int]:
        """Columns in which some prices are numbers, some texts."""
        return () if "price" in self.numbers else self.match.positions["price"]

    def _block(self, entries: Sequence[Entry]) -> RawBlock:
        rows = [entry for entry in entries if entry.fields is not None]
        return RawBlock(
            cells=_cells(rows, self.header, neutral=self._neutral_places()),
            lines=[entry.line for entry in rows],
            texts=[_sound(entry.text) for entry in rows],
            entries=pl.Series([entry.number for entry in rows], dtype=pl.Int64),
            set_aside=[
                SetAside(entry.line, None, "not an object", _sound(entry.text), entry.number)
                for entry in entries
                if entry.fields is None
            ],
            share_read=entries[-1].share_read,
        )


def open_json(path: Path, find_header: FindHeader) -> JsonTable:
    """Find the keys of a JSON list, or of JSON lines; they are its columns.

    Raises: BadInput: not sound to its end, no list of objects, no item and price.
    """
    encoding = find_encoding(path)
    keys: dict[str, bool] = {}
    for entry in entries_of(path, encoding):
        for key, value in (entry.fields or {}).items():
            says_text = isinstance(value, str) and not isinstance(value, Number)
            keys[key] = keys.get(key, False) or says_text
        if len(keys) > MOST_KEYS:
            raise BadInput(f"the entries have more than {MOST_KEYS} different keys", file=path)
    match = find_header(list(keys)) if keys else None
    if match is None:
        raise BadInput(
            f"no item and price among the keys {', '.join(list(keys)[:12])}" if keys
            else "the file is no list of objects",
            right='write [{"item": "lantern frame", "price": 2.4}, ...] or map the keys: '
            "--map item=NAME --map price=NAME",
            file=path,
        )  # fmt: skip
    kind = "JSON list" if is_list(path, encoding) else "JSON lines"
    return JsonTable(
        path=path,
        encoding=encoding,
        found=f"{kind}, {encoding.name}",
        match=match,
        header=list(keys),
        numbers=_number_fields(list(keys.values()), match),
    )


def _cells(
    rows: Sequence[Entry], header: Sequence[str], *, neutral: Sequence[int] = ()
) -> pl.DataFrame:
    """The values as text.

    Args:
        neutral: Columns in which numbers become fractions, so that they say
            nothing of how the texts beside them spell their decimals.
    """
    columns = {
        str(place): [
            _cell_text((entry.fields or {}).get(key), neutral=place in neutral) for entry in rows
        ]
        for place, key in enumerate(header)
    }
    return pl.DataFrame(columns, schema=dict.fromkeys(columns, pl.String))


def _cell_text(value: Any, *, neutral: bool) -> str | None:
    if value is None:
        return None
    text = str(value)
    if neutral and isinstance(value, Number) and value.is_plain_decimal():
        exact = Fraction(text)
        return f"{exact.numerator}/{exact.denominator}"
    return _sound(text)


def _sound(text: str) -> str:
    """Half of a surrogate pair is no text; shown as the mark for that."""
    return text if text.isascii() else text.encode("utf-8", "replace").decode()


def _number_fields(says_text: Sequence[bool], match: Match) -> frozenset[str]:
    """Canonical columns whose values are all written as numbers."""
    return frozenset(
        name
        for name in FIELDS
        if len(places := match.positions.get(name, ())) == 1 and not says_text[places[0]]
    )
