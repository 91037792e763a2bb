"""A report folder: whole pages only, changed ones only, and nobody else's files."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from advisor.errors import BadInput
from reports.write import write_report


def names(paths):
    return sorted(path.name for path in paths)


@pytest.fixture
def written(report, tmp_path):
    return write_report(tmp_path / "reports", report)


def test_everything_that_a_page_names_is_beside_it(written):
    folder = written.index.parent
    assert names(folder.iterdir()) == names(written.written)
    assert {"index.html", "report.css", "charts.js", "plotly.min.js"} < set(names(written.written))
    assert sum(path.suffix == ".js" and "plotly" in path.name for path in folder.iterdir()) == 1
    assert (folder / "plotly.min.js").read_text(encoding="utf-8").startswith("/**\n* plotly.js")


def test_the_same_report_again_writes_nothing(written, report):
    again = write_report(written.index.parent, report)
    assert again.written == again.removed == ()
    assert names(again.unchanged) == names(written.written)


def test_only_pages_whose_data_changed_are_written(written, report):
    page = report.items[0]
    prices = {**page.prices, "quotes": page.prices["quotes"] + 1}
    changed = dataclasses.replace(page, prices=prices)
    items = (changed, *report.items[1:])
    again = write_report(written.index.parent, dataclasses.replace(report, items=items))
    touched = ["index.html", "item-lantern-frame.html", "piece-storm-lantern.html"]
    assert names(again.written) == touched


def test_pages_of_what_is_gone_are_removed_and_nothing_else(written, report):
    folder = written.index.parent
    (folder / "item-my-own.html").write_text("<p>mine</p>")
    (folder / "notes.txt").write_text("mine")
    again = write_report(folder, dataclasses.replace(report, items=report.items[1:]))
    assert names(again.removed) == ["item-lantern-frame.html"]
    assert not (folder / "item-lantern-frame.html").exists()
    assert (folder / "item-my-own.html").exists()
    assert (folder / "notes.txt").exists()


def test_a_fault_while_moving_leaves_the_old_page_whole(written, report, monkeypatch):
    folder = written.index.parent
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    def fail(self, target):
        raise OSError(28, "No space left on device", str(target))

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(BadInput, match="No space left on device"):
        write_report(folder, dataclasses.replace(report, money="crown"))
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_report_that_cannot_be_drawn_touches_nothing(written, report):
    folder = written.index.parent
    before = names(folder.iterdir())
    broken = dataclasses.replace(report.items[0], prices={"item": "half an answer"})
    with pytest.raises(Exception, match="has no attribute"):
        write_report(folder, dataclasses.replace(report, items=(broken,)))
    assert names(folder.iterdir()) == before


def test_a_folder_that_is_a_file_is_told_in_one_sentence(report, tmp_path):
    taken = tmp_path / "reports"
    taken.write_text("mine")
    with pytest.raises(BadInput) as told:
        write_report(taken, report)
    assert str(taken) in str(told.value)
    assert "name a folder that can be written to" in str(told.value)
    assert taken.read_text() == "mine"
