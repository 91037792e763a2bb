"""Whether a want can be met at all, and which rule forbids it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from advisor.routes.pools.pool import Base, Pool
from advisor.routes.pools.wants import AtLeast, Entry, Want

MOST_TRIALS = 100_000
"""Combinations tried before a want is taken as possible; the solver has the last word."""


@dataclass(frozen=True)
class Obtainable:
    """What can come onto a piece of one base at one level.

    Attributes:
        sets: The sets that are drawn from.
        affixes: Numbers of the affixes that can be drawn, placed, put or joined in.
        affixes_at_most: How many a piece can carry in all; None: as many as fit.
    """

    pool: Pool
    base: Base
    item_level: int
    sets: frozenset[str]
    affixes: frozenset[int]
    affixes_at_most: int | None = None

    def why_not(self, number: int) -> str:
        """The rule that keeps an affix off."""
        affix = self.pool.affixes[number]
        missing = sorted(affix.needs - self.base.traits)
        if missing:
            return f"it needs the trait {missing[0]!r}, which {self.base.item!r} has not"
        if affix.weight == 0:
            return "it has weight 0, and no step places it"
        if affix.item_level > self.item_level:
            return f"it is drawn from item level {affix.item_level} on, not at {self.item_level}"
        if affix.set not in self.sets:
            return f"it is of the set {affix.set!r}, which no step draws from"
        return "no step brings it"


def why_impossible(want: Want, obtainable: Obtainable) -> str | None:
    """The reason that a want cannot be met, or None where it can."""
    if can_be_met(want, obtainable):
        return None
    for entry in want.all:
        reason = _why_not_alone(entry, obtainable)
        if reason is not None:
            return reason
    for one, two in combinations(want.all, 2):
        reason = why_exclusive(one, two, obtainable)
        if reason is not None:
            return reason
    return (
        _why_forbidden(want, obtainable)
        or _why_no_line(want, obtainable)
        or _why_no_room(want, obtainable)
    )


def why_exclusive(one: Entry, two: Entry, obtainable: Obtainable) -> str | None:
    """The rule that keeps two entries off one piece, or None where both can be on it."""
    obtainable = replace(obtainable, affixes_at_most=None)
    if can_be_met(Want(all=(one, two)), obtainable):
        return None
    pool = obtainable.pool
    first, second = (
        [each for each in entry.affixes if each in obtainable.affixes] for entry in (one, two)
    )
    if not first or not second:
        return _why_not_alone(one if not first else two, obtainable)
    if pool.group_number(first[0]) == pool.group_number(second[0]):
        group = pool.affixes[first[0]].group
        return f"{one.text!r} and {two.text!r} are both of the group {group!r}, one of which fits"
    kind = pool.affixes[first[0]].kind
    return f"{one.text!r} and {two.text!r} are both {kind}, and {_slots(pool, kind)}"


def can_be_met(want: Want, obtainable: Obtainable) -> bool:
    """Whether some piece meets a want."""
    search = _Search(want, obtainable)
    return search.complete(list(want.all), [(line, line.least) for line in want.any], ())


class _Search:
    """Tries affixes for one entry after another."""

    def __init__(self, want: Want, obtainable: Obtainable) -> None:
        self.pool = obtainable.pool
        forbidden = {affix for entry in want.none for affix in entry.affixes}
        self.usable = obtainable.affixes - forbidden
        self.room = Counter(self.pool.slots)
        self.room.subtract(dict(want.free))
        most = obtainable.affixes_at_most
        self.at_most = sum(self.pool.slots.values()) if most is None else most
        self.trials = 0

    def complete(
        self,
        entries: Sequence[Entry],
        lines: Sequence[tuple[AtLeast, int]],
        chosen: tuple[int, ...],
    ) -> bool:
        self.trials += 1
        if self.trials > MOST_TRIALS:
            return True
        if entries:
            return any(
                self.complete(entries[1:], lines, more) for more in self.ways(entries[0], chosen)
            )
        if not lines:
            return True
        (line, _), *others = lines
        return any(
            self.complete(picked, others, chosen) for picked in combinations(line.of, line.least)
        )

    def ways(self, entry: Entry, chosen: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        """The affixes chosen so far with one more, if needed, that is this entry."""
        if set(entry.affixes) & set(chosen):
            yield chosen
            return
        for affix in entry.affixes:
            if affix in self.usable and self.fits(affix, chosen):
                yield (*chosen, affix)

    def fits(self, affix: int, chosen: tuple[int, ...]) -> bool:
        kind = self.pool.affixes[affix].kind
        group = self.pool.group_number(affix)
        taken = sum(self.pool.affixes[each].kind == kind for each in chosen)
        return (
            taken < self.room[kind]
            and len(chosen) < self.at_most
            and all(self.pool.group_number(each) != group for each in chosen)
        )


def _why_not_alone(entry: Entry, obtainable: Obtainable) -> str | None:
    if set(entry.affixes) & obtainable.affixes:
        return None
    reasons = {each: obtainable.why_not(each) for each in entry.affixes}
    if len(reasons) == 1:
        (reason,) = reasons.values()
        return f"{entry.text!r} cannot come onto the piece: {reason}"
    names = obtainable.pool.affixes
    told = "; ".join(f"{names[each].name!r}: {reason}" for each, reason in reasons.items())
    return f"{entry.text!r} cannot come onto the piece: {told}"


def _why_forbidden(want: Want, obtainable: Obtainable) -> str | None:
    if not want.none or not can_be_met(replace(want, none=()), obtainable):
        return None
    texts = ", ".join(repr(entry.text) for entry in want.none)
    return f"`none` forbids {texts}, without which the rest cannot be had"


def _why_no_line(want: Want, obtainable: Obtainable) -> str | None:
    for line in want.any:
        if not can_be_met(Want(any=(line,)), obtainable):
            missing = [_why_not_alone(entry, obtainable) for entry in line.of]
            told = next((reason for reason in missing if reason), "they exclude each other")
            return f"{line.least} of {len(line.of)} cannot be together: {told}"
    return None


def _why_no_room(want: Want, obtainable: Obtainable) -> str:
    pool = obtainable.pool
    needed: Counter[str] = Counter()
    for entry in want.all:
        kinds = {pool.affixes[each].kind for each in entry.affixes if each in obtainable.affixes}
        if len(kinds) == 1:
            needed[kinds.pop()] += 1
    for kind, least in want.free:
        needed[kind] += least
    for kind, number in needed.items():
        if number > pool.slots[kind]:
            return f"{number} slots of {kind!r} are wanted, and {_slots(pool, kind)}"
    if obtainable.affixes_at_most is not None and len(want.all) > obtainable.affixes_at_most:
        return f"{len(want.all)} affixes are wanted, and at most {obtainable.affixes_at_most} come"
    return "group, slots and what is forbidden leave no piece that has it all"


def _slots(pool: Pool, kind: str) -> str:
    count = pool.slots[kind]
    return f"only {count} of {kind!r} {'fits' if count == 1 else 'fit'}"
