"""Whatever is taken in, undone, exported and taken in again: nothing lost, nothing twice."""

from __future__ import annotations

import tempfile
from fractions import Fraction
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.book.batches import add_batch, add_quotes, undo_batch
from advisor.book.columns import hand_chunk
from advisor.book.history import list_set_aside
from advisor.book.layouts import save_layout, saved_layouts
from advisor.book.rulings import rule_quote, ruled_quotes
from advisor.book.series import read_series
from advisor.book.store import open_store
from advisor.book.whole_book import every_quote
from advisor.names import name_key
from advisor.quotes import Quote
from advisor.tasks.exporting import export_book
from advisor.tasks.restoring import restore_export

NAMES = st.text(
    st.characters(categories=("L", "M", "N", "P", "S", "Zs")), min_size=1, max_size=12
).filter(lambda name: name_key(name) and " ".join(name.split()).isprintable())
TEXTS = st.none() | st.text(max_size=20)
QUOTES = st.builds(
    Quote,
    at_us=st.integers(-(10**15), 7 * 10**15),
    item=NAMES,
    price=st.fractions(min_value=Fraction(1, 10**9), max_value=10**12),
    money=NAMES,
    side=st.sampled_from(["ask", "bid", "deal"]),
    qty=st.none() | st.integers(1, 10**9),
    trader=st.none() | NAMES,
    source=TEXTS,
    note=TEXTS,
)
SET_ASIDE = st.tuples(
    st.integers(1, 10**6), st.none() | st.just("price"), st.just("empty"), st.text(max_size=20)
)
HEADERS = st.lists(st.text(max_size=5), min_size=1, max_size=4)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(QUOTES, max_size=12),
    st.lists(SET_ASIDE, max_size=4),
    st.dictionaries(NAMES, HEADERS, max_size=2),
    st.lists(st.sampled_from(["keep", "drop"]), max_size=2),
    st.booleans(),
)
def test_an_exported_book_comes_back_the_same(quotes, aside, layouts, verdicts, lifted):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "makeworth.toml").write_text('money = "shell"')
        with open_store(folder / "book.db", create=True) as old:
            chunk = type("Chunk", (), {"rows": hand_chunk(quotes).rows, "set_aside": aside})
            add_batch(old, [chunk], file="f.csv", content_hash=b"f", layout="canonical")
            for layout, header in layouts.items():
                save_layout(old, layout, header=header, columns={"item": header[0]})
            for verdict in [*verdicts, None] if lifted and verdicts else verdicts:
                if quotes:
                    rule_quote(old, 1, verdict=verdict)
        export_book(str(folder), folder / "out")
        with (
            open_store(folder / "book.db") as old,
            open_store(folder / "new.db", create=True) as new,
        ):
            result = restore_export(new, folder / "out")
            assert result.known == 0
            assert list(every_quote(new)) == list(every_quote(old))
            assert saved_layouts(new) == saved_layouts(old)
            assert list(ruled_quotes(new).values()) == list(ruled_quotes(old).values())
            asides = [
                [
                    (row.file, row.content_hash, row.line, row.column, row.reason, row.text)
                    for row in rows
                ]
                for rows in (list_set_aside(new), list_set_aside(old))
            ]
            assert asides[0] == asides[1]


# Few different quotes, so that batches overlap.
NUMBERS = st.lists(st.integers(0, 9), max_size=6)
STEPS = st.lists(
    st.tuples(st.just("add"), NUMBERS) | st.tuples(st.just("undo"), st.integers(0, 9)),
    max_size=12,
)


def numbered(number: int) -> Quote:
    return Quote(number, "lantern frame", Fraction(number + 1), "shell")


@settings(max_examples=60, deadline=None)
@given(STEPS)
def test_a_quote_is_there_while_any_batch_that_had_it_is(steps):
    """Against a book of plain sets: a quote is in it if a batch not taken back had it."""
    batches: list[set[int] | None] = []
    with (
        tempfile.TemporaryDirectory() as name,
        open_store(Path(name) / "book.db", create=True) as store,
    ):
        for kind, what in steps:
            before = set().union(*(batch for batch in batches if batch))
            if kind == "add":
                result = add_quotes(store, [numbered(number) for number in what])
                batches.append(set(what))
                assert result.added == len(set(what) - before)
                assert result.added + result.known == len(what)
            elif what < len(batches) and batches[what] is not None:
                gone = undo_batch(store, what + 1)
                batches[what] = None
                after = set().union(*(batch for batch in batches if batch))
                assert gone.removed == len(before - after)
            expected = set().union(*(batch for batch in batches if batch))
            series = read_series(store).get("lantern frame")
            assert (set() if series is None else set(series.at_us.tolist())) == expected
