import numpy as np
import pytest

from advisor.levels.series import QuoteSeries, make_series


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
