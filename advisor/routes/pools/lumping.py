"""Which affixes a piece must remember one by one, and which it only counts.

Affixes that nothing mentions are *others*. Two groups made of others alone are
interchangeable when every draw that could tell them apart gives them the same
weight: a piece then remembers only how many of them it carries, per kind. In a
mentioned group the unmentioned tiers of one kind are one. Either way every
chance and every cost stays exactly what it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

import numpy as np

from advisor.routes.pools.mentions import Mentions
from advisor.routes.pools.pool import Base, Pool
from advisor.routes.pools.symbols import Symbol, Symbols

ONE_BY_ONE, BY_WEIGHT, BY_USE = "one by one", "by weight", "by use"
"""How affixes are lumped: not at all; by equal weights in every set and kind; or by
equal weights in those draws alone that some piece with others on it can meet."""


def lump_affixes(
    pool: Pool, base: Base, item_level: int, *, mentions: Mentions, how: str = BY_USE
) -> Symbols:
    """Decide what a piece remembers.

    Args:
        pool: The pool.
        base: The base pieces are of.
        item_level: Its level.
        mentions: What is mentioned, drawn and brought.
        how: ONE_BY_ONE, BY_WEIGHT or BY_USE; answers are the same.
    """
    return _Lumping(pool, base, item_level, mentions, how).symbols()


class _Lumping:
    """One run of lumping; blocks are collected and then sorted by kind."""

    def __init__(
        self, pool: Pool, base: Base, item_level: int, mentions: Mentions, how: str
    ) -> None:
        self.pool, self.mentions, self.how = pool, mentions, how
        self.kinds = tuple(pool.slots)
        self.sets = sorted({each for each, _ in mentions.draws})
        self.drawn = set(pool.drawable(base, item_level, sets=self.sets))
        self.present = self.drawn | mentions.appearing | mentions.placed
        told_apart = self.present if how == ONE_BY_ONE else mentions.mentioned
        self.told_apart = told_apart & self.present
        self.found: list[Symbol] = []
        self.weights: list[dict[str, tuple[Fraction, ...]]] = []
        self.capacity: list[int] = []

    def symbols(self) -> Symbols:
        others: dict[tuple[object, ...], list[tuple[int, ...]]] = {}
        groups = [
            tuple(each for each in group if each in self.present)
            for group in self.pool.groups.values()
        ]
        self.separable = all(
            len({self.pool.affixes[each].kind for each in group}) <= 1 for group in groups
        )
        for group in groups:
            if self.told_apart.intersection(group):
                self.add_mentioned(group)
            elif group:
                others.setdefault(self.signature(group), []).append(group)
        self.add_others(others)
        order = sorted(range(len(self.found)), key=lambda each: self.found[each].kind)
        return Symbols(
            kinds=self.kinds,
            slots=tuple(self.pool.slots.values()),
            symbols=tuple(self.found[each] for each in order),
            capacity=np.array(self.capacity, dtype=np.int64),
            group_weights={
                name: tuple(self.weights[each][name] for each in order) for name in self.sets
            },
            separable=self.separable,
            forgetful=self.forgetful(),
        )

    def forgetful(self) -> frozenset[int]:
        if self.how != BY_USE or not self.separable or None in self.mentions.takes:
            return frozenset()
        return frozenset(
            number for number, kind in enumerate(self.kinds) if kind not in self.mentions.takes
        )

    def weight(self, affixes: Iterable[int], set_name: str, kind: str) -> Fraction:
        return sum(
            (
                self.pool.affixes[each].weight
                for each in affixes
                if each in self.drawn
                and self.pool.affixes[each].set == set_name
                and self.pool.affixes[each].kind == kind
            ),
            Fraction(0),
        )

    def add(self, symbol: Symbol, groups: list[tuple[int, ...]]) -> None:
        kind = self.kinds[symbol.kind]
        self.found.append(symbol)
        self.weights.append(
            {
                name: tuple(
                    Fraction(0) if symbol.placed else self.weight(group, name, kind)
                    for group in groups
                )
                for name in self.sets
            }
        )

    def add_mentioned(self, group: tuple[int, ...]) -> None:
        block = len(self.capacity)
        self.capacity.append(1)
        for alike in self.alike(group):
            self.add_alike(alike, block)
        for number, kind in enumerate(self.kinds):
            rest = tuple(
                each
                for each in group
                if each not in self.told_apart and self.pool.affixes[each].kind == kind
            )
            if rest:
                name = f"other {self.pool.affixes[rest[0]].group}"
                name += "" if self.separable else f" ({kind})"
                self.add(Symbol(name, number, block, rest), [rest])

    def alike(self, group: tuple[int, ...]) -> list[tuple[int, ...]]:
        """The mentioned affixes of a group, those together that serve alike everywhere."""
        mentions = self.mentions
        by_itself = mentions.named | mentions.appearing | mentions.placed
        found: dict[object, list[int]] = {}
        for affix in group:
            if affix not in self.told_apart:
                continue
            serves = frozenset(entry for entry in mentions.entries if affix in entry)
            alone = affix in by_itself or not serves
            may_lump = self.how == BY_USE and self.separable and not alone
            found.setdefault(serves if may_lump else affix, []).append(affix)
        return [tuple(affixes) for affixes in found.values()]

    def add_alike(self, affixes: tuple[int, ...], block: int) -> None:
        if len(affixes) == 1:
            self.add_affix(affixes[0], block)
            return
        first = self.pool.affixes[affixes[0]]
        tiers = sorted(self.pool.affixes[each].tier for each in affixes)
        better = [
            each
            for each in self.pool.groups[first.group]
            if each in self.present
            and each not in affixes
            and self.pool.affixes[each].tier <= tiers[-1]
        ]
        name = f"{first.group} {tiers[0]} to {tiers[-1]}"
        if not better:
            name = f"{first.group} {tiers[-1]} or better"
        self.add(Symbol(name, self.kinds.index(first.kind), block, affixes), [affixes])

    def add_affix(self, affix: int, block: int) -> None:
        kind = self.kinds.index(self.pool.affixes[affix].kind)
        name = self.called(affix)
        if affix in self.drawn | self.mentions.appearing:
            self.add(Symbol(name, kind, block, (affix,)), [(affix,)])
        if affix in self.mentions.placed:
            self.add(Symbol(f"{name} (placed)", kind, block, (affix,), placed=True), [(affix,)])

    def called(self, affix: int) -> str:
        """Group and tier where it was wanted by them, else its own name."""
        each = self.pool.affixes[affix]
        alike = [
            other
            for other in self.pool.affixes
            if other.group == each.group and other.tier == each.tier
        ]
        if affix in self.mentions.named or affix not in self.mentions.wanted or len(alike) > 1:
            return each.name
        return f"{each.group} {each.tier}"

    def signature(self, group: tuple[int, ...]) -> tuple[object, ...]:
        """What must be equal for two groups of others to be interchangeable."""
        kinds = tuple(sorted({self.pool.affixes[each].kind for each in group}))
        if self.how == BY_USE and self.separable:
            sets = {
                name
                for name, kind in self.mentions.draws_onto_others
                if kind is None or kind in kinds
            }
        else:
            sets = set(self.sets)
        return kinds, tuple(
            (name, kind, self.weight(group, name, kind)) for name in sorted(sets) for kind in kinds
        )

    def add_others(self, others: Mapping[tuple[object, ...], list[tuple[int, ...]]]) -> None:
        for number, kind in enumerate(self.kinds):
            self._name_others(number, kind, others)

    def _name_others(
        self,
        number: int,
        kind: str,
        others: Mapping[tuple[object, ...], list[tuple[int, ...]]],
    ) -> None:
        alike = [key for key in others if kind in key[0]]  # type: ignore[operator]
        names: list[str] = []
        for key in alike:
            name = f"other {kind}"
            is_alone = len(alike) > 1 and len(others[key]) == 1
            if is_alone:
                own = [each for each in others[key][0] if self.pool.affixes[each].kind == kind]
                name = self.group_in_words(tuple(own))
            elif len(alike) > 1:
                name += " of weight " + _weights_in_words(key, kind)
            if name in names:
                name += f", sort {sum(each.startswith(name) for each in names) + 1}"
            names.append(name)
            block = self._block_of(key, len(others[key]))
            affixes = tuple(
                each
                for group in others[key]
                for each in group
                if self.pool.affixes[each].kind == kind
            )
            symbol = Symbol(name, number, block, affixes, is_other=True, is_counted=not is_alone)
            self.add(symbol, others[key])

    def group_in_words(self, group: tuple[int, ...]) -> str:
        """A group that is the only one of its sort."""
        first = self.pool.affixes[group[0]]
        if len(group) == 1:
            return first.name
        return f"any {first.group}" + ("" if self.separable else f" ({first.kind})")

    def _block_of(self, key: tuple[object, ...], size: int) -> int:
        if not hasattr(self, "_blocks"):
            self._blocks: dict[tuple[object, ...], int] = {}
        if key not in self._blocks:
            self._blocks[key] = len(self.capacity)
            self.capacity.append(size)
        return self._blocks[key]


def _weights_in_words(key: tuple[object, ...], kind: str) -> str:
    weights = [weight for _, each, weight in key[1] if each == kind and weight]  # type: ignore[attr-defined]
    return "/".join(f"{float(weight):g}" for weight in weights) or "0"
