"""Killed at any moment and started again: no file is lost and none is taken in twice.

A hundred kills of the whole command, with files that are written meanwhile, are in
tests/bench/watch_kills.py; here a few of the inbox job alone.
"""

from __future__ import annotations

import random
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

from advisor.book.history import list_batches
from advisor.book.store import open_store
from advisor.book.whole_book import every_quote
from advisor.tasks.starting import start_workspace

INTAKE = Path(__file__).with_name("intake_until_killed.py")
KILLS = 5
ROWS = 300


def content(number):
    rows = (
        f"2026-11-02T20:{k // 60:02}:{k % 60:02}Z,wax,{number + 1}.{k + 1}" for k in range(ROWS)
    )
    return "\n".join(["at,item,price", *rows, ""])


def test_no_kill_loses_a_file_or_takes_one_in_twice(tmp_path):
    folder, draw = tmp_path / "fen", random.Random(3)
    start_workspace(folder, timezone="UTC")
    put = 0
    for _ in range(KILLS):
        for name in ("a.csv", "b.csv", "c.csv"):
            if not (folder / "inbox" / name).exists():
                (folder / "inbox" / f".{name}").write_text(content(put))
                (folder / "inbox" / f".{name}").rename(folder / "inbox" / name)
                put += 1
        with subprocess.Popen([sys.executable, INTAKE, folder], stdout=subprocess.PIPE) as intake:
            assert intake.stdout.readline() == b"ready\n"
            time.sleep(draw.uniform(0.05, 0.6))
            intake.kill()
    subprocess.run([sys.executable, INTAKE, folder, "20"], check=True, capture_output=True)
    done = Counter(each.read_text() for each in (folder / "inbox/done").iterdir())
    assert done == Counter(content(number) for number in range(put))
    assert [each.name for each in (folder / "inbox").iterdir()] == ["done"]
    with open_store(folder / "book.db") as store:
        assert len(list_batches(store)) == put
        assert len(list(every_quote(store))) == put * ROWS
