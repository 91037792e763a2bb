"""Prices and counts, a column at a time: plain decimals all at once, odd spellings one by one."""

from __future__ import annotations

from collections.abc import Callable

import polars as pl

from advisor.money import DecimalMark, Unreadable, decimal_evidence, read_number, read_price
from advisor.quotes import price_text

LARGEST_COUNT = 10**12
LONGEST_CELL = 200

PLAIN = {
    "point": r"^[0-9]{1,14}(?:\.[0-9]{1,12})?$",
    "comma": r"^[0-9]{1,14}(?:,[0-9]{1,12})?$",
}


def read_price_column(texts: pl.Series, decimal: DecimalMark | None) -> pl.DataFrame:
    """The price of each cell, or why there is none.

    Args:
        texts: Cells without white space around; null where empty.
    Returns: Columns price (canonical text), price_value, price_money (where the
        cell names one) and price_fault (a reason, or null).
    """
    frame = pl.DataFrame({"typed": texts})
    typed = pl.col("typed")
    with_point = typed.str.replace(",", ".", literal=True) if decimal == "comma" else typed
    is_plain = typed.str.contains(PLAIN[decimal or "point"]).fill_null(False)
    value = pl.when("is_plain").then(with_point).cast(pl.Float64, strict=False)
    frame = frame.with_columns(is_plain.alias("is_plain"))
    frame = frame.with_columns(value.alias("price_value"))
    # Zero and prices below the least are told apart by the slow road.
    frame = frame.with_columns(is_plain=pl.col("is_plain") & (pl.col("price_value") >= 1e-11))
    frame = frame.with_columns(
        price=pl.when("is_plain").then(_canonical(with_point)),
        price_value=pl.when("is_plain").then("price_value"),
    )
    if frame["is_plain"].all():
        nothing = pl.lit(None, dtype=pl.String)
        return frame.select("price", "price_value", price_money=nothing, price_fault=nothing)
    odd = frame.filter(~pl.col("is_plain"))["typed"].unique()
    read = _read_each(odd, lambda text: _read_price(text, decimal))
    joined = frame.join(read, on="typed", how="left", nulls_equal=True, maintain_order="left")
    return joined.select(
        price=pl.coalesce("price", "odd_price"),
        price_value=pl.coalesce("price_value", "odd_value"),
        price_money="money",
        price_fault=pl.when(~pl.col("is_plain")).then("fault"),
    )


def read_count_column(texts: pl.Series, decimal: DecimalMark | None) -> pl.DataFrame:
    """The count of each cell; columns qty (null where empty) and qty_fault."""
    frame = pl.DataFrame({"typed": texts})
    qty = pl.when(pl.col("typed").str.contains("^[0-9]{1,12}$")).then("typed").cast(pl.Int64)
    frame = frame.with_columns(qty.alias("qty"))
    frame = frame.with_columns(pl.when(pl.col("qty") > 0).then("qty").alias("qty"))
    odd = frame.filter(pl.col("qty").is_null() & pl.col("typed").is_not_null())["typed"].unique()
    if odd.len() == 0:
        return frame.select("qty", qty_fault=pl.lit(None, dtype=pl.String))
    counts: dict[str, int | None] = {}
    faults: dict[str, str | None] = {}
    for text in odd.to_list():
        counts[text], faults[text] = _read_count(text, decimal)
    as_typed = pl.col("typed")
    return frame.select(
        qty=pl.coalesce(
            "qty", as_typed.replace_strict(counts, default=None, return_dtype=pl.Int64)
        ),
        qty_fault=as_typed.replace_strict(faults, default=None, return_dtype=pl.String),
    )


def _canonical(decimal_text: pl.Expr) -> pl.Expr:
    """A plain decimal in the one spelling of `price_text`: no needless zeros."""
    whole = decimal_text.str.replace(r"^0+([0-9])", "$1")
    cut = whole.str.strip_chars_end("0").str.strip_chars_end(".")
    return pl.when(whole.str.contains(".", literal=True)).then(cut).otherwise(whole)


def _read_each(texts: pl.Series, read: Callable[[str | None], tuple[object, ...]]) -> pl.DataFrame:
    rows = [(text, *read(text)) for text in texts.to_list()]
    schema = {
        "typed": pl.String,
        "odd_price": pl.String,
        "odd_value": pl.Float64,
        "money": pl.String,
        "fault": pl.String,
    }
    return pl.DataFrame(rows, schema=schema, orient="row")


def _read_price(
    text: str | None, decimal: DecimalMark | None
) -> tuple[str | None, float | None, str | None, str | None]:
    if text is None:
        return None, None, None, "empty"
    if len(text) > LONGEST_CELL:
        return None, None, None, "not a number"
    try:
        typed = read_price(text, decimal)
    except Unreadable as fault:
        return None, None, None, fault.reason
    return price_text(typed.price), float(typed.price), typed.money, None


def _read_count(text: str, decimal: DecimalMark | None) -> tuple[int | None, str | None]:
    if len(text) > LONGEST_CELL:
        return None, "not a number"
    try:
        number = read_number(text, decimal)
    except Unreadable as fault:
        return None, fault.reason
    if decimal_evidence(text) == "open" and number.denominator == 1 and number < 1000:
        # "1,000" with a decimal comma: one with three needless zeros, or a thousand?
        return None, "open decimal"
    if not 0 < number <= LARGEST_COUNT:
        return None, "too large" if number else "zero"
    return (int(number), None) if number.denominator == 1 else (None, "not whole")
