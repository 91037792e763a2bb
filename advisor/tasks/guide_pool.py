"""What one must know of a route's pool, for a guide: base, level, exclusions, what to do next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from typing import Any

from advisor.figures import percent
from advisor.routes.pools.chances import base_chances, find_exclusions
from advisor.routes.pools.pool import ORDINARY_SET, Base, Pool
from advisor.routes.pools.read_pool import find_pool
from advisor.routes.pools.wants import Entry, Want, read_want
from advisor.routes.route import PIECE, PoolSettings, Route, Step
from advisor.tasks.guide_steps import BestWay
from advisor.tasks.workspace import Workspace
from reports.guide_data import LookRule, PoolAffix, PoolBase, PoolNotes, Then

PIECES_NAMED = 10

Parts = tuple[str, ...]
"""What is on a piece."""


def know_pool(workspace: Workspace, route: Route, way: BestWay) -> PoolNotes | None:
    """What one must know of the pool of a route; None where it has none."""
    settings = route.pool
    if settings is None:
        return None
    pool = find_pool(workspace.pools, settings.pool)
    want, base = read_want(settings.finish, pool), pool.base_of(settings.base)
    others = [each for each in pool.bases if each.item != base.item]
    entries = [*want.all, *(each for line in want.any for each in line.of)]
    drawn = _drawn_part(want, pool)
    return PoolNotes(
        pool=pool.name,
        item_level=settings.item_level,
        wanted=want_words(settings.finish.values),
        grades=[
            (str(grade.values.get("item", "")), want_words(grade.values))
            for grade in settings.grades
        ],
        slots=list(pool.slots.items()),
        bases=[_base(pool, each, drawn, settings.item_level) for each in (base, *others)],
        not_drawn=[_entry_words(each.text) for each in entries if not _is_drawn(each, pool)],
        affixes=_affixes(pool, base, settings, want),
        exclusions=find_exclusions(pool, base, entries, item_level=settings.item_level),
        rules=look_rules(way),
    )


def _base(pool: Pool, base: Base, want: Want, item_level: int) -> PoolBase:
    found = base_chances(pool, base, item_level=item_level, want=want, sets=[ORDINARY_SET]).want
    return PoolBase(
        item=base.item,
        traits=sorted(base.traits),
        chance=None if found is None else found.chance,
        least_level=None if found is None else found.least_item_level,
        best_tiers_from=None if found is None else found.best_item_level,
        why_not=None if found is None else found.why_not,
    )


def _is_drawn(entry: Entry, pool: Pool) -> bool:
    """Whether an ordinary draw can bring it."""
    affixes = [pool.affixes[each] for each in entry.affixes]
    return any(each.weight > 0 and each.set == ORDINARY_SET for each in affixes)


def _drawn_part(want: Want, pool: Pool) -> Want:
    """What of a want a redraw has to bring; the rest comes by steps of its own."""
    lines = [
        replace(line, of=tuple(each for each in line.of if _is_drawn(each, pool)))
        for line in want.any
    ]
    return replace(
        want,
        all=tuple(each for each in want.all if _is_drawn(each, pool)),
        any=tuple(line for line in lines if len(line.of) >= line.least),
    )


def _affixes(pool: Pool, base: Base, settings: PoolSettings, want: Want) -> list[PoolAffix]:
    """Every affix of the groups that the finish speaks of, best tier first."""
    level = settings.item_level
    chances = base_chances(pool, base, item_level=level, want=None, sets=[ORDINARY_SET])
    groups = {pool.affixes[each].group for each in want.mentioned}
    found = [each for each in chances.affixes if each.affix.group in groups]
    found.sort(key=lambda each: (each.affix.kind, each.affix.group, each.affix.tier))
    return [
        PoolAffix(
            name=each.affix.name,
            kind=each.affix.kind,
            group=each.affix.group,
            tier=each.affix.tier,
            from_level=each.affix.item_level,
            needs=sorted(each.affix.needs),
            chance=each.on_piece,
            usable=each.affix.item_level <= level and each.affix.needs <= base.traits,
        )
        for each in found
    ]


def look_rules(way: BestWay) -> list[LookRule]:
    """What to do with which pieces; the commonest thing last, for all the rest."""
    drawn = {
        stage: visits for stage, visits in way.visited() if way.is_drawn_piece(stage) and visits > 0
    }
    by_action: dict[Then, list[int]] = {}
    for stage in sorted(drawn, key=lambda each: -drawn[each]):
        by_action.setdefault(way.act_at(stage), []).append(stage)
    if not by_action:
        return []
    rest = max(by_action, key=lambda then: sum(drawn[stage] for stage in by_action[then]))
    names = {stage: tuple(way.cost.model.stages[stage].split(", ")) for stage in drawn}
    rules = []
    for then, own in by_action.items():
        if then != rest:
            open_to = [names[each] for each in drawn if way.can_be_taken(each, then)]
            rules.append(_rule(then, [names[each] for each in own], open_to))
    rules.sort(key=lambda rule: -rule.count)
    return [*rules, LookRule(rest, (), (), len(by_action[rest]))]


def _rule(then: Then, own: Sequence[Parts], open_to: Sequence[Parts]) -> LookRule:
    """The rule in the shorter way: the pieces it is for, or those that it is not for.

    Args:
        own: What is on each piece it is for, the likeliest first.
        open_to: On each piece on which it can be done at all.
    """
    carried = [set(parts) for parts in own]
    shared = set.intersection(*carried) if len(carried) > 1 else set()
    inside = [part for part in own[0] if part in shared]
    mine = set(own)
    others = [parts for parts in open_to if shared <= set(parts) and parts not in mine]
    if len(own) > 1 and len(others) < len(own):
        return LookRule(then, inside, (), len(own), _beside(others, shared))
    return LookRule(then, inside, _beside(own, shared)[:PIECES_NAMED], len(own))


def _beside(pieces: Sequence[Parts], shared: AbstractSet[str]) -> list[str]:
    left = [" and ".join(part for part in parts if part not in shared) for parts in pieces]
    return [each or "nothing else" for each in left]


def effects_of(route: Route, pool: Pool) -> list[tuple[str, str]]:
    """For each step: on which pieces it is taken, and what it does to them, in words."""
    return [(_when_words(step), _effect_of_step(step, pool)) for step in route.steps]


def _when_words(step: Step) -> str:
    if step.when is None:
        return ""
    return "any piece" if not step.when else f"a piece with {want_words(step.when)}"


def _effect_of_step(step: Step, pool: Pool) -> str:
    if step.put is not None:
        on = ", ".join(str(each) for each in step.put)
        return f"a piece with {on} is then on the table" if on else "a bare piece is on the table"
    said = [] if step.effect is None else [effect_words(step.effect, pool)]
    several = len(step.outcomes) > 1
    for outcome in step.outcomes:
        if outcome.effect is not None:
            words = effect_words(outcome.effect, pool)
            said.append(f"where it leaves {_named(outcome.stage)}, {words}" if several else words)
    return "; ".join(said)


def _named(stage: str) -> str:
    return "a piece" if stage.casefold() == PIECE else stage


def effect_words(effect: Mapping[str, Any], pool: Pool) -> str:
    """One effect as a careful person says it."""
    kind = f" {effect['kind']}" if "kind" in effect else ""
    of_set = f" of the set {effect['set']}" if "set" in effect else ""
    if "redraw" in effect:
        own = "" if effect["redraw"] == "all" else f"{effect['redraw']} "
        number = _count_words(effect.get("count") or pool.count.get(str(effect["redraw"]), {}))
        said = f"all {own}affixes leave and new ones{of_set} are drawn{number}"
    elif "add" in effect:
        count = effect["add"]
        said = f"{_number(count)}{kind} {_affix(count)}{of_set} {_is(count)} drawn onto it"
    elif "remove" in effect:
        count = effect["remove"]
        said = f"{_number(count)}{kind} {_affix(count)} {_is(count)} taken off, which one is chance"
    elif "place" in effect:
        said = f"{effect['place']} is put on, for certain"
    elif "clear" in effect:
        what = "what was placed" if effect["clear"] == "placed" else effect["clear"]
        said = f"{what} leaves, for certain"
    elif "choose" in effect:
        none = ", or none" if effect.get("decline") else ""
        said = f"{effect['choose']}{kind} affixes{of_set} are offered: take the best one{none}"
    else:
        on = ", ".join(str(each) for each in effect.get("join", ()))
        said = f"a second piece with {on} is used up; chance keeps a part of what both carry"
    return said


def _number(count: Any) -> str:
    return "one" if count == 1 else str(count)


def _affix(count: Any) -> str:
    return "affix" if count == 1 else "affixes"


def _is(count: Any) -> str:
    return "is" if count == 1 else "are"


def _count_words(count: Mapping[Any, Any]) -> str:
    """How many are drawn: ", 3 (60 %), 4 (30 %) or 5 (10 %) of them"."""
    total = sum(float(each) for each in count.values())
    if not total:
        return ""
    words = [f"{size} ({percent(float(each) / total)})" for size, each in count.items()]
    said = words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
    return f", {said} of them"


def want_words(want: Mapping[str, Any]) -> str:
    """A want as it is said: all of these, so many of those.

    >>> want_words({"all": ["flame:2"], "any": [{"k": 1, "of": ["chime:1", "glow"]}]})
    'flame 2 or better and at least one of chime 1, glow'
    """
    said = [_entry_words(str(each)) for each in want.get("all", ())]
    for line in want.get("any", ()):
        of = ", ".join(_entry_words(str(each)) for each in line["of"])
        said.append(f"at least {_number(line.get('k', 1))} of {of}")
    said += [f"no {_entry_words(str(each))}" for each in want.get("none", ())]
    for kind, count in dict(want.get("free", {})).items():
        said.append(f"{count} free {kind} slot{'' if count == 1 else 's'}")
    if len(said) < 2:
        return said[0] if said else "anything on it"
    return f"{', '.join(said[:-1])} and {said[-1]}"


def _entry_words(text: str) -> str:
    group, sign, tier = text.rpartition(":")
    if not sign or not tier.strip().isdigit():
        return text
    return f"{group.strip()} {int(tier)}" + ("" if int(tier) == 1 else " or better")
