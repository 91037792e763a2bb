"""What a piece remembers: mentioned affixes, sorts of others, and what alike affixes are called."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.routes.pools.effects import Add, Join, Place, Redraw, Remove
from advisor.routes.pools.lumping import BY_USE, BY_WEIGHT, ONE_BY_ONE, lump_affixes
from advisor.routes.pools.mentions import Mentions
from advisor.routes.pools.parts import count_parts, list_parts, list_pieces
from advisor.routes.pools.read_pool import read_pool

HEAD = '[pool]\nslots = { etched = 2, inlaid = 2 }\n[[base]]\nitem = "frame"\n'
AFFIXES = [  # name, kind, group, tier, weight, level
    ("bright flame", "etched", "flame", 1, 1, 0),
    ("dim flame", "etched", "flame", 2, 2, 0),
    ("pale flame", "etched", "flame", 3, 4, 0),
    ("spent flame", "etched", "flame", 4, 8, 0),
    ("ward", "etched", "ward", 1, 5, 0),
    ("weak ward", "etched", "ward", 2, 5, 0),
    ("seam", "etched", "seam", 1, 10, 0),
    ("mark", "etched", "mark", 1, 3, 0),
    ("late mark", "etched", "late mark", 1, 9, 50),
    ("chime", "inlaid", "chime", 1, 6, 0),
    ("glow", "inlaid", "glow", 1, 6, 0),
]
COUNT = {1: 1}
FLAME_TWO = frozenset({0, 1})


@pytest.fixture
def lump(tmp_path):
    path = tmp_path / "lantern.toml"
    path.write_text(
        HEAD
        + "".join(
            f'[[affix]]\nname = "{name}"\nkind = "{kind}"\ngroup = "{group}"\ntier = {tier}\n'
            f"weight = {weight}\nitem_level = {level}\n"
            for name, kind, group, tier, weight, level in AFFIXES
        )
    )
    pool = read_pool(path)

    def lump(*effects, how, entries=(FLAME_TWO,), level=0):
        wanted = frozenset().union(*entries)
        mentions = Mentions(wanted=wanted, entries=frozenset(entries)).with_effects(effects)
        return lump_affixes(pool, pool.bases[0], level, mentions=mentions, how=how)

    return lump


def names(symbols):
    return [each.name for each in symbols.symbols]


def test_groups_of_equal_weight_are_one_sort(lump):
    # ward 5 + 5 and seam 10 are alike; mark 3 is not; chime 6 and glow 6 are
    symbols = lump(Redraw(None, "", COUNT), Add(1, None, ""), how=BY_WEIGHT)
    assert names(symbols) == [
        "flame 1",
        "flame 2",
        "other flame",
        "other etched of weight 10",
        "mark",
        "other inlaid",
    ]
    flame, ward = symbols.symbols[2], symbols.symbols[3]
    assert [AFFIXES[each][0] for each in flame.affixes] == ["pale flame", "spent flame"]
    assert symbols.capacity[ward.block] == 2
    assert symbols.weights("")[:4].tolist() == [1, 2, 12, 10]


def test_affixes_that_serve_alike_are_one(lump):
    draw = Redraw(None, "", COUNT)
    assert names(lump(draw, how=BY_USE))[0] == "flame 2 or better"
    told = [FLAME_TWO, frozenset({0, 1, 2})]
    assert names(lump(draw, how=BY_USE, entries=told))[:3] == [
        "flame 2 or better",
        "flame 3",
        "other flame",
    ]
    best_apart = [frozenset({0}), frozenset({0, 1, 2})]
    assert names(lump(draw, how=BY_USE, entries=best_apart))[:2] == ["flame 1", "flame 2 to 3"]
    placed = lump(draw, Place(1), how=BY_USE)
    assert names(placed)[:3] == ["flame 1", "dim flame", "dim flame (placed)"]


def test_what_no_draw_meets_is_forgotten(lump):
    only_redraw = lump(Redraw(None, "", COUNT), how=BY_USE)
    assert names(only_redraw)[2:] == ["other etched", "other inlaid"]
    add_inlaid = lump(Redraw(None, "", COUNT), Add(1, "inlaid", ""), how=BY_USE)
    assert names(add_inlaid)[2:] == ["other etched", "other inlaid"]
    add_etched = lump(Redraw(None, "", COUNT), Add(1, "etched", ""), how=BY_USE)
    assert {"other etched of weight 10", "mark"} <= set(names(add_etched))


def test_full_kinds_forget_unless_a_step_takes_some(lump):
    draws = [Redraw(None, "", COUNT), Add(1, None, "")]
    assert lump(*draws, how=BY_USE).forgetful == {0, 1}
    assert lump(*draws, Remove(1, "etched"), how=BY_USE).forgetful == {1}
    assert lump(*draws, Remove(1, None), how=BY_USE).forgetful == frozenset()
    assert lump(*draws, Join((0,), "first", None), how=BY_USE).forgetful == frozenset()
    parts = list_parts(lump(*draws, how=BY_USE), 0)
    full = parts.sizes == 2
    assert parts.forgotten.tolist() == full.tolist()
    # two of: flame 2 or better, other flame (one of them at most), others
    assert full.sum() == 3


def test_every_affix_by_itself(lump):
    symbols = lump(Redraw(None, "", COUNT), how=ONE_BY_ONE)
    assert [each.affixes for each in symbols.symbols] == [
        (each,) for each in range(11) if each != 8
    ]
    high = lump(Redraw(None, "", COUNT), how=ONE_BY_ONE, level=50)
    assert len(high.symbols) == 11


def test_parts_are_counted_before_they_are_listed(lump):
    draws = [Redraw(None, "", COUNT), Add(1, None, ""), Remove(1, None)]
    for how in (ONE_BY_ONE, BY_WEIGHT, BY_USE):
        symbols = lump(*draws, how=how)
        for kind in range(2):
            assert count_parts(symbols, kind) == len(list_parts(symbols, kind).sizes)
    # one by one: 1 empty, 8 alone, and pairs of different groups: 4 * 2 + 4 * 1 + 4 + 2 + 2 + 1
    pairs = sum(AFFIXES[one][2] != AFFIXES[two][2] for one in range(8) for two in range(one))
    assert count_parts(lump(*draws, how=ONE_BY_ONE), 0) == 1 + 8 + pairs


def test_codes_and_rows_are_one_to_one(lump):
    pieces = list_pieces(lump(Redraw(None, "", COUNT), how=ONE_BY_ONE))
    codes = np.arange(pieces.span)
    rows = pieces.rows(codes)
    assert pieces.code(rows).tolist() == codes.tolist()
    assert len({tuple(row) for row in rows.tolist()}) == pieces.span
