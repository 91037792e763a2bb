"""The ledger: what moves where, by hand-made examples."""

from __future__ import annotations

from advisor.decide.happenings import Bought, OrderBegun, OrderOver, Purpose, Sold, Tried
from advisor.decide.ledger import keep_ledger


def keep(*happenings, method="average", level=lambda item, at_us: None):
    return keep_ledger(happenings, method=method, level=level)


def rows(ledger, key):
    found = {}
    for posting in ledger.postings:
        row = found.setdefault(key(posting), [0, 0, 0])
        for place, name in enumerate(("spent", "earned", "cost")):
            row[place] += getattr(posting, name)
    return {name: tuple(row) for name, row in found.items()}


def by_piece(ledger):
    return rows(ledger, lambda posting: posting.purpose.piece)


def try_lamp(at_us, work="glow", **what):
    return Tried(at_us, "glow", work, "lamp", **what)


def test_failed_tries_are_part_of_what_the_next_piece_costs():
    ledger = keep(
        Bought(1, "frame", 10, 30),
        try_lamp(2, uses=[("frame", 4)]),
        try_lamp(3, uses=[("frame", 1)], made=1),
        try_lamp(4, uses=[("frame", 1)], made=1),
        Sold(5, "lamp", 1, 40),
    )
    assert [made.cost for made in ledger.made] == [15, 3]
    assert by_piece(ledger) == {"frame": (12, 0, 0), "lamp": (18, 40, 9)}
    assert ledger.standing == 12 + 9


def test_first_in_first_out_knows_each_piece():
    ledger = keep(
        Bought(1, "frame", 10, 30),
        try_lamp(3, uses=[("frame", 5)], made=1),
        try_lamp(4, uses=[("frame", 1)], made=1),
        Sold(5, "lamp", 1, 40),
        method="fifo",
    )
    assert ledger.total("cost") == 15


def test_what_was_never_bought_counts_at_its_level_and_is_marked():
    ledger = keep(
        Bought(1, "frame", 2, 6),
        try_lamp(2, uses=[("frame", 5), ("dew", 1)], made=1),
        level=lambda item, at_us: {"frame": 4}.get(item),
    )
    assert ledger.made[0].cost == 6 + 3 * 4
    assert ledger.made[0].unlogged == ledger.total("unlogged") == 12
    assert ledger.total("spent") == 18
    assert ledger.unpriced == ("dew",)


def test_what_comes_back_is_stock_that_the_piece_no_longer_carries():
    ledger = keep(
        Bought(1, "frame", 1, 30),
        try_lamp(2, uses=[("frame", 1)], gives=[("scrap", 2, 8)]),
        try_lamp(3, made=1),
    )
    assert [(line.item, line.cost) for line in ledger.stock] == [("lamp", 22), ("scrap", 8)]


def test_what_comes_back_never_makes_a_piece_cost_less_than_nothing():
    ledger = keep(try_lamp(2, gives=[("scrap", 2, 8)]), try_lamp(3, made=1))
    assert [(line.item, line.cost) for line in ledger.stock] == [("lamp", 0), ("scrap", 0)]


def test_a_piece_put_away_is_lost_and_one_sold_half_made_is_stock():
    ledger = keep(
        Bought(1, "frame", 2, 20),
        try_lamp(2, "piece 1", uses=[("frame", 1)]),
        try_lamp(3, "piece 1", given_up=True),
        try_lamp(4, "piece 2", uses=[("frame", 1)]),
        try_lamp(5, "piece 2", sold_as="marked frame"),
        Sold(6, "marked frame", 1, 25),
    )
    assert by_piece(ledger) == {
        "frame": (0, 0, 0), "lamp": (10, 0, 10), "marked frame": (10, 25, 10),
    }  # fmt: skip


def test_what_was_bought_for_an_order_is_used_for_it_first():
    ledger = keep(
        Bought(1, "frame", 1, 3),
        Bought(2, "frame", 1, 9, purpose=Purpose("frame", order=7)),
        OrderBegun(3, 7, "glow", "lamp", "Wren"),
        try_lamp(4, uses=[("frame", 1)], made=1),
        OrderOver(5, 7, "done", 1, 50),
        try_lamp(6, uses=[("frame", 1)], made=1),
    )
    by_order = rows(ledger, lambda posting: posting.purpose.order)
    assert by_order[7] == (9, 50, 9)
    assert [(line.item, line.cost) for line in ledger.stock] == [("lamp", 3)]


def test_the_customers_supplies_cost_nothing():
    ledger = keep(
        Bought(1, "frame", 1, 3),
        OrderBegun(3, 7, "glow", "lamp", "Wren", own_supplies=False),
        try_lamp(4, uses=[("frame", 1)], paid=5, made=1, minutes=6.0),
        OrderOver(5, 7, "done", 1, 50),
    )
    assert rows(ledger, lambda posting: posting.purpose.order)[7] == (0, 50, 0)
    assert [(line.item, line.cost) for line in ledger.stock] == [("frame", 3)]
    assert ledger.total("minutes") == 6


def test_several_pieces_of_an_order_are_told_apart():
    ledger = keep(
        Bought(1, "frame", 10, 10),
        OrderBegun(2, 7, "glow", "lamp", "Wren"),
        try_lamp(3, uses=[("frame", 4)], made=1),
        try_lamp(4, uses=[("frame", 1)], made=1),
    )
    assert [made.cost for made in ledger.made] == [4, 1]
    assert ledger.in_making == (("glow", 5),)


def test_an_order_without_attempts_is_delivered_from_stock():
    ledger = keep(
        Bought(1, "lamp", 2, 60),
        OrderBegun(2, 7, "glow", "lamp", "Wren"),
        OrderOver(3, 7, "done", 1, 50),
    )
    assert rows(ledger, lambda posting: posting.purpose.order)[7] == (30, 50, 30)


def test_a_broken_word_loses_the_money_and_counts_for_the_trader():
    ledger = keep(
        Bought(1, "frame", 2, 20, "Rook", lost=True),
        Bought(1, "frame", 1, 5, "Rook"),
        Sold(2, "frame", 1, 0, "Rook", lost=True),
    )
    assert rows(ledger, lambda posting: posting.trader)["Rook"] == (25, 0, 25)
    own = [posting for posting in ledger.postings if posting.trader == "Rook"]
    assert (sum(each.deals for each in own), sum(each.failed for each in own)) == (3, 2)
    assert (sum(each.broken for each in own), sum(each.lost for each in own)) == (2, 20 + 5)


def test_a_sale_of_what_is_not_there_costs_its_level():
    ledger = keep(Bought(1, "wax", 1, 5), Sold(2, "wax", 3, 31), level=lambda item, at_us: 6)
    assert (ledger.total("cost"), ledger.total("unlogged")) == (17, 12)
    assert ledger.total("earned") == 31


def test_an_order_that_failed_is_no_word_broken_and_a_broken_one_costs_what_went_into_it():
    from advisor.tasks.ledger_rows import LedgerRow

    ledger = keep(
        Bought(1, "frame", 2, 20, "Rook"),
        OrderBegun(2, 7, "route", "lantern", "Wren"),
        Tried(3, "route", "route", "lantern", uses=[("frame", 2)]),
        OrderOver(4, 7, "broken", 0, 5),
        OrderBegun(5, 8, "route", "lantern", "Wren"),
        OrderOver(6, 8, "failed", 0, 0),
    )
    wren = LedgerRow("Wren")
    for posting in ledger.postings:
        if posting.trader == "Wren":
            wren.add(posting)
    # two frames went into it, and the customer left 5 of the 20
    assert (wren.deals, wren.failed, wren.broken, wren.lost) == (2, 2, 1, 15)
