"""Feeds the importer damaged and random files: no fault of its own, no hang, no row lost.

Each input is a sound file with bytes changed, cut, doubled or mixed with another, or
plain noise. It must be read, or refused with BadInput. What is read must add up:
rows = added + known + set aside in the book, and in files without quotes every line
below the header that says something is one row. Every tenth input goes to the line
reader of `quote`. Run: python tests/bench/import_fuzz.py [INPUTS] [SEED]
"""

from __future__ import annotations

import json
import random
import re
import signal
import sys
import tempfile
import time
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC
from pathlib import Path
from zoneinfo import ZoneInfo

from advisor.book.batches import add_batch
from advisor.book.store import open_store
from advisor.errors import BadInput
from advisor.tasks.quote_lines import LineReader
from importers.delimited import DelimitedTable
from importers.files import open_reading, open_table
from importers.reading import ReadOptions
from importers.reasons import REASONS

SECONDS_AN_INPUT = 20
KNOWN = {"shell": "shell", "crown": "crown", "lantern frame": "lantern frame"}
OPTIONS = ReadOptions(money="shell", at_us=1_788_256_800_000_000, zone=UTC)
ZONES = (UTC, ZoneInfo("Europe/Lisbon"))

CELLS = [
    "lantern frame", "Lantern  Frame", "lantern fraem", "binding wax", "2.4", "2,4", "1 250,50",
    "1,250", "7/3", "2 crown", "2.5 crown / 12", "", "0", "-1", "nan", "inf", "1e400", "=1+1",
    "\x1b[31m", "\u202e", "2026-09-01", "03/04/2026", "25/04/2026", "46266.5", "1788256800", "ask",
    "wanted", "60", "1.5", "Total", "#", '"', '""', '"a""b"', "a\nb", "\ufeff", "\u00a0", "x" * 300,
    "<script>", "'; DROP TABLE quotes", "item", "price", "\U0001f56f", "\ud7ff", "9" * 50,
]  # fmt: skip
HEADERS = [
    "at,item,price,money,side,qty,trader,source,note",
    "item;price;qty",
    "Goods\tUnit cost\tWhen seen\tHow many",
    "Date|Time|Item|Price",
]


@dataclass
class Findings:
    """What came of the inputs."""

    outcomes: Counter[str] = field(default_factory=Counter)
    rows: int = 0
    faults: list[tuple[int, str, bytes]] = field(default_factory=list)


def sound_files(folder: Path) -> list[bytes]:
    """Files of every kind that the importer reads, as bytes."""
    import openpyxl
    import polars as pl

    rows = [
        {"item": "lantern frame", "price": 2.4, "qty": 60, "at": "2026-09-01T10:00:00Z"},
        {"item": "binding wax", "price": 1.125, "qty": None, "at": "2026-09-02"},
    ]
    book = openpyxl.Workbook()
    for row in (
        ["item", "price", "qty", "at"],
        ["wax", 2.4, 60, 44804.5],
        ["frame", "7/3", None, None],
        ["flux", "=1+1", "=A1", 44805],
    ):
        book.worksheets[0].append(row)
    book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    book.save(folder / "a.xlsx")
    pl.DataFrame(rows).write_parquet(folder / "a.parquet")
    samples = [path.read_bytes() for path in sorted(Path("importers/layouts").glob("*.csv"))]
    samples += [path.read_bytes()[:3000] for path in sorted(Path("sample_prices").rglob("*.csv"))]
    samples += [json.dumps(rows).encode(), "\n".join(map(json.dumps, rows)).encode()]
    samples += [samples[0].decode().encode("utf-16"), samples[1].decode().encode("cp1252")]
    return [*samples, (folder / "a.xlsx").read_bytes(), (folder / "a.parquet").read_bytes()]


def made_input(draw: random.Random, samples: list[bytes]) -> bytes:
    """One input: a table of odd cells, noise, or a sound file with damage done to it."""
    kind = draw.randrange(10)
    if kind == 0:
        return draw.randbytes(draw.randrange(400))
    if kind <= 4:
        return odd_table(draw)
    data = bytearray(draw.choice(samples))
    for _ in range(draw.choice([1, 1, 2, 5, 30])):
        damage(draw, data, samples)
    return bytes(data)


def odd_table(draw: random.Random) -> bytes:
    header = draw.choice(HEADERS)
    delimiter = next(each for each in ",;\t|" if each in header)
    width = header.count(delimiter) + 1
    lines = [header]
    for _ in range(draw.randrange(12)):
        cells = [
            draw.choice(CELLS) for _ in range(max(1, width + draw.choice([0, 0, 0, 0, -1, 1])))
        ]
        lines.append(delimiter.join(cells))
    ends = draw.choice(["\n", "\r\n", "\r"])
    text = ends.join(lines) + draw.choice(["", ends, ends * 3])
    return text.encode(draw.choice(["utf-8", "utf-8", "utf-16", "cp1252"]), errors="replace")


def damage(draw: random.Random, data: bytearray, samples: list[bytes]) -> None:
    """Change, cut, double or insert somewhere."""
    place = draw.randrange(len(data) + 1)
    length = draw.choice([1, 1, 2, 8, 100])
    act = draw.randrange(6)
    if act == 0:
        data[place : place + length] = draw.randbytes(length)
    elif act == 1:
        del data[place : place + length]
    elif act == 2:
        data[place:place] = data[place : place + length]
    elif act == 3:
        data[place:place] = draw.choice(CELLS).encode(errors="replace")
    elif act == 4:
        data[place:place] = draw.choice(
            [b'"', b",", b";", b"\n", b"\r", b"\t", b"#", b"\0", b"\xff"]
        )
    else:
        other = draw.choice(samples)
        start = draw.randrange(len(other) + 1)
        data[place : place + length] = other[start : start + length]


@contextmanager
def within_seconds(seconds: int):
    """Raises TimeoutError where the block takes longer."""

    def too_long(*_):
        raise TimeoutError(f"still busy after {seconds} s")

    before = signal.signal(signal.SIGALRM, too_long)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def drawn_options(draw: random.Random) -> ReadOptions:
    """What the user might have said; half of the time enough for any file to be decided."""
    return replace(
        OPTIONS,
        decimal=draw.choice([None, None, "point", "comma"]),
        date_order=draw.choice([None, "dmy", "mdy", "ymd"]),
        zone=draw.choice(ZONES),
    )


def read_one(path: Path, store, options: ReadOptions, findings: Findings) -> str:
    """Read one input into the book; says what came of it, raises where something is wrong."""
    try:
        reading = open_reading(path, options, known=KNOWN)
        chunks = list(reading.chunks)
    except BadInput as fault:
        assert str(fault)
        return "refused"
    rows = [line for chunk in chunks for line in chunk.rows["line"].to_list()]
    aside = [row for chunk in chunks for row in chunk.set_aside]
    assert all(row.reason in REASONS for row in aside)
    starts = rows + [row.line for row in aside]
    accounted(path, starts, reading.notes)
    result = add_batch(store, chunks, file=path.name, content_hash=None, layout=reading.layout)
    assert result.rows == result.added + result.known + result.set_aside == len(starts)
    findings.rows += len(starts)
    return "read" if rows else "nothing in it" if not aside else "all set aside"


def accounted(path: Path, starts: list[int], notes: list[str]) -> None:
    """In delimited text without quotes, every line below the header is one row."""
    table = open_table(path, OPTIONS)
    if not isinstance(table, DelimitedTable):
        return
    assert len(set(starts)) == len(starts), "a line counted twice"
    text = path.read_bytes().decode(table.encoding.codec, errors="replace")
    if '"' in text:
        return
    lines = re.split(r"\r\n|\n|\r", text)
    blank = re.compile(rf"[\s{re.escape(table.delimiter)}]*")
    said = {
        number
        for number, line in enumerate(lines, 1)
        if number >= table.first_row_line and not line.startswith("#") and not blank.fullmatch(line)
    }
    totals = {int(n) for note in notes for n in re.findall(r"line (\d+) is a total", note)}
    missing = said - set(starts) - totals
    assert not missing or len(totals) == 5, f"lines {sorted(missing)[:5]} are lost"
    assert set(starts) <= said, "rows that no line holds"


def read_line(draw: random.Random) -> str:
    """A line for `quote`, made of odd cells."""
    words = [draw.choice([*CELLS, "x60", "@", "60x", ";", ",", "wanted:"]) for _ in range(5)]
    line = " ".join(words[: draw.randrange(1, 6)])
    try:
        LineReader(KNOWN, draw.choice(["point", "comma", None])).read(line)
    except BadInput:
        return "line refused"
    return "line read"


def fuzz(inputs: int, seed: int) -> Findings:
    """Try so many inputs."""
    draw = random.Random(seed)
    findings = Findings()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        samples = sound_files(folder)
        with open_store(folder / "book.db", create=True) as store:
            # What is tried is the reading, not the disk.
            store.connection.execute("PRAGMA synchronous = OFF")
            for number in range(inputs):
                data = made_input(draw, samples)
                path = folder / "input"
                path.write_bytes(data)
                try:
                    with within_seconds(SECONDS_AN_INPUT):
                        if number % 10 == 9:
                            outcome = read_line(draw)
                        else:
                            outcome = read_one(path, store, drawn_options(draw), findings)
                except Exception as fault:
                    findings.faults.append((number, f"{type(fault).__name__}: {fault}", data))
                    outcome = "fault"
                findings.outcomes[outcome] += 1
    return findings


def main() -> int:
    inputs = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    start = time.perf_counter()
    findings = fuzz(inputs, seed)
    print(f"{inputs} inputs, seed {seed}, {time.perf_counter() - start:.0f} s")
    for outcome, count in findings.outcomes.most_common():
        print(f"  {outcome:<16} {count:>7}")
    print(f"  rows accounted   {findings.rows:>7}")
    for number, what, data in findings.faults[:20]:
        print(f"input {number}: {what}\n    {data[:300]!r}")
    return 1 if findings.faults else 0


if __name__ == "__main__":
    sys.exit(main())
