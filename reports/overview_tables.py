"""The tables of the page to open first."""

from __future__ import annotations

from reports.page_parts import Column, Table
from reports.pages_data import Report
from reports.service_view import fixed_term


def today_table(report: Report) -> Table:
    """Every piece with its numbers, the bad night beside the mean."""
    rows = []
    for page in report.pieces:
        craft = page.craft
        make, buy, saving = (craft.get(key) or {} for key in ("make", "buy", "saving"))
        rows.append(
            (
                craft["piece"],
                craft["verdict"],
                craft.get("route"),
                make.get("mean"),
                (make.get("quantiles") or {}).get("0.95"),
                buy.get("level"),
                saving.get("mean"),
                craft.get("chance_this_one_cheaper"),
            )
        )
    money = report.money
    columns = (
        Column("piece", "piece"),
        Column("do"),
        Column("by"),
        Column(f"make, mean ({money})", "number"),
        Column("make, bad night", "number"),
        Column("buy", "number"),
        Column("saved by making", "number"),
        Column("next one cheaper made", "share"),
    )
    return Table("Make or buy, piece by piece", columns, rows)


def routes_table(report: Report) -> Table | None:
    """Every route with its supplies and its service; None where neither was answered."""
    made, money = report.decisions, report.money
    rows = []
    for route in dict.fromkeys([*made.stocks, *made.services]):
        stock = made.stocks[route].answer if route in made.stocks else {}
        service = made.services[route].asked.answer if route in made.services else {}
        fixed = fixed_term(service) if service else {}
        rows.append(
            (
                route,
                stock.get("spend_now"),
                stock.get("expected_cost"),
                stock.get("chance_any_short"),
                route,
                service.get("verdict"),
                fixed.get("price"),
                fixed.get("floor"),
            )
        )
    columns = (
        Column("supplies by", "stock"),
        Column(f"spend today ({money})", "number"),
        Column("in all, on average", "number"),
        Column("something runs short", "share"),
        Column("service by", "service"),
        Column("do"),
        Column(f"price ({money})", "number"),
        Column("floor", "number"),
    )
    return Table("Supplies and service, route by route", columns, rows) if rows else None


def changes_table(report: Report) -> Table | None:
    """What is not as it was; None where nothing is new."""
    rows = [(each.what, each.words, each.before, each.now) for each in report.decisions.changes]
    columns = (
        Column("what", "named"),
        Column("what happened"),
        Column(f"before ({report.money})", "number"),
        Column("now", "number"),
    )
    return Table("What has changed", columns, rows) if rows else None


def shared_cautions(report: Report) -> list[str]:
    """Cautions of the whole report, and those that every piece has: said once."""
    lists = [page.craft["cautions"] for page in report.pieces]
    everywhere = (
        [each for each in lists[0] if all(each in other for other in lists)]
        if len(lists) > 1
        else []
    )
    return list(dict.fromkeys([*report.cautions, *everywhere]))


def stale_table(report: Report) -> Table | None:
    """The prices to look at again; None where all are fresh."""
    rows = [
        (each.item, each.newest, each.days_old, ", ".join(each.behind)) for each in report.stale
    ]
    columns = (
        Column("item", "item"),
        Column("newest quote", "time"),
        Column("days old", "days"),
        Column("behind the answer for"),
    )
    return Table("Prices not seen for long", columns, rows) if rows else None


def items_table(report: Report) -> Table:
    """Every item with its levels."""
    rows = []
    for page in report.items:
        prices = page.prices
        levels = [(prices.get(side) or {}).get("level") for side in ("ask", "bid", "sale")]
        news = [prices.get(key) for key in ("trend_per_day", "quotes", "screened", "newest")]
        rows.append((prices["item"], prices.get("family"), *levels, *news))
    columns = (
        Column("item", "item"),
        Column("family"),
        *(Column(each, "number") for each in ("ask", "bid", "sale")),
        Column("trend a day", "change"),
        *(Column(each, "number") for each in ("quotes", "screened out")),
        Column("newest quote", "time"),
    )
    return Table(f"Levels of every item, in {report.money}", columns, rows)
