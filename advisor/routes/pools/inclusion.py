"""How likely each affix is drawn: on the first draw, and on the piece after a redraw.

First draw: w / (sum of the drawable w). On the piece: by alarm clocks (see `clocks`),
an affix of a group of weight W and kind k comes when its group's clock rings while a
slot of k is free and drawing goes on:

    P = (w / W) integral of  W e^(-W t) P(a others of k, b of other kinds; a < slots,
                                          a + b < number drawn)  dt

with the groups of k other than its own, and b capped kind by kind. Where a group has
affixes of two kinds the draws are followed one after another instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import numpy as np

from advisor.routes.pools.clocks import STEP_OF_LOG_TIME, chances_rung, ringing_times
from advisor.routes.pools.draws import Drawing
from advisor.routes.pools.lumping import BY_WEIGHT, lump_affixes
from advisor.routes.pools.mentions import Mentions
from advisor.routes.pools.parts import list_pieces
from advisor.routes.pools.pool import ORDINARY_SET, Base, Pool, Sizes

GroupWeights = Mapping[int, Fraction]
"""Weight of each group of one kind, by the group's number."""


def first_draw_chances(pool: Pool, base: Base, item_level: int) -> dict[int, float]:
    """Chance of each drawable affix on the first draw onto a bare base."""
    drawable = pool.drawable(base, item_level)
    total = sum(pool.affixes[each].weight for each in drawable)
    return {each: float(pool.affixes[each].weight / total) for each in drawable}


def on_piece_chances(
    pool: Pool, base: Base, item_level: int, *, count: Sizes, set_name: str = ORDINARY_SET
) -> dict[int, float]:
    """Chance that each drawable affix is on the piece after a redraw of all kinds.

    Args:
        count: How many are drawn.
    """
    drawable = pool.drawable(base, item_level, sets=[set_name])
    weights = _group_weights(pool, drawable)
    groups = [group for own in weights.values() for group in own]
    if len(set(groups)) == len(groups):
        chances = _by_clocks(pool, weights, count)
    else:
        chances = _by_draws(pool, base, item_level, count=count, set_name=set_name)
    return {
        each: chances[pool.affixes[each].kind, pool.group_number(each)]
        * float(
            pool.affixes[each].weight / weights[pool.affixes[each].kind][pool.group_number(each)]
        )
        for each in drawable
    }


def _group_weights(pool: Pool, drawable: list[int]) -> dict[str, dict[int, Fraction]]:
    """Drawable weight of each group, by kind."""
    weights: dict[str, dict[int, Fraction]] = {}
    for each in drawable:
        affix = pool.affixes[each]
        own = weights.setdefault(affix.kind, {})
        group = pool.group_number(each)
        own[group] = own.get(group, Fraction(0)) + affix.weight
    return weights


def _by_clocks(
    pool: Pool, weights: Mapping[str, GroupWeights], count: Sizes
) -> dict[tuple[str, int], float]:
    """Chance of each group of each kind on the piece."""
    every = [float(weight) for own in weights.values() for weight in own.values()]
    if not every:
        return {}
    times = ringing_times(every)
    slots = sum(pool.slots.values())
    going_on = _going_on(count, slots)
    found: dict[tuple[str, int], float] = {}
    for kind, own in weights.items():
        elsewhere = _taken_elsewhere(pool, weights, kind, slots=slots, times=times)
        by_weight: dict[Fraction, float] = {}
        for group, weight in own.items():
            if weight not in by_weight:
                rest = [float(other) for each, other in own.items() if each != group]
                others, _ = chances_rung(np.array(rest), pool.slots[kind] - 1, times)
                open_still = sum(
                    others[a] * (going_on[a : a + len(elsewhere), None] * elsewhere).sum(axis=0)
                    for a in range(pool.slots[kind])
                )
                rings = float(weight) * np.exp(-float(weight) * times)
                by_weight[weight] = float((rings * open_still) @ times * STEP_OF_LOG_TIME)
            found[kind, group] = by_weight[weight]
    return found


def _going_on(count: Sizes, slots: int) -> np.ndarray:
    """Chance that drawing goes on with so many drawn, long enough for every sum of two."""
    drawn = np.arange(2 * slots + 2)
    return np.array(
        [float(sum(chance for size, chance in count.items() if size > n)) for n in drawn]
    )


def _taken_elsewhere(
    pool: Pool,
    weights: Mapping[str, GroupWeights],
    kind: str,
    *,
    slots: int,
    times: np.ndarray,
) -> np.ndarray:
    """Chance that other kinds carry so many by a time, shape (slots + 1, times)."""
    taken = np.zeros((slots + 1, len(times)))
    taken[0] = 1.0
    for other, own in weights.items():
        if other == kind:
            continue
        room = pool.slots[other]
        rung, _ = chances_rung(np.array([float(each) for each in own.values()]), room, times)
        rung[room] = np.maximum(1.0 - rung[:room].sum(axis=0), 0.0)  # that many or more
        sums = np.zeros_like(taken)
        for number in range(room + 1):
            sums[number:] += taken[: len(taken) - number] * rung[number]
        taken = sums
    return taken


def _by_draws(
    pool: Pool, base: Base, item_level: int, *, count: Sizes, set_name: str
) -> dict[tuple[str, int], float]:
    """The same by draws one after another; groups that are alike are counted together."""
    mentions = Mentions(draws=frozenset({(set_name, None)}))
    symbols = lump_affixes(pool, base, item_level, mentions=mentions, how=BY_WEIGHT)
    pieces = list_pieces(symbols)
    bare = np.zeros((1, len(symbols.kinds)), dtype=np.int64)
    law = Drawing(pieces, (set_name, None)).draw_counted(bare, count)
    means = law.odds @ pieces.counts(law.rows)
    found: dict[tuple[str, int], float] = {}
    for symbol, mean in zip(symbols.symbols, means.tolist(), strict=True):
        share = mean / symbols.capacity[symbol.block]
        for affix in symbol.affixes:
            found[symbols.kinds[symbol.kind], pool.group_number(affix)] = share
    return found
