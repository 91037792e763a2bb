"""What taking in a canonical CSV costs, from the file to the indexed book, and how much memory.

The plain way: parse the same file with polars and insert the same rows with the
sqlite3 module's executemany into the same indexed table; names, ids and
fingerprints ready-made for nothing. Both run in turn in one process; the ratio is
of the medians. Peak memory is of a fresh process each, for a file and for one three
times as long. Run: python tests/bench/import_speed.py [ROWS] [ROUNDS]
"""

from __future__ import annotations

import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ITEMS = [f"lantern part {chr(97 + n // 26)}{chr(97 + n % 26)}" for n in range(200)]
TRADERS = [f"trader {n}" for n in range(300)]
SIDES = ("ask", "bid", "deal")
HEADER = "at,item,price,money,side,qty,trader,source,note\n"
START = 1_756_000_000


def write_quotes(path: Path, rows: int) -> None:
    draw = random.Random(11)
    with path.open("w", encoding="utf-8") as file:
        file.write(HEADER)
        for number in range(rows):
            stamp = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(START + 7 * number))
            price = draw.randrange(100, 100_000) / 100
            file.write(
                f"{stamp},{draw.choice(ITEMS)},{price},{draw.choice(('shell', 'crown'))},"
                f"{draw.choice(SIDES)},{draw.randrange(1, 100)},{draw.choice(TRADERS)},board,\n"
            )


def plain_way(csv: Path, folder: Path, fingerprints: list[bytes]) -> None:
    import polars as pl

    from advisor.book.batches import INSERT_QUOTE
    from advisor.book.store import open_store

    with open_store(folder / "plain.db", create=True) as store:
        connection = store.connection
        connection.execute("BEGIN IMMEDIATE")
        names = [*ITEMS, "shell", "crown"]
        connection.executemany("INSERT INTO items (name, key) VALUES (?1, ?1)", zip(names))
        connection.executemany("INSERT INTO traders (name, key) VALUES (?1, ?1)", zip(TRADERS))
        connection.execute("INSERT INTO batches (file, layout, at_us) VALUES ('', '', 0)")
        quotes = pl.read_csv(csv, try_parse_dates=True)
        item_ids = {name: place for place, name in enumerate(names, 1)}
        trader_ids = {name: place for place, name in enumerate(TRADERS, 1)}
        side_ids = {name: place for place, name in enumerate(SIDES)}
        connection.executemany(
            INSERT_QUOTE,
            zip(
                quotes["item"].replace_strict(item_ids).to_list(),
                quotes["at"].dt.timestamp("us").to_list(),
                quotes["price"].cast(pl.String).to_list(),
                quotes["price"].to_list(),
                quotes["money"].replace_strict(item_ids).to_list(),
                quotes["side"].replace_strict(side_ids).to_list(),
                quotes["qty"].to_list(),
                quotes["trader"].replace_strict(trader_ids).to_list(),
                quotes["source"].to_list(),
                quotes["note"].to_list(),
                [1] * quotes.height,
                fingerprints,
                strict=True,
            ),
        )
        connection.execute("COMMIT")


def our_way(csv: Path, folder: Path) -> None:
    from advisor.tasks.importing import import_file
    from advisor.tasks.workspace import open_workspace

    report = import_file(open_workspace(str(folder)), csv)
    print(f"{'':<12}{report.rows} rows, {report.added} added, {report.set_aside_count} set aside")


def read_only(csv: Path) -> None:
    from importers.files import open_reading
    from importers.reading import ReadOptions

    options = ReadOptions(money="shell", at_us=0)
    for _ in open_reading(csv, options, known={}).chunks:
        pass


def timed(what: str, work: Callable[[], None]) -> tuple[float, float]:
    """Seconds that passed, and seconds that this process computed."""
    start, computed = time.perf_counter(), time.process_time()
    work()
    took = time.perf_counter() - start, time.process_time() - computed
    print(f"{what:<44} {took[0]:8.2f} s, {took[1]:6.2f} s of computing", flush=True)
    return took


def new_workspace(folder: Path, name: str) -> Path:
    place = folder / name
    place.mkdir()
    (place / "makeworth.toml").write_text('money = "shell"\ntimezone = "UTC"\n')
    return place


def peak_megabytes(csv: Path, workspace: Path) -> float:
    # Of its memory since it began: what getrusage tells may be its parent's.
    code = (
        "import sys; from pathlib import Path;"
        "from advisor.tasks.importing import import_file;"
        "from advisor.tasks.workspace import open_workspace;"
        "import_file(open_workspace(sys.argv[2]), Path(sys.argv[1]));"
        "status = Path('/proc/self/status').read_text();"
        "print(int(status.split('VmHWM:')[1].split()[0]) / 1024)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(csv), str(workspace)],
        capture_output=True,
        text=True,
        check=True,
    )
    return float(done.stdout)


def main() -> None:
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        csv = folder / "quotes.csv"
        write_quotes(csv, rows)
        draw = random.Random(5)
        fingerprints = [draw.randbytes(16) for _ in range(rows)]
        print(f"{rows} rows, {csv.stat().st_size / 1e6:.0f} MB")
        plain, ours = [], []
        for number in range(rounds):
            (folder / f"plain{number}").mkdir()
            plain_folder = folder / f"plain{number}"
            plain.append(
                timed("plain way", lambda: plain_way(csv, plain_folder, fingerprints))  # noqa: B023
            )
            workspace = new_workspace(folder, f"ours{number}")
            ours.append(timed("our way", lambda: our_way(csv, workspace)))  # noqa: B023
        timed("of which reading the file, book apart", lambda: read_only(csv))
        for place, what in enumerate(("time passed", "computing")):
            median_ours = statistics.median(each[place] for each in ours)
            median_plain = statistics.median(each[place] for each in plain)
            print(f"{f'ratio of the medians, {what}':<44} {median_ours / median_plain:8.2f}")
        short = peak_megabytes(csv, new_workspace(folder, "short"))
        write_quotes(csv, 3 * rows)
        long = peak_megabytes(csv, new_workspace(folder, "long"))
        print(f"{'peak memory':<44} {short:8.0f} MB")
        print(f"{'peak memory, three times the rows':<44} {long:8.0f} MB")


if __name__ == "__main__":
    main()
