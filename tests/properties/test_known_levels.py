"""What the book remembers of prices never changes an answer, not by a bit, whatever was edited."""

from __future__ import annotations

import json
import tempfile
from dataclasses import fields, is_dataclass
from fractions import Fraction
from pathlib import Path
from unittest.mock import patch

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.book.batches import add_quotes, undo_batch
from advisor.book.known_levels import KnownLevels
from advisor.book.rulings import rule_quote
from advisor.levels.market import prices_json
from advisor.levels.series import ASK, BID, DEAL
from advisor.quotes import MICROSECONDS_A_DAY, SIDES, Quote
from advisor.tasks.pricing import read_pricing
from advisor.tasks.workspace import open_workspace
from advisor.times import us_to_rfc3339

DAY = MICROSECONDS_A_DAY
START_US = 20_000 * DAY
ITEMS = ("crown", "lantern frame", "river frame", "binding wax", "scrap glass")
FEE = ('sale_fee = "5 %"', 'sale_fee = "0 %"')
STALL = ("", 'stall = "Jory Fen"', 'stall = "nettie sedge"')
FAMILY = ('family = "frames"', 'family = "waxes"')

quotes = st.builds(
    Quote,
    at_us=st.integers(0, 60).map(lambda day: START_US + day * DAY // 2),
    item=st.sampled_from(ITEMS),
    price=st.integers(1, 400).map(lambda tenths: Fraction(tenths, 10)),
    money=st.sampled_from(["shell", "shell", "shell", "crown"]),
    side=st.sampled_from(["ask", "ask", *SIDES]),
    qty=st.sampled_from([None, 3, 20]),
    trader=st.sampled_from([None, "Jory Fen", "Nettie Sedge"]),
    source=st.none(),
    note=st.none(),
)
edits = st.one_of(
    st.tuples(st.just("quote"), st.lists(quotes, min_size=1, max_size=6)),
    st.tuples(st.just("undo"), st.integers(1, 8)),
    st.tuples(st.sampled_from(["keep", "drop", "lift"]), st.integers(1, 20)),
    st.tuples(st.just("settings"), st.tuples(*map(st.sampled_from, (FEE, FAMILY, STALL)))),
    st.tuples(st.just("as of"), st.integers(1, 40)),
)


def write_settings(folder, fee, family, stall):
    (folder / "makeworth.toml").write_text(
        f'money = "shell"\ntimezone = "UTC"\n[trade]\n{fee}\n{stall}\n'
        '[[season]]\nname = "spring"\nstart = 2024-09-01\nend = 2024-10-12\n'
        '[[season]]\nname = "autumn"\nstart = 2024-10-13\nend = 2024-12-20\n'
        f'[item."lantern frame"]\n{family}\n[item."river frame"]\nfamily = "frames"\n'
        '[item."binding wax"]\nfamily = "waxes"\nusual_qty = 5\n'
    )


def edit(folder, what, value):
    if what == "settings":
        write_settings(folder, *value)
        return
    with open_workspace(str(folder)).open_book() as store, store.writing():
        if what == "quote":
            add_quotes(store, [each for each in value if each.money != each.item])
        elif what == "undo":
            known = store.connection.execute(
                "SELECT id FROM batches WHERE undone_us IS NULL ORDER BY id LIMIT 1 OFFSET ?",
                (value,),
            ).fetchone()
            if known:
                undo_batch(store, known[0])
        else:
            row = store.connection.execute(
                "SELECT id FROM quotes ORDER BY id LIMIT 1 OFFSET ?", (value,)
            ).fetchone()
            ruled = store.connection.execute("SELECT count(*) FROM rulings").fetchone()[0]
            if row and what != "lift":
                rule_quote(store, row[0], verdict=what)
            elif ruled:
                (quote,) = store.connection.execute(
                    "SELECT quotes.id FROM quotes JOIN rulings USING (fingerprint)"
                ).fetchone() or (None,)
                if quote is not None:
                    rule_quote(store, quote, verdict=None)


def spell(value):
    """A value with every bit of its numbers, down to the arrays."""
    if isinstance(value, np.ndarray):
        return value.dtype.str, value.shape, value.tobytes()
    if is_dataclass(value):
        return [(each.name, spell(getattr(value, each.name))) for each in fields(value)]
    if isinstance(value, float):
        return value.hex()
    return repr(value)


def whole_answer(folder, as_of):
    market = read_pricing(open_workspace(str(folder)), as_of=as_of).market
    items = [spell(market.items[name]) for name in market.items]
    looks = [
        spell(market.items.looks(name, side)) for name in market.items for side in (ASK, BID, DEAL)
    ]
    return json.dumps(prices_json(market)), items, looks, market.cautions, repr(market.shared)


@settings(max_examples=6, deadline=None)
@given(st.lists(quotes, min_size=12, max_size=40), st.lists(edits, min_size=1, max_size=7))
def test_a_remembered_answer_is_the_fresh_one(first, changes):
    with tempfile.TemporaryDirectory() as place:
        folder, as_of = Path(place), us_to_rfc3339(START_US + 40 * DAY)
        write_settings(folder, FEE[0], FAMILY[0], STALL[0])
        edit(folder, "quote", first)
        whole_answer(folder, as_of)
        for what, value in changes:
            if what == "as of":
                as_of = us_to_rfc3339(START_US + value * DAY + 12_345)
            else:
                edit(folder, what, value)
            remembered = whole_answer(folder, as_of)
            with patch.object(KnownLevels, "recall", lambda self, prints: {}):
                fresh = whole_answer(folder, as_of)
            assert remembered == fresh
            assert whole_answer(folder, as_of) == fresh
