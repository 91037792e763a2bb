"""Which column is which: mapped, saved, by number, by the usual words."""

from __future__ import annotations

import pytest

from advisor.errors import BadInput
from importers.layout import Layout, declared_layouts, mapped_layout, match_header


def test_mapped_columns_and_the_usual_words_for_the_others(read):
    text = "Ware,Preis,Anzahl,Coin\nwax,2.5,60,crown\n"
    result = read(text, columns={"item": "Ware", "price": "preis", "qty": "Anzahl"})
    assert result.rows[0]["item"] == "wax"
    assert result.rows[0]["qty"] == 60
    assert result.rows[0]["money"] == "crown"
    assert result.reading.layout == "mapped"
    assert result.reading.columns["price"] == "Preis"


def test_a_mapped_column_is_not_used_for_anything_else(read):
    result = read("item,price,cost\nwax,9,2.5\n", columns={"price": "cost"})
    assert result.column("price") == ["2.5"]
    assert "columns not used: price" in result.notes


def test_columns_by_number_where_there_is_no_header(read):
    result = read("wax;60;2,5\nflux;20;1,5\n", columns={"item": "1", "price": "3", "qty": "2"})
    assert result.column("price") == ["2.5", "1.5"]
    assert [row["line"] for row in result.rows] == [1, 2]
    assert "no header" in result.reading.found


@pytest.mark.parametrize(
    ("columns", "what"),
    [
        ({"prise": "Preis"}, "no column 'prise'.*did you mean \"price\""),
        ({"price": "nowhere"}, "no line among the first"),
        ({"item": "1", "price": "9"}, "no line among the first"),
    ],
)
def test_wrong_mappings(read, columns, what):
    with pytest.raises(BadInput, match=what):
        read("item,price\nwax,2.5\n", columns=columns)


def test_date_and_time_columns_are_read_as_one(read):
    result = read("Date,Time,item,price\n2026-09-01,10:00,wax,2.5\n")
    assert result.column("at_us") == [1788256800000000]
    assert result.reading.columns["at"] == "Date + Time"


def test_a_saved_layout_is_found_by_its_header(read):
    saved = Layout(
        "hall", {"item": ("Ware",), "price": ("Preis",)}, needs=("item", "price"), decimal="comma"
    )
    result = read("Ware;Preis\nwax;1.250\n", layouts=[saved])
    assert result.reading.layout == "hall"
    assert result.column("price") == ["1250"]
    assert read("item,price\nwax,2.5\n", layouts=[saved]).reading.layout == "canonical"
    with pytest.raises(BadInput):
        read("item,price\nwax,2.5\n", only=saved)


def test_two_saved_layouts_that_fit_alike_are_not_chosen_between(read):
    one = Layout("one", {"item": ("Ware",), "price": ("Preis",)}, needs=("item", "price"))
    two = Layout("two", {"item": ("Ware",), "price": ("Cost",)}, needs=("item", "price"))
    with pytest.raises(BadInput, match=r"'one' and 'two' both fit.*--layout"):
        read("Ware;Preis;Cost\nwax;1.5;2.5\n", layouts=[one, two])
    assert read("Ware;Preis;Cost\nwax;1.5;2.5\n", only=two).column("price") == ["2.5"]


def test_headers_match_by_case_and_space():
    match = match_header(["  ITEM ", "Unit   Price"], declared_layouts())
    assert match.positions == {"item": (0,), "price": (1,)}
    assert match_header(["item"], declared_layouts()) is None


def test_mapping_keeps_every_usual_word_free_for_others():
    layout = mapped_layout({"price": "Each"})
    assert "price" not in layout.columns["item"]
    assert layout.columns["price"] == ("Each",)
