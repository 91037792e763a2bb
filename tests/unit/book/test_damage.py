"""A damaged book: noticed on opening, told with the way back, and salvaged."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from advisor.book.batches import add_quotes
from advisor.book.copies import copy_before_change
from advisor.book.kept_tables import KEPT_TABLES
from advisor.book.salvage import open_damaged
from advisor.book.series import read_series
from advisor.book.store import open_store
from advisor.book.whole_book import every_quote
from advisor.errors import BookFault
from advisor.quotes import Quote

COUNT = 3000
QUOTES = [
    Quote(1_788_000_000_000_000 + n, f"lantern part {n % 9}", Fraction(n + 1, 7), "shell")
    for n in range(COUNT)
]
PAGE = 4096


@pytest.fixture
def book(tmp_path):
    path = tmp_path / "book.db"
    with open_store(path, create=True) as store:
        add_quotes(store, QUOTES)
    return path


def refusal(path, *, read_only=False):
    with pytest.raises(BookFault) as caught, open_store(path, read_only=read_only):
        pass
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert str(path) in sentence
    return sentence


def whole_page_overwritten(path):
    at = path.read_bytes().index(b"1429/7") // PAGE * PAGE  # a page of quotes
    with path.open("r+b") as file:
        file.seek(at)
        file.write(b"\xa5" * PAGE)


def end_missing(path):
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size // 2)


def schema_overwritten(path):
    with path.open("r+b") as file:
        file.seek(100)
        file.write(b"\x00" * 400)


def replaced_by_text(path):
    path.write_text("item,price\nlantern frame,2.4\n" * 50)


def emptied(path):
    path.write_bytes(b"")


DAMAGES = [whole_page_overwritten, end_missing, schema_overwritten, replaced_by_text, emptied]


@pytest.mark.parametrize("damage", DAMAGES)
@pytest.mark.parametrize("read_only", [True, False])
def test_damage_is_noticed_on_opening(book, damage, read_only):
    damage(book)
    sentence = refusal(book, read_only=read_only)
    assert "damaged" in sentence
    assert "makeworth export DIR --salvage" in sentence


@pytest.mark.parametrize("damage", DAMAGES)
def test_the_newest_copy_is_named(book, damage):
    copy = copy_before_change(book, 1)
    damage(book)
    assert f"the newest copy is {copy}; put it back as book.db" in refusal(book)
    copy.replace(book)
    with open_store(book) as store:
        assert len(list(every_quote(store))) == COUNT


def test_no_flipped_bytes_give_a_traceback(book):
    """Whatever bytes are hit: the book opens and reads, or is refused in a sentence."""
    whole = book.read_bytes()
    draw = random.Random(4)
    refused = 0
    for _ in range(60):
        hurt = bytearray(whole)
        for _ in range(8):
            hurt[draw.randrange(len(hurt))] ^= 1 << draw.randrange(8)
        book.write_bytes(hurt)
        try:
            with open_store(book) as store:
                read_series(store)
        except BookFault:
            refused += 1
    assert refused > 0


@pytest.mark.parametrize(
    ("written", "now"),
    # The price of one quote; the name of an item, and its key in table and index.
    [(b"1429/7", b"1428/7"), (b"lantern part 8", b"lantern part 9")],
)
def test_a_quote_that_is_not_what_was_written_is_noticed(book, written, now):
    content = book.read_bytes()
    assert 1 <= content.count(written) <= 3
    book.write_bytes(content.replace(written, now))
    with open_store(book) as store, pytest.raises(BookFault, match="not what was once written"):
        list(every_quote(store))


def test_what_can_be_read_is_salvaged_and_nothing_else(book):
    whole_page_overwritten(book)
    with open_damaged(book) as damaged:
        saved = list(damaged.quotes())
    true_prices = {quote.at_us: str(quote.price) for quote in QUOTES}
    assert all(true_prices[quote.at_us] == quote.price for quote in saved)
    assert damaged.lost > 0
    # One page of some hundred: by far the most is saved.
    assert COUNT * 0.9 < len(saved) < COUNT


def test_where_the_names_are_damaged_the_rest_is_still_gone_through(book):
    content = bytearray(book.read_bytes())
    for at in range(PAGE, len(content), PAGE):
        if b"lantern part 8" in content[at : at + PAGE]:
            content[at : at + PAGE] = b"\xa5" * PAGE
    book.write_bytes(content)
    with open_damaged(book) as damaged:
        assert list(damaged.quotes()) == []
        for table in KEPT_TABLES:
            assert list(damaged.kept_rows(table)) == []
        assert damaged.lost > 0


def test_a_sound_book_is_salvaged_whole(book):
    with open_damaged(book) as damaged:
        assert len(list(damaged.quotes())) == COUNT
    assert damaged.lost == 0


def test_what_is_no_database_cannot_be_salvaged(book):
    replaced_by_text(book)
    with pytest.raises(BookFault, match="damaged"), open_damaged(book):
        pass
