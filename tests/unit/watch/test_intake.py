"""The inbox job: one file that fails keeps none of the others waiting."""

from __future__ import annotations

import threading

import pytest

from advisor.errors import BookFault
from advisor.tasks.inbox import Taken
from advisor.tasks.inbox_look import InboxLook
from advisor.tasks.starting import start_workspace
from advisor.tasks.workspace import open_workspace
from advisor.watch import intake as intake_module
from advisor.watch.intake import Intake
from advisor.watch.journal import Journal

PRICES = "item,price\nbinding wax,7/3\n"


class Bench:
    """The job with a clock that the test moves, and what it said."""

    def __init__(self, folder):
        start_workspace(folder, timezone="UTC")
        self.place, self.now, self.said = open_workspace(str(folder)), 0.0, []
        (folder / "watch").mkdir()
        journal = Journal(folder / "watch", on_event=lambda event: self.said.append(event.words))
        look = InboxLook(self.place.inbox, folder)
        self.intake = Intake(look, journal, threading.Event(), lambda: self.now)

    def round(self, seconds=5.0):
        self.now += seconds
        self.said.clear()
        self.intake.take_all(self.place, lambda _: None)
        return list(self.said)


@pytest.fixture
def bench(tmp_path):
    made = Bench(tmp_path / "fen")
    for name in ("a.csv", "b.csv"):
        (made.place.inbox / name).write_text(PRICES)
    made.round()
    yield made
    made.intake.journal.close()


def failing_for(name, fault, monkeypatch):
    real, tries = intake_module.take_in, []

    def take_in(place, lying, **more):
        if lying.path.name == name:
            tries.append(name)
            raise fault
        return real(place, lying, **more)

    monkeypatch.setattr(intake_module, "take_in", take_in)
    return tries


def test_a_file_that_cannot_be_read_is_tried_again_with_growing_pauses(bench, monkeypatch):
    tries = failing_for("a.csv", PermissionError(13, "Permission denied"), monkeypatch)
    said = bench.round()
    assert [words.split(":")[0] for words in said] == ["a.csv", "b.csv"]
    assert "tried again in 30 s" in said[0]
    assert bench.round(29.0) == []
    assert "tried again in 60 s" in bench.round(1.0)[0]
    assert bench.round(59.0) == []
    assert "tried again in 120 s" in bench.round(1.0)[0]
    assert len(tries) == 3
    monkeypatch.undo()
    assert "done/a.csv" in bench.round(120.0)[0]


def test_a_file_that_makeworth_falls_over_is_refused_in_the_end(bench, monkeypatch):
    failing_for("a.csv", ZeroDivisionError("oh"), monkeypatch)
    bench.round()
    bench.round(40.0)
    (said,) = bench.round(100.0)
    assert "a fault of Makeworth itself: ZeroDivisionError: oh -> inbox/refused/a.csv" in said
    reason = (bench.place.inbox / "refused/a.csv.reason.txt").read_text()
    assert "ZeroDivisionError" in reason


def test_without_the_book_nothing_is_taken_and_nothing_refused(bench, monkeypatch):
    tries = failing_for("a.csv", BookFault("no room left on the disk"), monkeypatch)
    with pytest.raises(BookFault):
        bench.round()
    assert tries == ["a.csv"]
    assert sorted(each.name for each in bench.place.inbox.iterdir()) == ["a.csv", "b.csv"]


def test_when_asked_to_stop_it_takes_no_further_file(bench, monkeypatch):
    def take_in(place, lying, **more):
        bench.intake.stop.set()
        return Taken(lying.path.name, "done/a.csv", 1, "1 quote new")

    monkeypatch.setattr(intake_module, "take_in", take_in)
    assert len(bench.round()) == 1
