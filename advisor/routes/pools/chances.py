"""What a base can carry and how likely: the questions asked of a pool without a route."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from advisor.routes.pools.clocks import redraw_law
from advisor.routes.pools.draws import Drawing
from advisor.routes.pools.inclusion import first_draw_chances, on_piece_chances
from advisor.routes.pools.lumping import BY_USE, BY_WEIGHT, lump_affixes
from advisor.routes.pools.meeting import meets
from advisor.routes.pools.mentions import Mentions
from advisor.routes.pools.parts import list_pieces
from advisor.routes.pools.pool import ORDINARY_SET, Affix, Base, Pool, Sizes
from advisor.routes.pools.possible import Obtainable, can_be_met, why_exclusive, why_impossible
from advisor.routes.pools.wants import Entry, Want


@dataclass(frozen=True)
class AffixChance:
    """One affix on one base at one level; chances are 0 where it cannot be drawn.

    Attributes:
        first_draw: Chance on the first draw onto the bare base, from the ordinary set.
        on_piece: Chance to be on the piece after a redraw of all; None where the pool
            does not say how many are drawn.
    """

    affix: Affix
    first_draw: float
    on_piece: float | None


@dataclass(frozen=True)
class WantChance:
    """What becomes of a want on one base.

    Attributes:
        chance: That a redraw of all meets it; None where the pool does not say how many
            are drawn.
        least_item_level: The least level at which it can be met; None: at none.
        best_item_level: The least level at which the best tier of each can be drawn.
        why_not: The rule that forbids it at the level asked for; None where it can be met.
    """

    chance: float | None
    least_item_level: int | None
    best_item_level: int | None
    why_not: str | None


@dataclass(frozen=True)
class LevelChance:
    """One level from which on more can be drawn.

    Attributes:
        item_level: The level.
        new: The affixes that can be drawn from here on.
        want: Chance of the want on a piece of this level; None without one.
    """

    item_level: int
    new: tuple[str, ...]
    want: float | None


@dataclass(frozen=True)
class BaseChances:
    """What can be drawn onto one base."""

    base: Base
    affixes: tuple[AffixChance, ...]
    want: WantChance | None
    levels: tuple[LevelChance, ...]


def base_chances(
    pool: Pool, base: Base, *, item_level: int, want: Want | None, sets: Sequence[str]
) -> BaseChances:
    """Chances on one base at one level.

    Args:
        pool: The pool.
        base: The base.
        item_level: Its level.
        want: What is wanted; None: nothing in particular.
        sets: Sets from which it may come, besides being placed.
    """
    count = pool.count.get("all")
    first = first_draw_chances(pool, base, item_level)
    on_piece = None if count is None else on_piece_chances(pool, base, item_level, count=count)
    affixes = tuple(
        AffixChance(
            affix, first.get(each, 0.0), None if on_piece is None else on_piece.get(each, 0.0)
        )
        for each, affix in enumerate(pool.affixes)
    )
    return BaseChances(
        base=base,
        affixes=affixes,
        want=None if want is None else want_chance(pool, base, want, item_level=item_level),
        levels=_levels(pool, base, want, sets),
    )


def want_chance(pool: Pool, base: Base, want: Want, *, item_level: int) -> WantChance:
    """What becomes of a want on a base at a level, by a redraw of all from the ordinary set."""
    count = pool.count.get("all")
    levels = [0, *_level_steps(pool)]
    least = next(
        (each for each in levels if can_be_met(want, _drawn(pool, base, each, count))), None
    )
    here = _drawn(pool, base, item_level, count)
    return WantChance(
        chance=None if count is None else chance_met(pool, base, item_level, want=want),
        least_item_level=least,
        best_item_level=None if least is None else _best_level(pool, base, want, least),
        why_not=why_impossible(want, here),
    )


def chance_met(pool: Pool, base: Base, item_level: int, *, want: Want) -> float:
    """Chance that a redraw of all meets a want; 0 where it cannot."""
    count = pool.count["all"]
    draw = (ORDINARY_SET, None)
    mentions = Mentions(wanted=frozenset(want.mentioned), draws=frozenset({draw}))
    symbols = lump_affixes(pool, base, item_level, mentions=mentions, how=BY_USE)
    if symbols.separable:
        pieces = list_pieces(symbols)
        rows, odds = redraw_law(pieces, draw, count)
    else:
        symbols = lump_affixes(pool, base, item_level, mentions=mentions, how=BY_WEIGHT)
        pieces = list_pieces(symbols)
        bare = np.zeros((1, len(symbols.kinds)), dtype=np.int64)
        law = Drawing(pieces, draw).draw_counted(bare, count)
        rows, odds = law.rows, law.odds
    return min(1.0, float(odds @ meets(want, pieces, rows)))


def _drawn(pool: Pool, base: Base, item_level: int, count: Sizes | None) -> Obtainable:
    """What draws from the ordinary set can bring."""
    return Obtainable(
        pool=pool,
        base=base,
        item_level=item_level,
        sets=frozenset({ORDINARY_SET}),
        affixes=frozenset(pool.drawable(base, item_level)),
        affixes_at_most=None if count is None else max(count),
    )


def _level_steps(pool: Pool) -> list[int]:
    """Levels from which on something more can be drawn."""
    return sorted({each.item_level for each in pool.affixes if each.weight and each.item_level})


def _best_level(pool: Pool, base: Base, want: Want, least: int) -> int:
    """The least level at which the best tier of each wanted thing can be drawn."""
    levels = [_best_of(pool, base, entry) for entry in want.all]
    for line in want.any:
        levels += sorted(_best_of(pool, base, entry) for entry in line.of)[: line.least]
    return max([least, *levels])


def _best_of(pool: Pool, base: Base, entry: Entry) -> int:
    """Level of the best tier of an entry that can be drawn onto the base at all."""
    drawable = set(pool.drawable(base, 10**9))
    tiers = [(pool.affixes[each].tier, pool.affixes[each].item_level) for each in entry.affixes
             if each in drawable]  # fmt: skip
    return min(tiers)[1] if tiers else 0


def _levels(
    pool: Pool, base: Base, want: Want | None, sets: Sequence[str]
) -> tuple[LevelChance, ...]:
    drawable = [pool.affixes[each] for each in pool.drawable(base, 10**9, sets=sets)]
    found = []
    for level in sorted({0, *(each.item_level for each in drawable)}):
        chance = None
        if want is not None and "all" in pool.count:
            chance = chance_met(pool, base, level, want=want)
        new = tuple(each.name for each in drawable if each.item_level == level)
        found.append(LevelChance(level, new, chance))
    return tuple(found)


def find_exclusions(
    pool: Pool, base: Base, entries: Sequence[Entry], *, item_level: int
) -> list[tuple[str, str, str]]:
    """Wanted things that cannot be on one piece, and the rule that forbids it.

    Args:
        entries: What is wanted.
        item_level: The base's level; things that do not come at all exclude nothing.
    """
    every = Obtainable(
        pool=pool,
        base=base,
        item_level=item_level,
        sets=frozenset(pool.sets),
        affixes=frozenset(pool.drawable(base, item_level, sets=pool.sets))
        | {each for each, affix in enumerate(pool.affixes) if not affix.weight},
    )
    there = [each for each in entries if every.affixes & set(each.affixes)]
    found = []
    for one, two in combinations(there, 2):
        reason = why_exclusive(one, two, every)
        if reason is not None:
            found.append((one.text, two.text, reason))
    return found
