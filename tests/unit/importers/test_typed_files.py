"""Spreadsheets written by openpyxl, JSON, Parquet: typed cells are read exactly."""

from __future__ import annotations

import json
import zipfile
from datetime import date, datetime, timedelta, timezone
from fractions import Fraction

import openpyxl
import polars as pl
import pytest

from advisor.errors import BadInput

TEN = 1788256800000000  # 2026-09-01T10:00Z


@pytest.fixture
def sheet(tmp_path):
    """Writes sheets as lists of rows with openpyxl."""

    def write(**sheets):
        book = openpyxl.Workbook()
        book.remove(book.worksheets[0])
        for name, rows in sheets.items():
            page = book.create_sheet(name)
            for row in rows:
                page.append(row)
        path = tmp_path / "prices.xlsx"
        book.save(path)
        return path

    return write


def test_a_sheet_with_a_title_and_totals(read, sheet):
    result = read(
        sheet(
            prices=[
                ["Guild prices"],
                [],
                ["at", "item", "price", "qty"],
                [datetime(2026, 9, 1, 10), "lantern frame", 2.4, 60],
                [date(2026, 9, 1), "binding wax", "7/3", None],
                [],
                [46266.4375, "clear flux", 7.199999999999999, 1200],
                [datetime(2026, 9, 1, 10), "scrap glass", -1, 1],
                ["Total", None, None, 1261],
            ]
        )
    )
    assert result.column("line") == [4, 5, 7]
    assert result.column("price") == ["2.4", "7/3", "7.2"]
    assert result.column("qty") == [60, None, 1200]
    assert result.column("at_us")[0] == TEN
    assert result.column("at_us")[2] == TEN + 1_800_000_000
    assert result.faults == [(8, "price", "negative")]
    assert "row 3" in result.reading.found and "'prices'" in result.reading.found
    assert "line 9 is a total and was left out" in result.notes


def test_a_table_that_begins_away_from_the_corner_keeps_its_row_numbers(read, tmp_path):
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    for cell, value in {"C5": "item", "D5": "price", "C7": "wax", "D7": 2.5}.items():
        page[cell] = value
    book.save(tmp_path / "prices.xlsx")
    assert read(tmp_path / "prices.xlsx").column("line") == [7]


def test_number_cells_do_not_decide_how_text_cells_are_spelled(read, sheet):
    rows = [["item", "price"], ["a", 2.4], ["b", "2,50"], ["c", "1.250"], ["d", 3]]
    assert read(sheet(prices=rows)).column("price") == ["2.4", "2.5", "1250", "3"]
    assert read(sheet(prices=[["item", "price"], ["a", 1.125]])).column("price") == ["1.125"]


def test_every_number_of_a_sheet_comes_back(read, sheet):
    numbers = [1e-6, 0.1 + 0.2, 123456789.125, 1e14, 2.675, 1 / 3]
    result = read(sheet(prices=[["item", "price"], *(["x", number] for number in numbers)]))
    for text, number in zip(result.column("price"), numbers, strict=True):
        assert float(Fraction(text)) == pytest.approx(number, rel=1e-14)


def test_which_sheet_is_never_guessed(read, sheet):
    rows = [["item", "price"], ["wax", 2.5]]
    one = read(sheet(notes=[["hello"]], prices=rows))
    assert len(one.rows) == 1
    assert "sheets without prices, not read: notes" in one.notes
    two = sheet(spring=rows, autumn=[*rows, ["flux", 1.5]])
    with pytest.raises(BadInput, match=r"several sheets.*--sheet"):
        read(two)
    assert len(read(two, sheet="autumn").rows) == 2
    with pytest.raises(BadInput, match=r"no sheet 'autum'.*did you mean"):
        read(two, sheet="autum")
    with pytest.raises(BadInput, match=r"no sheet has a line with an item and a price"):
        read(sheet(notes=[["hello"]], empty=[]))


def test_formulas_without_a_kept_value_and_odd_cells_are_set_aside(read, sheet):
    rows = [["item", "price"], ["a", "=1+1"], ["b", True], ["c", "#N/A"], ["d", 2.5]]
    result = read(sheet(prices=rows))
    assert result.column("item") == ["d"]
    assert result.faults == [(2, "price", "formula"), (3, "price", "not a number"),
                             (4, "price", "formula")]  # fmt: skip
    assert [row.text for row in result.set_aside] == ["a,=1+1", "b,true", "c,=#N/A"]


def test_a_formula_without_value_is_no_empty_cell(read, tmp_path):
    """openpyxl writes formulas without working them out; the table begins away from the corner."""
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    page["A1"] = "=1+1"
    rows = [
        ["at", "item", "price", "qty", "note"],
        ["=TODAY()", "a", 2.5, 1, None],
        [datetime(2026, 9, 1), "=B9", 2.5, 1, None],
        [datetime(2026, 9, 1), "b", 2.5, "=2*3", None],
        [datetime(2026, 9, 1), "c", 2.5, None, "=A1"],
    ]
    for number, row in enumerate(rows, start=4):
        for place, value in enumerate(row, start=3):
            page.cell(number, place, value)
    book.save(tmp_path / "prices.xlsx")
    result = read(tmp_path / "prices.xlsx")
    assert result.faults == [(5, "at", "formula"), (6, "item", "formula"), (7, "qty", "formula")]
    assert result.column("item") == ["c"]


def test_a_workbook_that_counts_days_from_1904(read, tmp_path):
    """Day 0 is 1 January 1904 there (ECMA-376 part 1, 18.17.4.1): 2026-09-01 is day 44804."""
    assert date(1904, 1, 1) + timedelta(days=44804) == date(2026, 9, 1)
    book = openpyxl.Workbook()
    book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    page = book.worksheets[0]
    page.append(["at", "item", "price"])
    page.append([datetime(2026, 9, 1, 10), "a", 2.5])
    page.append([44804 + 10 / 24, "b", 2.5])
    page.append(["2026-09-01 10:00", "c", 2.5])
    book.save(tmp_path / "prices.xlsx")
    assert set(read(tmp_path / "prices.xlsx").column("at_us")) == {TEN}


def test_a_sheet_with_a_digit_damaged_is_refused(read, tmp_path):
    path = tmp_path / "prices.xlsx"
    book = openpyxl.Workbook()
    for row in (["item", "price"], ["wax", 2.4]):
        book.worksheets[0].append(row)
    book.save(path)
    plain = tmp_path / "plain.xlsx"
    with zipfile.ZipFile(path) as packed, zipfile.ZipFile(plain, "w") as unpacked:
        for name in packed.namelist():
            unpacked.writestr(name, packed.read(name))
    assert read(plain).column("price") == ["2.4"]
    content = plain.read_bytes()
    assert content.count(b"<v>2.4</v>") == 1
    plain.write_bytes(content.replace(b"<v>2.4</v>", b"<v>9.4</v>"))
    with pytest.raises(BadInput, match="damaged"):
        read(plain)


def test_damaged_sheets_are_refused(read, tmp_path):
    with pytest.raises(BadInput, match=r"damaged"):
        read(b"PK\x03\x04" + b"junk" * 100, name="prices.xlsx")
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as archive:
        archive.writestr("hello.txt", "hello")
    with pytest.raises(BadInput, match=r"damaged"):
        read(tmp_path / "other.zip")


def test_a_json_list(read):
    rows = [
        {"item": "lantern frame", "price": 1.125, "qty": 60, "at": "2026-09-01T10:00:00Z"},
        {"item": "binding wax", "price": "7/3", "money": "crown", "at": 1788256800},
        {"item": "clear flux", "price": 0.1, "qty": None, "at": "2026-09-01T10:00:00Z"},
    ]
    result = read(json.dumps(rows, indent=1), name="prices.json")
    assert result.column("price") == ["1.125", "7/3", "0.1"]
    assert result.column("qty") == [60, None, None]
    assert set(result.column("at_us")) == {TEN}
    assert result.column("line") == [2, 8, 14]
    assert "JSON list" in result.reading.found


@pytest.mark.parametrize("codec", ["utf-8-sig", "utf-16"])
def test_json_in_other_encodings(read, codec):
    for text in ('[{"item":"wäx","price":2}]', '{"item":"wäx","price":2}\n'):
        result = read(text.encode(codec))
        assert result.column("item") == ["wäx"]
        assert "JSON" in result.reading.found


def test_json_numbers_keep_their_digits(read):
    text = '[{"item":"a","price":0.12345678901234567890123},{"item":"b","price":1E+2}]'
    assert read(text).column("price") == ["0.12345678901234567890123", "100"]


def test_entries_that_are_no_objects_are_set_aside(read):
    text = (
        '[{"item":"a","price":1},\n5,\n{"item":"b","price":NaN},\n{"item":"c","price":1e999},\n'
        '{"item":"d","price":2,"price":3},\n{"item":"e","price":[2]},\n{"item":null,"price":2},\n'
        '{"item":"\\ud800","price":2}]'
    )
    result = read(text)
    assert result.column("item")[0] == "a"
    assert [row.entry for row in result.set_aside] == [2, 3, 4, 5, 6, 7]
    assert result.set_aside[1].text == '{"item":"b","price":NaN}'
    assert [(line, reason) for line, _, reason in result.faults] == [
        (2, "not an object"),
        (3, "not finite"),
        (4, "too large"),
        (5, "not an object"),
        (6, "not a number"),
        (7, "empty"),
    ]
    assert len(result.rows) == 2


def test_json_lines(read):
    text = (
        '{"item":"a","price":1.5}\n\nnot json\n{"item":"b","price":2} trailing\n'
        '{"item":"c","price":3}'
    )
    result = read(text, name="prices.jsonl")
    assert result.column("item") == ["a", "c"]
    assert result.faults == [(3, None, "not an object"), (4, None, "not an object")]
    assert "JSON lines" in result.reading.found


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ('[{"item":"a","price":1},', "no sound JSON"),
        ('[{"item":"a","price":1}] x', "stands behind the list"),
        ('[{"item":"a" "price":1}]', "no sound JSON"),
        ("[1, 2, 3]", "no list of objects"),
        ("[]", "no list of objects"),
        ('[{"name of it":"a"}]', "no item and price among the keys"),
        ("[" * 100_000, "nested too deeply"),
    ],
)
def test_json_that_is_no_price_list_is_refused(read, text, what):
    with pytest.raises(BadInput, match=what):
        read(text, name="prices.json")


def test_parquet(read, tmp_path):
    path = tmp_path / "prices.parquet"
    east = timezone(timedelta(hours=2))
    pl.DataFrame(
        {
            "item": ["lantern frame", "binding wax", "clear flux", "scrap glass"],
            "price": [2.4, 1.125, -1.0, float("nan")],
            "at": [datetime(2026, 9, 1, 12, tzinfo=east)] * 4,
            "qty": [60, 20, None, 1],
            "tags": [["a"], [], None, ["b", "c"]],
        }
    ).write_parquet(path)
    result = read(path)
    assert result.column("price") == ["2.4", "1.125"]
    assert set(result.column("at_us")) == {TEN}
    assert result.faults == [(3, "price", "negative"), (4, "price", "not finite")]
    assert "columns not used: tags" in result.notes


def test_numbers_of_half_the_length_keep_the_digits_they_were_written_with(read, tmp_path):
    """A 32-bit float holds six digits for sure (IEEE 754, binary32): no more come out."""
    prices = ["2.4", "0.1", "1250.5", "0.000001", "123456"]
    column = pl.Series([float(price) for price in prices], dtype=pl.Float32)
    path = tmp_path / "prices.parquet"
    pl.DataFrame({"item": ["a"] * 5, "price": column}).write_parquet(path)
    assert read(path).column("price") == prices


def test_parquet_that_is_none_is_refused(read, tmp_path):
    with pytest.raises(BadInput, match=r"damaged"):
        read(b"PAR1" + b"junk" * 50, name="prices.parquet")
    pl.DataFrame({"a": [1]}).write_parquet(tmp_path / "a.parquet")
    with pytest.raises(BadInput, match=r"no item and price column among a"):
        read(tmp_path / "a.parquet")


OPEN_DOCUMENT = """<?xml version="1.0" encoding="UTF-8"?>
<office:document-content office:version="1.3"
 xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0">
<office:body><office:spreadsheet><table:table table:name="prices">{rows}</table:table>
</office:spreadsheet></office:body></office:document-content>"""
MANIFEST = """<?xml version="1.0" encoding="UTF-8"?>
<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">
<manifest:file-entry manifest:full-path="/"
 manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/></manifest:manifest>"""


def open_document_cell(value):
    if isinstance(value, datetime):
        return (
            f'<table:table-cell office:value-type="date" office:date-value="{value:%Y-%m-%dT%X}"/>'
        )
    if isinstance(value, float | int):
        return f'<table:table-cell office:value-type="float" office:value="{value}"/>'
    if value is None:
        return "<table:table-cell/>"
    text = f"<text:p>{value}</text:p>"
    return f'<table:table-cell office:value-type="string">{text}</table:table-cell>'


@pytest.mark.parametrize("name", ["prices.ods", "prices"])
def test_an_open_document_sheet(read, tmp_path, name):
    """Written by hand after OpenDocument 1.3 (OASIS 2021), part 3, chapter 9."""
    table = [
        ["Guild prices"],
        ["at", "item", "price", "qty"],
        [datetime(2026, 9, 1, 10), "lantern frame", 2.4, 60],
        [datetime(2026, 9, 1, 10), "binding wax", "7/3", None],
        [None, "Total", None, 60],
    ]
    rows = "".join(
        f"<table:table-row>{''.join(map(open_document_cell, row))}</table:table-row>"
        for row in table
    )
    with zipfile.ZipFile(tmp_path / name, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", MANIFEST)
        archive.writestr("content.xml", OPEN_DOCUMENT.format(rows=rows))
    result = read(tmp_path / name)
    assert result.column("price") == ["2.4", "7/3"]
    assert result.column("qty") == [60, None]
    assert set(result.column("at_us")) == {TEN}
    assert result.column("line") == [3, 4]
    assert "line 5 is a total and was left out" in result.notes
