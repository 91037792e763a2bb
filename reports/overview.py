"""The page to open first: what to do today, what is new, what to look at again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reports.overview_tables import (
    changes_table,
    items_table,
    routes_table,
    shared_cautions,
    stale_table,
    today_table,
)
from reports.page_names import PageNames
from reports.page_parts import Table
from reports.pages_data import PiecePage, Report
from reports.piece_view import PieceView, piece_view
from reports.sell_view import sell_sentence
from reports.service_view import service_sentence
from reports.stock_view import supplies_sentence


@dataclass(frozen=True)
class Decision:
    """One decision of a piece in one line.

    Attributes:
        label: "Supplies".
        kind, name: The page that tells more: `link` finds it.
        words: What to do.
    """

    label: str
    kind: str
    name: str
    words: str


@dataclass(frozen=True)
class PieceCard:
    """One piece with its four decisions."""

    view: PieceView
    others: Sequence[Decision]


@dataclass(frozen=True)
class Overview:
    """The page to open first.

    Attributes:
        more: Pages that are of no one piece, as (file name, what it is called).
        unanswered: What has no answer, and why; once for each reason.
    """

    cards: Sequence[PieceCard]
    shared: Sequence[str]
    today: Table
    routes: Table | None
    changes: Table | None
    stale: Table | None
    levels: Table
    more: Sequence[tuple[str, str]]
    unanswered: Sequence[tuple[str, str]]


def overview(report: Report, names: PageNames) -> Overview:
    """Everything on the page to open first."""
    return Overview(
        cards=[
            PieceCard(piece_view(page, report), _decisions(page, report)) for page in report.pieces
        ],
        shared=shared_cautions(report),
        today=today_table(report),
        routes=routes_table(report),
        changes=changes_table(report),
        stale=stale_table(report),
        levels=items_table(report),
        more=_more_pages(names),
        unanswered=_by_reason(report.decisions.unanswered),
    )


def _decisions(page: PiecePage, report: Report) -> list[Decision]:
    """Supplies and service by the piece's best route, and its sale."""
    piece, made = page.craft["piece"], report.decisions
    route = page.craft.get("route") or next((each.route for each in page.routes), "")
    found = []
    if route in made.stocks:
        words = supplies_sentence(made.stocks[route].answer)
        found.append(Decision("Supplies", "stock", route, words))
    if route in made.services:
        words = service_sentence(made.services[route].asked.answer)
        found.append(Decision("Service", "service", route, words))
    if piece in made.sells:
        found.append(Decision("Sale", "sell", piece, sell_sentence(made.sells[piece].answer)))
    return found


def _more_pages(names: PageNames) -> list[tuple[str, str]]:
    single = {"ledger": "Ledger", "replay": "Replay of the advice"}
    found = [(file, single[kind]) for kind in single for file in names[kind].values()]
    return found + [(file, f"Luck with {route}") for route, file in names["luck"].items()]


def _by_reason(unanswered: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    by_reason: dict[str, list[str]] = {}
    for what, why in unanswered:
        by_reason.setdefault(why, []).append(what)
    return [(", ".join(all_of_it), why) for why, all_of_it in by_reason.items()]
