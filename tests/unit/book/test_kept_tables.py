"""Attempts and the like go out and come back, and nothing of the book is forgotten."""

from __future__ import annotations

import json

import pytest

from advisor.book.attempts import Attempt, add_attempts, list_attempts, list_entries, undo_entry
from advisor.book.kept_tables import KEPT_TABLES, KeptRestore, kept_rows
from advisor.book.store import open_store
from advisor.errors import BadInput
from advisor.tasks.exported_files import hash_of_file
from advisor.tasks.exporting import export_book
from advisor.tasks.restoring import restore_export

# Written by export in files of their own, or made anew by taking these in.
OTHERWISE_KEPT = {"quotes", "set_aside", "layouts", "quote_overrules"}
MADE_ANEW = {"items", "traders", "batches", "also_in", "meta", "entry_batches"}
MADE_ANEW |= {"known_levels", "inbox_files", "replayed_days"}
LATER = 2**62


@pytest.fixture
def workspace(tmp_path):
    (tmp_path / "fen").mkdir()
    (tmp_path / "fen" / "makeworth.toml").write_text('money = "shell"')
    with open_store(tmp_path / "fen" / "book.db", create=True) as store:
        etch = Attempt(5, "storm lantern", step="etch", outcome="empty table", minutes=0.5, note="")
        add_attempts(store, [etch, etch], file="night.csv", content_hash=b"\x00\xff")
        add_attempts(store, [Attempt(6, "storm lantern", step="seal", outcome="storm lantern")])
        undo_entry(store, 2)
        store.connection.execute(
            "INSERT INTO sessions (route, goal, start, begun_us)"
            " VALUES ('storm lantern', 'keep', 'empty table', 3)"
        )
        add_attempts(store, [Attempt(7, "storm lantern", "stop", session=1)])
    return tmp_path / "fen"


def everything(store):
    return {table.name: list(kept_rows(store.connection, table)) for table in KEPT_TABLES}


def test_every_table_of_the_book_is_exported_or_made_anew(workspace):
    with open_store(workspace / "book.db") as store:
        tables = store.connection.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        )
        names = {name for (name,) in tables} - {"_sqlite_migrations"}
    assert names == OTHERWISE_KEPT | MADE_ANEW | {table.name for table in KEPT_TABLES}


def test_attempts_come_back_the_same(workspace, tmp_path):
    assert export_book(str(workspace), tmp_path / "out").other == 3 + 1 + 4
    with (
        open_store(workspace / "book.db") as old,
        open_store(tmp_path / "new.db", create=True) as new,
    ):
        restore_export(new, tmp_path / "out")
        assert everything(new) == everything(old)
        assert list_entries(new) == list_entries(old)


def test_attempts_taken_in_twice_or_into_a_book_with_others_count_once(workspace, tmp_path):
    export_book(str(workspace), tmp_path / "out")
    with (
        open_store(workspace / "book.db") as old,
        open_store(tmp_path / "new.db", create=True) as new,
    ):
        add_attempts(new, [Attempt(1, "polish", step="rub", outcome="bright")])
        for _ in range(2):
            restore_export(new, tmp_path / "out")
        assert list_attempts(new, route="storm lantern", until_us=LATER) == list_attempts(
            old, route="storm lantern", until_us=LATER
        )
        assert len(list_attempts(new, route="polish", until_us=LATER)) == 1


def entry(**changes):
    whole = {"id": 1, "kind": "try", "written_us": 1, "file": "", "content_hash": None}
    return json.dumps(whole | {"undone_us": None} | changes)


@pytest.mark.parametrize(
    "line",
    [
        "[]",
        "{",
        '{"id": 1}',
        '{"id": NaN}',
        '{"id": {"hex": "zz"}}',
        '{"id": {"hex": 5}}',
        entry(kind=[]),
        entry(id=[]),
        entry(kind=None),
        entry(written_us=1e308),
        entry(written_us=10**20),
        entry(wish=3),
        "\udcff",
    ],
)
def test_a_forged_row_is_refused_and_nothing_is_kept(workspace, tmp_path, line):
    out = tmp_path / "out"
    export_book(str(workspace), out)
    (out / "entries.jsonl").write_text(line + "\n", errors="surrogateescape")
    told = json.loads((out / "export.json").read_text())
    told["files"]["entries.jsonl"]["sha256"] = hash_of_file(out / "entries.jsonl")
    (out / "export.json").write_text(json.dumps(told))
    with open_store(tmp_path / "new.db", create=True) as new:
        with pytest.raises(BadInput, match=r"entries|attempts"):
            restore_export(new, out)
        assert everything(new) == {table.name: [] for table in KEPT_TABLES}


def test_an_export_of_an_older_form_has_fewer_files(workspace, tmp_path):
    out = tmp_path / "out"
    export_book(str(workspace), out)
    told = json.loads((out / "export.json").read_text())
    for table in KEPT_TABLES:
        del told["files"][f"{table.name}.jsonl"]
    (out / "export.json").write_text(json.dumps(told))
    with open_store(tmp_path / "new.db", create=True) as new:
        restore_export(new, out)
        assert everything(new)["attempts"] == []


def test_a_file_from_a_newer_makeworth_is_refused(workspace, tmp_path):
    out = tmp_path / "out"
    export_book(str(workspace), out)
    told = json.loads((out / "export.json").read_text())
    told["files"]["../wishes.jsonl"] = {"rows": 0, "sha256": ""}
    (out / "export.json").write_text(json.dumps(told))
    with (
        open_store(tmp_path / "new.db", create=True) as new,
        pytest.raises(BadInput, match="update Makeworth"),
    ):
        restore_export(new, out)


def test_a_part_without_its_whole_is_refused(workspace):
    with open_store(workspace / "book.db") as store, pytest.raises(BadInput):
        attempts = everything(store)["attempts"]
        KeptRestore(store.connection).add(KEPT_TABLES[2], attempts)
