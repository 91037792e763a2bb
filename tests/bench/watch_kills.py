"""Kills `makeworth watch` with SIGKILL at moments drawn at random while files come in.

Some files are moved in whole, one a round is written slowly, by its writer, across
kills. At the end every file must lie in inbox/done once, byte for byte, and the book
must hold every quote once, from one batch a file.
Run: python tests/bench/watch_kills.py [KILLS [SEED]]
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

from advisor.book.history import list_batches
from advisor.book.store import open_store
from advisor.book.whole_book import every_quote
from advisor.tasks.starting import start_workspace
from advisor.times import us_to_rfc3339

MAKEWORTH = str(Path(sys.executable).with_name("makeworth"))
ROWS_A_FILE = 5_000
NAMES = 4
FIRST_US = 1_780_000_000_000_000
AFTER_A_FILE, SHORTLY = 0.6, 0.6
"""So often the kill comes within so many seconds after the first file of a round."""

LATEST_KILL = 6.0
"""Seconds after the watch has begun."""


def content(number: int) -> str:
    first = FIRST_US + number * ROWS_A_FILE
    rows = (
        f"{us_to_rfc3339(n)},lantern frame,{n % 977 + 1}.25,{n % 60 + 1}\n"
        for n in range(first, first + ROWS_A_FILE)
    )
    return "at,item,price,qty\n" + "".join(rows)


def move_in(inbox: Path, number: int) -> None:
    aside = inbox / f".prices-{number}.csv"
    aside.write_text(content(number))
    aside.rename(inbox / name_of(number))


def write_slowly(inbox: Path, number: int, seconds: float) -> None:
    text = content(number)
    with (inbox / name_of(number)).open("w") as stream:
        for part in range(10):
            stream.write(text[part * len(text) // 10 : (part + 1) * len(text) // 10])
            stream.flush()
            time.sleep(seconds / 10)


def name_of(number: int) -> str:
    """Names come again and again: the same name twice is no loss."""
    return f"prices-{number % NAMES}.csv"


def main() -> None:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    draw = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 12)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "fen"
        start_workspace(folder, timezone="UTC")
        files, last = 0, Counter()
        for _ in range(kills):
            files, said = one_round(folder, files, draw)
            last[said] += 1
        finish(folder)
        judge(folder, files)
        print(f"{kills} kills; the last words before them:")
        for said, count in last.most_common():
            print(f"{count:5} {said}")


def one_round(folder: Path, files: int, draw: random.Random) -> tuple[int, str]:
    """Put files down, start a watch, and kill it: some time after it began, or after a file."""
    inbox, writers = folder / "inbox", []
    for place in range(NAMES):
        if (inbox / name_of(files)).exists():
            break
        if place == NAMES - 1:
            slow = (inbox, files, draw.uniform(0.5, 3))
            writers.append(threading.Thread(target=write_slowly, args=slow))
        else:
            move_in(inbox, files)
        files += 1
    said = []
    with subprocess.Popen([MAKEWORTH, "-w", folder, "watch"], stdout=subprocess.PIPE) as watch:
        for writer in writers:
            writer.start()
        said.append(watch.stdout.readline().decode())
        if draw.random() < AFTER_A_FILE:
            said.append(watch.stdout.readline().decode())
            time.sleep(draw.uniform(0, SHORTLY))
        else:
            time.sleep(draw.uniform(0, LATEST_KILL))
        watch.kill()
        said += watch.stdout.read().decode().strip().splitlines()
    for writer in writers:
        writer.join()
    return files, " ".join([line for line in said if line][-1].split()[2:4]).partition("-")[0]


def finish(folder: Path) -> None:
    for _ in range(20):
        subprocess.run(
            [MAKEWORTH, "-w", folder, "watch", "--once"], check=True, capture_output=True
        )
        if not [each for each in (folder / "inbox").iterdir() if each.is_file()]:
            return
    raise SystemExit("files are left in the inbox")


def judge(folder: Path, files: int) -> None:
    done = Counter(each.read_text() for each in (folder / "inbox/done").iterdir())
    expected = Counter(content(number) for number in range(files))
    with open_store(folder / "book.db") as store:
        sound = store.connection.execute("PRAGMA integrity_check").fetchone()[0]
        times = Counter(quote.at_us for quote in every_quote(store))
        batches = list_batches(store)
    wanted = range(FIRST_US, FIRST_US + files * ROWS_A_FILE)
    print(f"{files} files of {ROWS_A_FILE} quotes; book {sound}")
    print(f"lost: {len(expected - done)}; twice in done: {len(done - expected)}")
    print(
        f"quotes lost: {len(set(wanted) - set(times))}; twice: {sum(times.values()) - len(times)}"
    )
    print(
        f"batches: {len(batches)}; of which took something in: {sum(b.added > 0 for b in batches)}"
    )


if __name__ == "__main__":
    main()
