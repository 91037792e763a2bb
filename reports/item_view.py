"""What an item's page shows."""

from __future__ import annotations

from dataclasses import dataclass

from reports.ladder_chart import ladder_chart, ladder_table
from reports.page_parts import Chart, Table
from reports.pages_data import Answer, ItemPage, Report
from reports.price_chart import price_chart
from reports.price_tables import levels_table, quotes_table


@dataclass(frozen=True)
class ItemView:
    """An item's page."""

    prices: Answer
    charts: tuple[Chart, ...]
    levels: Table
    ladder: Table | None
    quotes: Table
    quotes_in_all: int
    screened: int
    cautions: tuple[str, ...]


def item_view(page: ItemPage, report: Report) -> ItemView:
    """Everything on an item's page."""
    item, money = page.prices["item"], report.money
    ladder = ladder_chart(page.ladder, item=item, money=money)
    charts = [price_chart(page, money=money, as_of=report.as_of), ladder]
    flat = ladder is None and len(page.ladder) > 0
    return ItemView(
        prices=page.prices,
        charts=tuple(chart for chart in charts if chart is not None),
        levels=levels_table(page.prices, money),
        ladder=ladder_table(page.ladder, item=item, money=money) if flat else None,
        quotes=quotes_table(page.quotes, money),
        quotes_in_all=len(page.quotes),
        screened=sum(quote.screened is not None for quote in page.quotes),
        cautions=tuple(page.cautions),
    )
