"""What a step, or one outcome of a step, does to the piece on the table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from advisor.names import did_you_mean
from advisor.routes.pools.pool import ORDINARY_SET, Pool, Sizes
from advisor.routes.pools.read_pool import ALL_KINDS, known_kinds, read_sizes
from advisor.routes.table import Table

FRAMES = ("first", "second", "either")


@dataclass(frozen=True)
class Redraw:
    """The affixes (of a kind) leave, and a number from `count` is drawn.

    Attributes:
        kind: Only of this kind; None: all.
        set: Drawn from this set.
        count: How many are drawn.
    """

    kind: str | None
    set: str
    count: Sizes


@dataclass(frozen=True)
class Add:
    """So many are drawn onto the piece."""

    number: int
    kind: str | None
    set: str


@dataclass(frozen=True)
class Remove:
    """So many of those present (of a kind) leave, each with equal chance."""

    number: int
    kind: str | None


@dataclass(frozen=True)
class Place:
    """This affix is put on, certain."""

    affix: int


@dataclass(frozen=True)
class Clear:
    """The placed affixes leave, or this one (None: the placed), certain."""

    affix: int | None


@dataclass(frozen=True)
class Choose:
    """So many are offered, and one of them (with `decline`: or none) is taken."""

    number: int
    kind: str | None
    set: str
    decline: bool


@dataclass(frozen=True)
class Join:
    """A second piece is used up; per kind some of the affixes of both are kept.

    Attributes:
        affixes: What is on the second piece.
        frame: Which frame stays: "first", "second" or "either", each one half.
        other: The stage where the piece is if the second frame stays; None: the same.
    """

    affixes: tuple[int, ...]
    frame: str
    other: str | None


Effect = Redraw | Add | Remove | Place | Clear | Choose | Join

_KEYS: Mapping[str, tuple[str, ...]] = {
    "redraw": ("count", "set"),
    "add": ("kind", "set"),
    "remove": ("kind",),
    "place": (),
    "clear": (),
    "choose": ("kind", "set", "decline"),
    "join": ("frame", "other"),
}


def read_effect(table: Table, pool: Pool) -> Effect:
    """Read one effect, like `{ add = 1, kind = "inlaid" }`.

    Raises: RouteFault: no effect or two, an unknown key, kind, set or affix; a count
        that the pool does not give.
    """
    named = [key for key in _KEYS if key in table.values]
    if not named and table.values:
        table.refuse_unknown_keys(tuple(_KEYS))
    if len(named) != 1:
        what = " and ".join(f"`{key}`" for key in named) or "nothing"
        raise table.fault(f"the effect says {what}", right="write one of " + ", ".join(_KEYS))
    (verb,) = named
    table.refuse_unknown_keys((verb, *_KEYS[verb]))
    effect: Effect = _READERS[verb](table, pool)
    return effect


def _redraw(table: Table, pool: Pool) -> Redraw:
    word = table.text("redraw")
    kind = None if word == ALL_KINDS else _kind(table, "redraw", pool)
    if "count" in table.values:
        count = read_sizes(table, "count")
    elif word in pool.count:
        count = pool.count[word]
    else:
        raise table.fault(
            f"the pool {pool.name!r} does not say how many a redraw of {word!r} gives",
            "redraw",
            right=f"write {word} = {{ 1 = 1 }} in its [pool.count], or a count in the effect",
        )
    return Redraw(kind, _set(table, pool), count)


def _add(table: Table, pool: Pool) -> Add:
    return Add(_number(table, "add"), _optional_kind(table, pool), _set(table, pool))


def _remove(table: Table, pool: Pool) -> Remove:
    return Remove(_number(table, "remove"), _optional_kind(table, pool))


def _place(table: Table, pool: Pool) -> Place:
    return Place(affix_number(table, "place", table.text("place"), pool))


def _clear(table: Table, pool: Pool) -> Clear:
    word = table.text("clear")
    if word == "placed" and pool.number_of(word) is None:
        return Clear(None)
    return Clear(affix_number(table, "clear", word, pool))


def _choose(table: Table, pool: Pool) -> Choose:
    decline = table.values.get("decline", False)
    if not isinstance(decline, bool):
        table.refuse_type("decline", "true or false")
    number = _number(table, "choose")
    return Choose(number, _optional_kind(table, pool), _set(table, pool), decline)


def _join(table: Table, pool: Pool) -> Join:
    frame = table.text("frame", "first")
    if frame not in FRAMES:
        right = did_you_mean(frame, FRAMES) or "write first, second or either"
        raise table.fault(f"`frame` is {frame!r}", "frame", right=right)
    affixes = read_affixes(table, "join", pool)
    if not affixes:
        raise table.fault("`join` names no affix", "join", right="list what is on the second piece")
    other = table.optional_text("other")
    if other is not None and frame == "first":
        raise table.fault(
            "`other` is written, but the first frame stays", "other", right='frame = "either"'
        )
    return Join(affixes, frame, other)


_READERS: Mapping[str, Any] = {
    "redraw": _redraw,
    "add": _add,
    "remove": _remove,
    "place": _place,
    "clear": _clear,
    "choose": _choose,
    "join": _join,
}


def _number(table: Table, key: str) -> int:
    number = table.whole_number(key, 1)
    if not 1 <= number <= 100:
        raise table.fault(f"`{key}` is {number}", key, right="it must be 1 or more")
    return number


def _optional_kind(table: Table, pool: Pool) -> str | None:
    return _kind(table, "kind", pool) if "kind" in table.values else None


def _kind(table: Table, key: str, pool: Pool) -> str:
    kind = table.text(key)
    if kind not in pool.slots:
        raise table.fault(f"unknown kind {kind!r}", key, right=known_kinds(kind, pool.slots))
    return kind


def _set(table: Table, pool: Pool) -> str:
    if "set" not in table.values:
        return ORDINARY_SET
    found = pool.set_of(table.text("set"))
    if found is None:
        names = [each for each in pool.sets if each]
        right = did_you_mean(table.text("set"), names) or (
            "sets are " + ", ".join(names) if names else "the pool has only the ordinary set"
        )
        raise table.fault(f"unknown set {table.values['set']!r}", "set", right=right)
    return found


def affix_number(table: Table, key: str, name: str, pool: Pool) -> int:
    """The number of an affix named in a route.

    Raises: RouteFault: the pool has none of this name.
    """
    number = pool.number_of(name)
    if number is None:
        right = did_you_mean(name, [each.name for each in pool.affixes])
        raise table.fault(f"unknown affix {name!r}", key, right=right)
    return number


def read_affixes(table: Table, key: str, pool: Pool) -> tuple[int, ...]:
    """The affixes of one piece, listed under a key; they must fit on it together.

    Raises: RouteFault: an unknown affix, one twice, a group twice, a kind too often.
    """
    value = table.values.get(key, [])
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        table.refuse_type(key, 'a list of affixes, like ["bright lens"]')
    numbers = tuple(affix_number(table, key, name, pool) for name in value)
    for place, number in enumerate(numbers):
        _refuse_misfit(table, key, pool, numbers[:place], number)
    return numbers


def _refuse_misfit(
    table: Table, key: str, pool: Pool, before: tuple[int, ...], number: int
) -> None:
    affix = pool.affixes[number]
    called = f"`{key}` has {affix.name!r}"
    if number in before:
        raise table.fault(f"{called} twice", key, right="an affix is on a piece once")
    for other in before:
        if pool.group_number(other) == pool.group_number(number):
            raise table.fault(
                f"{called} and {pool.affixes[other].name!r}, both of the group {affix.group!r}",
                key,
                right="only one affix of a group fits",
            )
    taken = sum(pool.affixes[other].kind == affix.kind for other in before)
    if taken == pool.slots[affix.kind]:
        raise table.fault(
            f"{called} as {affix.kind} number {taken + 1}",
            key,
            right=f"only {taken} {affix.kind} fit",
        )
