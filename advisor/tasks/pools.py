"""What a pool offers: chances on each base, for a want typed or those of the routes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from advisor.errors import BadInput, MakeworthError
from advisor.names import name_key
from advisor.routes.pools.chances import (
    BaseChances,
    WantChance,
    base_chances,
    find_exclusions,
    want_chance,
)
from advisor.routes.pools.pool import ORDINARY_SET, Base, Pool
from advisor.routes.pools.read_pool import find_pool
from advisor.routes.pools.wants import Want, read_want
from advisor.routes.table import Table
from advisor.routes.toml_lines import LineIndex
from advisor.tasks.routing import RouteBook, read_routes
from advisor.tasks.workspace import Workspace


@dataclass(frozen=True)
class RouteWant:
    """What one route wants of the pool.

    Attributes:
        route: Its name.
        base: The base it starts from.
        item_level: The level of its base.
        chance: What becomes of its finish by a redraw of all.
    """

    route: str
    base: str
    item_level: int
    chance: WantChance


@dataclass(frozen=True)
class PoolAnswer:
    """The answer about a pool.

    Attributes:
        pool: The pool.
        item_level: The level asked for; else the highest that any affix needs.
        bases: The bases asked for, the first one first.
        asked: The want as typed; None without one.
        routes: What the routes with this pool want.
        exclusions: Pairs of wanted things that cannot be on one piece, and why.
        cautions: What to know, in sentences.
    """

    pool: Pool
    item_level: int
    bases: tuple[BaseChances, ...]
    asked: str | None
    routes: tuple[RouteWant, ...]
    exclusions: tuple[tuple[str, str, str], ...]
    cautions: tuple[str, ...]


def answer_pool(
    workspace: Workspace,
    name: str,
    *,
    base: str | None = None,
    item_level: int | None = None,
    want: str | None = None,
) -> PoolAnswer:
    """Answer what can be drawn from a pool.

    Args:
        workspace: Where pools and routes are.
        name: The pool.
        base: Only on this base; None: on every base.
        item_level: The base's level; None: the highest that any affix needs.
        want: What is wanted, like "flame:2, chime"; None: what its routes want, if all the same.
    Raises: BadInput: no such pool or base, a file at fault, a want that names nothing known.
    """
    pool = find_pool(workspace.pools, PurePath(name).name)
    if item_level is None:
        item_level = max(each.item_level for each in pool.affixes)
    if not 0 <= item_level < 10**9:
        raise BadInput(f"the item level is {item_level}", right="it must be 0 or more")
    bases = pool.bases if base is None else (pool.base_of(base),)
    typed = None if want is None else read_typed_want(want, pool)
    cautions: list[str] = []
    book = read_routes(workspace)
    routes = _route_wants(book, pool, cautions)
    wanted = typed or _only_want([each for _, each in routes])
    return PoolAnswer(
        pool=pool,
        item_level=item_level,
        bases=tuple(
            base_chances(pool, each, item_level=item_level, want=wanted, sets=[ORDINARY_SET])
            for each in bases
        ),
        asked=want,
        routes=tuple(found for found, _ in routes),
        exclusions=_exclusions(pool, bases[0], [typed, *(each for _, each in routes)], item_level),
        cautions=(*cautions, *_cautions(pool)),
    )


def _only_want(wants: Sequence[Want]) -> Want | None:
    """What all routes with this pool want; None where none or several things are wanted."""
    return wants[0] if wants and all(each == wants[0] for each in wants) else None


def read_typed_want(text: str, pool: Pool) -> Want:
    """A want as typed: entries between commas, all of them wanted.

    Raises: BadInput: an entry that the pool does not know.
    """
    entries = [part.strip() for part in text.split(",") if part.strip()]
    if not entries:
        raise BadInput("the want names nothing", right='write --want "flame:2, chime"')
    return read_want(Table({"all": entries}, (), LineIndex(PurePath("--want"), {})), pool)


def _route_wants(book: RouteBook, pool: Pool, cautions: list[str]) -> list[tuple[RouteWant, Want]]:
    """The finish of every route with this pool."""
    found = []
    for name, route in book.routes.items():
        settings = route.pool
        if settings is None or name_key(settings.pool) != name_key(pool.name):
            continue
        try:
            want = read_want(settings.finish, pool)
            base = pool.base_of(settings.base)
        except MakeworthError as fault:
            cautions.append(f"a route is left out: {book.tell(fault)}")
            continue
        chance = want_chance(pool, base, want, item_level=settings.item_level)
        found.append((RouteWant(name, base.item, settings.item_level, chance), want))
    cautions += [f"a route is left out: {book.tell(fault)}" for fault in book.faults.values()]
    return found


def _exclusions(
    pool: Pool, base: Base, wants: Sequence[Want | None], item_level: int
) -> tuple[tuple[str, str, str], ...]:
    entries = {
        entry.text: entry
        for want in wants
        if want is not None
        for entry in (*want.all, *(each for line in want.any for each in line.of))
    }
    return tuple(find_exclusions(pool, base, list(entries.values()), item_level=item_level))


def _cautions(pool: Pool) -> list[str]:
    if "all" in pool.count:
        return []
    return [
        "the pool does not say how many a redraw of all gives (`all` in [pool.count]), "
        "so there is no chance on the piece"
    ]


def pool_json(answer: PoolAnswer) -> dict[str, Any]:
    """The answer as plain values, by the contract; the first base stands for the pool."""
    first = answer.bases[0]
    return {
        "pool": answer.pool.name,
        "item_level": answer.item_level,
        "base": first.base.item,
        "draws": {
            str(size): float(chance) for size, chance in answer.pool.count.get("all", {}).items()
        },
        "affixes": _affixes_json(first),
        "want": _want_json(first.want),
        "bases": [
            {
                "base": each.base.item,
                "traits": sorted(each.base.traits),
                "affixes": _affixes_json(each),
                "want": _want_json(each.want),
                "levels": [
                    {"item_level": level.item_level, "new": list(level.new), "want": level.want}
                    for level in each.levels
                ],
            }
            for each in answer.bases
        ],
        "routes": [
            {
                "route": each.route,
                "base": each.base,
                "item_level": each.item_level,
                "want": _want_json(each.chance),
            }
            for each in answer.routes
        ],
        "exclusions": [
            {"one": one, "other": other, "reason": reason}
            for one, other, reason in answer.exclusions
        ],
        "cautions": [*answer.cautions, *_no_want(answer)],
    }


def _affixes_json(chances: BaseChances) -> list[dict[str, Any]]:
    return [
        {
            "name": each.affix.name,
            "kind": each.affix.kind,
            "group": each.affix.group,
            "tier": each.affix.tier,
            "chance_first_draw": each.first_draw,
            "chance_on_piece": each.on_piece,
            "from_item_level": each.affix.item_level,
        }
        for each in chances.affixes
    ]


def _no_want(answer: PoolAnswer) -> list[str]:
    if answer.bases[0].want is not None:
        return []
    why = "its routes want several things" if answer.routes else "no route wants anything of it"
    return [f'no want: {why}; ask for one with --want "flame:2, chime"']


def _want_json(want: WantChance | None) -> dict[str, Any] | None:
    if want is None:
        return None
    return {
        "chance": want.chance,
        "least_item_level": want.least_item_level,
        "best_tiers_from": want.best_item_level,
        "why_not": want.why_not,
    }
