"""Any table of quotes, written in any dialect, reads back the same; two readers agree."""

from __future__ import annotations

import csv
import io
import json
import string
import tempfile
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import polars as pl
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.money import read_price
from advisor.names import name_key
from advisor.quotes import price_text
from advisor.times import read_time, us_to_rfc3339
from importers.delimited import open_delimited
from importers.fast_lines import simple_block
from importers.files import open_reading
from importers.layout import Layout, Match
from importers.names import letter_edits, name_fault
from importers.price_cells import read_price_column
from importers.reading import FIELDS, ReadOptions
from importers.records import read_records, split_lines
from importers.rows import TOTALS
from importers.time_cells import read_time_column

QUICK = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
FILES = settings(QUICK, max_examples=40)

LETTERS = string.ascii_letters + "äßçñøλж蜜" + ",;|\t\"'`&<>#%$()[]{}!?:./-+ \n"
TEXT = st.text(st.sampled_from(LETTERS), max_size=12)
NAME = st.text(
    st.sampled_from(string.ascii_lowercase + "äø ,;|\"'"), min_size=1, max_size=10
).filter(lambda name: name_fault(name) is None and name_key(name) != "")
PRICE = st.one_of(
    st.decimals("0.0001", 99999, places=4).map(Fraction),
    st.fractions("1/50", 500, max_denominator=50),
)
MOMENT = st.datetimes(datetime(1990, 1, 1), datetime(2100, 1, 1))
QUOTES = st.lists(
    st.fixed_dictionaries(
        {
            "at": MOMENT,
            "item": NAME,
            "price": PRICE,
            "money": st.sampled_from(["shell", "crown", None]),
            "side": st.sampled_from(["ask", "bid", "deal", None]),
            "qty": st.one_of(st.none(), st.integers(1, 10**9)),
            "trader": st.one_of(st.none(), NAME),
            "source": st.one_of(st.none(), TEXT),
            "note": st.one_of(st.none(), TEXT),
        }
    ),
    min_size=1,
    max_size=8,
)
QUOTINGS = [csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC]
DIALECTS = st.fixed_dictionaries(
    {
        "delimiter": st.sampled_from(",;\t|"),
        "lineterminator": st.sampled_from(["\n", "\r\n", "\r"]),
        "quoting": st.sampled_from(QUOTINGS),
    }
).filter(
    # With lone CRs, Python's writer leaves a cell with an LF unquoted.
    lambda dialect: dialect["lineterminator"] != "\r" or dialect["quoting"] == csv.QUOTE_ALL
)


def spelled(quote, comma):
    """The cells of a quote; fractions that no decimal meets stay fractions."""
    price = price_text(quote["price"])
    moment = quote["at"].replace(tzinfo=UTC).isoformat()
    cells = {**quote, "at": moment, "price": price.replace(".", ",") if comma else price}
    return ["" if cells[field] is None else str(cells[field]) for field in FIELDS]


def cleaned(text):
    stripped = (text or "").strip()
    return stripped or None


def expected(quotes):
    """What must be read, worked out from the quotes and not from the file."""
    first_spelling = {}
    rows = []
    for quote in quotes:
        item = " ".join(quote["item"].split())
        rows.append(
            {
                "at_us": (quote["at"] - datetime(1970, 1, 1)) // timedelta(microseconds=1),
                "item": first_spelling.setdefault(name_key(item), item),
                "price": price_text(quote["price"]),
                "money": quote["money"] or "shell",
                "side": quote["side"] or "ask",
                "qty": quote["qty"],
                "trader": None if quote["trader"] is None else " ".join(quote["trader"].split()),
                "source": cleaned(quote["source"]),
                "note": cleaned(quote["note"]),
            }
        )
    return rows


def read_back(path, **options):
    said = ReadOptions(**{"money": "shell", "at_us": 0, **options})
    known = {"shell": "shell", "crown": "crown"}
    chunks = list(open_reading(path, said, known=known).chunks)
    assert [row for chunk in chunks for row in chunk.set_aside] == []
    rows = pl.concat([chunk.rows for chunk in chunks])
    return rows.drop("line", "price_value").to_dicts(), rows


@QUICK
@given(
    quotes=QUOTES,
    dialect=DIALECTS,
    comma=st.booleans(),
    codec=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
def test_any_table_in_any_dialect_reads_back_the_same(quotes, dialect, comma, codec):
    quotes = [quote for quote in quotes if is_plain_name(quote["item"])]
    if not quotes:
        return
    text = io.StringIO(newline="")
    writer = csv.writer(text, **dialect)
    writer.writerows([FIELDS, *(spelled(quote, comma) for quote in quotes)])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "prices.csv"
        path.write_bytes(text.getvalue().encode(codec))
        rows, table = read_back(path, decimal="comma" if comma else "point")
    assert rows == expected(quotes)
    for value, quote in zip(table["price_value"].to_list(), quotes, strict=True):
        assert value == float(quote["price"])


def is_plain_name(name):
    """No slip of a known name, and not what a total line is called."""
    key = name_key(name)
    return key not in TOTALS and not any(full_edits(key, each) <= 2 for each in ("shell", "crown"))


@FILES
@given(quotes=QUOTES)
def test_a_json_list_reads_back_the_same(quotes):
    quotes = [quote for quote in quotes if is_plain_name(quote["item"])]
    if not quotes:
        return
    objects = [dict(zip(FIELDS, spelled(quote, False), strict=True)) for quote in quotes]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "prices.json"
        path.write_text(json.dumps(objects), encoding="utf-8")
        rows, _ = read_back(path, decimal="point")
    assert rows == expected(quotes)


PRICE_LIKE = st.text(st.sampled_from("0123456789.,/ '-ex"), max_size=9)
TIME_FORMS = ["%Y-%m-%dT%H:%M:%SZ", "%Y-%m-%dT%H:%M:%S.%fZ", "%Y-%m-%d %H:%M", "%d.%m.%Y %H:%M"]
TABLES = st.lists(st.lists(TEXT, min_size=3, max_size=3), min_size=1, max_size=6)


@QUICK
@given(table=TABLES, dialect=DIALECTS)
def test_records_are_those_of_pythons_csv_module(table, dialect):
    text = io.StringIO(newline="")
    csv.writer(text, **dialect).writerows(table)
    records = list(read_records(split_lines(text.getvalue()), dialect["delimiter"]))
    second = list(
        csv.reader(io.StringIO(text.getvalue(), newline=""), delimiter=dialect["delimiter"])
    )
    assert [record.cells or [] for record in records if record.text] == [
        row for row in second if row
    ]


@FILES
@given(table=TABLES, dialect=DIALECTS, block_bytes=st.integers(1, 200))
def test_the_fast_and_the_careful_way_agree_at_any_block_size(table, dialect, block_bytes):
    text = io.StringIO(newline="")
    header = ["a", "b", "c"]
    csv.writer(text, **dialect).writerows([header, *table])
    match = Match(Layout("any", {}), tuple(header), {"item": (0,), "price": (1,)})
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "prices.csv"
        path.write_bytes(text.getvalue().encode())
        opened = open_delimited(path, lambda cells: match if list(cells) == header else None)
        opened.delimiter = dialect["delimiter"]
        whole = numbered(opened.blocks())
        parts = numbered(opened.blocks(block_bytes=block_bytes))
    assert parts == whole
    second = csv.reader(io.StringIO(text.getvalue(), newline=""), delimiter=dialect["delimiter"])
    kept = [row for row in second if any(cell.strip() for cell in row)][1:]
    # An unquoted row that begins with a number sign is a comment.
    if not any(row[0].startswith("#") for row in kept):
        assert [tuple(cell or "" for cell in row) for _, row in whole] == list(map(tuple, kept))


def numbered(blocks):
    return [row for each in blocks for row in zip(list(each.lines), each.cells.rows(), strict=True)]


@QUICK
@given(texts=st.lists(PRICE_LIKE, min_size=1), comma=st.booleans())
def test_the_price_column_agrees_with_reading_one_price(texts, comma):
    decimal = "comma" if comma else "point"
    stripped = [text.strip() or None for text in texts]
    column = read_price_column(pl.Series(stripped, dtype=pl.String), decimal)
    for text, row in zip(stripped, column.to_dicts(), strict=True):
        try:
            single = read_price(text or "", decimal)
        except Exception as fault:
            assert row["price"] is None
            assert row["price_fault"] == fault.reason
        else:
            assert row["price"] == price_text(single.price)
            assert row["price_value"] == float(single.price)


@QUICK
@given(moments=st.lists(MOMENT, min_size=1), form=st.sampled_from(TIME_FORMS))
def test_the_time_column_agrees_with_reading_one_time(moments, form):
    texts = [moment.strftime(form) for moment in moments]
    column = read_time_column(pl.Series(texts), UTC, order="dmy", notes=[])
    for text, at_us in zip(texts, column["at_us"].to_list(), strict=True):
        assert at_us == read_time(text, UTC, order="dmy").at_us
        assert us_to_rfc3339(at_us).startswith(
            datetime.strptime(text, form).strftime("%Y-%m-%dT%H:%M")
        )


def full_edits(one, other):
    """Optimal string alignment distance by its recurrence, without shortcuts."""
    table = {(i, -1): i + 1 for i in range(-1, len(one))} | {
        (-1, j): j + 1 for j in range(-1, len(other))
    }
    for i, letter in enumerate(one):
        for j, opposite in enumerate(other):
            table[i, j] = min(
                table[i - 1, j] + 1, table[i, j - 1] + 1, table[i - 1, j - 1] + (letter != opposite)
            )
            if i and j and letter == other[j - 1] and one[i - 1] == opposite:
                table[i, j] = min(table[i, j], table[i - 2, j - 2] + 1)
    return table[len(one) - 1, len(other) - 1]


@QUICK
@given(one=st.text("abc", max_size=7), other=st.text("abc", max_size=7), most=st.integers(0, 3))
def test_letter_edits_are_those_of_the_plain_recurrence(one, other, most):
    apart = full_edits(one, other)
    assert letter_edits(one, other, most=most) == (apart if apart <= most else None)


def test_the_fast_way_is_taken_where_it_can_be():
    match = Match(Layout("any", {}), ("a", "b"), {"item": (0,), "price": (1,)})
    assert simple_block('x,1\n"y ""z""",2\n', match, delimiter=",", first_line=1) is not None
    assert simple_block('x,1\n"y\nz",2\n', match, delimiter=",", first_line=1) is None
