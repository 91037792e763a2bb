"""The book's form: changed with a copy made first, recorded with the change, or not at all."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from fractions import Fraction

import pytest

from advisor.book import schema, store
from advisor.book.batches import add_quotes
from advisor.book.copies import newest_copy
from advisor.book.rulings import rule_quote, ruled_quotes
from advisor.book.series import quote_rows
from advisor.book.store import open_store
from advisor.errors import BookFault
from advisor.quotes import Quote

QUOTE = Quote(0, "lantern frame", Fraction(2), "shell")
ADD_WEATHER = ("weather", ("CREATE TABLE weather (id INTEGER PRIMARY KEY) STRICT",))
NOW = schema.FORM
BROKEN = ("broken", ("CREATE TABLE half (id INTEGER)", "CREATE TABLE half (id INTEGER)"))


@pytest.fixture
def book(tmp_path):
    path = tmp_path / "book.db"
    with open_store(path, create=True) as opened:
        add_quotes(opened, [QUOTE])
    return path


@pytest.fixture
def changed_to(monkeypatch):
    """Makes the program one that knows further changes."""

    def set_changes(*further):
        changes = (*schema.CHANGES, *further)
        monkeypatch.setattr(schema, "CHANGES", changes)
        monkeypatch.setattr(schema, "FORM", len(changes))
        monkeypatch.setattr(store, "FORM", len(changes))

    return set_changes


def tables(path):
    with closing(sqlite3.connect(path)) as connection:
        return {name for (name,) in connection.execute("SELECT name FROM sqlite_schema")}


def test_a_new_book_is_in_wal_mode_marked_and_recorded(book):
    with closing(sqlite3.connect(book)) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert connection.execute("PRAGMA application_id").fetchone() == (schema.BOOK_MARK,)
        recorded = connection.execute(
            "SELECT migration_set, name FROM _sqlite_migrations ORDER BY rowid"
        )
        assert recorded.fetchall() == [("book", name) for name, _ in schema.CHANGES]


def test_every_write_waits_for_the_disk_and_keeps_references_whole(book):
    with open_store(book) as opened:
        read = opened.connection.execute
        full = 2  # SQLite documentation, PRAGMA synchronous: 0 OFF, 1 NORMAL, 2 FULL, 3 EXTRA
        assert read("PRAGMA synchronous").fetchone() == (full,)
        assert read("PRAGMA foreign_keys").fetchone() == (1,)


def test_a_book_of_an_older_form_is_copied_then_changed(book, changed_to):
    changed_to(ADD_WEATHER)
    with open_store(book) as opened:
        assert schema.form_of(opened.connection) == NOW + 1
        assert len(quote_rows(opened, "lantern frame")) == 1
    assert "weather" in tables(book)
    copy = newest_copy(book)
    assert copy is not None
    assert "weather" not in tables(copy)
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("SELECT price FROM quotes").fetchall() == [("2",)]
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_rulings_of_an_older_book_still_count(tmp_path, monkeypatch):
    """A book of the form before rulings were remembered each time, written with plain SQL."""
    path, before = tmp_path / "book.db", 3
    with monkeypatch.context() as older:
        older.setattr(schema, "CHANGES", schema.CHANGES[:before])
        older.setattr(schema, "FORM", before)
        older.setattr(store, "FORM", before)
        with open_store(path, create=True) as opened:
            add_quotes(opened, [QUOTE])
            opened.connection.execute(
                """INSERT INTO quote_overrules (fingerprint, verdict, at_us)
                   SELECT fingerprint, 'drop', 5 FROM quotes"""
            )
    with open_store(path) as opened:
        assert ruled_quotes(opened) == {1: "drop"}
        rule_quote(opened, 1, verdict=None)
        assert ruled_quotes(opened) == {}


def test_reading_also_brings_an_older_book_up_to_date(book, changed_to):
    changed_to(ADD_WEATHER)
    with open_store(book, read_only=True) as opened:
        assert len(quote_rows(opened, "lantern frame")) == 1
    assert "weather" in tables(book)


def test_copies_count_up_whatever_the_clock_says(book, changed_to):
    changed_to(ADD_WEATHER)
    (book.parent / "copies").mkdir()
    (book.parent / "copies" / "book-0007-form-0.db").write_bytes(b"older")
    with open_store(book):
        pass
    newest = newest_copy(book)
    assert newest is not None
    assert newest.name == f"book-0008-form-{NOW}.db"


def test_a_change_that_fails_leaves_the_book_as_it_was(book, changed_to):
    changed_to(ADD_WEATHER, BROKEN)
    before = tables(book)
    with pytest.raises(BookFault), open_store(book):
        pass
    assert tables(book) == before
    with closing(sqlite3.connect(book)) as connection:
        assert schema.form_of(connection) == NOW


def test_two_programs_may_change_the_form_at_once(book, changed_to):
    changed_to(ADD_WEATHER)
    faults = []

    def change():
        try:
            with open_store(book):
                pass
        except BookFault as fault:
            faults.append(fault)

    threads = [threading.Thread(target=change) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    with closing(sqlite3.connect(book)) as connection:
        recorded = connection.execute("SELECT count(*) FROM _sqlite_migrations").fetchone()
    assert recorded == (NOW + 1,)


def test_a_book_of_a_newer_form_is_refused(book):
    with closing(sqlite3.connect(book)) as connection:
        connection.execute("PRAGMA user_version = 99")
        connection.commit()
    with pytest.raises(BookFault, match="form 99, newer than this Makeworth"), open_store(book):
        pass


def test_opening_a_book_that_is_up_to_date_needs_no_migration_library(book):
    code = (
        "import sys; from pathlib import Path; from advisor.book.store import open_store\n"
        f"with open_store(Path({str(book)!r})) as s: pass\n"
        "print('sqlite_utils' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"
