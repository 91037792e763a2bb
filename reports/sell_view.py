"""The page of a sale: when to sell, and at what asking price."""

from __future__ import annotations

from advisor.figures import amount, percent
from reports.answer_view import AnswerView, Part
from reports.decision_data import AskedAnswer
from reports.lines import days_axis, dots, line, lines_figure, money_axis
from reports.page_parts import Chart, Column, Fact, Table, axis
from reports.pages_data import Answer


def sell_view(asked: AskedAnswer) -> AnswerView:
    """Everything on the page of a sale."""
    sell = asked.answer
    money = sell["money"]
    charts = [_ask_chart(sell), _sold_chart(sell)] if sell["schedule"] else []
    return AnswerView(
        title=f"Selling {sell['piece']}",
        trail=(("piece", sell["piece"]),),
        headline=sell_headline(sell),
        lead=f"{sell['count']} to sell within {_days(sell['within'])}; the sale fee is taken off "
        "of all that comes in.",
        facts=(
            Fact(f"ask now ({money})", "ask_now", sell["ask_now"]),
            Fact("comes in, on average", "expected_proceeds", sell["expected_proceeds"]),
            Fact("not under", "floor", sell["floor"]),
            Fact("sells at, usually", "level", sell["level"]),
        ),
        parts=(
            Part("charts", "Day by day", charts=charts),
            Part("against", "Beside other ways", tables=(_against(sell), _compared(sell))),
        ),
        command=asked.command,
        posts=(sell["post"],) if sell.get("post") else (),
        reasons=sell["reasons"],
        cautions=sell["cautions"],
    )


def sell_headline(sell: Answer) -> str:
    """The verdict with its price."""
    money = sell["money"]
    if sell["verdict"] == "list now":
        return f"List it now at {amount(sell['ask_now'])} {money}."
    if sell["verdict"] == "sell at once":
        return f"Sell at once to those who bid: {amount(sell['expected_proceeds'])} {money} in all."
    return f"Hold it for now; should you list it, ask {amount(sell['ask_now'])} {money}."


def _days(count: int) -> str:
    return "a day" if count == 1 else f"{count} days"


def _ask_chart(sell: Answer) -> Chart:
    rows, money = sell["schedule"], sell["money"]
    days, asks = [each["day"] for each in rows], [each["ask"] for each in rows]
    hover = f"day %{{x}}: ask %{{y:.4~g}} {money}"
    return Chart(
        name="asks",
        finding=f"Ask {amount(asks[0])} {money} today and come down to {amount(asks[-1])} "
        f"by day {days[-1]}"
        if asks[-1] < asks[0]
        else f"Ask {amount(asks[0])} {money} today, {amount(asks[-1])} on day {days[-1]}",
        reading=(
            "What to ask for each on each day while as many are left as is likely then; the "
            "table has what to ask when fewer or more are left."
        ),
        figure=lines_figure(
            [
                line(days, asks, dash="solid", hover=hover, shape="hv"),
                dots(days, asks, colour="@ask", hover=hover, size=7),
            ],
            x=days_axis(max(days)),
            y=money_axis(f"ask for one ({money})", asks),
        ),
        tables=(_schedule_table(sell),),
        height_px=300,
    )


def _schedule_table(sell: Answer) -> Table:
    money, most = sell["money"], sell["count"]
    counts = sorted({1, most, *((most + 1) // 2,)})
    columns = (
        Column("day", "number"),
        Column("left, likely", "number"),
        Column(f"ask ({money})", "number"),
        *(Column(f"if {count} left", "number") for count in counts if most > 1),
        Column("sold by that evening", "number"),
    )
    rows = [
        (
            each["day"],
            each["left"],
            each["ask"],
            *(
                each["asks"][count - 1] if count <= len(each["asks"]) else None
                for count in counts
                if most > 1
            ),
            each["sold_by_then"],
        )
        for each in sell["schedule"]
    ]
    return Table("What to ask, day by day", columns, rows)


def _sold_chart(sell: Answer) -> Chart:
    rows, count = sell["schedule"], sell["count"]
    days = [each["day"] for each in rows]
    sold = [each["sold_by_then"] for each in rows]
    words = (
        f"By the evening of day {days[-1]} it is sold with a chance of {percent(sold[-1])}"
        if count == 1
        else f"{amount(sold[-1])} of {count} are sold by the evening of day {days[-1]} on average"
    )
    scale = 100.0 if count == 1 else 1.0
    title = "chance that it is sold" if count == 1 else "sold on average"
    suffix = " %" if count == 1 else ""
    return Chart(
        name="sold",
        finding=words,
        reading="Asked for as above: how much is sold by the evening of each day.",
        figure=lines_figure(
            [
                line(
                    days,
                    [scale * each for each in sold],
                    dash="solid",
                    hover=f"day %{{x}}: %{{y:.3~g}}{suffix}",
                )
            ],
            x=days_axis(max(days)),
            y=axis(title, ticksuffix=suffix, range=[0, 1.04 * scale * count]),
        ),
        tables=(
            Table(
                "Sold by the evening of each day",
                (Column("day", "number"), Column("sold", "share" if count == 1 else "number")),
                [(each["day"], each["sold_by_then"]) for each in rows],
            ),
        ),
        height_px=280,
    )


def _against(sell: Answer) -> Table:
    rows = [("as advised", sell["expected_proceeds"])]
    rows += [(each["what"], each["proceeds"]) for each in sell["against"]]
    columns = (Column("way"), Column(f"comes in, on average ({sell['money']})", "number"))
    return Table("What other ways of selling bring", columns, rows)


def _compared(sell: Answer) -> Table:
    money = sell["money"]
    return Table(
        "What an hour earns, this way and others",
        (
            Column("what"),
            Column(f"profit of one, own time not taken off ({money})", "number"),
            Column(f"profit an hour ({money})", "number"),
            Column("profit on the money put in", "change"),
        ),
        [
            (each["what"], each["profit"], each["profit_per_hour"], each["profit_per_money"])
            for each in sell["compare"]
        ],
    )


def sell_sentence(sell: Answer) -> str:
    """One line of it for the overview."""
    if sell["verdict"] == "list now":
        return (
            f"list at {amount(sell['ask_now'])}, not under {amount(sell['floor'])}; brings "
            f"{amount(sell['expected_proceeds'])} on average"
        )
    return f"{sell['verdict']}; brings {amount(sell['expected_proceeds'])} on average"
