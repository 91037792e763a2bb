"""Batches: what counts as new, as known, as set aside; and taking one back."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

import polars as pl
import pytest

from advisor.book.batches import BatchResult, add_batch, add_quotes, undo_batch
from advisor.book.columns import hand_chunk
from advisor.book.history import batches_of_content, list_batches, list_set_aside, mark_taken
from advisor.book.rulings import rule_quote, ruled_quotes
from advisor.book.series import quote_rows
from advisor.book.store import Store, open_store
from advisor.errors import BadInput, BookFault
from advisor.quotes import Quote

NOON = 1_788_350_400_000_000  # 2026-09-02T12:00:00Z


@dataclass
class Chunk:
    rows: pl.DataFrame = field(default_factory=lambda: hand_chunk([]).rows)
    set_aside: list = field(default_factory=list)


def frame(price: int | str = 2, **changes: object) -> Quote:
    return Quote(NOON, "lantern frame", Fraction(price), "shell", **changes)


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "book.db", create=True) as opened:
        yield opened


def take_in(store: Store, *chunks: Chunk, content: bytes = b"a", check: bool = False):
    return add_batch(
        store, chunks, file="prices.csv", content_hash=content, layout="canonical", check=check
    )


def prices(store: Store) -> list[str]:
    return [row.price for row in quote_rows(store, "lantern frame")]


def test_every_row_counts_once_as_added_known_or_set_aside(store):
    add_quotes(store, [frame(2)])
    rows = hand_chunk([frame(2), frame(3), frame(3), frame(4)]).rows
    aside = [(6, "price", "not a number", "lantern frame,dear")]
    result = take_in(store, Chunk(rows, aside))
    assert result == BatchResult(batch=2, rows=5, added=2, known=2, set_aside=1)
    assert prices(store) == ["2", "3", "4"]


def test_the_same_quote_in_two_parts_of_one_file_counts_once(store):
    part = Chunk(hand_chunk([frame(2)]).rows)
    result = take_in(store, part, part)
    assert (result.added, result.known) == (1, 1)
    assert prices(store) == ["2"]


@pytest.mark.parametrize(
    "other",
    [
        Quote(NOON, "  Lantern FRAME", Fraction(2), "SHELL"),
        frame(2, note="seen twice"),
        frame(2, source="the board"),
        frame(2, trader="   "),
    ],
)
def test_another_spelling_or_another_origin_is_the_same_quote(store, other):
    add_quotes(store, [frame(2)])
    assert add_quotes(store, [other]).known == 1


@pytest.mark.parametrize(
    "other",
    [
        Quote(NOON + 1, "lantern frame", Fraction(2), "shell"),
        Quote(NOON, "lantern frame", Fraction(2), "crown"),
        Quote(NOON, "river frame", Fraction(2), "shell"),
        frame("2.0000000001"),
        frame(2, side="bid"),
        frame(2, qty=1),
        frame(2, trader="Ebba"),
    ],
)
def test_any_difference_in_what_was_seen_is_another_quote(store, other):
    add_quotes(store, [frame(2)])
    assert add_quotes(store, [other]).added == 1


def test_what_was_given_comes_back_as_it_was(store):
    given = frame("7/3", side="deal", qty=60, trader="Ebba Rusk", source="board", note="=1+1")
    add_quotes(store, [given])
    (row,) = quote_rows(store, "LANTERN frame")
    assert (row.at_us, row.item, row.money, row.side) == (NOON, "lantern frame", "shell", "deal")
    assert (row.price, row.price_value, row.qty) == ("7/3", 7 / 3, 60)
    assert (row.trader, row.source, row.note) == ("Ebba Rusk", "board", "=1+1")
    assert (row.batch, row.ruling) == (1, None)


def test_a_trial_counts_truly_and_keeps_nothing(store):
    add_quotes(store, [frame(2)])
    chunk = Chunk(hand_chunk([frame(2), frame(3)]).rows, [(4, None, "total", "sum")])
    trial = take_in(store, chunk, check=True)
    assert trial == BatchResult(batch=None, rows=3, added=1, known=1, set_aside=1)
    assert prices(store) == ["2"]
    assert list_set_aside(store) == []
    assert len(list_batches(store)) == 1


def test_a_fault_in_the_middle_of_a_file_leaves_nothing_of_it(store):
    def parts():
        yield Chunk(hand_chunk([frame(2)]).rows)
        raise BadInput("the file ends in the middle of a row")

    with pytest.raises(BadInput):
        add_batch(store, parts(), file="cut.csv", content_hash=b"c", layout="canonical")
    assert prices(store) == []
    assert list_batches(store) == []


def test_an_undo_takes_back_the_whole_batch_and_only_it(store):
    add_quotes(store, [frame(2)])
    take_in(store, Chunk(hand_chunk([frame(3), frame(4)]).rows, [(9, None, "total", "sum")]))
    undone = undo_batch(store, 2)
    assert (undone.removed, undone.kept) == (2, 0)
    assert prices(store) == ["2"]
    assert list_set_aside(store) == []
    assert [batch.undone_us is None for batch in list_batches(store)] == [True, False]
    assert batches_of_content(store, b"a") == []


def test_a_quote_that_other_batches_also_had_stays_until_the_last_is_taken_back(store):
    for _ in range(3):
        add_quotes(store, [frame(2)])
    assert undo_batch(store, 2).kept == 0
    assert undo_batch(store, 1).kept == 1
    assert [row.batch for row in quote_rows(store, "lantern frame")] == [3]
    assert undo_batch(store, 3).removed == 1
    assert prices(store) == []


def test_taking_the_same_file_in_again_after_an_undo_adds_it_again(store):
    chunk = Chunk(hand_chunk([frame(2)]).rows)
    take_in(store, chunk)
    undo_batch(store, 1)
    assert take_in(store, chunk).added == 1


@pytest.mark.parametrize(("batch", "words"), [(7, "there is no batch 7"), (1, "already")])
def test_an_undo_of_nothing_is_refused(store, batch, words):
    add_quotes(store, [frame(2)])
    undo_batch(store, 1)
    with pytest.raises(BadInput, match=words):
        undo_batch(store, batch)


def test_a_line_is_set_aside_once_however_often_the_file_is_read(store):
    unread = Chunk(set_aside=[(2, "price", "empty", "a,"), (3, "at", "not a date", "b,3,x")])
    take_in(store, unread)
    # With another setting line 3 can be read; line 2 still cannot.
    take_in(store, Chunk(hand_chunk([frame(3)]).rows, [(2, "price", "empty", "a,")]))
    assert [(row.batch, row.line) for row in list_set_aside(store)] == [(2, 2)]
    undo_batch(store, 2)
    assert [(row.batch, row.line) for row in list_set_aside(store)] == [(1, 2), (1, 3)]


@pytest.mark.parametrize("undone", [[1], [2], [3], [2, 3], [3, 2], [1, 3], [1, 2]])
def test_a_line_stays_set_aside_once_whichever_batches_are_taken_back(store, undone):
    for _ in range(3):
        take_in(store, Chunk(set_aside=[(2, "price", "empty", "a,")]))
    for batch in undone:
        undo_batch(store, batch)
    last_standing = max({1, 2, 3} - set(undone))
    assert [row.batch for row in list_set_aside(store)] == [last_standing]


def test_rows_of_another_file_are_not_taken_over(store):
    take_in(store, Chunk(set_aside=[(2, None, "cells", "a,b,c")]), content=b"a")
    take_in(store, Chunk(set_aside=[(2, None, "cells", "d,e,f")]), content=b"b")
    assert [row.text for row in list_set_aside(store)] == ["a,b,c", "d,e,f"]
    assert [row.text for row in list_set_aside(store, batch=2)] == ["d,e,f"]


def test_rows_set_aside_can_be_marked_as_taken_until_that_batch_is_undone(store):
    take_in(store, Chunk(set_aside=[(2, None, "cells", "a,b,c")]))
    (row,) = list_set_aside(store)
    corrected = take_in(store, Chunk(hand_chunk([frame(3)]).rows), content=b"corrected")
    mark_taken(store, [row.id], by_batch=corrected.batch)
    assert list_set_aside(store) == []
    undo_batch(store, corrected.batch)
    assert list_set_aside(store) == [row]


def test_a_ruling_outlives_an_undo_of_its_quote(store):
    add_quotes(store, [frame(2)])
    (row,) = quote_rows(store, "lantern frame")
    rule_quote(store, row.id, verdict="keep")
    rule_quote(store, row.id, verdict="drop")
    assert ruled_quotes(store) == {row.id: "drop"}
    undo_batch(store, 1)
    assert ruled_quotes(store) == {}
    add_quotes(store, [frame(2)])
    (row,) = quote_rows(store, "lantern frame")
    assert row.ruling == "drop"
    rule_quote(store, row.id, verdict=None)
    assert ruled_quotes(store) == {}
    with pytest.raises(BadInput, match="neither kept nor dropped"):
        rule_quote(store, row.id, verdict=None)
    every = store.connection.execute("SELECT verdict FROM quote_overrules ORDER BY at_us")
    assert [verdict for (verdict,) in every] == ["keep", "drop", "lifted"]
    with pytest.raises(BadInput, match="no quote 99"):
        rule_quote(store, 99, verdict="keep")


def test_no_row_that_breaks_a_rule_of_the_book_is_dropped_silently(store):
    rows = hand_chunk([frame(2)]).rows.with_columns(price_value=pl.lit(-1.0))
    with pytest.raises(BookFault), open_store(store.path) as other:
        take_in(other, Chunk(rows))
    assert prices(store) == []
