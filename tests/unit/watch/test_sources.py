"""What others write is noticed; what the watch itself writes into the book is not."""

from __future__ import annotations

from fractions import Fraction

import pytest

from advisor.book.batches import add_quotes, undo_batch
from advisor.book.outbox import Message, write_news
from advisor.quotes import Quote
from advisor.tasks.starting import start_workspace
from advisor.tasks.workspace import open_workspace
from advisor.watch.sources import Sources


@pytest.fixture
def place(tmp_path):
    start_workspace(tmp_path / "fen", timezone="UTC")
    return open_workspace(str(tmp_path / "fen"))


def test_quotes_their_undoing_and_files_are_noticed_once(place):
    sources = Sources()
    assert sources.changed(place)
    assert not sources.changed(place)
    with place.open_book() as store:
        add_quotes(store, [Quote(1, "wax", Fraction(7, 3), "shell")])
    assert (sources.changed(place), sources.changed(place)) == (True, False)
    with place.open_book() as store:
        undo_batch(store, 1)
    assert (sources.changed(place), sources.changed(place)) == (True, False)
    route = place.routes / "storm-lantern.toml"
    route.write_text(route.read_text() + "\n")
    assert (sources.changed(place), sources.changed(place)) == (True, False)


def test_its_own_messages_wake_nobody(place):
    sources = Sources()
    sources.changed(place)
    with place.open_book() as store:
        write_news(store, {}, [Message(1, "wax below 2", "words", ("#00",))])
    assert not sources.changed(place)
