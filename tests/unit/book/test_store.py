"""Faults around the book: one sentence each, and nothing lost."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from contextlib import contextmanager
from fractions import Fraction

import pytest
import time_machine

from advisor.book import connecting
from advisor.book.batches import add_quotes, undo_batch
from advisor.book.history import list_batches
from advisor.book.series import quote_rows
from advisor.book.store import open_store
from advisor.errors import BookFault
from advisor.quotes import Quote


def quotes(count: int, start: int = 0) -> list[Quote]:
    return [
        Quote(n, "lantern frame", Fraction(n + 1), "shell", note="x" * 40)
        for n in range(start, start + count)
    ]


@pytest.fixture
def book(tmp_path):
    path = tmp_path / "book.db"
    with open_store(path, create=True) as store:
        add_quotes(store, quotes(5))
    return path


def count(path, **how) -> int:
    with open_store(path, **how) as store:
        return len(quote_rows(store, "lantern frame"))


def test_there_is_no_book_yet(tmp_path):
    with pytest.raises(BookFault, match=r"no book yet; .* makeworth quote"):
        count(tmp_path / "book.db")
    with pytest.raises(BookFault), open_store(tmp_path / "gone" / "book.db", create=True):
        pass


def test_making_a_book_leaves_nothing_else_behind(tmp_path):
    with open_store(tmp_path / "book.db", create=True):
        pass
    assert [each.name for each in tmp_path.iterdir()] == ["book.db"]


def test_several_may_make_the_same_book_at_once(tmp_path):
    path = tmp_path / "book.db"
    faults = []

    def write(start):
        try:
            with open_store(path, create=True) as store:
                add_quotes(store, quotes(3, start=start))
        except BookFault as fault:
            faults.append(fault)

    threads = [threading.Thread(target=write, args=(10 * n,)) for n in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert count(path) == 15
    assert [batch.added for batch in _batches(path)] == [3] * 5


def test_a_reader_sees_the_book_as_it_was_while_another_writes(book):
    with open_store(book) as writer, open_store(book, read_only=True) as reader:
        with reader.reading():
            before = quote_rows(reader, "lantern frame")
            add_quotes(writer, quotes(5, start=100))
            assert quote_rows(reader, "lantern frame") == before
        assert len(quote_rows(reader, "lantern frame")) == 10


def test_a_writer_that_waited_too_long_is_told_so(book, monkeypatch):
    monkeypatch.setattr(connecting, "WAIT_SECONDS", 0.05)
    with open_store(book) as first, first.writing(), open_store(book, read_only=True) as second:
        assert len(quote_rows(second, "lantern frame")) == 5
        with (
            pytest.raises(BookFault, match="another makeworth is writing"),
            open_store(book) as third,
        ):
            add_quotes(third, quotes(1, start=50))
    assert count(book) == 5


def test_an_error_inside_a_transaction_takes_it_back(book):
    with open_store(book) as store:
        with pytest.raises(KeyError), store.writing() as connection:
            connection.execute("DELETE FROM quotes")
            raise KeyError
        assert len(quote_rows(store, "lantern frame")) == 5


def test_a_transaction_inside_another_is_a_part_of_it(book):
    with open_store(book) as store:
        with pytest.raises(KeyError), store.writing():
            add_quotes(store, quotes(1, start=50))
            raise KeyError
        assert len(quote_rows(store, "lantern frame")) == 5
        with store.writing():
            add_quotes(store, quotes(1, start=50))
            with pytest.raises(KeyError), store.writing() as connection:
                connection.execute("DELETE FROM quotes")
                raise KeyError
            with store.writing(keep=False) as connection:
                connection.execute("DELETE FROM quotes")
        assert len(quote_rows(store, "lantern frame")) == 6


def test_a_full_disk_is_told_and_nothing_is_half_written(book):
    with pytest.raises(BookFault, match="no room left"), open_store(book) as store:
        pages = store.connection.execute("PRAGMA page_count").fetchone()[0]
        store.connection.execute(f"PRAGMA max_page_count = {pages + 3}")
        add_quotes(store, quotes(2000, start=100))
    assert count(book) == 5
    assert len(_batches(book)) == 1


LIMITED = """
import resource, sys
from pathlib import Path
from fractions import Fraction
from advisor.book.store import open_store
from advisor.book.batches import add_quotes
from advisor.errors import BookFault
from advisor.quotes import Quote
resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))
quotes = [Quote(n, "lantern frame", Fraction(n + 1), "shell", note="x" * 40)
          for n in range(100, 5000)]
try:
    with open_store(Path(sys.argv[1])) as store:
        add_quotes(store, quotes)
except BookFault as fault:
    print(fault)
"""


def test_a_file_that_may_not_grow_is_told_and_nothing_is_half_written(book):
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(book)], capture_output=True, text=True, check=True
    )
    assert "the disk refused" in done.stdout or "no room left" in done.stdout
    assert done.stderr == ""
    assert count(book) == 5


@contextmanager
def nobody_may_write(folder):
    """As another user, in a folder that only its owner may write to."""
    modes = {path: path.stat().st_mode for path in (folder, *folder.iterdir())}
    for path in modes:
        path.chmod(0o555 if path.is_dir() else 0o444)
    if os.geteuid() == 0:
        for above in folder.parents:
            if above.owner() == "root" and ("pytest" in above.name or "popen" in above.name):
                above.chmod(0o755)
        os.seteuid(65534)
    try:
        yield
    finally:
        if os.getuid() == 0:
            os.seteuid(0)
        for path, mode in modes.items():
            path.chmod(mode)


def test_a_folder_that_cannot_be_written_to_can_still_be_read(book):
    with nobody_may_write(book.parent):
        assert count(book, read_only=True) == 5


def test_writing_where_one_may_not_is_told(book):
    with nobody_may_write(book.parent):
        with (
            pytest.raises(BookFault, match=r"cannot be written to|cannot be opened"),
            open_store(book) as store,
        ):
            add_quotes(store, quotes(1, start=50))
        with pytest.raises(BookFault), open_store(book.parent / "new.db", create=True):
            pass
    assert count(book) == 5


def test_a_book_that_may_not_be_read_is_told(book):
    if os.geteuid() != 0:
        book.chmod(0)
        with pytest.raises(BookFault):
            count(book)
        return
    with nobody_may_write(book.parent):
        os.seteuid(0)
        book.chmod(0)
        os.seteuid(65534)
        with pytest.raises(BookFault):
            count(book)


def test_a_clock_set_back_changes_nothing(tmp_path):
    path = tmp_path / "book.db"
    with time_machine.travel("2026-09-10", tick=False), open_store(path, create=True) as store:
        add_quotes(store, quotes(2))
    with time_machine.travel("2001-01-01", tick=False), open_store(path) as store:
        add_quotes(store, quotes(3))
        first, second = list_batches(store)
        assert first.at_us > second.at_us
        assert (second.added, second.known) == (1, 2)
        undo_batch(store, 1)
    assert count(path) == 3


def test_writes_are_there_when_the_writer_never_closed_the_book(book):
    code = (
        "import os, sys\nfrom pathlib import Path\nfrom fractions import Fraction\n"
        "from advisor.book.store import open_store\nfrom advisor.book.batches import add_quotes\n"
        "from advisor.quotes import Quote\n"
        "with open_store(Path(sys.argv[1])) as store:\n"
        "    add_quotes(store, [Quote(999, 'lantern frame', Fraction(3), 'shell')])\n"
        "    os._exit(9)\n"
    )
    done = subprocess.run([sys.executable, "-c", code, str(book)], check=False)
    assert done.returncode == 9
    book.with_name("book.db-shm").unlink()
    assert count(book, read_only=True) == 6


def _batches(path):
    with open_store(path) as store:
        return list_batches(store)
