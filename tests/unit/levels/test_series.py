import numpy as np
import pytest

from advisor.levels.series import (
    ItemSettings,
    MarketSettings,
    QuoteSeries,
    Season,
    make_series,
    series_fingerprint,
)

DAY = 86_400_000_000
PLAIN = MarketSettings("shell")


def test_rows_are_sorted_by_time_then_by_what_they_say():
    one = make_series("frame", [3.0, 1.0, 2.0], at_us=[5, 5, 1], money="shell")
    other = make_series("frame", [2.0, 3.0, 1.0], at_us=[1, 5, 5], money="shell")
    assert one.price.tolist() == other.price.tolist() == [2.0, 1.0, 3.0]


def test_columns_of_different_length_are_refused():
    with pytest.raises(ValueError, match="frame"):
        QuoteSeries(
            item="frame",
            ids=np.arange(2),
            at_us=np.arange(2),
            price=np.ones(3),
            money_names=("shell",),
            money=np.zeros(2),
            side=np.zeros(2),
            qty=np.ones(2),
            trader=np.zeros(2),
        )


def frames(prices, money="shell"):
    return make_series("frame", prices, at_us=[DAY, 2 * DAY][: len(prices)], money=money)


def test_fingerprint_changes_with_what_levels_depend_on_and_with_nothing_else():
    series = frames([2.0, 3.0])
    known = series_fingerprint(series, PLAIN)
    renumbered = make_series("frame", [2.0, 3.0], at_us=[DAY, 2 * DAY], money="shell", first_id=7)
    assert series_fingerprint(renumbered, PLAIN) == known
    other_item = MarketSettings("shell", items={"wax": ItemSettings("waxes")}, kept=frozenset({99}))
    assert series_fingerprint(series, other_item) == known
    changed = [
        series_fingerprint(
            make_series("frame", [2.0, 3.1], at_us=[DAY, 2 * DAY], money="shell"), PLAIN
        ),
        series_fingerprint(make_series("frame", [2.0], at_us=[DAY], money="shell"), PLAIN),
        series_fingerprint(
            make_series("frame", [2.0, 3.0], at_us=[DAY, 2 * DAY], money="crown"), PLAIN
        ),
        series_fingerprint(series, MarketSettings("shell", sale_fee=0.05)),
        series_fingerprint(
            series, MarketSettings("shell", items={"frame": ItemSettings("frames")})
        ),
        series_fingerprint(series, MarketSettings("shell", seasons=[Season("fair", 0, DAY)])),
        series_fingerprint(series, MarketSettings("shell", dropped=frozenset({1}))),
    ]
    assert len({known, *changed}) == len(changed) + 1
