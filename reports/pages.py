"""Every page of a report as text."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING

from reports import cells
from reports.answer_view import AnswerView
from reports.item_view import item_view
from reports.ledger_view import ledger_view
from reports.luck_view import luck_view
from reports.overview import overview
from reports.page_names import PageNames, name_pages
from reports.page_parts import Chart
from reports.pages_data import Report
from reports.piece_view import piece_view
from reports.replay_view import replay_view
from reports.sell_view import sell_view
from reports.service_view import service_view
from reports.stock_view import stock_view

if TYPE_CHECKING:
    from jinja2 import Environment

GENERATOR_MARK = b'<meta name="generator" content="Makeworth">'


def render_pages(report: Report) -> dict[str, str]:
    """File name and text of every page; names and texts are escaped wherever they stand."""
    names = name_pages(report)
    templates = _templates(names)
    index = templates.get_template("index.html.j2")
    pages = {"index.html": index.render(report=report, view=overview(report, names), charts={})}
    for piece in report.pieces:
        view = piece_view(piece, report)
        pages[names["piece"][piece.craft["piece"]]] = templates.get_template(
            "piece.html.j2"
        ).render(report=report, view=view, charts=_figures(view.charts))
    for item in report.items:
        shown = item_view(item, report)
        pages[names["item"][item.prices["item"]]] = templates.get_template("item.html.j2").render(
            report=report, view=shown, charts=_figures(shown.charts)
        )
    answer = templates.get_template("answer.html.j2")
    for name, answered in _answers(report, names):
        pages[name] = answer.render(report=report, view=answered, charts=_figures(answered.charts))
    return pages


def _answers(report: Report, names: PageNames) -> Iterator[tuple[str, AnswerView]]:
    """The pages of the other decisions, by file name."""
    made = report.decisions
    for route, stock in made.stocks.items():
        yield names["stock"][route], stock_view(stock)
    for route, service in made.services.items():
        yield names["service"][route], service_view(service)
    for piece, sell in made.sells.items():
        yield names["sell"][piece], sell_view(sell)
    for route, luck in made.lucks.items():
        yield names["luck"][route], luck_view(luck)
    if made.ledger is not None:
        yield names["ledger"]["ledger"], ledger_view(made.ledger)
    if made.replay is not None:
        yield names["replay"]["replay"], replay_view(made.replay)


def _figures(charts: tuple[Chart, ...]) -> dict[str, object]:
    return {chart.name: chart.figure for chart in charts}


def _templates(names: PageNames) -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    templates = Environment(
        loader=PackageLoader("reports", "look"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    nothing: Mapping[str, str] = {}
    templates.filters.update(
        number=cells.number,
        share=cells.share,
        change=cells.change,
        days=cells.days,
        time=cells.time,
        day=cells.day,
        link=lambda name, kind: cells.link(name, names.get(kind, nothing)),
        page=lambda name, kind: names[kind][name],
        item=partial(cells.link, pages=names["item"]),
        piece=partial(cells.link, pages=names["piece"]),
        data_script=cells.data_script,
    )
    templates.tests["in_pages"] = lambda name, kind: name in names.get(kind, nothing)
    return templates
