"""What can be drawn onto a base: affixes, kinds, groups, and how many come at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from advisor.errors import RouteFault
from advisor.names import did_you_mean, name_key
from advisor.routes.toml_lines import LineIndex

ORDINARY_SET = ""
"""The set of affixes that a step draws from when it names none."""

Sizes = Mapping[int, Fraction]
"""How many, and the chance of each; the chances sum to 1."""


@dataclass(frozen=True)
class Affix:
    """One property that can be on a piece.

    Attributes:
        name: Unique in its pool.
        kind: The slot family it takes a slot of.
        group: Only one affix of a group fits on a piece.
        tier: 1 is best.
        weight: Relative chance of being drawn; 0: can only be placed.
        item_level: Drawn only on bases of at least this level.
        needs: Traits the base must have.
        set: The set it is drawn from.
        line: Where it is written.
    """

    name: str
    kind: str
    group: str
    tier: int
    weight: Fraction
    item_level: int
    needs: frozenset[str]
    set: str
    line: int | None


@dataclass(frozen=True)
class Base:
    """Something one starts from.

    Attributes:
        item: Its name in the market.
        traits: What it has that affixes may need.
    """

    item: str
    traits: frozenset[str]


@dataclass(frozen=True)
class Pool:
    """Everything that can be drawn onto some bases.

    Attributes:
        name: The file's name without its ending.
        slots: Kinds in the order of the file, and how many affixes of each fit.
        placed_at_most: How many placed affixes a piece can carry at once; None: any number.
        count: How many affixes a redraw gives, for "all" or a kind.
        survivors: Of so many in the pot of a join, how many are kept.
        bases: In the order of the file, at least one.
        affixes: In the order of the file, at least one.
        lines: The lines of its file.
    """

    name: str
    slots: Mapping[str, int]
    placed_at_most: int | None
    count: Mapping[str, Sizes]
    survivors: Mapping[int, Sizes]
    bases: tuple[Base, ...]
    affixes: tuple[Affix, ...]
    lines: LineIndex

    @cached_property
    def groups(self) -> dict[str, tuple[int, ...]]:
        """Numbers of the affixes of each group, by the group's name as first written."""
        found: dict[str, list[int]] = {}
        spelling: dict[str, str] = {}
        for number, affix in enumerate(self.affixes):
            found.setdefault(spelling.setdefault(name_key(affix.group), affix.group), []).append(
                number
            )
        return {group: tuple(numbers) for group, numbers in found.items()}

    @cached_property
    def _group_numbers(self) -> dict[int, int]:
        return {affix: number for number, each in enumerate(self.groups.values()) for affix in each}

    def group_number(self, affix: int) -> int:
        """Which group an affix belongs to, counted in the order of `groups`."""
        return self._group_numbers[affix]

    @cached_property
    def sets(self) -> tuple[str, ...]:
        """The sets that have affixes, in the order of the file."""
        return tuple(dict.fromkeys(affix.set for affix in self.affixes))

    @cached_property
    def _numbers(self) -> dict[str, int]:
        return {name_key(affix.name): number for number, affix in enumerate(self.affixes)}

    def number_of(self, name: str) -> int | None:
        """The number of an affix by name, or None."""
        return self._numbers.get(name_key(name))

    def group_of(self, name: str) -> str | None:
        """A group's name as the file spells it, or None."""
        return next((each for each in self.groups if name_key(each) == name_key(name)), None)

    def set_of(self, name: str) -> str | None:
        """A set's name as the file spells it, or None."""
        return next((each for each in self.sets if name_key(each) == name_key(name)), None)

    def base_of(self, item: str) -> Base:
        """The base of this name.

        Raises: RouteFault: the pool has no such base.
        """
        for base in self.bases:
            if name_key(base.item) == name_key(item):
                return base
        right = did_you_mean(item, self.known_bases) or "known are " + ", ".join(self.known_bases)
        raise RouteFault(
            f"no base {item!r} in the pool {self.name!r}", right=right, file=self.lines.file
        )

    @property
    def known_bases(self) -> tuple[str, ...]:
        """The items one may start from."""
        return tuple(base.item for base in self.bases)

    def drawable(
        self, base: Base, item_level: int, *, sets: Iterable[str] = (ORDINARY_SET,)
    ) -> list[int]:
        """Numbers of the affixes that a draw may bring onto this base at this level."""
        wanted = set(sets)
        return [
            number
            for number, affix in enumerate(self.affixes)
            if affix.weight > 0
            and affix.set in wanted
            and affix.item_level <= item_level
            and affix.needs <= base.traits
        ]

    def fault(self, what: str, path: tuple[str | int, ...], *, right: str | None) -> RouteFault:
        """An error about a place in the pool's file, ready to raise."""
        return RouteFault(what, right=right, file=self.lines.file, line=self.lines.line_of(path))
