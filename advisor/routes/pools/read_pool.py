"""A pool file, read into a pool or refused with its line."""

from __future__ import annotations

from collections.abc import Collection
from fractions import Fraction
from pathlib import Path
from typing import Any

from advisor.errors import BadInput
from advisor.names import did_you_mean, name_key
from advisor.routes.amounts import exact_number, text_number
from advisor.routes.pools.pool import ORDINARY_SET, Affix, Base, Pool, Sizes
from advisor.routes.table import Table, describe_type
from advisor.routes.toml_file import read_toml

ALL_KINDS = "all"
MOST_SLOTS = 20
"""Slots of one kind beyond this are taken for a slip of the pen."""

_FILE_KEYS = ("pool", "base", "affix")
_POOL_KEYS = ("slots", "placed_at_most", "count", "survivors")
_BASE_KEYS = ("item", "traits")
_AFFIX_KEYS = ("name", "kind", "group", "tier", "weight", "item_level", "needs", "set")


def read_pool(path: Path) -> Pool:
    """Read one pool file.

    Raises:
        BadInput: the file cannot be read or is not TOML.
        RouteFault: a key, type, number or name in it is not what it must be.
    """
    file = read_toml(path)
    whole = Table(file.values, (), file.lines)
    whole.refuse_unknown_keys(_FILE_KEYS)
    head = whole.table("pool", "[pool] with slots = { etched = 2 }")
    if not head.values:
        raise whole.fault("[pool] is missing", right="write [pool] with slots = { etched = 2 }")
    head.refuse_unknown_keys(_POOL_KEYS)
    slots = _slots(head)
    bases = _bases(whole)
    return Pool(
        name=path.stem,
        slots=slots,
        placed_at_most=_placed_at_most(head),
        count=_count(head, slots),
        survivors=_survivors(head),
        bases=bases,
        affixes=_affixes(whole, slots, {trait for base in bases for trait in base.traits}),
        lines=file.lines,
    )


def _slots(head: Table) -> dict[str, int]:
    table = head.table("slots", "{ etched = 2, inlaid = 3 }")
    if not table.values:
        raise head.fault("`slots` is missing", "slots", right="write slots = { etched = 2 }")
    for kind in table.values:
        if name_key(kind) == ALL_KINDS:
            raise table.fault('a kind cannot be called "all"', kind, right="give it its own word")
        if not 1 <= table.whole_number(kind, 0) <= MOST_SLOTS:
            raise table.fault(
                f"{kind!r} has {table.values[kind]} slots", kind, right=f"1 to {MOST_SLOTS} fit"
            )
    return dict(table.values)


def _placed_at_most(head: Table) -> int | None:
    if "placed_at_most" not in head.values:
        return None
    most = head.whole_number("placed_at_most", 0)
    if most < 0:
        raise head.fault(f"`placed_at_most` is {most}", "placed_at_most", right="0 or more")
    return most


def read_sizes(table: Table, key: str) -> Sizes:
    """Read `{ 3 = 6, 4 = 3 }`: how many, and relative weights; gives chances that sum to 1."""
    inner = table.table(key, "{ 3 = 6, 4 = 3 }")
    weights: dict[int, Fraction] = {}
    for size in inner.values:
        if not size.isascii() or not size.isdigit() or len(size) > 3:
            raise inner.fault(f"{size!r} is not a number of affixes", size, right="like 3 = 6")
        weights[int(size)] = read_weight(inner, size, f"the weight of {size}")
    total = sum(weights.values())
    if not total:
        what = "has only weights of zero" if weights else "is empty"
        raise table.fault(f"`{key}` {what}", key, right="give one size a weight above 0")
    return {size: weight / total for size, weight in sorted(weights.items()) if weight}


def read_weight(table: Table, key: str, called: str) -> Fraction:
    """Read a relative weight: a number, 0 or more."""
    value = table.values[key]
    number = text_number(value) if isinstance(value, str) else exact_number(value)
    if number is None:
        found = repr(value) if isinstance(value, str) else describe_type(value)
        raise table.fault(f"{called} is {found}", key, right="it must be a number, 0 or more")
    if number < 0:
        raise table.fault(f"{called} is {value}", key, right="it must be 0 or more")
    return number


def _count(head: Table, slots: dict[str, int]) -> dict[str, Sizes]:
    table = head.table("count", "{ all = { 3 = 6, 4 = 3 } }")
    for kind in table.values:
        if kind != ALL_KINDS and kind not in slots:
            raise table.fault(
                f"unknown kind {kind!r} in `count`", kind, right=known_kinds(kind, slots)
            )
    return {kind: read_sizes(table, kind) for kind in table.values}


def known_kinds(kind: str, slots: Collection[str]) -> str:
    """The `right` part of an error about a kind."""
    return did_you_mean(kind, slots) or "kinds are " + ", ".join(slots)


def _survivors(head: Table) -> dict[int, Sizes]:
    table = head.table("survivors", "{ 2 = { 1 = 2, 2 = 1 } }")
    found: dict[int, Sizes] = {}
    for size in table.values:
        if not size.isascii() or not size.isdigit() or len(size) > 3 or int(size) == 0:
            raise table.fault(f"{size!r} is not a pot size", size, right="like 2 = { 1 = 2 }")
        kept = read_sizes(table, size)
        if max(kept) > int(size):
            raise table.fault(
                f"of {size} in the pot {max(kept)} are kept", size, right=f"at most {size}"
            )
        found[int(size)] = kept
    return found


def _bases(whole: Table) -> tuple[Base, ...]:
    tables = whole.tables("base")
    if not tables:
        raise whole.fault("the pool has no base", right='write [[base]] with item = "..."')
    seen: dict[str, str] = {}
    bases = []
    for table in tables:
        table.refuse_unknown_keys(_BASE_KEYS)
        item = table.text("item")
        if seen.setdefault(name_key(item), item) is not item:
            raise table.fault(f"the base {item!r} is written twice", "item", right="keep one")
        bases.append(Base(item, read_words(table, "traits")))
    return tuple(bases)


def read_words(table: Table, key: str) -> frozenset[str]:
    """Read a list of words, like traits; empty where it is not written."""
    value = table.values.get(key, [])
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        table.refuse_type(key, 'a list of words, like ["brass"]')
    return frozenset(name_key(each) for each in value)


def _affixes(whole: Table, slots: dict[str, int], traits: set[str]) -> tuple[Affix, ...]:
    tables = whole.tables("affix")
    if not tables:
        raise whole.fault("the pool has no affix", right='write [[affix]] with name = "..."')
    affixes: list[Affix] = []
    names: dict[str, int | None] = {}
    tiers: dict[tuple[Any, ...], Affix] = {}
    for table in tables:
        affix = _affix(table, slots, traits)
        key = name_key(affix.name)
        if key in names:
            raise table.fault(
                f"the affix {affix.name!r} is written twice",
                "name",
                right=f"the first is on line {names[key]}",
            )
        names[key] = affix.line
        _refuse_same_tier(table, affix, tiers)
        affixes.append(affix)
    if not any(affix.weight for affix in affixes):
        raise whole.fault("every affix has weight 0", right="give those that are drawn a weight")
    return tuple(affixes)


def _affix(table: Table, slots: dict[str, int], traits: set[str]) -> Affix:
    table.refuse_unknown_keys(_AFFIX_KEYS)
    name = table.text("name")
    if "weight" not in table.values:
        raise table.fault(
            f"the affix {name!r} has no weight", right="write weight = 250; 0: only placed"
        )
    kind = table.text("kind")
    if kind not in slots:
        raise table.fault(
            f"the affix {name!r} is of the unknown kind {kind!r}",
            "kind",
            right=known_kinds(kind, slots),
        )
    needs = read_words(table, "needs")
    for trait in sorted(needs - traits):
        raise table.fault(
            f"the affix {name!r} needs the trait {trait!r}, which no base has",
            "needs",
            right=did_you_mean(trait, traits) or "give it to a [[base]]",
        )
    return Affix(
        name=name,
        kind=kind,
        group=table.text("group", name),
        tier=_at_least(table, name, "tier", 1),
        weight=read_weight(table, "weight", f"the weight of the affix {name!r}"),
        item_level=_at_least(table, name, "item_level", 0),
        needs=needs,
        set=table.text("set", "-") if "set" in table.values else ORDINARY_SET,
        line=table.line(),
    )


def _at_least(table: Table, name: str, key: str, least: int) -> int:
    value = table.whole_number(key, least)
    if not least <= value < 10**9:
        raise table.fault(
            f"`{key}` of the affix {name!r} is {value}", key, right=f"it must be {least} or more"
        )
    return value


def _refuse_same_tier(table: Table, affix: Affix, seen: dict[tuple[Any, ...], Affix]) -> None:
    """One group may have a tier twice only where set, level or traits tell them apart."""
    key = (name_key(affix.group), affix.tier, affix.set, affix.item_level, affix.needs)
    first = seen.setdefault(key, affix)
    if first is not affix:
        raise table.fault(
            f"the affixes {first.name!r} and {affix.name!r} are both tier {affix.tier} "
            f"of the group {affix.group!r}",
            "tier" if "tier" in table.values else "group",
            right="give them different tiers, levels, traits or sets",
        )


def find_pool(folder: Path, name: str) -> Pool:
    """Read the pool of this name from a folder of pool files.

    Raises: BadInput: there is none; else as `read_pool`.
    """
    known = {name_key(path.stem): path for path in sorted(folder.glob("*.toml"))}
    path = known.get(name_key(name.removesuffix(".toml")))
    if path is not None:
        return read_pool(path)
    names = [each.stem for each in known.values()]
    right = did_you_mean(name, names) or (
        "there are " + ", ".join(names) if names else f"write {name}.toml there"
    )
    raise BadInput(f"no pool {name!r}", file=folder, right=right)
