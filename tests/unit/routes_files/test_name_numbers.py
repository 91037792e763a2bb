"""Names to numbers, against a plain dictionary of the names written out."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.names import name_key
from advisor.routes.name_numbers import NameNumbers
from advisor.routes.table import Table
from advisor.routes.toml_lines import LineIndex
from advisor.routes.vary import Rungs, fill_braces

TABLE = Table({}, (), LineIndex("x", {}), "s")


def numbers_of(notes):
    """Numbers and texts of (text, rungs) notes, each name written out beside its number."""
    names = NameNumbers()
    handles = [names.note(text, rungs, TABLE) for text, rungs in notes]
    names.settle()
    pairs = []
    for (text, rungs), handle in zip(notes, handles, strict=True):
        for row, number in enumerate(names.numbers(handle).tolist()):
            pairs.append((fill_braces(text, rungs, TABLE, row=row), number))
    return pairs, names.texts()


def check_like_a_dictionary(notes):
    pairs, texts = numbers_of(notes)
    known: dict[str, int] = {}
    for written, number in pairs:
        assert known.setdefault(name_key(written), len(known)) == number
    assert len(texts) == len(known)
    for written, number in pairs:
        assert name_key(texts[number]) == name_key(written)


ONE = Rungs({})
N = Rungs({"n": range(12)})


@pytest.mark.parametrize(
    "notes",
    [
        [("a", ONE), ("b", ONE), ("A ", ONE), ("a  b", ONE), ("a b", ONE)],
        [("edge {n}", N), ("edge 3", ONE), ("edge 03", ONE), ("edge 12", ONE), ("edge {n+1}", N)],
        [("edge -1", ONE), ("edge {n-1}", N), ("edge {n-1:0..}", N)],
        [("x1{n}", N), ("x11", ONE), ("x{n}", N), ("x{n}{n}", N), ("{n}2", N)],
        [("edge-{n}", N), ("edge{n-3}", N), ("edge-3", ONE)],
        [("{n} of {n+1}", N), ("3 of 4", ONE), ("4 of 3", ONE)],
        [("5 % {n}", N), ("5 % 3", ONE)],
        [("edge 99999999999999999999", ONE), ("edge 9", ONE)],
        [("²{n}", N), ("23", ONE)],
    ],
)
def test_cases(notes):
    check_like_a_dictionary(notes)


PARTS = st.lists(
    st.sampled_from(["a", " ", "7", "10", "-", "{n}", "{n+1}", "{n-2}", "{m}", "{n-5:0..}"]),
    min_size=1,
    max_size=5,
).map("".join)


@given(st.lists(PARTS.filter(str.strip), min_size=1, max_size=6))
def test_any_names(texts):
    rungs = Rungs({"n": range(4), "m": (9, 1)})
    check_like_a_dictionary([(text, rungs) for text in texts])
