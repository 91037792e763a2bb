"""Reading an item's history back as arrays."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from advisor.book.batches import add_quotes
from advisor.book.items import id_of_item, item_names, known_names
from advisor.book.series import quote_rows, read_series
from advisor.book.settings import ItemSettings, Settings
from advisor.book.store import open_store
from advisor.quotes import Quote

DAY = 86_400_000_000

QUOTES = [
    Quote(2 * DAY, "lantern frame", Fraction(5, 2), "shell", qty=60, trader="Ebba"),
    Quote(1 * DAY, "lantern frame", Fraction(1, 50), "crown", side="bid", trader="Ode"),
    Quote(3 * DAY, "Lantern Frame", Fraction(3), "shell", side="deal"),
    Quote(2 * DAY, "binding wax", Fraction(7, 3), "shell", trader="ebba"),
]


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "book.db", create=True) as opened:
        add_quotes(opened, QUOTES)
        yield opened


def test_a_history_is_in_the_order_of_time_with_codes_for_names(store):
    series = read_series(store, ["LANTERN frame"])["lantern frame"]
    assert series.at_us.tolist() == [DAY, 2 * DAY, 3 * DAY]
    assert series.price.tolist() == [0.02, 2.5, 3.0]
    assert [series.money_names[code] for code in series.money] == ["crown", "shell", "shell"]
    assert series.side.tolist() == [1, 0, 2]
    assert np.array_equal(series.qty, [np.nan, 60, np.nan], equal_nan=True)
    assert series.trader[2] == -1
    assert series.price.dtype == np.float64
    assert {column.dtype for column in (series.ids, series.at_us, series.trader)} == {
        np.dtype(np.int64)
    }


def test_a_trader_has_one_number_in_every_history(store):
    series = read_series(store)
    assert series["binding wax"].trader[0] == series["lantern frame"].trader[1]


def test_all_items_with_quotes_are_read_and_no_others(store):
    # The moneys are items too, but nobody has quoted them.
    assert list(read_series(store)) == ["binding wax", "lantern frame"]
    assert read_series(store, ["crown", "harbour lantern"]) == {}
    assert item_names(store) == ["binding wax", "crown", "lantern frame", "shell"]


def test_what_came_later_is_left_out(store):
    assert len(read_series(store, until_us=2 * DAY)["lantern frame"].ids) == 2
    assert len(quote_rows(store, "lantern frame", until_us=2 * DAY - 1)) == 1
    assert read_series(store, until_us=0) == {}


def test_ids_of_the_arrays_are_those_of_the_rows(store):
    rows = quote_rows(store, "lantern frame")
    assert read_series(store)["lantern frame"].ids.tolist() == [row.id for row in rows]
    assert quote_rows(store, "harbour lantern") == []
    assert id_of_item(store, "harbour lantern") is None


def test_one_item_is_found_by_the_index_alone(store):
    plan = store.connection.execute(
        "EXPLAIN QUERY PLAN SELECT price_value FROM quotes WHERE item_id = 1 AND at_us <= 5"
        " ORDER BY at_us, id"
    ).fetchall()
    assert [step[3] for step in plan] == [
        "SEARCH quotes USING INDEX quotes_by_item (item_id=? AND at_us<?)"
    ]


def test_every_known_spelling_stands_for_one_name(store, tmp_path):
    settings = Settings(
        tmp_path,
        "shell",
        items={
            "Lantern Frame": ItemSettings("Lantern Frame", also=("frame", "binding  WAX")),
            "clear flux": ItemSettings("clear flux"),
        },
    )
    assert known_names(store, settings) == {
        "binding wax": "lantern frame",
        "crown": "crown",
        "lantern frame": "lantern frame",
        "shell": "shell",
        "frame": "lantern frame",
        "clear flux": "clear flux",
    }
