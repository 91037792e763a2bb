"""Cost of goods and ending stock against a textbook's worked example.

J. Wild, K. Shaw, B. Chiappetta, *Fundamental Accounting Principles*, chapter on
inventories: the Trekking example. Purchases 10 at 91, 15 at 106, sale of 20;
purchases 20 at 115, 10 at 119, sale of 23. Goods available: 910 + 1,590 + 2,300 +
1,190 = 5,990 for 55 units.

    perpetual, first in first out    cost of goods 1,970 and 2,600, ending stock 1,420
    perpetual, weighted average      cost of goods 2,000 and 2,622, ending stock 1,368
    periodic, weighted average       unit 108.91, cost of goods 4,683, ending stock 1,307

Cost formulas as IAS 2 *Inventories*, paragraphs 25 to 27, allows them.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from advisor.decide.happenings import Bought, Sold
from advisor.decide.ledger import keep_ledger
from advisor.decide.stock_at_cost import StockAtCost

EVENTS = (
    ("buy", 10, 91),
    ("buy", 15, 106),
    ("sell", 20),
    ("buy", 20, 115),
    ("buy", 10, 119),
    ("sell", 23),
)
AVAILABLE = 5990


def run(method, events):
    stock, costs = StockAtCost(method), []
    for kind, units, *price in events:
        if kind == "buy":
            stock.put("climbing lamp", "shelf", units=units, cost=units * price[0])
        else:
            parts, short = stock.take("climbing lamp", units)
            assert short == 0
            costs.append(sum(part.cost for part in parts))
    [(_, left)] = stock.held()
    return costs, left


@pytest.mark.parametrize(
    ("method", "costs", "ending"),
    [("fifo", [1970, 2600], 1420), ("average", [2000, 2622], 1368)],
)
def test_perpetual(method, costs, ending):
    found, left = run(method, EVENTS)
    assert found == costs
    assert (left.units, left.cost) == (12, ending)
    assert sum(found) + left.cost == AVAILABLE


def test_moving_average_unit_cost():
    _, left = run("average", EVENTS)
    assert Fraction(left.cost, left.units) == 114


def test_periodic_average_is_the_moving_one_when_all_is_bought_first():
    """Counted in millionths, so that the rounding of the cost of goods is that of the book."""
    grain = 10**6
    bought = [
        ("buy", units, price * grain)
        for kind, units, *rest in EVENTS
        if kind == "buy"
        for price in rest
    ]
    [cost], left = run("average", [*bought, ("sell", 43)])
    assert cost / grain / 43 == pytest.approx(108.91, abs=0.005)
    assert cost / grain == pytest.approx(4683, abs=0.5)
    assert left.cost / grain == pytest.approx(1307, abs=0.5)
    assert cost + left.cost == AVAILABLE * grain


@pytest.mark.parametrize(
    ("method", "cost", "ending"), [("fifo", 4570, 1420), ("average", 4622, 1368)]
)
def test_the_ledger_says_the_same(method, cost, ending):
    happenings = [
        Bought(day, "lamp", event[1], event[1] * event[2])
        if event[0] == "buy"
        else Sold(day, "lamp", event[1], 150 * event[1])
        for day, event in enumerate(EVENTS)
    ]
    ledger = keep_ledger(happenings, method=method, level=lambda *_: None)
    assert ledger.total("cost") == cost
    assert [(line.units, line.cost) for line in ledger.stock] == [(12, ending)]
    assert ledger.total("earned") - ledger.total("cost") == 43 * 150 - cost
