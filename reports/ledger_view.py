"""The page of the ledger: what was spent and earned, and profit through the season."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.figures import amount
from reports.answer_view import AnswerView, Part
from reports.decision_data import LedgerDay, LedgerPage
from reports.lines import line, lines_figure
from reports.page_parts import Chart, Column, Fact, Table, axis
from reports.pages_data import Answer


def ledger_view(page: LedgerPage) -> AnswerView:
    """Everything on the ledger's page."""
    ledger = page.asked.answer
    money = ledger["money"]
    tables = [_pieces_table(ledger)]
    if ledger["stock"]:
        tables.append(_stock_table(ledger))
    return AnswerView(
        title="Ledger",
        trail=(),
        headline=_headline(ledger),
        lead=f"Leftovers are valued by {_method(ledger['method'])}.",
        facts=(
            Fact(f"profit ({money})", "profit", ledger["profit"]),
            Fact("earned", "earned", ledger["earned"]),
            Fact("spent", "spent", ledger["spent"]),
            Fact("in stock, at cost", "stock_cost", ledger["stock_cost"]),
            Fact("stock would win, if sold now", "not_yet", ledger["not_yet"]),
        ),
        parts=(
            Part("charts", "Through the season", [_profit_chart(page, money)] if page.days else ()),
            Part("rows", "By piece, and in stock", tables=tables),
        ),
        command=page.asked.command,
        cautions=ledger["cautions"],
    )


def _headline(ledger: Answer) -> str:
    profit, money = ledger["profit"], ledger["money"]
    word = "won" if profit >= 0 else "lost"
    return f"{amount(abs(profit))} {money} {word} on what is sold, used up or lost."


def _method(method: str) -> str:
    return "moving average" if method == "average" else "first in, first out"


def _profit_chart(page: LedgerPage, money: str) -> Chart:
    days: Sequence[LedgerDay] = page.days
    names = [each.day for each in days]
    so_far = [each.profit_so_far for each in days]
    lost = [each.profit < 0 for each in days]
    bars: dict[str, object] = {
        "type": "bar",
        "x": names,
        "y": [each.profit for each in days],
        "marker": {
            "color": ["@bid-soft" if each else "@ask-soft" for each in lost],
            "line": {"color": ["@bid" if each else "@ask" for each in lost], "width": 1},
            "pattern": {"shape": ["/" if each else "" for each in lost], "fgcolor": "@bid"},
        },
        "hovertemplate": f"%{{x|%-d %b}}: %{{y:.4~g}} {money}<extra></extra>",
    }
    hover = f"by %{{x|%-d %b}}: %{{y:.4~g}} {money} in all"
    word = "won" if so_far[-1] >= 0 else "lost"
    return Chart(
        name="profit",
        finding=f"{amount(abs(so_far[-1]))} {money} {word} so far: {page.stretch}",
        reading=(
            "Bars are the profit of single days, striped where money was lost; the line adds "
            "them up. What is still in stock counts neither way."
        ),
        figure=lines_figure(
            [bars, line(names, so_far, dash="solid", hover=hover, shape="hv")],
            x=axis(type="date", tickformat="%-d %b", tickvals=names if len(days) == 1 else None),
            y=axis(f"profit ({money})", zeroline=True, zerolinewidth=1.5, zerolinecolor="@ink"),
        ),
        tables=(
            Table(
                f"Day by day, in {money}",
                (
                    Column("day"),
                    *(Column(each, "number") for each in ("spent", "earned", "profit", "so far")),
                ),
                [
                    (each.day, each.spent, each.earned, each.profit, each.profit_so_far)
                    for each in reversed(days)
                ],
            ),
        ),
        height_px=340,
        legend=(("solid", "profit so far"), ("band", "profit of the day")),
    )


def _pieces_table(ledger: Answer) -> Table:
    money = ledger["money"]
    keys = ("made", "sold", "spent", "earned", "profit", "standing", "minutes")
    headings = (
        "made",
        "sold",
        f"spent ({money})",
        "earned",
        "profit",
        "still standing, at cost",
        "minutes",
    )
    return Table(
        "By piece",
        (Column("piece", "piece"), *(Column(each, "number") for each in headings)),
        [
            (each["piece"] or "no piece named", *(each[key] for key in keys))
            for each in ledger["by"]
        ],
    )


def _stock_table(ledger: Answer) -> Table:
    money = ledger["money"]
    columns = (
        Column("item", "item"),
        Column("units", "number"),
        Column(f"cost of one ({money})", "number"),
        Column("cost", "number"),
        Column("brings now, after the fee", "number"),
    )
    keys = ("item", "qty", "unit_cost", "cost", "value_now")
    rows = [tuple(each[key] for key in keys) for each in ledger["stock"]]
    return Table("In stock", columns, rows)
