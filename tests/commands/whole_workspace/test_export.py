"""`makeworth export`: the whole book as plain files, and back."""

from __future__ import annotations

import csv
import json
from fractions import Fraction

import pytest

from advisor.book.batches import add_batch, add_quotes
from advisor.book.columns import hand_chunk
from advisor.book.history import list_set_aside
from advisor.book.layouts import save_layout, saved_layouts
from advisor.book.rulings import rule_quote, ruled_quotes
from advisor.book.store import open_store
from advisor.book.whole_book import every_quote
from advisor.errors import BadInput
from advisor.quotes import Quote
from advisor.tasks.restoring import is_export, restore_export

QUOTES = [
    Quote(1_788_350_400_000_000, "lantern frame", Fraction(12, 5), "shell", qty=60, trader="Ebba"),
    Quote(1_788_350_400_250_001, "binding wax", Fraction(7, 3), "shell", note='a "wax", soft\nold'),
    Quote(-1, "crown", Fraction(120), "shell", side="deal", source="board"),
]


@pytest.fixture
def book(workspace):
    with open_store(workspace / "book.db") as store:
        add_quotes(store, QUOTES)
        part = hand_chunk([])
        part = type(
            "Chunk", (), {"rows": part.rows, "set_aside": [(2, "price", "empty", "a,\x07")]}
        )
        add_batch(store, [part], file="old.csv", content_hash=b"\x01\x02", layout="canonical")
        save_layout(store, "stall", header=["What", "Cost"], columns={"item": "What"})
        rule_quote(store, 2, verdict="keep")
    return workspace


def test_the_whole_book_is_written_as_canonical_files(makeworth, book, tmp_path):
    done = makeworth("export", tmp_path / "out", cwd=book)
    assert (done.code, done.err) == (0, "")
    assert "3 quotes" in done.out
    with (tmp_path / "out" / "quotes.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))
    assert rows == [
        ["at", "item", "price", "money", "side", "qty", "trader", "source", "note"],
        ["2026-09-02T12:00:00Z", "lantern frame", "2.4", "shell", "ask", "60", "Ebba", "", ""],
        [
            "2026-09-02T12:00:00.250001Z",
            "binding wax",
            "7/3",
            "shell",
            "ask",
            "",
            "",
            "",
            'a "wax", soft\nold',
        ],
        ["1969-12-31T23:59:59.999999Z", "crown", "120", "shell", "deal", "", "", "board", ""],
    ]
    assert {each.name for each in (tmp_path / "out").iterdir()} == {
        "export.json",
        "order_ends.jsonl",
        "orders.jsonl",
        "trades.jsonl",
        "layouts.json",
        "quotes.csv",
        "rulings.csv",
        "set-aside.csv",
        "entries.jsonl",
        "sessions.jsonl",
        "attempts.jsonl",
        "told_alerts.jsonl",
        "messages.jsonl",
        "deliveries.jsonl",
    }


def test_an_export_taken_into_an_empty_book_gives_the_same_book(makeworth, book, tmp_path):
    makeworth("export", tmp_path / "out", cwd=book)
    assert is_export(tmp_path / "out")
    with open_store(tmp_path / "new.db", create=True) as new, open_store(book / "book.db") as old:
        result = restore_export(new, tmp_path / "out")
        assert (result.rows, result.added, result.set_aside) == (4, 3, 1)
        assert list(every_quote(new)) == list(every_quote(old))
        assert saved_layouts(new) == saved_layouts(old)
        assert ruled_quotes(new) == ruled_quotes(old)
        aside = [(row.file, row.content_hash, row.text) for row in list_set_aside(new)]
        assert aside == [("old.csv", b"\x01\x02", "a,\x07")]


def test_an_export_taken_in_twice_adds_nothing(makeworth, book, tmp_path):
    makeworth("export", tmp_path / "out", cwd=book)
    with open_store(book / "book.db") as store:
        before = list(every_quote(store))
        trial = restore_export(store, tmp_path / "out", check=True)
        assert (trial.batch, trial.added, trial.known) == (None, 0, 3)
        result = restore_export(store, tmp_path / "out")
        assert (result.added, result.known) == (0, 3)
        assert list(every_quote(store)) == before
        assert len(list_set_aside(store)) == 1


@pytest.mark.parametrize("name", ["quotes.csv", "set-aside.csv", "layouts.json", "rulings.csv"])
@pytest.mark.parametrize("change", ["altered", "gone"])
def test_a_changed_export_is_not_taken_for_the_book(makeworth, book, tmp_path, name, change):
    makeworth("export", tmp_path / "out", cwd=book)
    part = tmp_path / "out" / name
    if change == "gone":
        part.unlink()
    else:
        part.write_bytes(part.read_bytes() + b"x")
    with open_store(tmp_path / "new.db", create=True) as store:
        with pytest.raises(BadInput, match=name):
            restore_export(store, tmp_path / "out")
        assert list(every_quote(store)) == []


@pytest.mark.parametrize(
    ("row", "line"),
    [
        ("2026-09-02T12:00:00Z,lantern frame,nan,shell,ask,,,,", 2),
        ("2026-09-02T12:00:00Z,lantern frame,2.40,shell,ask,,,,", 2),
        ("2026-09-02T12:00:00Z,lantern frame,0,shell,ask,,,,", 2),
        ("2026-09-02T12:00:00Z,,2,shell,ask,,,,", 2),
        ("2026-09-02T12:00:00Z,a\x1b[2J,2,shell,ask,,,,", 2),
        ("2026-09-02T12:00:00Z,lantern frame,2,shell,asked,,,,", 2),
        ("2026-09-02T12:00:00Z,lantern frame,2,shell,ask,0,,,", 2),
        ("2026-09-02T12:00:00,lantern frame,2,shell,ask,,,,", 2),
        ("yesterday,lantern frame,2,shell,ask,,,,", 2),
        ("2026-09-02T12:00:00Z,lantern frame,1/0,shell,ask,,,,", 2),
        ("2026-09-02T12:00:00Z,lantern frame,2,shell", 2),
        ('"2026-09-02T12:00:00Z', 2),
    ],
)
def test_a_forged_export_is_refused_with_its_line(makeworth, book, tmp_path, row, line):
    makeworth("export", tmp_path / "out", cwd=book)
    forge(tmp_path / "out", "quotes.csv", f"at,item,price,money,side,qty,trader,source,note\n{row}")
    with open_store(tmp_path / "new.db", create=True) as store:
        with pytest.raises(BadInput, match="not as export writes it") as caught:
            restore_export(store, tmp_path / "out")
        assert caught.value.line == line
        assert list(every_quote(store)) == []


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("layouts.json", "[3]"),
        ("layouts.json", '[{"name": "x"}]'),
        ("layouts.json", "{"),
        ("rulings.csv", "fingerprint,verdict,at_us\nff,maybe,3"),
        ("set-aside.csv", "file,line\n"),
        ("export.json", "[]"),
        ("export.json", '{"makeworth_export": 99, "files": {}}'),
    ],
)
def test_other_forged_parts_are_refused(makeworth, book, tmp_path, name, content):
    makeworth("export", tmp_path / "out", cwd=book)
    forge(tmp_path / "out", name, content)
    with open_store(tmp_path / "new.db", create=True) as store:
        with pytest.raises(BadInput, match=name):
            restore_export(store, tmp_path / "out")
        assert list(every_quote(store)) == []
        assert saved_layouts(store) == []


def forge(folder, name, content):
    from advisor.tasks.exported_files import hash_of_file

    (folder / name).write_text(content, newline="")
    manifest = folder / "export.json"
    if name != "export.json":
        told = json.loads(manifest.read_text())
        told["files"][name]["sha256"] = hash_of_file(folder / name)
        manifest.write_text(json.dumps(told))


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        ((), 2, "missing argument"),
        (("gone/out",), 1, "is missing; make"),
        (("makeworth.toml",), 1, "a file of that name"),
        (("routes",), 1, "other files in it"),
        (("out", "-w", "nowhere"), 1, "names no folder"),
        (("out", "-w", "routes"), 1, "without makeworth.toml"),
        (("out", "more"), 2, "more"),
        (("out", "--salvag"), 2, "--salvag"),
    ],
)
def test_wrong_use_writes_nothing(makeworth, book, arguments, code, words):
    was = sorted(book.rglob("*"))
    done = makeworth("export", *arguments, cwd=book)
    assert done.code == code
    assert done.is_one_sentence()
    assert words in done.err
    assert sorted(book.rglob("*")) == was


def test_outside_a_workspace_the_way_to_one_is_told(makeworth, tmp_path):
    done = makeworth("export", "out", cwd=tmp_path)
    assert done.code == 1
    assert done.is_one_sentence()
    assert "makeworth start DIR" in done.err


def test_a_workspace_without_a_book_has_nothing_to_export(makeworth, workspace, tmp_path):
    (workspace / "book.db").unlink()
    done = makeworth("export", tmp_path / "out", cwd=workspace)
    assert done.code == 1
    assert "no book yet" in done.err
    assert not (tmp_path / "out").exists()


def test_a_damaged_book_is_refused_then_salvaged(makeworth, book, tmp_path):
    with open_store(book / "book.db") as store:
        add_quotes(store, [Quote(n, "clear flux", Fraction(n + 1), "shell") for n in range(900)])
    content = bytearray((book / "book.db").read_bytes())
    leaf = 0x0D  # SQLite database file format, section 1.6: a table's leaf page
    holds = [at for at in range(0, len(content), 4096) if b"511" in content[at : at + 4096]]
    victim = next(at for at in holds if content[at] == leaf)
    content[victim : victim + 4096] = b"\xa5" * 4096
    (book / "book.db").write_bytes(content)
    refused = makeworth("export", tmp_path / "out", cwd=book)
    assert refused.code == 1
    assert refused.is_one_sentence()
    assert "export DIR --salvage" in refused.err
    assert not (tmp_path / "out").exists()
    saved = makeworth("export", tmp_path / "out", "--salvage", cwd=book)
    assert saved.code == 0
    assert "could not be read" in saved.err
    with open_store(tmp_path / "new.db", create=True) as store:
        assert restore_export(store, tmp_path / "out").added > 500
