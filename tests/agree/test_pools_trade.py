"""Facts of the trade about joining two pieces (common practice, no source).

Two pieces, one wanted affix on each, both of one kind. Two in the pot: one is kept
twice as often as both, so either survives 2/3 * 1/2 + 1/3 = 2/3.

Put a lesser tier of the second affix's group on the first piece as well: three in the
pot, of which two exclude each other. One kept (in 3 of 10 cases): the first affix is
it in 1 of 3. Two or more kept: the first is always among them, since of the other
two only one fits. So 3/10 * 1/3 + 7/10 = 4/5: the loss falls from 1/3 to 1/5.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import permutations

import numpy as np
import pytest

from advisor.routes.pools.effects import Join, Place
from advisor.routes.pools.joining import Joining
from advisor.routes.pools.lumping import lump_affixes
from advisor.routes.pools.mentions import Mentions
from advisor.routes.pools.parts import list_pieces
from advisor.routes.pools.read_pool import read_pool

POOL = """
[pool]
slots = { etched = 3 }
[pool.survivors]
1 = { 0 = 1, 1 = 2 }
2 = { 1 = 2, 2 = 1 }
3 = { 1 = 3, 2 = 6, 3 = 1 }
[[base]]
item = "lantern frame"
[[affix]]
name = "steady flame"
kind = "etched"
weight = 5
[[affix]]
name = "gale ward"
kind = "etched"
group = "ward"
weight = 3
[[affix]]
name = "breeze ward"
kind = "etched"
group = "ward"
tier = 2
weight = 9
"""
FLAME, GALE, BREEZE = range(3)


def survival(pool, *, placed):
    """Chance that each affix is on the joined piece."""
    join = Join((GALE,), "first", None)
    mentions = Mentions(appearing=frozenset({FLAME, GALE})).with_effects([join, Place(BREEZE)])
    symbols = lump_affixes(pool, pool.bases[0], 0, mentions=mentions)
    pieces = list_pieces(symbols)
    first = [symbols.symbol_of(FLAME)]
    if placed:
        first.append(symbols.symbol_of(BREEZE, placed=True))
    worker = Joining(pieces, join, survivors=dict(pool.survivors), missing=AssertionError)
    law = worker.branches(pieces.of(first))
    return [
        float(law.odds @ pieces.carries(law.rows, symbols.standing_for([affix])))
        for affix in (FLAME, GALE, BREEZE)
    ]


def by_every_order(pot, kept_chances, wanted):
    """The same chance from every order of picking, in fractions."""
    total = Fraction(0)
    orders = list(permutations(pot))
    for kept, chance in kept_chances.items():
        for order in orders:
            groups, names = set(), set()
            for name, group in order:
                if len(names) < kept and group not in groups:
                    groups.add(group)
                    names.add(name)
            total += chance * (wanted in names) / len(orders)
    return total


@pytest.fixture
def pool(tmp_path):
    path = tmp_path / "lantern.toml"
    path.write_text(POOL)
    return read_pool(path)


def test_either_of_two_survives_two_times_in_three(pool):
    flame, gale, _ = survival(pool, placed=False)
    assert flame == pytest.approx(2 / 3, abs=1e-15)
    assert gale == pytest.approx(2 / 3, abs=1e-15)
    pot = [("flame", "flame"), ("gale", "ward")]
    assert by_every_order(pot, pool.survivors[2], "flame") == Fraction(2, 3)


def test_a_placed_lesser_tier_of_the_other_group_raises_survival_to_four_in_five(pool):
    flame, gale, breeze = survival(pool, placed=True)
    assert flame == pytest.approx(4 / 5, abs=1e-15)
    pot = [("flame", "flame"), ("gale", "ward"), ("breeze", "ward")]
    assert by_every_order(pot, pool.survivors[3], "flame") == Fraction(4, 5)
    exact = by_every_order(pot, pool.survivors[3], "gale")
    assert [gale, breeze] == pytest.approx([float(exact)] * 2, abs=1e-15)
    assert np.isclose(gale + breeze, 0.1 * 1 + 0.6 * 1 + 0.3 * 2 / 3)
