"""One watch a workspace, whoever died; and what it writes down."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

import pytest

from advisor.errors import BadInput, CannotAnswer
from advisor.watch import journal as journal_module
from advisor.watch.hold import find_holder, hold_workspace
from advisor.watch.journal import Journal

HOLD_UNTIL_KILLED = """
import sys, time
from pathlib import Path
from advisor.watch.hold import hold_workspace
with hold_workspace(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def test_a_second_watch_is_told_who_the_first_is(tmp_path):
    assert find_holder(tmp_path) is None
    with hold_workspace(tmp_path):
        assert find_holder(tmp_path).pid == os.getpid()
        with (
            pytest.raises(CannotAnswer, match=f"process {os.getpid()} on"),
            hold_workspace(tmp_path, pause=lambda _: None),
        ):
            pass
        assert find_holder(tmp_path).pid == os.getpid()
    assert find_holder(tmp_path) is None
    with hold_workspace(tmp_path):
        pass


def test_what_a_killed_watch_held_is_taken_over(tmp_path):
    other = subprocess.Popen(
        [sys.executable, "-c", HOLD_UNTIL_KILLED, tmp_path], stdout=subprocess.PIPE
    )
    with other:
        assert other.stdout.readline() == b"held\n"
        assert find_holder(tmp_path).pid == other.pid
        other.send_signal(signal.SIGKILL)
    assert find_holder(tmp_path) is None
    with hold_workspace(tmp_path) as holder:
        assert holder.pid == os.getpid()


def test_a_watch_folder_that_leads_elsewhere_is_refused(tmp_path, tmp_path_factory):
    (tmp_path / "watch").symlink_to(tmp_path_factory.mktemp("elsewhere"))
    with pytest.raises(BadInput, match="no folder"), hold_workspace(tmp_path):
        pass


def test_an_event_is_one_line_with_time_level_and_subject(tmp_path):
    seen = []
    journal = Journal(tmp_path, on_event=seen.append, secrets=lambda: ["json://u:pw@host/"])
    journal.tell("warning", "inbox", "a\nb\x1b[2J sent to json://u:pw@host/")
    journal.close()
    (line,) = (tmp_path / "log.txt").read_text().splitlines()
    time, level, subject, words = line.split(maxsplit=3)
    assert (len(time), time[-1], level, subject) == (20, "Z", "warning", "inbox")
    assert words == r"a\x0ab\x1b[2J sent to (address)"
    assert "pw" not in seen[0].line


def test_the_log_starts_anew_when_it_is_full(tmp_path, monkeypatch):
    monkeypatch.setattr(journal_module, "LARGEST_BYTES", 2000)
    journal = Journal(tmp_path)
    for number in range(500):
        journal.tell("info", "inbox", f"event {number} " + "x" * 50)
    journal.close()
    files = sorted(each.name for each in tmp_path.iterdir())
    assert files == ["log.txt", *(f"log.txt.{number}" for number in range(1, 6))]
    assert all(each.stat().st_size <= 2000 for each in tmp_path.iterdir())
    assert "event 499" in (tmp_path / "log.txt").read_text()


def test_a_log_that_cannot_be_written_stops_nobody(tmp_path, capfd):
    seen = []
    journal = Journal(tmp_path / "gone", on_event=seen.append)
    journal.tell("info", "inbox", "words")
    assert len(seen) == 1
    assert "Traceback" not in "".join(capfd.readouterr())
