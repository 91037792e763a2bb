"""What a piece's page shows, in order; the template only lays it out."""

from __future__ import annotations

from dataclasses import dataclass

from reports.cost_chart import cost_chart, quantile_table
from reports.craft_charts import break_even_chart, parts_chart, routes_chart
from reports.findings import bad_night, craft_headline
from reports.page_parts import Chart, Column, Fact, Table
from reports.pages_data import Answer, PiecePage, Report, RouteDrawing
from reports.route_picture import Picture, draw_route


@dataclass(frozen=True)
class RouteView:
    """One route's picture with its numbers."""

    route: RouteDrawing
    chosen: bool
    picture: Picture | None
    spoken: str
    stages: Table
    ways: Table


@dataclass(frozen=True)
class PieceView:
    """A piece's page."""

    craft: Answer
    headline: str
    bad_night: str | None
    facts: tuple[Fact, ...]
    summary: Table | None
    charts: tuple[Chart, ...]
    routes: tuple[RouteView, ...]
    prices: Table | None


def piece_view(page: PiecePage, report: Report) -> PieceView:
    """Everything on a piece's page."""
    craft = page.craft
    chosen = next((each for each in page.routes if each.route == craft.get("route")), None)
    charts: list[Chart | None] = []
    if chosen is not None and chosen.cost is not None and craft.get("make"):
        charts.append(cost_chart(craft, chosen.cost))
    if chosen is not None and chosen.parts:
        charts.append(parts_chart(chosen.parts, report.money))
    charts += [break_even_chart(craft), routes_chart(craft)]
    ordered = sorted(page.routes, key=lambda each: each is not chosen)
    return PieceView(
        craft=craft,
        headline=craft_headline(craft),
        bad_night=bad_night(craft),
        facts=_facts(craft),
        summary=quantile_table(craft) if craft.get("make") else None,
        charts=tuple(chart for chart in charts if chart is not None),
        routes=tuple(_route_view(each, craft, chosen=each is chosen) for each in ordered),
        prices=_prices_behind(chosen, report) if chosen is not None else None,
    )


def _facts(craft: Answer) -> tuple[Fact, ...]:
    make, buy, saving = (craft.get(key) or {} for key in ("make", "buy", "saving"))
    edge = (make.get("quantiles") or {}).get("0.95")
    mean_chance, one_chance = "chance_make_cheaper", "chance_this_one_cheaper"
    return (
        Fact("make, on average", "make.mean", make.get("mean")),
        Fact("make, bad night", "make.quantiles.0.95", edge),
        Fact("buy", "buy.level", buy.get("level"), give_or_take=buy.get("sd")),
        Fact("saved by making", "saving.mean", saving.get("mean"), give_or_take=saving.get("sd")),
        Fact("making cheaper on average", mean_chance, craft.get(mean_chance), "share"),
        Fact("next one cheaper made", one_chance, craft.get(one_chance), "share"),
    )


def _route_view(route: RouteDrawing, craft: Answer, *, chosen: bool) -> RouteView:
    return RouteView(
        route=route,
        chosen=chosen,
        picture=draw_route(route),
        spoken=_spoken_route(route),
        stages=_stages_table(route, craft["choices"] if chosen else {}, craft["money"]),
        ways=_ways_table(route, craft["money"]),
    )


def _spoken_route(route: RouteDrawing) -> str:
    """The picture in words, for those who do not see it."""
    best = dict.fromkeys(edge.label for edge in route.edges if edge.best and edge.kind == "step")
    steps = ", ".join(best) or "no step"
    return (
        f"Picture of {route.route}: {len(route.stages)} stages. "
        f"Steps of the best way: {steps}. All stages and odds are in the tables below."
    )


def _stages_table(route: RouteDrawing, choices: Answer, money: str) -> Table:
    rows = []
    for stage in route.stages:
        choice = choices.get(stage.name) or {}
        doing = choice.get("step") or choice.get("action") or _best_from(route, stage.name)
        rows.append((stage.name, doing, stage.cost_to_go, stage.visits))
    columns = (
        Column("stage"),
        Column("best to do"),
        Column(f"still to pay ({money})", "number"),
        Column("visits on average", "number"),
    )
    return Table(f"Every stage of {route.route} and what to do there", columns, rows)


def _best_from(route: RouteDrawing, stage: str) -> str | None:
    for edge in route.edges:
        if edge.best and edge.origin == stage:
            return edge.label if edge.kind == "step" else edge.kind
    return None


def _ways_table(route: RouteDrawing, money: str) -> Table:
    rows = [
        (
            edge.origin,
            edge.label if edge.kind == "step" else f"{edge.kind}: {edge.label}",
            edge.target or "the end",
            edge.odds,
            edge.price,
            "yes" if edge.best else "no",
        )
        for edge in route.edges
    ]
    columns = (
        Column("from"),
        Column("step"),
        Column("to"),
        Column("odds", "share"),
        Column(f"price ({money})", "number"),
        Column("best way"),
    )
    return Table(f"Every step of {route.route} and what may come of it", columns, rows)


def _prices_behind(route: RouteDrawing, report: Report) -> Table | None:
    """The levels that the chosen route's cost rests on."""
    known = {page.prices["item"]: page.prices for page in report.items}
    rows = []
    for part in route.parts:
        prices = known.get(part.item) or {}
        ask = prices.get("ask") or {}
        rows.append(
            (
                part.item,
                part.unit_price,
                ask.get("low_95"),
                ask.get("high_95"),
                prices.get("quotes"),
                prices.get("screened"),
                prices.get("newest"),
            )
        )
    columns = (
        Column("item", "item"),
        Column(f"price of one ({report.money})", "number"),
        Column("ask, low 95 %", "number"),
        Column("ask, high 95 %", "number"),
        Column("quotes", "number"),
        Column("screened out", "number"),
        Column("newest quote", "time"),
    )
    return Table("The prices behind this answer", columns, rows) if rows else None
