"""Gathers what the pages show and has them written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from advisor.errors import CannotAnswer
from advisor.tasks.craft_json import craft_json
from advisor.tasks.crafting import Craft, advise_craft
from advisor.tasks.pricing import Pricing, read_pricing
from advisor.tasks.report_answers import AnswerDesk
from advisor.tasks.report_items import find_stale_prices, show_item_page
from advisor.tasks.report_levels import LevelHistory
from advisor.tasks.report_news import (
    Crafts,
    craft_yesterday,
    find_changes,
    price_yesterday,
    show_alerts,
)
from advisor.tasks.report_routes import draw_route
from advisor.tasks.routing import RouteBook, read_routes
from advisor.tasks.workspace import Workspace
from advisor.times import us_to_rfc3339
from reports.decision_data import Decisions
from reports.pages_data import PiecePage, Report
from reports.write import ReportWritten, write_report


def report_workspace(
    workspace: Workspace,
    *,
    as_of: str | None = None,
    folder: Path | None = None,
    on_part: Callable[[str], None] | None = None,
) -> ReportWritten:
    """Write the pages of a workspace as known at a moment.

    Args:
        folder: Where to; None for the workspace's own.
        on_part: Called with the name of each part before it is worked out.
    Raises: CannotAnswer: there is nothing to show yet.
    """
    pricing = read_pricing(workspace, as_of=as_of)
    book = read_routes(workspace)
    desk = AnswerDesk(workspace, book, pricing, as_of=as_of, on_part=on_part)
    asked = [
        desk.ask(piece, partial(advise_craft, book, pricing, piece=piece))
        for piece in book.pieces()
    ]
    crafts = [craft for craft in asked if craft is not None]
    names = _items_behind(crafts, pricing)
    if not names:
        raise CannotAnswer("there are no prices to show yet", right="quote or import some first")
    pieces = [_piece_page(craft, book) for craft in crafts]
    history = LevelHistory(pricing)
    report = Report(
        workspace=workspace.folder.name,
        as_of=us_to_rfc3339(pricing.market.as_of_us),
        money=pricing.market.money,
        pieces=pieces,
        items=[show_item_page(workspace, pricing, name, history=history) for name in names],
        stale=find_stale_prices(crafts, pricing, names),
        cautions=list(pricing.market.cautions),
        decisions=_decide(desk, {page.craft["piece"]: page.craft for page in pieces}),
    )
    return write_report(folder or workspace.reports, report)


def _decide(desk: AnswerDesk, crafts: Crafts) -> Decisions:
    """The other decisions, and what is new since the day before."""
    stocks, services = desk.stocks(), desk.services()
    sells, lucks, ledger = desk.sells(list(crafts)), desk.lucks(), desk.ledger()
    before = desk.ask("yesterday", lambda: price_yesterday(desk.workspace, desk.pricing))
    crafts_before: Crafts = {}
    if before is not None:
        crafts_before = craft_yesterday(desk.book, before, list(crafts))
    return Decisions(
        stocks=stocks,
        services=services,
        sells=sells,
        lucks=lucks,
        ledger=ledger,
        replay=desk.replay(),
        changes=[]
        if before is None
        else find_changes(before, desk.pricing, crafts_before=crafts_before, crafts=crafts),
        since=None if before is None else us_to_rfc3339(before.market.as_of_us),
        alerts=show_alerts(
            desk.workspace,
            desk.book,
            desk.pricing,
            before=before,
            stocks=stocks,
            crafts=crafts,
        ),
        unanswered=desk.unanswered,
    )


def _items_behind(crafts: Sequence[Craft], pricing: Pricing) -> list[str]:
    """Items that have quotes: those the answers rest on first, then the others."""
    used = [craft.piece for craft in crafts]
    for craft in crafts:
        for cost in craft.costs.values():
            used += [pricing.name(item) for item in (*cost.use, *cost.gives, *cost.made)]
    known = [name for name in pricing.market.items if pricing.market.items[name].quotes]
    return [name for name in dict.fromkeys([*used, *known]) if name in set(known)]


def _piece_page(craft: Craft, book: RouteBook) -> PiecePage:
    drawings = [draw_route(craft, name, about=book.routes[name].about) for name in craft.costs]
    return PiecePage(craft=craft_json(craft), routes=drawings)
