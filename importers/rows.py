"""Turns the cells of a block into quotes and set-aside rows: every row becomes one of the two."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import polars as pl

from advisor.names import name_key
from importers.encoding import NOT_TEXT
from importers.layout import Match
from importers.names import NameBook, name_fault, spell_all
from importers.price_cells import read_count_column, read_price_column
from importers.reading import FIELDS, Chunk, ReadOptions, SetAside
from importers.side_words import SIDES
from importers.spelling import Spelling
from importers.tables import RawBlock
from importers.time_cells import MOST_NOTES, read_time_column

TOTALS = {"total", "totals", "sum", "subtotal", "grand total", "average", "mean", "count"}
ROW_COLUMNS = (
    "line", "at_us", "item", "price", "price_value", "money", "side", "qty", "trader",
    "source", "note",
)  # fmt: skip
LONGEST_TEXT = 100_000


@dataclass
class RowReader:
    """Reads block after block of one file.

    Attributes:
        check_encoding: The file holds bytes that are no text; rows with them are set aside.
    """

    match: Match
    options: ReadOptions
    names: NameBook
    spelling: Spelling
    numbers: frozenset[str]
    notes: list[str]
    check_encoding: bool = False

    def read(self, block: RawBlock) -> Chunk:
        """The block's quotes and the rows set aside."""
        typed, block = self._without_totals(typed_cells(block, self.match), block)
        columns = [typed.select("line", "source", "note"), *self._columns(typed)]
        table = pl.concat(columns, how="horizontal")
        fault, at_fault = self._first_fault(table, typed)
        table = table.with_columns(fault=fault, fault_column=at_fault)
        good = table.filter(pl.col("fault").is_null()).select(ROW_COLUMNS)
        aside = list(block.set_aside)
        if good.height < table.height:
            bad = table.with_row_index("place").filter(pl.col("fault").is_not_null())
            texts = _row_texts(block, bad["place"])
            entries = [None] * bad.height
            if block.entries is not None:
                entries = block.entries.gather(bad["place"]).to_list()
            places = bad.select("line", "fault_column", "fault").iter_rows()
            aside += [
                SetAside(line, column, reason, text[:LONGEST_TEXT], entry)
                for (line, column, reason), text, entry in zip(places, texts, entries, strict=True)
            ]
            aside.sort(key=lambda row: (row.line, row.entry or 0))
        return Chunk(good, aside, share_read=block.share_read)

    def _columns(self, typed: pl.DataFrame) -> list[pl.DataFrame]:
        decimal = "point" if "price" in self.numbers else self.spelling.decimal_for(typed)
        prices = read_price_column(typed["price"], decimal)
        count_decimal = "point" if "qty" in self.numbers else decimal
        return [
            self._times(typed),
            _named(typed["item"], self.names, "item"),
            prices.select("price", "price_value"),
            self._moneys(typed["money"], prices),
            _sides(typed["side"], unsaid=self.options.side or "ask"),
            read_count_column(typed["qty"], count_decimal),
            _traders(typed["trader"]),
        ]

    def _times(self, typed: pl.DataFrame) -> pl.DataFrame:
        if "at" not in self.match.positions:
            at_us = pl.lit(self.options.at_us, dtype=pl.Int64)
            no_fault = pl.lit(None, dtype=pl.String)
            return typed.with_columns(at_us=at_us, at_fault=no_fault).select("at_us", "at_fault")
        order = self.spelling.order_for(typed)
        times = read_time_column(typed["at"], self.options.zone, order=order, notes=self.notes)
        if not self.options.at_is_said:
            return times
        said = pl.when(pl.col("at_fault") == "empty")
        return times.with_columns(
            at_us=said.then(pl.lit(self.options.at_us, dtype=pl.Int64)).otherwise("at_us"),
            at_fault=said.then(None).otherwise("at_fault"),
        )

    def _moneys(self, column: pl.Series, prices: pl.DataFrame) -> pl.DataFrame:
        """The money that the price names, else the column's, else the file's.

        Returns: Columns money, money_fault, and price_fault with the prices that
            name another money than the column.
        """
        both = prices.select("price_fault", "price_money").with_columns(column=column)
        named = pl.coalesce("price_money", "column", pl.lit(self.options.money))
        money = _named(both.select(named).to_series(), self.names, "money")
        disagree = pl.lit(False)
        if both["price_money"].null_count() < both.height:
            disagree = self._key("price_money", both) != self._key("column", both)
        two = pl.when(disagree.fill_null(False)).then(pl.lit("two moneys"))
        faults = both.with_columns(price_fault=pl.coalesce("price_fault", two))["price_fault"]
        return money.with_columns(faults)

    def _key(self, column: str, frame: pl.DataFrame) -> pl.Expr:
        """The key of each money of a column, in the book's spelling."""
        keys = {
            name: name_key(self.names.spell(name)[0] or name)
            for name in frame[column].drop_nulls().unique().to_list()
        }
        return pl.col(column).replace_strict(keys, default=None, return_dtype=pl.String)

    def _first_fault(self, table: pl.DataFrame, typed: pl.DataFrame) -> tuple[pl.Series, pl.Series]:
        """The first fault of each row and its column; null where there is none."""
        item, price = typed["item"], typed["price"]
        parts = [("encoding", self._not_text(typed))] if self.check_encoding else []
        parts.append(("header again", self._is_header(item, price)))
        parts.append(("own money", (table["item"] == table["money"]).fill_null(False)))
        faults = [
            pl.select(pl.when(mask).then(pl.lit(reason))).to_series().alias(f"{place}")
            for place, (reason, mask) in enumerate(parts)
        ]
        checked = ("item", "price", "money", "at", "side", "qty", "trader")
        frame = pl.DataFrame(faults).with_columns(table.select(f"{each}_fault" for each in checked))
        whole = pl.coalesce([each.name for each in faults])
        names = pl.coalesce(
            pl.when(whole.is_not_null()).then(pl.lit("")),
            *(
                pl.when(pl.col(f"{each}_fault").is_not_null()).then(pl.lit(each))
                for each in checked
            ),
        )
        result = frame.select(
            fault=pl.coalesce(whole, *(f"{each}_fault" for each in checked)),
            column=pl.when(names != "").then(names),
        )
        return result["fault"], result["column"]

    def _not_text(self, typed: pl.DataFrame) -> pl.Series:
        texts = [pl.col(name).str.contains(NOT_TEXT, literal=True) for name in FIELDS]
        return typed.select(pl.any_horizontal(texts).fill_null(False)).to_series()

    def _is_header(self, item: pl.Series, price: pl.Series) -> pl.Series:
        named = self.match.columns
        return ((item == named["item"]) & (price == named["price"])).fill_null(False)

    def _without_totals(
        self, typed: pl.DataFrame, block: RawBlock
    ) -> tuple[pl.DataFrame, RawBlock]:
        """Total lines are no quotes: they are left out, and named in a note."""
        is_total = pl.coalesce("item", "at").is_in(self._total_words(typed)).fill_null(False)
        totals = typed.select(is_total.alias("is_total")).to_series()
        if not totals.any():
            return typed, block
        for line in typed["line"].filter(totals).to_list()[:MOST_NOTES]:
            self.notes.append(f"line {line} is a total and was left out")
        return typed.filter(~totals), block.keeping(~totals)

    def _total_words(self, typed: pl.DataFrame) -> list[str]:
        words = typed.select(pl.coalesce("item", "at").unique()).to_series().to_list()
        return [
            word
            for word in words
            if word and name_key(word).rstrip(":. ") in TOTALS and not self.names.knows(word)
        ]


def typed_cells(block: RawBlock, match: Match) -> pl.DataFrame:
    """The canonical columns as typed: text without white space around, null where empty."""
    columns = {}
    for field in FIELDS:
        places = match.positions.get(field)
        if places is None:
            columns[field] = pl.lit(None, dtype=pl.String)
            continue
        cell = pl.concat_str([pl.col(str(place)) for place in places], separator=" ")
        stripped = (cell if len(places) > 1 else pl.col(str(places[0]))).str.strip_chars()
        columns[field] = pl.when(stripped != "").then(stripped)
    typed = block.cells.select(**columns)
    if typed.height != block.cells.height:
        typed = typed.clear()
    return typed.with_columns(pl.Series("line", block.lines, dtype=pl.Int64))


def _named(names: pl.Series, book: NameBook, column: str) -> pl.DataFrame:
    spelled = spell_all(names.unique(maintain_order=True).to_list(), book)
    return _replaced(names, spelled, column)


def _traders(names: pl.Series) -> pl.DataFrame:
    checked = {
        name: (None, None) if name is None else (" ".join(name.split()), name_fault(name))
        for name in names.unique().to_list()
    }
    return _replaced(names, checked, "trader")


def _sides(words: pl.Series, *, unsaid: str) -> pl.DataFrame:
    read: dict[str | None, tuple[str | None, str | None]] = {}
    for word in words.unique().to_list():
        side = unsaid if word is None else SIDES.get(name_key(word))
        read[word] = (side, None if side else "not a side")
    return _replaced(words, read, "side")


def _replaced(
    typed: pl.Series, read: Mapping[str | None, tuple[str | None, str | None]], column: str
) -> pl.DataFrame:
    """Two columns: what each distinct cell was read as, and its fault."""
    values = {text: value for text, (value, _) in read.items()}
    faults = {text: fault for text, (_, fault) in read.items()}
    return pl.DataFrame(
        {
            column: typed.replace_strict(values, default=None, return_dtype=pl.String),
            f"{column}_fault": typed.replace_strict(faults, default=None, return_dtype=pl.String),
        }
    )


def _row_texts(block: RawBlock, places: pl.Series) -> list[str]:
    if block.texts is not None:
        texts = pl.Series(block.texts, dtype=pl.String).gather(places).to_list()
        return [str(text) for text in texts]
    shown = block.cells if block.shown is None else block.shown
    return [csv_line(row) for row in shown[places.to_list()].iter_rows()]


def csv_line(cells: Sequence[str | None]) -> str:
    """Cells as one line of CSV, for files that have no lines of their own."""
    text = io.StringIO()
    csv.writer(text, lineterminator="").writerow(["" if cell is None else cell for cell in cells])
    return text.getvalue()
