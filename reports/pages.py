"""Every page of a report as text."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import TYPE_CHECKING

from reports import cells
from reports.item_view import item_view
from reports.overview_tables import items_table, shared_cautions, stale_table, today_table
from reports.page_names import page_name
from reports.page_parts import Chart
from reports.pages_data import Report
from reports.piece_view import piece_view

if TYPE_CHECKING:
    from jinja2 import Environment

GENERATOR_MARK = b'<meta name="generator" content="Makeworth">'


def render_pages(report: Report) -> dict[str, str]:
    """File name and text of every page; names and texts are escaped wherever they stand."""
    pieces = {
        page.craft["piece"]: page_name("piece", page.craft["piece"]) for page in report.pieces
    }
    items = {page.prices["item"]: page_name("item", page.prices["item"]) for page in report.items}
    templates = _templates(pieces=pieces, items=items)
    index = templates.get_template("index.html.j2")
    pages = {
        "index.html": index.render(
            report=report,
            pieces=[piece_view(page, report) for page in report.pieces],
            shared=shared_cautions(report),
            today=today_table(report),
            stale=stale_table(report),
            levels=items_table(report),
            charts={},
        )
    }
    for piece in report.pieces:
        view = piece_view(piece, report)
        pages[pieces[piece.craft["piece"]]] = templates.get_template("piece.html.j2").render(
            report=report, view=view, charts=_figures(view.charts)
        )
    for item in report.items:
        shown = item_view(item, report)
        pages[items[item.prices["item"]]] = templates.get_template("item.html.j2").render(
            report=report, view=shown, charts=_figures(shown.charts)
        )
    return pages


def _figures(charts: tuple[Chart, ...]) -> dict[str, object]:
    return {chart.name: chart.figure for chart in charts}


def _templates(*, pieces: Mapping[str, str], items: Mapping[str, str]) -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    templates = Environment(
        loader=PackageLoader("reports", "look"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.filters.update(
        number=cells.number,
        share=cells.share,
        change=cells.change,
        days=cells.days,
        time=cells.time,
        day=cells.day,
        item=partial(cells.link, pages=items),
        piece=partial(cells.link, pages=pieces),
        data_script=cells.data_script,
    )
    return templates
