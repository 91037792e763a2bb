"""Money is conserved to the last unit, whatever happened; undo is as if it had never been."""

from __future__ import annotations

from collections import deque
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.decide.happenings import Bought, OrderBegun, OrderOver, Purpose, Sold, Tried
from advisor.decide.ledger import keep_ledger
from advisor.decide.stock_at_cost import StockAtCost

ITEMS = ("frame", "wax", "lamp")
METHODS = st.sampled_from(["average", "fifo"])
UNITS = st.one_of(st.integers(1, 50), st.fractions(Fraction(1, 7), 20, max_denominator=7))
MONEY = st.integers(0, 10**24)
TIMES = st.integers(0, 5)
PURPOSES = st.one_of(
    st.none(), st.builds(Purpose, st.sampled_from(ITEMS), st.sampled_from([None, "r"]))
)

BUYS = st.builds(
    Bought, TIMES, st.sampled_from(ITEMS), UNITS, MONEY, purpose=PURPOSES, lost=st.booleans()
)
SALES = st.builds(
    Sold, TIMES, st.sampled_from(ITEMS), UNITS, MONEY, route=st.sampled_from([None, "r"])
)
TRIES = st.builds(
    Tried,
    TIMES,
    st.just("r"),
    st.sampled_from(["r", "piece 1"]),
    st.just("lamp"),
    uses=st.lists(st.tuples(st.sampled_from(ITEMS), UNITS), max_size=2),
    paid=MONEY,
    gives=st.lists(st.tuples(st.sampled_from(ITEMS), UNITS, MONEY), max_size=1),
    made=st.integers(0, 2),
    given_up=st.booleans(),
)


@st.composite
def orders(draw):
    began = draw(TIMES)
    order = draw(st.integers(1, 10**6))
    begun = OrderBegun(began, order, "r", "lamp", "Wren", draw(st.booleans()))
    over = OrderOver(began + draw(st.integers(0, 3)), order, "done", 1, draw(MONEY))
    return [begun, over] if draw(st.booleans()) else [begun]


STORIES = st.tuples(
    st.lists(st.one_of(BUYS, SALES, TRIES), max_size=25),
    st.lists(orders(), max_size=3, unique_by=lambda pair: pair[0].order),
).map(lambda both: [*both[0], *(each for pair in both[1] for each in pair)])


def level(item, at_us):
    return None if item == "wax" else 7 * 10**17 + at_us


@given(STORIES, METHODS)
@settings(max_examples=300, deadline=None)
def test_money_is_conserved(story, method):
    ledger = keep_ledger(story, method=method, level=level)
    assert ledger.total("spent") == ledger.total("cost") + ledger.standing
    paid = sum(each.cost for each in story if isinstance(each, Bought))
    assert ledger.total("spent") >= paid + ledger.total("unlogged")
    came = sum(each.earned for each in story if isinstance(each, Sold | OrderOver))
    assert ledger.total("earned") == came
    assert all(line.units > 0 and line.cost >= 0 for line in ledger.stock)


@given(st.lists(st.one_of(BUYS, SALES), max_size=30), METHODS)
@settings(max_examples=200, deadline=None)
def test_units_are_conserved_where_enough_is_there(story, method):
    ledger = keep_ledger(story, method=method, level=level)
    for item in ITEMS:
        there, short = Fraction(0), Fraction(0)
        order = sorted(story, key=lambda each: (each.at_us, isinstance(each, Sold)))
        for each in order:
            if each.item == item and isinstance(each, Bought) and not each.lost:
                there += each.units
            elif each.item == item and isinstance(each, Sold):
                short += max(0, each.units - there)
                there = max(Fraction(0), there - each.units)
        left = sum(line.units for line in ledger.stock if line.item == item)
        assert left == there


@given(STORIES, st.lists(BUYS, max_size=5), METHODS, st.randoms())
@settings(max_examples=100, deadline=None)
def test_the_order_of_logging_kinds_at_one_time_does_not_matter(story, more, method, random):
    """Purchases, orders, attempts and sales of one moment: mixed, but like ones in their order."""
    whole = [*story, *more]
    kinds = [type(each) for each in whole]
    random.shuffle(kinds)
    queues = {kind: deque(each for each in whole if type(each) is kind) for kind in set(kinds)}
    mixed = [queues[kind].popleft() for kind in kinds]
    first = keep_ledger(whole, method=method, level=level)
    second = keep_ledger(mixed, method=method, level=level)
    assert first == second


@given(
    st.lists(
        st.one_of(
            st.tuples(st.just("put"), st.integers(1, 30), st.integers(0, 10**20)),
            st.tuples(st.just("take"), st.integers(1, 40), st.just(0)),
        ),
        max_size=40,
    )
)
@settings(deadline=None)
def test_against_exact_fractions(moves):
    """Average and first-in-first-out, worked out anew in exact fractions."""
    for method in ("average", "fifo"):
        stock, lots = StockAtCost(method), []
        for count, (kind, units, cost) in enumerate(moves, start=1):
            if kind == "put":
                stock.put("wax", 0, units=units, cost=cost)
                lots.append([units, Fraction(cost)])
                if method == "average":
                    lots = [[sum(lot[0] for lot in lots), sum(lot[1] for lot in lots)]]
                continue
            parts, short = stock.take("wax", units)
            wanted, exact = units, Fraction(0)
            while wanted and lots:
                take = min(wanted, lots[0][0])
                share = lots[0][1] * take / lots[0][0]
                exact += share
                lots[0] = [lots[0][0] - take, lots[0][1] - share]
                wanted -= take
                if not lots[0][0]:
                    lots.pop(0)
            assert short == wanted
            assert abs(sum(part.cost for part in parts) - exact) <= count
