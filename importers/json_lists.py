"""JSON: a list of objects, or one object a line; each entry is a row."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import polars as pl

from advisor.errors import BadInput
from importers.cell_tables import CellTable, FindHeader
from importers.encoding import find_encoding
from importers.layout import Match
from importers.reading import FIELDS, SetAside

LARGEST_BYTES = 512 * 1024 * 1024
PLAIN_DECIMAL = re.compile(r"[0-9]{1,20}\.[0-9]{1,20}")
WHITE = re.compile(r"[ \t\r\n]*")


class Entry(NamedTuple):
    """One entry of the list: its fields, or None where it is no object."""

    line: int
    fields: dict[str, Any] | None
    text: str


class Number(str):
    """A number of a JSON file, with the very digits it was written in."""

    __slots__ = ()


class KeyTwice:
    """Stands for an object that has the same key twice."""


def open_json(path: Path, find_header: FindHeader) -> CellTable:
    """Read a JSON list, or JSON lines; columns are the keys of its objects.

    Raises: BadInput: too large, no list of objects, no item and price.
    """
    if path.stat().st_size > LARGEST_BYTES:
        raise BadInput("the JSON file is too large", right="save it as CSV or Parquet", file=path)
    encoding = find_encoding(path)
    text = path.read_bytes().decode(encoding.codec, errors="replace")
    is_list = text.lstrip("\ufeff \t\r\n").startswith("[")
    entries = list(_list_entries(text, path) if is_list else _line_entries(text))
    rows = [entry for entry in entries if entry.fields is not None]
    header = list(dict.fromkeys(key for entry in rows for key in entry.fields or {}))
    match = find_header(header) if header else None
    if match is None:
        raise BadInput(
            f"no item and price among the keys {', '.join(header[:12])}" if rows
            else "the file is no list of objects",
            right='write [{"item": "lantern frame", "price": 2.4}, ...] or map the keys: '
            "--map item=NAME --map price=NAME",
            file=path,
        )  # fmt: skip
    kind = "JSON list" if is_list else "JSON lines"
    return CellTable(
        cells=_cells(rows, header, neutral=match.positions["price"]),
        shown=_cells(rows, header),
        lines=[entry.line for entry in rows],
        match=match,
        found=f"{kind}, {encoding.name}",
        numbers=_number_fields(rows, match),
        has_broken_text=not encoding.is_sound,
        set_aside=[
            SetAside(entry.line, None, "not an object", entry.text)
            for entry in entries
            if entry.fields is None
        ],
    )


def _list_entries(text: str, path: Path) -> Iterator[Entry]:
    """The entries of one list, with the lines they start in."""
    decoder = _decoder()
    place, line = text.index("[") + 1, 1
    line += text.count("\n", 0, place)
    try:
        while True:
            start = _after_white(text, place)
            line += text.count("\n", place, start)
            if text.startswith("]", start):
                break
            value, end = decoder.raw_decode(text, start)
            yield Entry(line, value if isinstance(value, dict) else None, text[start:end])
            place = _after_white(text, end)
            line += text.count("\n", start, place)
            if text.startswith(",", place):
                place += 1
            elif not text.startswith("]", place):
                raise json.JSONDecodeError("expected a comma or the end of the list", text, place)
    except json.JSONDecodeError as fault:
        raise _broken(fault.msg, path, fault.lineno) from None
    except RecursionError:
        raise _broken("nested too deeply", path, line) from None
    if text[start + 1 :].strip():
        raise _broken("something stands behind the list", path, line)


def _after_white(text: str, place: int) -> int:
    found = WHITE.match(text, place)
    return place if found is None else found.end()


def _broken(why: str, path: Path, line: int) -> BadInput:
    return BadInput(
        f"the file is no sound JSON: {why[:1].lower()}{why[1:]}",
        right="nothing of it was taken in",
        file=path,
        line=line,
    )


def _line_entries(text: str) -> Iterator[Entry]:
    decoder = _decoder()
    for number, line in enumerate(text.split("\n"), start=1):
        stripped = line.strip("\ufeff \t\r")
        if not stripped:
            continue
        try:
            value, end = decoder.raw_decode(stripped)
            whole = end == len(stripped)
            fields = value if isinstance(value, dict) and whole else None
        except (ValueError, RecursionError):
            fields = None
        yield Entry(number, fields, stripped)


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
    if neutral and isinstance(value, Number) and PLAIN_DECIMAL.fullmatch(text):
        exact = Fraction(text)
        return f"{exact.numerator}/{exact.denominator}"
    # Half of a surrogate pair is no text; shown as the mark for that.
    return text.encode("utf-8", "replace").decode()


def _number_fields(rows: Sequence[Entry], match: Match) -> frozenset[str]:
    """Canonical columns whose values are all written as numbers."""
    fields = set()
    for name in FIELDS:
        places = match.positions.get(name, ())
        if len(places) != 1:
            continue
        values = [(entry.fields or {}).get(match.header[places[0]]) for entry in rows]
        if not any(isinstance(value, str) and not isinstance(value, Number) for value in values):
            fields.add(name)
    return frozenset(fields)
