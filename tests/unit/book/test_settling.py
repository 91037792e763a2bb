"""A spelling told of later: the quotes that came in under it find their item."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from advisor.book.batches import add_quotes, undo_batch
from advisor.book.items import item_names
from advisor.book.rulings import rule_quote
from advisor.book.series import quote_rows
from advisor.book.settings import ItemSettings, Settings
from advisor.book.settling import has_other_spellings, settle_spellings
from advisor.book.store import open_store
from advisor.book.whole_book import every_quote
from advisor.quotes import Quote

FRAME = Quote(1, "frame", Fraction(2), "bits", trader="Ebba")
OTHER = Quote(2, "clear flux", Fraction(3), "shell")


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "book.db", create=True) as opened:
        yield opened


@pytest.fixture
def settings(tmp_path):
    items = {
        "lantern frame": ItemSettings("lantern frame", also=("Frame", "Lantern Frame")),
        "shell": ItemSettings("shell", also=("bits",)),
    }
    return Settings(tmp_path, "shell", items=items)


def test_quotes_under_another_spelling_move_to_their_item(store, settings):
    add_quotes(store, [FRAME, OTHER])
    rule_quote(store, 1, verdict="keep")
    assert has_other_spellings(store, settings)
    assert settle_spellings(store, settings) == 1
    (row,) = quote_rows(store, "lantern frame")
    assert (row.money, row.trader, row.batch, row.ruling) == ("shell", "Ebba", 1, "keep")
    assert item_names(store) == ["clear flux", "lantern frame", "shell"]
    assert settle_spellings(store, settings) == 0
    # Each quote is still what its fingerprint says.
    assert len(list(every_quote(store))) == 2


def test_the_same_file_does_not_count_twice_under_the_new_name(store, settings):
    add_quotes(store, [FRAME])
    settle_spellings(store, settings)
    assert add_quotes(store, [replace(FRAME, item="lantern frame", money="shell")]).known == 1


def test_two_that_turn_out_the_same_become_one_and_count_for_both_batches(store, settings):
    add_quotes(store, [FRAME])
    add_quotes(store, [replace(FRAME, item="lantern frame", money="shell")])
    add_quotes(store, [replace(FRAME, money="shell")])
    assert settle_spellings(store, settings) == 2
    (row,) = quote_rows(store, "lantern frame")
    assert row.batch == 2
    assert undo_batch(store, 2).kept == 1
    assert undo_batch(store, 3).removed == 0
    assert undo_batch(store, 1).removed == 1


def test_settings_without_other_spellings_change_nothing(store, tmp_path):
    add_quotes(store, [FRAME])
    assert not has_other_spellings(store, Settings(tmp_path, "shell"))
    assert settle_spellings(store, Settings(tmp_path, "shell")) == 0
