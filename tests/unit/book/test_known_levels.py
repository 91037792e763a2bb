"""What was learned is kept where that is possible at once, and lost without harm where not."""

import os
import sqlite3
import subprocess
import sys
import textwrap

import pytest

from advisor.book.known_levels import NEWEST_KEPT, KnownLevels
from advisor.book.store import open_store


@pytest.fixture
def book(tmp_path):
    path = tmp_path / "book.db"
    with open_store(path, create=True):
        return path


def keep(path, print_, row=b"learned", family="frames"):
    with open_store(path, read_only=True) as store:
        known = KnownLevels(store)
        known.keep({print_: (family, row)})
    known.write()


def recall(path, *prints):
    with open_store(path, read_only=True) as store:
        return KnownLevels(store).recall(prints)


def test_what_was_kept_is_recalled_and_nothing_else(book):
    keep(book, b"one", b"\x00\xff")
    keep(book, b"two", b"2")
    assert recall(book, b"one", b"three") == {b"one": b"\x00\xff"}


def test_a_family_has_only_its_newest_rows(book):
    keep(book, b"other", family="waxes")
    prints = [bytes([k]) for k in range(NEWEST_KEPT + 3)]
    for each in prints:
        keep(book, each)
    assert list(recall(book, *prints, b"other")) == [*prints[-NEWEST_KEPT:], b"other"]


def test_where_another_process_is_writing_nothing_is_kept_and_nothing_waits_long(book):
    other = sqlite3.connect(book, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    keep(book, b"one")
    other.execute("ROLLBACK")
    other.close()
    assert recall(book, b"one") == {}


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is forbidden to root")
def test_in_a_folder_that_cannot_be_written_to_nothing_is_kept(book):
    book.parent.chmod(0o500)
    book.chmod(0o400)
    keep(book, b"one")
    book.parent.chmod(0o700)
    assert recall(book, b"one") == {}


def test_a_kill_in_the_middle_of_keeping_leaves_the_book_as_it_was(book):
    keep(book, b"old")
    code = f"""
        import os
        from pathlib import Path
        from advisor.book import known_levels

        class Killed(dict):
            def items(self):
                yield from list(super().items())[:1]
                os._exit(9)

        rows = Killed({{b"new": ("frames", b"1"), b"newer": ("frames", b"2")}})
        known_levels._write_rows(Path({str(book)!r}), rows)
    """
    ended = subprocess.run([sys.executable, "-c", textwrap.dedent(code)], check=False)
    assert ended.returncode == 9
    assert recall(book, b"old", b"new", b"newer") == {b"old": b"learned"}


def test_two_that_keep_the_same_at_once_keep_it_once(book):
    with open_store(book, read_only=True) as one, open_store(book, read_only=True) as other:
        both = KnownLevels(one), KnownLevels(other)
        for known in both:
            known.keep({b"same": ("frames", b"row")})
        for known in both:
            known.write()
    assert recall(book, b"same") == {b"same": b"row"}
