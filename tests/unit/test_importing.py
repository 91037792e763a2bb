"""Taking in a file: progress is told, the report stays bounded, nothing is half-written."""

from __future__ import annotations

import os

import pytest

import importers.delimited
from advisor.book.history import list_batches, list_set_aside
from advisor.errors import BadInput
from advisor.tasks import importing
from advisor.tasks.importing import import_file
from advisor.tasks.workspace import open_workspace


@pytest.fixture
def place(tmp_path):
    (tmp_path / "makeworth.toml").write_text(
        'money = "shell"\ntimezone = "UTC"\n', encoding="utf-8"
    )
    return open_workspace(str(tmp_path))


def small_blocks(monkeypatch):
    monkeypatch.setattr(importers.delimited, "BLOCK_BYTES", 200)


def test_progress_is_told_as_the_file_is_read(place, tmp_path, monkeypatch):
    small_blocks(monkeypatch)
    path = tmp_path / "prices.csv"
    path.write_text("item,price\n" + "wax,2.5\nflux,1.5\n" * 50, encoding="utf-8")
    shares: list[float] = []
    report = import_file(place, path, on_progress=shares.append)
    assert (report.rows, report.added, report.known) == (100, 2, 98)
    assert shares == sorted(shares) and shares[-1] == 1.0 and len(shares) > 3


def test_a_report_of_very_many_bad_rows_stays_short_and_the_book_keeps_all(
    place, tmp_path, monkeypatch
):
    monkeypatch.setattr(importing, "MOST_ROWS_TOLD", 3)
    path = tmp_path / "prices.csv"
    path.write_text("item,price\n" + "wax,-1\n" * 20, encoding="utf-8")
    report = import_file(place, path)
    assert len(report.set_aside) == 3
    assert report.set_aside_count == report.rows == 20


def test_a_contradiction_far_down_takes_everything_back(place, tmp_path, monkeypatch):
    small_blocks(monkeypatch)
    path = tmp_path / "prices.csv"
    path.write_text("item;price\n" + "wax;2.5\n" * 500 + "wax;2,5\n", encoding="utf-8")
    with pytest.raises(BadInput, match="--decimal"):
        import_file(place, path)
    with place.open_book() as store:
        assert list_batches(store) == []


def test_what_a_batch_changes_beside_its_rows_is_part_of_it(place, tmp_path, monkeypatch):
    """A fault, as a kill would, between the rows and the note that earlier ones are taken."""
    path = tmp_path / "prices.csv"
    path.write_text("item,price\nwax,2.5\nflux,-1\n", encoding="utf-8")
    import_file(place, path)
    path.write_text("item,price\nwax,2.5\nflux,1\n", encoding="utf-8")
    os.utime(path, (1_700_000_000, 1_700_000_000))

    def cut_off(*_, **__):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(importing, "_note_beside", cut_off)
        with pytest.raises(KeyboardInterrupt):
            import_file(place, path)
    with place.open_book() as store:
        assert len(list_batches(store)) == 1
        assert len(list_set_aside(store)) == 1


def test_an_open_cell_far_up_is_decided_far_down(place, tmp_path, monkeypatch):
    small_blocks(monkeypatch)
    path = tmp_path / "prices.csv"
    rows = "wax;1.250;03/04/2026\n" * 200 + "flux;2,5;25/04/2026\n"
    path.write_text("item;price;at\n" + rows, encoding="utf-8")
    report = import_file(place, path)
    assert (report.added, report.set_aside_count) == (2, 0)
    assert any("dmy" in note for note in report.notes)


def test_a_file_with_nothing_below_its_header_says_so(place, tmp_path):
    path = tmp_path / "prices.csv"
    path.write_text("item,price\n", encoding="utf-8")
    report = import_file(place, path)
    assert report.rows == 0
    assert "no rows below the header" in report.notes
