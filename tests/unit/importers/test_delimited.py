"""Delimited text: delimiter, encoding, header, line numbers and broken lines, found and shown."""

from __future__ import annotations

import pytest

from advisor.errors import BadInput
from importers import delimited
from importers.delimited import DelimitedTable, open_delimited
from importers.encoding import find_encoding
from importers.layout import declared_layouts, match_header

ROWS = "item{0}price{0}note\nlantern frame{0}2.4{0}a\nbinding wax{0}7/3{0}b\n"


@pytest.mark.parametrize(
    ("delimiter", "word"), [(",", "comma"), (";", "semicolon"), ("\t", "tab"), ("|", "bar")]
)
def test_delimiters(read, delimiter, word):
    result = read(ROWS.format(delimiter))
    assert result.column("item") == ["lantern frame", "binding wax"]
    assert result.column("note") == ["a", "b"]
    assert word in result.reading.found


@pytest.mark.parametrize(
    ("codec", "shown"),
    [
        ("utf-8", "UTF-8"),
        ("utf-8-sig", "UTF-8"),
        ("utf-16", "UTF-16"),
        ("utf-16-be", "UTF-16"),
        ("cp1252", "cp1252"),
    ],
)
def test_encodings(read, codec, shown):
    text = "item,price\nInês’ Öl,2.4\n"
    mark = b"\xfe\xff" if codec == "utf-16-be" else b""
    result = read(mark + text.encode(codec))
    assert result.column("item") == ["Inês’ Öl"]
    assert result.reading.found.startswith(shown + ",")


def test_one_broken_byte_does_not_turn_the_whole_file_into_cp1252(read):
    result = read("item,price\nÖl,2.4\n".encode() + b"w\xe4x,2.5\nW\xc3\xa4chs,2.6\n")
    assert result.column("item") == ["Öl", "Wächs"]
    assert result.faults == [(3, None, "encoding")]


def test_bytes_that_cp1252_does_not_have_are_set_aside(read):
    result = read(b"item,price\nk\xe4se,2.4\nb\x81d,2.5\n")
    assert result.column("item") == ["käse"]
    assert result.faults == [(3, None, "encoding")]


def test_a_replacement_mark_in_sound_utf8_is_data(read):
    assert read("item,price\nwa�x,2.4\n").column("item") == ["wa�x"]


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "empty"),
        (b"\n\n \n", "empty"),
        (b"PNG\x00\x01\x02,item,price", "zero bytes"),
        ("item,price\n".encode("utf-32"), "UTF-32"),
        (b"hello\nworld\n", "no line among the first"),
        (b"item;cost of living\nwax;2\n", "no line among the first"),
        (b"item,price,price\nwax,2,3\n", "two columns are called 'price'"),
        (b"item,price,unit cost\nwax,2,3\n", "both 'price' and 'unit cost'"),
    ],
)
def test_what_is_no_price_list_is_refused(read, content, what):
    with pytest.raises(BadInput, match=what) as fault:
        read(content)
    assert "prices.csv" in str(fault.value)


def test_line_numbers_count_titles_blanks_comments_and_quoted_line_ends(read):
    text = (
        "Prices of the week\r\n\r\n# seen by Hob\nitem,price,note\r\n"
        'lantern frame,2.4,"one\r\ntwo\r\nthree"\r\n\n'
        "# a comment\rbinding wax,7/3,\r\n,,\nclear flux,1.5,x\n"
    )
    result = read(text)
    assert [(row["line"], row["item"]) for row in result.rows] == [
        (5, "lantern frame"),
        (10, "binding wax"),
        (12, "clear flux"),
    ]
    assert result.rows[0]["note"] == "one\r\ntwo\r\nthree"
    assert "comment lines left out: 2" in result.notes
    assert "header in line 4" in result.reading.found


def test_trailing_delimiters_and_short_rows(read):
    result = read("item;price;qty;\nwax;2.4;60;\nflux;1.5\nsalt;1;2;;;\nglass;9;1;x\n")
    assert result.column("item") == ["wax", "flux", "salt"]
    assert result.column("qty") == [60, None, 2]
    assert result.faults == [(5, None, "cells")]


@pytest.mark.parametrize("other", ["", "two\n", ","])
def test_a_row_of_quoted_nothing_is_blank(read, other):
    """Read the same by the fast and by the careful way."""
    note = f'"{other}x"' if other else ""
    result = read(f'item,price,note\nwax,2.4,{note}\n"","",""\nflux,1.5,\n')
    assert result.column("item") == ["wax", "flux"]
    assert result.set_aside == []


def test_a_last_line_cut_short_is_not_read_as_another_number(read):
    result = read("item,price,qty\nwax,2.4,60\nflux,1.5,20\nsalt,12")
    assert result.column("item") == ["wax", "flux"]
    assert result.faults == [(4, None, "cut off")]
    assert read("item,price,qty\nwax,2.4\nsalt,12").column("price") == ["2.4", "12"]


def test_an_unclosed_quote_sets_aside_its_line_alone(read):
    rows = [f"item {letter},2.4,x" for letter in "abcdefgh"]
    rows[2] = 'item c,2.4,"x'
    result = read("item,price,note\n" + "\n".join(rows) + "\n")
    assert len(result.rows) == 7
    assert result.faults == [(4, None, "quotes")]
    assert result.set_aside[0].text == 'item c,2.4,"x'


def test_quotes_inside_a_cell_are_data(read):
    result = read('item,price,note\n5" frame,2.4,6" wide\n')
    assert result.rows[0]["item"] == '5" frame'
    assert result.rows[0]["note"] == '6" wide'


def test_a_header_further_down_is_no_quote(read):
    result = read("item,price\nwax,2.4\nitem,price\nflux,1.5\n")
    assert result.column("item") == ["wax", "flux"]
    assert result.faults == [(3, None, "header again")]


def test_totals_are_left_out_and_named(read):
    result = read("item,price,qty\nwax,2.4,60\nGrand total:,2.4,60\n")
    assert result.column("item") == ["wax"]
    assert result.set_aside == []
    assert "line 3 is a total and was left out" in result.notes
    known = read("item,price\ntotal,2.4\n", known=["Total"])
    assert known.column("item") == ["Total"]


def header_of(cells):
    return match_header(cells, declared_layouts())


@pytest.mark.parametrize("block_bytes", [7, 64, 1000])
def test_blocks_of_any_size_read_the_same(tmp_path, block_bytes):
    """Small blocks cut lines, letters and quoted cells in two; nothing is lost or counted twice."""
    rows = [
        f'"item {n}",{n}.5,"line\none, ""two"" ä"' if n % 3 else f"it {n},2.5,ü" for n in range(60)
    ]
    path = tmp_path / "prices.csv"
    path.write_text("a title\nitem,price,note\n" + "\n".join(rows) + "\n", encoding="utf-8")
    table = open_delimited(path, header_of)
    assert isinstance(table, DelimitedTable)
    whole = [(n, row) for block in table.blocks() for n, row in numbered(block)]
    parts = [(n, row) for b in table.blocks(block_bytes=block_bytes) for n, row in numbered(b)]
    assert parts == whole
    assert len(whole) == 60
    text = path.read_text(encoding="utf-8").split("\n")
    for line, row in whole:
        assert text[line - 1].lstrip('"').startswith(row[0])


def numbered(block):
    return list(zip(block.lines.to_list(), block.cells.rows(), strict=True))


def test_share_read_reaches_one(tmp_path):
    path = tmp_path / "prices.csv"
    path.write_text("item,price\n" + "wax,2.5\n" * 100, encoding="utf-8")
    shares = [block.share_read for block in open_delimited(path, header_of).blocks(block_bytes=100)]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert len(shares) > 3


def test_encoding_is_found_before_anything_else(tmp_path):
    path = tmp_path / "x"
    path.write_bytes(b"\xef\xbb\xbfitem,price\n")
    assert find_encoding(path).is_sound


@pytest.mark.parametrize("space", ["", " ", "   "])
@pytest.mark.parametrize("delimiter", [",", ";"])
def test_white_space_around_quotes(read, space, delimiter):
    def line(*cells):
        return f"{space}{delimiter}{space}".join(f'"{cell}"' for cell in cells) + space + "\n"

    rows = [
        line("item", "price", "note"),
        line("wax", "2.5", f"a{delimiter} b"),
        line("a", "1", ""),
    ]
    result = read("".join(rows))
    assert result.column("item") == ["wax", "a"]
    assert result.column("note") == [f"a{delimiter} b", None]
    assert result.faults == []


def test_text_behind_a_quoted_cell_is_broken_quoting(read):
    result = read('item,price\n"a" b,3\n "c" d,3\n"e" ,3\n')
    assert result.faults == [(2, None, "quotes"), (3, None, "quotes")]
    assert result.column("item") == ["e"]


def test_the_money_that_the_price_column_is_headed_with(read):
    text = "item,Price (crown)\na,2\nb,2 shell\n"
    columns = {"price": "Price (crown)"}
    result = read(text, columns=columns, known=["crown", "shell"])
    assert result.column("money") == ["crown", "shell"]
    assert any("are in crown" in note for note in result.notes)
    assert read(text, known=["crown", "shell"]).column("money") == ["crown", "shell"]
    assert read(text, known=["crown"]).reading.columns["price"] == "Price (crown)"
    with pytest.raises(BadInput, match="names an item and a price"):
        read("item,Price (old)\na,2\n", known=["crown"])
    with pytest.raises(BadInput, match="two columns are called"):
        read("item,Price (crown),Price (shell)\na,2,3\n", known=["crown", "shell"])
    said = {"money": "shell", "money_is_said": True}
    assert read(text, columns=columns, known=["crown"], **said).column("money")[0] == "shell"
    assert read(text, columns=columns).column("money")[0] == "shell"


def test_quotes_with_space_in_a_cell_of_several_lines(read, monkeypatch):
    """The cell is still open where the block ends: not broken, only not read to its end."""
    monkeypatch.setattr(delimited, "BLOCK_BYTES", 30)
    long = "and so on, " * 9
    text = f'item,price,note\nwax,2,"""x"" , and\n{long}\nthen , ""y"" ,\nthat"\nflux,3,\n'
    result = read(text)
    assert result.column("note") == [f'"x" , and\n{long}\nthen , "y" ,\nthat', None]
    assert result.faults == []
