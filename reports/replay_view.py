"""The page of a replay: what following the advice would have made, beside two other ways."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.figures import amount, percent
from reports.answer_view import AnswerView, Part
from reports.decision_data import ReplayDay, ReplayPage
from reports.lines import dots, line, lines_figure
from reports.page_parts import Chart, Column, Fact, Table, axis, row_label, rows_axis
from reports.pages_data import Answer

SAME_MONEY = 1e-6
"""Sums of many evenings this close are the same: less is rounding."""

Ways = Sequence[tuple[str, float | None]]
"""The plain habit, the advice and hindsight, each with its money."""


def replay_view(page: ReplayPage) -> AnswerView:
    """Everything on the page of a replay."""
    told = page.asked.answer
    money = told["money"]
    craft, stock, sell = told["craft"], told["stock"], told["sell"]
    ways = (
        ("craft", "Making or buying", "cost", _ways(craft)),
        ("stock", "Supplies", "cost", _paid_ways(stock)),
        ("sell", "Selling", "brought", _ways(sell)),
    )
    charts = [
        _ways_chart(name, what, verb, own, money)
        for name, what, verb, own in ways
        if any(value for _, value in own)
    ]
    scored = [each for each in told["forecast"] if each["n"]]
    forecast = [_inside_chart(scored), _error_chart(scored)] if scored else []
    return AnswerView(
        title="Replay of the advice",
        trail=(),
        headline=replay_headline(told),
        lead=f"Every morning from {_day(told['from'])} to {_day(told['to'])}, answered with what "
        "was known then and settled on what was seen later.",
        facts=(
            Fact(f"makes or buys, followed ({money})", "craft.followed", craft["followed"]),
            Fact("supplies, followed", "stock.paid", stock["paid"]),
            Fact("sales, followed", "sell.followed", sell["followed"]),
            Fact("advice as good as hindsight, times", "craft.days_right", craft["days_right"]),
            Fact("of so many", "craft.days", craft["days"]),
        ),
        parts=(
            Part("days", "Day by day", [_days_chart(page.days, money)] if page.days else ()),
            Part("ways", "Followed, plain, and in hindsight", charts=charts),
            Part("forecasts", "Were the forecasts right?", charts=forecast),
        ),
        command=page.asked.command,
        reasons=told.get("how", ()),
        reasons_heading="How it is settled",
        cautions=told.get("cautions", ()),
    )


def _day(at: str) -> str:
    return at[:10]


def _ways(sums: Answer) -> Ways:
    keys = (("the plain habit", "plain"), ("as advised", "followed"), ("in hindsight", "hindsight"))
    return [(words, sums[key]) for words, key in keys]


def _paid_ways(stock: Answer) -> Ways:
    return [
        ("the plain habit", stock["paid_plain"]),
        ("as advised", stock["paid"]),
        ("in hindsight", stock["paid_hindsight"]),
    ]


def replay_headline(told: Answer) -> str:
    """How often the advice to make or to buy was right."""
    right, days = told["craft"]["days_right"], told["craft"]["days"]
    if not days:
        return "On none of these days could the advice be settled."
    return f"Make or buy was advised as well as hindsight knows in {right} of {days} cases."


def _against_habit(won: float, money: str) -> str:
    if abs(won) < SAME_MONEY:
        return "came to the same as"
    return f"{'won' if won > 0 else 'lost'} {amount(abs(won))} {money} against"


def _days_chart(days: Sequence[ReplayDay], money: str) -> Chart:
    """What was won against the plain habit, added up."""
    names = [each.day for each in days]
    won, best = [each.won_so_far for each in days], [each.best_so_far for each in days]
    hover = f"by %{{x|%-d %b}}: %{{y:.4~g}} {money}"
    return Chart(
        name="won",
        finding=f"The advice {_against_habit(won[-1], money)} the plain habit; "
        f"knowing what came would have won {amount(best[-1])}",
        reading=(
            "Making, supplies and sales together, added up from the first day. The line at 0 is "
            "the plain habit; the dotted line is what hindsight would have won."
        ),
        figure=lines_figure(
            [
                line(names, won, dash="solid", hover=f"advice, {hover}", shape="hv"),
                line(names, best, dash="dot", hover=f"hindsight, {hover}", shape="hv"),
            ],
            x=axis(type="date", tickformat="%-d %b"),
            y=axis(
                f"won so far ({money})",
                zeroline=True,
                rangemode="tozero",
                zerolinewidth=2,
                zerolinecolor="@bid",
            ),
        ),
        tables=(
            Table(
                f"Won against the plain habit so far, in {money}",
                (Column("day"), Column("as advised", "number"), Column("in hindsight", "number")),
                [(each.day, each.won_so_far, each.best_so_far) for each in reversed(days)],
            ),
        ),
        height_px=320,
        legend=(("solid", "as advised"), ("dotted", "in hindsight")),
    )


def _ways_chart(name: str, what: str, verb: str, ways: Ways, money: str) -> Chart:
    labels = [row_label(words, amount(value)) for words, value in ways]
    texture = ["/", "", "."]
    return Chart(
        name=name,
        finding=_ways_finding(what, verb, ways, money),
        reading=(
            "Three ways through the same days: the plain habit (striped), the advice (filled), "
            "and what would have been best, known only afterwards (dotted). "
            + ("Shorter is better." if verb == "cost" else "Longer is better.")
        ),
        figure={
            "data": [
                {
                    "type": "bar",
                    "orientation": "h",
                    "x": [value for _, value in ways],
                    "y": list(range(len(ways))),
                    "hovertext": labels,
                    "marker": {
                        "color": ["@bid-soft", "@ask", "@deal-soft"],
                        "pattern": {"shape": texture},
                    },
                    "hovertemplate": "%{hovertext}<extra></extra>",
                }
            ],
            "layout": {
                "xaxis": axis(f"{verb} in all ({money})", rangemode="tozero"),
                "yaxis": rows_axis(labels),
                "margin": {"t": 8, "r": 24, "b": 48, "l": 16},
                "showlegend": False,
            },
        },
        tables=(
            Table(
                f"{what}: {verb} in all, in {money}",
                (Column("way"), Column(f"{verb} ({money})", "number")),
                ways,
            ),
        ),
        height_px=210,
    )


def _ways_finding(what: str, verb: str, ways: Ways, money: str) -> str:
    (_, plain), (_, followed), _ = ways
    if plain is None or followed is None:
        return f"{what}, way by way"
    said = f"{what} as advised {verb} {amount(followed)} {money}"
    if amount(plain) == amount(followed):
        return f"{said}, just as the plain habit"
    return f"{said}, the plain habit {amount(plain)}"


def _inside_chart(scored: Sequence[Answer]) -> Chart:
    """How often what came lay inside the bands that were said."""
    days = [each["days"] for each in scored]
    drawn = []
    for key, nominal, dash in (("inside_80", 80, "solid"), ("inside_95", 95, "dot")):
        known = [(each["days"], each[key]) for each in scored if each[key] is not None]
        x, y = [day for day, _ in known], [100 * share for _, share in known]
        hover = f"{nominal} % band, %{{x}} days ahead: %{{y:.3~g}} % inside"
        drawn += [line(x, y, dash=dash, hover=hover), dots(x, y, colour="@ask", hover=hover)]
        drawn.append(
            {
                "type": "scatter",
                "mode": "lines",
                "x": [min(days), max(days)],
                "y": [nominal, nominal],
                "line": {"color": "@muted", "width": 1.2, "dash": "dash"},
                "hoverinfo": "skip",
            }
        )
    last = scored[-1]
    least = 100 * min(each["inside_80"] or 0.0 for each in scored)
    return Chart(
        name="inside",
        finding=f"{last['days']} days ahead the 80 % band held {percent(last['inside_80'])} of "
        "what came",
        reading=(
            "The lines are how often the price that came lay inside the band that was said. "
            "They should lie on the dashed lines at 80 % and 95 %: below, forecasts were too "
            "sure; above, not sure enough."
        ),
        figure=lines_figure(
            drawn,
            x=axis("days ahead", tickvals=days, ticktext=[str(day) for day in days]),
            y=axis("inside", ticksuffix=" %", range=[max(0.0, least - 10), 103]),
        ),
        tables=(_forecast_table(scored),),
        height_px=320,
        legend=(("solid", "80 % band"), ("dotted", "95 % band")),
    )


def _error_chart(scored: Sequence[Answer]) -> Chart:
    """How far off forecasts were, beside taking the last quote for the next."""
    rows = [each for each in scored if each["error"] is not None]
    days = [each["days"] for each in rows]
    own = [100 * each["error"] for each in rows]
    naive = [100 * (each["error_last_quote"] or 0.0) for each in rows]
    last = rows[-1]
    return Chart(
        name="error",
        finding=f"{last['days']} days ahead forecasts were {percent(last['error'])} off on "
        f"average, the last quote {percent(last['error_last_quote'])}",
        reading="How far what came lay from what was said, on average; lower is better.",
        figure=lines_figure(
            [
                line(days, own, dash="solid", hover="forecast, %{x} days: %{y:.3~g} % off"),
                line(days, naive, dash="dash", hover="last quote, %{x} days: %{y:.3~g} % off"),
                dots(days, own, colour="@ask", hover="forecast, %{x} days: %{y:.3~g} % off"),
            ],
            x=axis("days ahead", tickvals=days, ticktext=[str(day) for day in days]),
            y=axis("off by", ticksuffix=" %", range=[0, 1.12 * max(*own, *naive, 0.1)]),
        ),
        tables=(_forecast_table(scored),),
        height_px=300,
        legend=(("solid", "forecast"), ("dashed", "taking the last quote")),
    )


def _forecast_table(scored: Sequence[Answer]) -> Table:
    keys = ("days", "n", "inside_80", "inside_95", "error", "error_last_quote")
    columns = (
        *(Column(each, "number") for each in ("days ahead", "forecasts settled")),
        *(Column(each, "share") for each in ("inside 80 %", "inside 95 %")),
        *(Column(each, "share") for each in ("off by", "last quote off by")),
    )
    return Table(
        "Forecasts and what came", columns, [[each[key] for key in keys] for each in scored]
    )
