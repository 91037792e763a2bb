"""One spelling for a price, one fingerprint for a quote."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from advisor.book.columns import fingerprints
from advisor.quotes import fingerprint, fingerprint_text, price_text

PRICES = st.fractions(min_value=Fraction(1, 10**9), max_value=10**12)


def test_a_fingerprint_is_the_blake2_hash_of_the_fields():
    # printf '1756684800000000\x1flantern frame\x1f7/3\x1fshell\x1fask\x1f60\x1fann' \
    #     | b2sum -l 128        (GNU coreutils 9.1; BLAKE2b is RFC 7693)
    text = fingerprint_text(
        at_us=1_756_684_800_000_000,
        item_key="lantern frame",
        price="7/3",
        money_key="shell",
        side="ask",
        qty=60,
        trader_key="ann",
    )
    assert fingerprint(text).hex() == "85fd9164c5af32a00601f4289a234a1d"


@given(PRICES)
def test_a_price_is_read_back_from_its_text_exactly(price):
    assert Fraction(price_text(price)) == price


@given(st.decimals(min_value=0, max_value=10**9, places=6))
def test_a_decimal_price_is_spelled_as_decimal_spells_it(price: Decimal):
    # Python's decimal module as the second road: normalize() strips trailing zeros.
    expected = f"{price.normalize():f}" if price else "0"
    assert price_text(Fraction(price)) == expected


NAMES = st.text(st.characters(categories=("L", "N", "P", "Zs")), min_size=1, max_size=20)
ROWS = st.tuples(
    st.integers(-(2**50), 2**52),
    NAMES,
    PRICES.map(price_text),
    NAMES,
    st.sampled_from(["ask", "bid", "deal"]),
    st.none() | st.integers(1, 2**40),
    st.none() | NAMES,
)


@given(st.lists(ROWS, max_size=20))
def test_fingerprints_of_a_table_are_those_of_its_rows(rows):
    columns = ("at_us", "item_key", "price", "money_key", "side", "qty", "trader_key")
    schema = dict.fromkeys(columns, pl.String) | {"at_us": pl.Int64, "qty": pl.Int64}
    table = pl.DataFrame(rows, schema=schema, orient="row")
    one_by_one = [
        fingerprint(fingerprint_text(**dict(zip(columns, row, strict=True)))) for row in rows
    ]
    assert fingerprints(table) == one_by_one
