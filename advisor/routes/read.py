"""A route file, read into a route or refused with its line."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from pathlib import Path

from advisor.routes.amounts import Amount, read_amount, read_fee, read_item_amounts
from advisor.routes.odds import certain, read_odds
from advisor.routes.route import PIECE, MarketStage, Outcome, PoolSettings, Route, Step
from advisor.routes.step_odds import check_odds_kinds
from advisor.routes.table import Table
from advisor.routes.toml_file import read_toml
from advisor.routes.vary import Rungs, fill_braces, read_vary, refuse_braces

_FILE_KEYS = ("route", "step", "market", "finish", "grade")
_ROUTE_KEYS = ("makes", "start", "finish", "about", "pool", "base", "item_level")
_STEP_KEYS = (
    "name", "from", "to", "uses", "gives", "fee", "minutes", "outcomes", "vary",
    "when", "put", "effect", "since",
)  # fmt: skip
_OUTCOME_KEYS = ("odds", "weight", "seen", "uses", "gives", "fee", "minutes", "effect")
_POOL_ONLY = ("when", "put", "effect")


def read_route(path: Path) -> Route:
    """Read one route file.

    Raises:
        BadInput: the file cannot be read or is not TOML.
        RouteFault: a key, type, number, name or chance in it is not what it must be.
    """
    file = read_toml(path)
    whole = Table(file.values, (), file.lines)
    if not file.values:
        raise whole.fault("the file is empty", right="a route has [route] and [[step]]")
    whole.refuse_unknown_keys(_FILE_KEYS)
    head = _head(whole)
    pool = _pool_settings(whole, head)
    steps = tuple(_step(table, pool is not None) for table in _step_tables(whole))
    makes = head.text("makes")
    start = head.text("start", _first_stage(steps[0]))
    finish = makes if pool else head.text("finish", makes)
    for key in ("makes", "start", "finish"):
        if head.optional_text(key):
            refuse_braces(head, head.text(key), key)
    return Route(
        name=path.stem,
        file=path,
        makes=makes,
        start=start,
        finish=finish,
        about=head.text("about", "-") if "about" in head.values else "",
        steps=steps,
        market=_market(whole),
        pool=pool,
        lines=file.lines,
    )


def _first_stage(step: Step) -> str:
    """Where the first step starts; with `vary`, at the first of its values."""
    first = Rungs({name: values[:1] for name, values in step.vary.items()})
    return fill_braces(step.start or "empty table", first, step.table, row=0)


def _head(whole: Table) -> Table:
    if "route" not in whole.values:
        raise whole.fault("[route] is missing", right='write [route] with makes = "..."')
    head = whole.table("route", '[route] with makes = "..."')
    head.refuse_unknown_keys(_ROUTE_KEYS)
    return head


def _step_tables(whole: Table) -> list[Table]:
    tables = whole.tables("step")
    if not tables:
        raise whole.fault("the route has no steps", right="write at least one [[step]]")
    return tables


def _pool_settings(whole: Table, head: Table) -> PoolSettings | None:
    if "pool" not in head.values:
        for key in ("base", "item_level"):
            if key in head.values:
                raise head.fault(f"`{key}` is written without `pool`", key, right="name the pool")
        for key in ("finish", "grade"):
            if key in whole.values:
                raise whole.fault(
                    f"[{key}] is written, but the route names no pool",
                    key,
                    right='a route without a pool names its last stage: finish = "..." in [route]',
                )
        return None
    if "finish" in head.values:
        raise head.fault("`finish` names a stage", "finish", right="with a pool write [finish]")
    return PoolSettings(
        pool=head.text("pool"),
        base=head.text("base"),
        item_level=_item_level(head),
        finish=whole.table("finish", '[finish] with all = ["..."]'),
        grades=tuple(whole.tables("grade")),
        table=head,
    )


def _item_level(head: Table) -> int:
    level = head.whole_number("item_level", 0)
    if level < 0:
        raise head.fault(f"`item_level` is {level}", "item_level", right="it must be 0 or more")
    return level


def _market(whole: Table) -> tuple[MarketStage, ...]:
    table = whole.table("market", '"marked frame" = "marked lantern frame"')
    for stage in table.values:
        refuse_braces(table, stage, stage)
        refuse_braces(table, table.text(stage), stage)
    return tuple(MarketStage(stage, table.text(stage), table.line(stage)) for stage in table.values)


def _step(table: Table, with_pool: bool) -> Step:
    called = table.values.get("name")
    if isinstance(called, str):
        table = Table(table.values, table.path, table.lines, step=called)
    table.refuse_unknown_keys(_STEP_KEYS)
    name = table.text("name")
    _refuse_misplaced(table, with_pool)
    put = table.values.get("put")
    if put is not None and not isinstance(put, list):
        table.refuse_type("put", 'a list of affixes, like ["steady flame"]')
    start = table.optional_text("from")
    if start is None and "when" not in table.values:
        raise table.fault("`from` is missing", right="name the stage the step is taken at")
    return Step(
        name=name,
        start=start,
        outcomes=_outcomes(table, with_pool),
        uses=read_item_amounts(table, "uses") + read_fee(table),
        gives=read_item_amounts(table, "gives"),
        minutes=_minutes(table),
        vary=read_vary(table),
        when=_raw_table(table, "when"),
        put=put,
        effect=_raw_table(table, "effect"),
        since=_since(table),
        table=table,
    )


def _refuse_misplaced(table: Table, with_pool: bool) -> None:
    for key in _POOL_ONLY:
        if key in table.values and not with_pool:
            raise table.fault(
                f"`{key}` is written, but the route names no pool",
                key,
                right='name one in [route]: pool = "..."',
            )
    if "from" in table.values and "when" in table.values:
        raise table.fault("has both `from` and `when`", "when", right="keep one of them")
    if "to" in table.values and "outcomes" in table.values:
        raise table.fault("has both `to` and `outcomes`", "to", right="keep one of them")


def _raw_table(table: Table, key: str) -> dict[str, object] | None:
    if key not in table.values:
        return None
    return dict(table.table(key, "{ ... }").values)


def _since(table: Table) -> date | None:
    found = table.values.get("since")
    if found is not None and not isinstance(found, date):
        table.refuse_type("since", "a date without quotes, like since = 2026-10-01")
    return found


def _minutes(table: Table) -> Amount:
    if "minutes" not in table.values:
        return Fraction(0)
    return read_amount(table, "minutes", above_zero=False)


def _outcomes(table: Table, with_pool: bool) -> tuple[Outcome, ...]:
    if "outcomes" in table.values:
        outcomes = table.table("outcomes", '{ "bare frame" = "2 %" }')
        if not outcomes.values:
            raise table.fault("`outcomes` is empty", "outcomes", right="name where it may lead")
        found = tuple(_outcome(outcomes, stage) for stage in outcomes.values)
        for each in found:
            if each.effect is not None and not with_pool:
                raise outcomes.fault(
                    "`effect` is written, but the route names no pool",
                    each.stage,
                    right='name one in [route]: pool = "..."',
                )
        check_odds_kinds(outcomes, found)
        return found
    if "to" not in table.values and not with_pool:
        raise table.fault("leads nowhere", right="write `to` or `outcomes`")
    stage = table.text("to", PIECE)
    line = table.line("to")
    return (Outcome(stage, certain(line), (), (), Fraction(0), None, line),)


def _outcome(outcomes: Table, stage: str) -> Outcome:
    if not stage.strip():
        raise outcomes.fault("an outcome has no name", stage, right="name the stage it leads to")
    value = outcomes.values[stage]
    inner = Table({}, (*outcomes.path, stage), outcomes.lines, outcomes.step)
    if isinstance(value, dict) and "by" not in value:
        inner = outcomes.table(stage, '{ odds = "2 %" }')
        inner.refuse_unknown_keys(_OUTCOME_KEYS)
    odds = read_odds(outcomes, stage)
    return Outcome(
        stage=stage,
        odds=odds,
        uses=read_item_amounts(inner, "uses") + read_fee(inner),
        gives=read_item_amounts(inner, "gives"),
        minutes=_minutes(inner),
        effect=_raw_table(inner, "effect"),
        line=inner.line(),
    )
