"""A route with a pool as it is meant: wants read, effects read, names checked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from advisor.errors import RouteFault
from advisor.names import did_you_mean, name_key
from advisor.routes.pools.effects import Effect, Join, Place, Redraw, read_effect
from advisor.routes.pools.effects import read_affixes as read_piece
from advisor.routes.pools.mentions import Mentions
from advisor.routes.pools.pool import Base, Pool
from advisor.routes.pools.possible import Obtainable, why_impossible
from advisor.routes.pools.wants import Want, read_want
from advisor.routes.route import PIECE, Outcome, PoolSettings, Route, Step
from advisor.routes.table import Table


@dataclass(frozen=True)
class PoolOutcome:
    """Where a step may lead.

    Attributes:
        outcome: As written.
        written: Its number, counted over all outcomes of the route.
        keeps_piece: A piece stays on the table; else it leads to the outcome's stage.
        effect: What happens to the piece; None: nothing.
    """

    outcome: Outcome
    written: int
    keeps_piece: bool
    effect: Effect | None


@dataclass(frozen=True)
class PoolStep:
    """One step: from a plain stage, or on every piece that meets a want.

    Attributes:
        step: As written.
        when: The want; None for a step from a plain stage.
        put: The affixes of the piece it puts on the table; None: it puts none.
        outcomes: In the order of the file.
    """

    step: Step
    when: Want | None
    put: tuple[int, ...] | None
    outcomes: tuple[PoolOutcome, ...]

    @property
    def keeps_others(self) -> bool:
        """Whether it may leave others that were on the piece before."""
        return self.put is None and any(
            each.keeps_piece and not (isinstance(each.effect, Redraw) and each.effect.kind is None)
            for each in self.outcomes
        )

    @property
    def effects(self) -> Iterator[Effect]:
        """The effects of its outcomes."""
        return (each.effect for each in self.outcomes if each.effect is not None)


@dataclass(frozen=True)
class Grade:
    """A quality with a price of its own."""

    item: str
    want: Want


@dataclass(frozen=True)
class PoolRoute:
    """A route with its pool.

    Attributes:
        finish: What makes the piece finished; None where a plain stage does.
    """

    route: Route
    pool: Pool
    base: Base
    item_level: int
    finish: Want | None
    grades: tuple[Grade, ...]
    steps: tuple[PoolStep, ...]

    @property
    def effects(self) -> Iterator[Effect]:
        """Every effect of the route."""
        return (effect for step in self.steps for effect in step.effects)

    @property
    def wants(self) -> Iterator[Want]:
        """Every want of the route."""
        yield from (step.when for step in self.steps if step.when is not None)
        if self.finish is not None:
            yield self.finish
        yield from (grade.want for grade in self.grades)

    @cached_property
    def mentions(self) -> Mentions:
        """What the route tells apart, draws and brings."""
        put = {affix for step in self.steps for affix in step.put or ()}
        entries = [entry for want in self.wants for entry in want.entries]
        by_name = {
            entry.affixes[0]
            for entry in entries
            if name_key(entry.text) == name_key(self.pool.affixes[entry.affixes[0]].name)
        }
        return Mentions(
            wanted=frozenset(affix for entry in entries for affix in entry.affixes),
            named=frozenset(by_name | put),
            appearing=frozenset(put),
            entries=frozenset(frozenset(entry.affixes) for entry in entries),
        ).with_effects(self.effects)


def read_pool_route(route: Route, settings: PoolSettings, pool: Pool) -> PoolRoute:
    """Read the wants and effects of a route, and check that they can be.

    Raises: RouteFault: an unknown base, affix, group, kind or set; a want that cannot
        be met; a put that does not fit; a step that does nothing.
    """
    base = _base(settings, pool)
    steps, written = [], 0
    for step in route.steps:
        steps.append(_pool_step(step, pool, base, written))
        written += len(step.outcomes)
    is_written = ("finish",) in settings.finish.lines.lines
    found = PoolRoute(
        route=route,
        pool=pool,
        base=base,
        item_level=settings.item_level,
        finish=read_want(settings.finish, pool) if is_written else None,
        grades=tuple(_grade(table, pool) for table in settings.grades),
        steps=tuple(steps),
    )
    _refuse_impossible_wants(found, settings)
    return found


def _base(settings: PoolSettings, pool: Pool) -> Base:
    known = {name_key(item): item for item in pool.known_bases}
    if name_key(settings.base) not in known:
        raise settings.table.fault(
            f"no base {settings.base!r} in the pool {pool.name!r}",
            "base",
            right=did_you_mean(settings.base, pool.known_bases)
            or "known are " + ", ".join(pool.known_bases),
        )
    return pool.base_of(settings.base)


def _grade(table: Table, pool: Pool) -> Grade:
    item = table.text("item")
    rest = {key: value for key, value in table.values.items() if key != "item"}
    if not rest:
        raise table.fault("the grade says nothing of what is wanted", right='all = ["..."]')
    return Grade(item, read_want(Table(rest, table.path, table.lines), pool))


def _pool_step(step: Step, pool: Pool, base: Base, first_written: int) -> PoolStep:
    when = put = None
    if step.when is not None:
        when = read_want(step.table.table("when", "{ ... }"), pool)
    if step.put is not None:
        put = read_piece(step.table, "put", pool)
        for affix in put:
            _refuse_missing_trait(step, "put", pool, base, affix)
    _refuse_two_roads(step)
    outcomes = tuple(
        _pool_outcome(step, outcome, first_written + number, pool)
        for number, outcome in enumerate(step.outcomes)
    )
    found = PoolStep(step, when, put, outcomes)
    for effect in found.effects:
        if isinstance(effect, Place):
            _refuse_missing_trait(step, "effect", pool, base, effect.affix)
    _refuse_idle(found)
    return found


def _refuse_missing_trait(step: Step, key: str, pool: Pool, base: Base, number: int) -> None:
    affix = pool.affixes[number]
    for trait in sorted(affix.needs - base.traits):
        raise step.table.fault(
            f"{affix.name!r} does not fit: it needs the trait {trait!r}, "
            f"which {base.item!r} has not",
            key,
            right="put on what fits the base",
        )


def _refuse_two_roads(step: Step) -> None:
    if step.effect is None:
        return
    for key in ("to", "outcomes"):
        if key in step.table.values:
            raise step.table.fault(
                f"has both `effect` and `{key}`",
                "effect",
                right='write the effect in an outcome: "piece" = { odds = "50 %", effect = ... }',
            )


def _pool_outcome(step: Step, outcome: Outcome, written: int, pool: Pool) -> PoolOutcome:
    table = None
    if outcome.effect is not None:
        inner = step.table.table("outcomes", "{ ... }").table(outcome.stage, "{ ... }")
        table = inner.table("effect", "{ add = 1 }")
    elif step.effect is not None:
        table = step.table.table("effect", "{ add = 1 }")
    effect = read_effect(table, pool) if table is not None else None
    keeps_piece = effect is not None or name_key(outcome.stage) == PIECE
    return PoolOutcome(outcome, written, keeps_piece, effect)


def _refuse_idle(found: PoolStep) -> None:
    """Refuse a step that needs a piece where there is none, or that changes nothing."""
    step = found.step
    keeping = [each for each in found.outcomes if each.keeps_piece]
    if found.when is None and found.put is None and keeping:
        raise step.table.fault(
            "leaves a piece on the table, but starts without one",
            right="write `when` to act on a piece, `put` to bring one, or `to` to lead on",
        )
    if found.put is not None and not keeping:
        raise step.table.fault(
            "puts a piece on the table and leads elsewhere", "put", right="leave out one of them"
        )
    if found.put is None and len(keeping) == len(found.outcomes) and not any(found.effects):
        raise step.table.fault("does nothing", right="give it an `effect`, `to` or `outcomes`")


def _refuse_impossible_wants(found: PoolRoute, settings: PoolSettings) -> None:
    mentions = found.mentions
    drawable = found.pool.drawable(
        found.base, found.item_level, sets={each for each, _ in mentions.draws}
    )
    obtainable = Obtainable(
        pool=found.pool,
        base=found.base,
        item_level=found.item_level,
        sets=frozenset(each for each, _ in mentions.draws),
        affixes=frozenset(drawable) | mentions.appearing | mentions.placed,
    )
    for want, table, called in _places_of_wants(found, settings):
        reason = why_impossible(want, obtainable)
        if reason is not None:
            raise table.fault(f"{called} cannot be met: {reason}")


def _places_of_wants(found: PoolRoute, settings: PoolSettings) -> Iterator[tuple[Want, Table, str]]:
    for step in found.steps:
        if step.when is not None:
            yield step.when, step.step.table.table("when", "{ ... }"), "`when`"
    if found.finish is not None:
        yield found.finish, settings.finish, "[finish]"
    for grade, table in zip(found.grades, settings.grades, strict=True):
        yield grade.want, table, f"the grade {grade.item!r}"


def refuse_unknown_targets(found: PoolRoute, left: set[str]) -> None:
    """Refuse an outcome that leads to a plain stage which nothing leaves.

    Args:
        found: The route.
        left: Keys of the plain stages that a step leaves; all without braces.
    """
    route = found.route
    known = left | {name_key(route.finish)} | {name_key(each.stage) for each in route.market}
    for step in found.steps:
        for each in step.outcomes:
            target = each.outcome.stage
            if isinstance(each.effect, Join) and each.effect.other is not None:
                _refuse_unknown(step.step, each.effect.other, each.outcome.line, known)
            if not each.keeps_piece and "{" not in target:
                _refuse_unknown(step.step, target, each.outcome.line, known)


def _refuse_unknown(step: Step, stage: str, line: int | None, known: set[str]) -> None:
    if name_key(stage) not in known:
        raise RouteFault(
            f"leads to {stage!r}, which no step leaves",
            right=did_you_mean(stage, known)
            or 'write a step from it, name it in [market], or keep a piece with "piece"',
            file=step.table.lines.file,
            line=line,
            step=step.name,
        )
