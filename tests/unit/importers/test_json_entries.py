"""JSON read a piece at a time says what Python's json module says of the whole text."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import BadInput
from importers import json_entries
from importers.encoding import find_encoding
from importers.json_entries import entries_of

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=6,
)
ROWS = st.lists(VALUES | st.dictionaries(st.text(), VALUES, max_size=4), max_size=6)


def entries(text, *, block_bytes, codec="utf-8"):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "prices.json"
        path.write_bytes(text.encode(codec))
        return list(entries_of(path, find_encoding(path), block_bytes=block_bytes))


def plainly(value):
    """The value with numbers as the text they were written in, as the entries have them."""
    return json.loads(value, parse_int=str, parse_float=str, parse_constant=str)


@settings(max_examples=150, deadline=None)
@given(
    ROWS,
    st.sampled_from([None, 0, 1]),
    st.booleans(),
    st.integers(1, 40),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
def test_a_list_in_pieces_of_any_size(rows, indent, ascii_only, block_bytes, codec):
    text = json.dumps(rows, indent=indent, ensure_ascii=ascii_only)
    found = entries(text + "\n", block_bytes=block_bytes, codec=codec)
    assert [entry.number for entry in found] == list(range(1, len(rows) + 1))
    assert [json.loads(entry.text) for entry in found] == rows
    for row, entry in zip(rows, found, strict=True):
        assert entry.fields == (plainly(entry.text) if isinstance(row, dict) else None)
    lines = text.split("\n")
    for entry in found:
        assert entry.text.split("\n")[0] in lines[entry.line - 1]


@settings(max_examples=80, deadline=None)
@given(ROWS.filter(lambda rows: rows and not isinstance(rows[0], list)), st.integers(1, 40))
def test_lines_in_pieces_of_any_size(rows, block_bytes):
    found = entries("\n".join(map(json.dumps, rows)), block_bytes=block_bytes)
    assert [(entry.line, json.loads(entry.text)) for entry in found] == list(enumerate(rows, 1))


@pytest.mark.parametrize("block_bytes", [1, 3, 7, 1000])
@pytest.mark.parametrize(
    ("text", "what", "line"),
    [
        ('[{"a": 1},\n{"a": 2}', "expected a comma or the end of the list", 2),
        ('[{"a": 1},\n{"a": ', "no sound JSON", 2),
        ('[{"a": 1}\n{"a": 2}]', "expected a comma", 2),
        ('[{"a": 1}]\n\n[', "something stands behind the list", 3),
        ("[1,\n\n]", "no sound JSON", 3),
    ],
)
def test_a_broken_list_names_the_line(text, what, line, block_bytes):
    with pytest.raises(BadInput, match=what) as fault:
        entries(text, block_bytes=block_bytes)
    assert fault.value.line == line


def test_an_entry_that_never_ends_is_given_up(monkeypatch):
    monkeypatch.setattr(json_entries, "LONGEST_ENTRY", 1000)
    with pytest.raises(BadInput, match="no sound JSON"):
        entries('["' + "x" * 5000 + '"]', block_bytes=100)
    with pytest.raises(BadInput, match="longer than 1000 signs"):
        entries('{"' + "x" * 5000 + '"}', block_bytes=100)
