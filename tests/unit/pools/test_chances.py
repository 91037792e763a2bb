"""What a pool offers, against every order of draws written out in fractions."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

import pytest

from advisor.routes.pools.chances import base_chances, chance_met, find_exclusions, want_chance
from advisor.routes.pools.inclusion import first_draw_chances, on_piece_chances
from advisor.routes.pools.read_pool import read_pool
from advisor.tasks.pools import read_typed_want

HEAD = """
[pool]
slots = { etched = 2, inlaid = 1 }
[pool.count]
all = { 1 = 1, 2 = 1, 3 = 2 }
[[base]]
item = "lantern frame"
traits = ["brass"]
[[base]]
item = "river frame"
"""
AFFIXES = [  # name, kind, group, tier, weight, item level, needs
    ("steady flame", "etched", "flame", 1, 2, 40, "brass"),
    ("dim flame", "etched", "flame", 2, 5, 0, ""),
    ("ward", "etched", "ward", 1, 7, 0, ""),
    ("seam", "etched", "seam", 1, 7, 20, ""),
    ("chime", "inlaid", "chime", 1, 3, 30, ""),
    ("dull chime", "inlaid", "chime", 2, 4, 0, ""),
    ("glow", "inlaid", "glow", 1, 11, 0, ""),
]
SPANNING = [("inner flame", "inlaid", "flame", 3, 6, 0, "")]
SLOTS = {"etched": 2, "inlaid": 1}
COUNT = {1: Fraction(1, 4), 2: Fraction(1, 4), 3: Fraction(1, 2)}


def pool_of(folder, affixes):
    path = folder / "lantern.toml"
    path.write_text(
        HEAD
        + "".join(
            f'[[affix]]\nname = "{name}"\nkind = "{kind}"\ngroup = "{group}"\ntier = {tier}\n'
            f"weight = {weight}\nitem_level = {level}\n" + (f'needs = ["{need}"]\n' if need else "")
            for name, kind, group, tier, weight, level, need in affixes
        )
    )
    return read_pool(path)


def law_by_every_order(affixes, level, brass):
    """Chance of every set of affixes after a redraw."""
    usable = [
        number for number, each in enumerate(affixes) if each[5] <= level and (brass or not each[6])
    ]

    def fits(piece, number):
        taken = [affixes[each] for each in piece]
        kind, group = affixes[number][1:3]
        return sum(each[1] == kind for each in taken) < SLOTS[kind] and all(
            each[2] != group for each in taken
        )

    law, layer = defaultdict(Fraction), {frozenset(): Fraction(1)}
    for size in range(1, 4):
        after = defaultdict(Fraction)
        for piece, chance in layer.items():
            found = {each: affixes[each][4] for each in usable if fits(piece, each)}
            if not found:
                after[piece] += chance
            for each, weight in found.items():
                after[piece | {each}] += chance * Fraction(weight, sum(found.values()))
        layer = after
        for piece, chance in layer.items():
            law[piece] += chance * COUNT[size]
    return law


@pytest.mark.parametrize("affixes", [AFFIXES, AFFIXES + SPANNING], ids=["apart", "spanning"])
@pytest.mark.parametrize("level", [0, 30, 60])
@pytest.mark.parametrize("brass", [True, False])
def test_chances_on_the_piece(tmp_path, affixes, level, brass):
    pool = pool_of(tmp_path, affixes)
    base = pool.bases[0 if brass else 1]
    law = law_by_every_order(affixes, level, brass)
    found = on_piece_chances(pool, base, level, count=pool.count["all"])
    for number in range(len(affixes)):
        exact = sum(chance for piece, chance in law.items() if number in piece)
        assert found.get(number, 0.0) == pytest.approx(float(exact), abs=1e-12)
    first = first_draw_chances(pool, base, level)
    total = sum(affixes[each][4] for each in first)
    assert first == {each: pytest.approx(affixes[each][4] / total) for each in found}


@pytest.mark.parametrize("affixes", [AFFIXES, AFFIXES + SPANNING], ids=["apart", "spanning"])
@pytest.mark.parametrize("typed", ["flame:2, chime:2", "steady flame", "ward, seam, glow"])
def test_chance_of_a_want(tmp_path, affixes, typed):
    pool = pool_of(tmp_path, affixes)
    law = law_by_every_order(affixes, 60, True)
    meant = {
        "flame:2": {0, 1},
        "chime:2": {4, 5},
        "steady flame": {0},
        "ward": {2},
        "seam": {3},
        "glow": {6},
    }
    wanted = [meant[part.strip()] for part in typed.split(",")]
    exact = sum(chance for piece, chance in law.items() if all(piece & each for each in wanted))
    want = read_typed_want(typed, pool)
    found = chance_met(pool, pool.bases[0], 60, want=want)
    assert found == pytest.approx(float(exact), abs=1e-12)


def test_least_level_and_best_tiers(tmp_path):
    pool = pool_of(tmp_path, AFFIXES)
    want = read_typed_want("flame:2, chime:2", pool)
    found = want_chance(pool, pool.bases[0], want, item_level=60)
    assert (found.least_item_level, found.best_item_level, found.why_not) == (0, 40, None)
    found = want_chance(pool, pool.bases[1], want, item_level=60)
    assert (found.least_item_level, found.best_item_level) == (0, 30)  # no steady flame on tin


def test_a_want_beyond_the_level_or_the_base(tmp_path):
    pool = pool_of(tmp_path, AFFIXES)
    want = read_typed_want("steady flame", pool)
    low = want_chance(pool, pool.bases[0], want, item_level=39)
    assert (low.chance, low.least_item_level) == (0.0, 40)
    assert "item level 40" in low.why_not
    never = want_chance(pool, pool.bases[1], want, item_level=60)
    assert (never.chance, never.least_item_level, never.best_item_level) == (0.0, None, None)
    assert "brass" in never.why_not


def test_more_than_a_redraw_gives_cannot_be_met(tmp_path):
    pool = pool_of(tmp_path, AFFIXES)
    few = type(pool)(**{**vars_of(pool), "count": {"all": {1: Fraction(1)}}})
    found = want_chance(few, few.bases[0], read_typed_want("ward, seam", few), item_level=60)
    assert found.chance == 0.0
    assert "2 affixes are wanted, and at most 1 come" in found.why_not


def vars_of(pool):
    names = ("name", "slots", "placed_at_most", "count", "survivors", "bases", "affixes", "lines")
    return {name: getattr(pool, name) for name in names}


def test_what_excludes_each_other(tmp_path):
    pool = pool_of(tmp_path, AFFIXES)
    want = read_typed_want("steady flame, dim flame, ward, chime, glow", pool)
    found = find_exclusions(pool, pool.bases[0], want.all, item_level=60)
    assert [(one, other) for one, other, _ in found] == [
        ("steady flame", "dim flame"),
        ("chime", "glow"),
    ]
    assert "group 'flame'" in found[0][2]
    assert "only 1 of 'inlaid' fits" in found[1][2]


def test_levels_say_what_is_new_and_that_more_can_be_worse(tmp_path):
    pool = pool_of(tmp_path, AFFIXES)
    want = read_typed_want("ward", pool)
    answer = base_chances(pool, pool.bases[0], item_level=60, want=want, sets=[""])
    assert [(each.item_level, each.new) for each in answer.levels] == [
        (0, ("dim flame", "ward", "dull chime", "glow")),
        (20, ("seam",)),
        (30, ("chime",)),
        (40, ("steady flame",)),
    ]
    chances = [each.want for each in answer.levels]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > chances[-1]
