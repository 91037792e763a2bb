"""How a pool looks on a terminal: what can be drawn, what is wanted, which base, which level."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.cli.screen import show, show_sentences, show_table, show_wrapped
from advisor.figures import percent

if TYPE_CHECKING:
    from advisor.routes.pools.chances import BaseChances, WantChance
    from advisor.tasks.pools import PoolAnswer


def show_pool(answer: PoolAnswer) -> None:
    """The whole answer."""
    pool = answer.pool
    slots = ", ".join(f"{count} {kind}" for kind, count in pool.slots.items())
    show(f"{pool.name}: at most {slots}; item level {answer.item_level}")
    count = pool.count.get("all")
    if count:
        draws = ", ".join(f"{size}: {percent(float(each))}" for size, each in count.items())
        show(f"a redraw of all draws so many: {draws}")
    for each in answer.bases:
        show()
        _show_base(each)
    _show_undrawn(answer)
    if answer.asked is not None:
        show()
        _show_asked(answer)
    if answer.routes:
        show()
        _show_routes(answer)
    for one, other, reason in answer.exclusions:
        show_wrapped(f"{one} and {other} exclude each other: {reason}", first="! ", then="  ")
    show_sentences(answer.cautions, mark="! ")


def _show_base(chances: BaseChances) -> None:
    traits = ", ".join(sorted(chances.base.traits))
    show(f"on {chances.base.item}" + (f" ({traits})" if traits else ""))
    drawn = [each for each in chances.affixes if each.first_draw]
    if not drawn:
        show("  nothing can be drawn")
        return
    show_table(
        ["kind", "group", "tier", "affix", "first draw", "on the piece", "from level"],
        [
            [
                each.affix.kind,
                each.affix.group,
                str(each.affix.tier),
                each.affix.name,
                percent(each.first_draw),
                percent(each.on_piece),
                str(each.affix.item_level),
            ]
            for each in drawn
        ],
        right="llrlrrr",
    )


def _show_undrawn(answer: PoolAnswer) -> None:
    """What no ordinary draw brings."""
    affixes = answer.pool.affixes
    ways = {"only placed": [each.name for each in affixes if not each.weight]}
    for name in answer.pool.sets:
        if name:
            way = f"only by a step that names the set {name}"
            ways[way] = [each.name for each in affixes if each.set == name and each.weight]
    if any(ways.values()):
        show()
    for way, names in ways.items():
        if names:
            show_wrapped(f"{way}: {', '.join(names)}", then="  ")


def _show_asked(answer: PoolAnswer) -> None:
    """The want on each base, and level by level."""
    show(f"wanted: {answer.asked}")
    show_table(
        ["base", "by one redraw", "1 in", "from level", "best tiers from"],
        [_want_row(each.base.item, each.want) for each in answer.bases if each.want],
        right="lrrrr",
    )
    for each in answer.bases:
        if each.want is not None and each.want.why_not is not None:
            why = f"not on {each.base.item} at level {answer.item_level}: {each.want.why_not}"
            show_wrapped(why, first="! ", then="  ")
        elif any(level.want for level in each.levels):
            show()
            _show_levels(each)


def _show_levels(chances: BaseChances) -> None:
    show(f"by item level, on {chances.base.item}")
    show_table(
        ["from level", "by one redraw", "new there"],
        [
            [str(level.item_level), percent(level.want), ", ".join(level.new)]
            for level in chances.levels
        ],
        right="rrl",
    )


def _show_routes(answer: PoolAnswer) -> None:
    show("what the routes with this pool want")
    show_table(
        ["route", "base", "level", "by one redraw", "1 in", "from level", "best tiers from"],
        [
            [each.route, each.base, str(each.item_level), *_want_row("", each.chance)[1:]]
            for each in answer.routes
        ],
        right="llrrrrr",
    )


def _want_row(name: str, want: WantChance) -> list[str]:
    one_in = f"{1 / want.chance:,.0f}" if want.chance else "-"
    levels = [want.least_item_level, want.best_item_level]
    return [
        name,
        percent(want.chance),
        one_in,
        *("-" if each is None else str(each) for each in levels),
    ]
