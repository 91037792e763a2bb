"""What is wanted on a piece, as written: all of these, some of those, none of those, free slots."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from advisor.names import did_you_mean
from advisor.routes.pools.pool import Pool
from advisor.routes.table import Table

_TIERED = re.compile(r"(.+?)\s*:\s*(\d{1,9})")
_KEYS = ("all", "any", "none", "free")


@dataclass(frozen=True)
class Entry:
    """One wanted thing.

    Attributes:
        text: As written: an affix, or "flame:2".
        affixes: Numbers of the affixes that are it, best tier first.
    """

    text: str
    affixes: tuple[int, ...]


@dataclass(frozen=True)
class AtLeast:
    """At least so many of these entries."""

    least: int
    of: tuple[Entry, ...]


@dataclass(frozen=True)
class Want:
    """What a piece must have; without any condition every piece meets it.

    Attributes:
        all: Each of these is on the piece.
        any: For each line, at least so many of its entries are.
        none: None of these is.
        free: At least so many free slots of a kind.
    """

    all: tuple[Entry, ...] = ()
    any: tuple[AtLeast, ...] = ()
    none: tuple[Entry, ...] = ()
    free: tuple[tuple[str, int], ...] = ()

    @property
    def entries(self) -> Iterator[Entry]:
        """Every entry, wanted or not."""
        yield from self.all
        for line in self.any:
            yield from line.of
        yield from self.none

    @property
    def mentioned(self) -> set[int]:
        """Numbers of the affixes that it tells apart from others."""
        return {affix for entry in self.entries for affix in entry.affixes}


def read_want(table: Table, pool: Pool) -> Want:
    """Read `{ all = [...], any = [{ k = 2, of = [...] }], none = [...], free = {...} }`.

    Raises: RouteFault: an unknown key, affix, group or kind; a `k` that no line can reach.
    """
    table.refuse_unknown_keys(_KEYS)
    return Want(
        all=_entries(table, "all", pool),
        any=tuple(_at_least(line, pool) for line in _lines(table)),
        none=_entries(table, "none", pool),
        free=_free(table, pool),
    )


def _lines(table: Table) -> list[Table]:
    value = table.values.get("any", [])
    if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
        table.refuse_type("any", 'a list, like [{ k = 1, of = ["chime", "glow"] }]')
    return table.tables("any")


def _at_least(line: Table, pool: Pool) -> AtLeast:
    line.refuse_unknown_keys(("k", "of"))
    of = _entries(line, "of", pool)
    least = line.whole_number("k", 1)
    if not 1 <= least <= len(of):
        raise line.fault(
            f"`k` is {least}, of {len(of)} entries", "k", right=f"1 to {len(of)}" if of else "list"
        )
    return AtLeast(least, of)


def _free(table: Table, pool: Pool) -> tuple[tuple[str, int], ...]:
    inner = table.table("free", "{ etched = 1 }")
    for kind in inner.values:
        if kind not in pool.slots:
            right = did_you_mean(kind, pool.slots) or "kinds are " + ", ".join(pool.slots)
            raise inner.fault(f"unknown kind {kind!r} in `free`", kind, right=right)
        least = inner.whole_number(kind, 0)
        if not 0 <= least <= pool.slots[kind]:
            raise inner.fault(
                f"{least} free slots of {kind!r} are wanted",
                kind,
                right=f"there are {pool.slots[kind]}",
            )
    return tuple(inner.values.items())


def _entries(table: Table, key: str, pool: Pool) -> tuple[Entry, ...]:
    value = table.values.get(key, [])
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        table.refuse_type(key, 'a list of affixes, like ["flame:2", "chime"]')
    return tuple(
        _entry(Table(table.values, (*table.path, key, place), table.lines, table.step), text, pool)
        for place, text in enumerate(value)
    )


def _entry(here: Table, text: str, pool: Pool) -> Entry:
    number = pool.number_of(text)
    if number is not None:
        return Entry(pool.affixes[number].name, (number,))
    tiered = _TIERED.fullmatch(text.strip())
    if tiered is None:
        raise here.fault(f"unknown affix {text!r}", right=_known(text, pool))
    group = pool.group_of(tiered[1])
    if group is None:
        right = did_you_mean(tiered[1], pool.groups) or "groups are " + ", ".join(pool.groups)
        raise here.fault(f"unknown group {tiered[1]!r} in {text!r}", right=right)
    worst = int(tiered[2])
    found = [each for each in pool.groups[group] if pool.affixes[each].tier <= worst]
    if not found:
        best = min(pool.affixes[each].tier for each in pool.groups[group])
        raise here.fault(
            f"{text!r} cannot be met: no affix of the group is of tier {worst} or better",
            right=f"its best tier is {best}",
        )
    found.sort(key=lambda each: pool.affixes[each].tier)
    return Entry(f"{group}:{worst}", tuple(found))


def _known(text: str, pool: Pool) -> str | None:
    group = pool.group_of(text)
    if group is not None:
        worst = max(pool.affixes[each].tier for each in pool.groups[group])
        return f'it is a group: write "{group}:{worst}" for tier {worst} or better'
    return did_you_mean(text, [each.name for each in pool.affixes])
