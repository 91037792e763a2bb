"""The page of a service: what to charge for making a route's piece for others."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.figures import amount, percent
from reports.answer_view import AnswerView, Part
from reports.decision_data import LossCurve, ServicePage
from reports.lines import dots, line, lines_figure, money_axis
from reports.page_parts import Chart, Column, Fact, Table, axis, upright
from reports.pages_data import Answer

DASHES = ("solid", "dash", "dot")
MARKS = {"solid": "solid", "dash": "dashed", "dot": "dotted"}
FIXED = "fixed"


def service_view(page: ServicePage) -> AnswerView:
    """Everything on a service's page."""
    service = page.asked.answer
    fixed = fixed_term(service)
    charts = [_orders_chart(service)] if len(service["by_orders"]) > 1 else []
    if page.losses:
        charts.append(_loss_chart(service, page.losses))
    return AnswerView(
        title=f"Making {service['makes']} for others, by {service['route']}",
        trail=(("piece", service["makes"]),),
        headline=service_headline(service),
        lead=_bad_night(service),
        facts=_facts(service, fixed),
        parts=(
            Part("terms", "Terms", tables=(_terms_table(service),)),
            Part("charts", "The numbers behind it", charts=charts),
        ),
        command=page.asked.command,
        posts=(service["post"],) if service.get("post") else (),
        reasons=service["reasons"],
        cautions=service["cautions"],
    )


def fixed_term(service: Answer) -> Answer:
    """The terms with one price for the piece; empty where there are none."""
    return next((each for each in service["terms"] if each["kind"] == FIXED), {})


def service_headline(service: Answer) -> str:
    """The verdict with its price."""
    price, money = fixed_term(service).get("price"), service["money"]
    if service["verdict"] == "offer" and price is not None:
        return f"Offer it: ask {amount(price)} {money} for each."
    if service["verdict"] == "buy the service":
        going = (service["going_rate"] or {}).get("level")
        return f"Buy the service: others do it for {amount(going)} {money}, less than it costs you."
    going = (service["going_rate"] or {}).get("level")
    if going is None:
        return "Decline: no price pays for the work."
    return f"Decline: the going rate of {amount(going)} {money} does not pay for the work."


def _bad_night(service: Answer) -> str:
    cost, money = service["cost"], service["money"]
    return (
        f"One order costs you {amount(cost['mean'])} {money} on average, and "
        f"{amount(cost['quantiles']['0.95'])} or more one time in twenty."
        if service["orders"] == 1
        else f"The {service['orders']} orders cost you {amount(cost['mean'])} {money} on average "
        f"together, and {amount(cost['quantiles']['0.95'])} or more one time in twenty."
    )


def _facts(service: Answer, fixed: Answer) -> tuple[Fact, ...]:
    going, place = service["going_rate"] or {}, service["terms"].index(fixed) if fixed else 0
    return (
        Fact("price to ask", f"terms.{place}.price", fixed.get("price")),
        Fact("floor", f"terms.{place}.floor", fixed.get("floor")),
        Fact("going rate", "going_rate.level", going.get("level"), give_or_take=going.get("sd")),
        Fact("it costs you, on average", "cost.mean", service["cost"]["mean"]),
        Fact("customer accepts", f"terms.{place}.win_chance", fixed.get("win_chance"), "share"),
        Fact(
            "one order loses money",
            f"terms.{place}.loss_chance_one",
            fixed.get("loss_chance_one"),
            "share",
        ),
    )


def _terms_table(service: Answer) -> Table:
    money = service["money"]
    keys = (
        ("floor", f"floor ({money})", "number"),
        ("price", f"price to ask ({money})", "number"),
        ("win_chance", "customer accepts", "share"),
        ("chance_done", "gets made", "share"),
        ("loss_chance_one", "one order loses", "share"),
        ("loss_chance_twenty", "twenty lose", "share"),
        ("profit_per_hour", f"profit an hour ({money})", "number"),
    )
    return Table(
        "Three kinds of terms",
        (Column("terms"), *(Column(words, kind) for _, words, kind in keys)),
        [(each["kind"], *(each.get(key) for key, *_ in keys)) for each in service["terms"]],
    )


def _orders_chart(service: Answer) -> Chart:
    rows, money = service["by_orders"], service["money"]
    orders = [str(each["orders"]) for each in rows]
    prices, floors = [each["price"] for each in rows], [each["floor"] for each in rows]
    known = [each for each in (*prices, *floors) if each is not None]
    return Chart(
        name="orders",
        finding=_orders_finding(rows, money),
        reading=(
            "The line is the price to ask for each when so many orders are agreed on together, "
            "the dashed one the floor that pays for the risk."
        ),
        figure=lines_figure(
            [
                line(orders, prices, dash="solid", hover="%{x} orders: ask %{y:.4~g}"),
                line(orders, floors, dash="dash", hover="%{x} orders: floor %{y:.4~g}"),
                dots(orders, prices, colour="@ask", hover="%{x} orders: ask %{y:.4~g}"),
            ],
            x=axis("orders together", type="category"),
            y=money_axis(f"for each ({money})", known or [0.0]),
        ),
        tables=(
            Table(
                f"By the number of orders, each, in {money}",
                (Column("orders"), Column("price to ask", "number"), Column("floor", "number")),
                [(each["orders"], each["price"], each["floor"]) for each in rows],
            ),
        ),
        height_px=280,
        legend=(("solid", "price to ask"), ("dashed", "floor")),
    )


def _orders_finding(rows: Sequence[Answer], money: str) -> str:
    first, last = rows[0], rows[-1]
    if first["price"] is None or last["price"] is None:
        return "No price pays for every number of orders"
    if abs(first["price"] - last["price"]) < 0.001 * abs(first["price"]):
        return f"{amount(first['price'])} {money} each, however many are ordered"
    return (
        f"One order: ask {amount(first['price'])} {money}; "
        f"{last['orders']} together: {amount(last['price'])} each"
    )


def _loss_chart(service: Answer, losses: Sequence[LossCurve]) -> Chart:
    money, fixed = service["money"], fixed_term(service)
    drawn = list(zip(losses, DASHES, strict=False))
    going = (service["going_rate"] or {}).get("level")
    marks = [
        upright(at, f"{words} {amount(at)}", colour=colour, dash=dash, level=level)
        for level, (at, words, colour, dash) in enumerate(
            (
                (fixed.get("floor"), "floor", "@muted", "dot"),
                (fixed.get("price"), "price", "@ink", "solid"),
                (going, "going rate", "@bid", "dash"),
            )
        )
        if at is not None
    ]
    prices = losses[0].prices
    middle = (prices[0] + prices[-1]) / 2
    marks = [
        (shape, {**label, "xanchor": "right" if float(str(label["x"])) > middle else "left"})
        for shape, label in marks
    ]
    return Chart(
        name="loss",
        finding=_loss_finding(service, fixed),
        reading=(
            "The higher the price, the rarer a loss. One line for each number of orders at that "
            "price: many orders even out, so their line falls faster."
        ),
        figure=lines_figure(
            [
                line(
                    curve.prices,
                    [100 * each for each in curve.chances],
                    dash=dash,
                    hover=f"{curve.orders} at %{{x:.4~g}}: %{{y:.3~g}} %",
                )
                for curve, dash in drawn
            ],
            x=axis(f"fixed price of one order ({money})"),
            y=axis("chance to lose money", ticksuffix=" %", range=[-2, 102]),
            marks=marks,
        ),
        tables=(_loss_table([curve for curve, _ in drawn], money),),
        height_px=360,
        legend=tuple((MARKS[dash], _orders(curve.orders)) for curve, dash in drawn),
    )


def _orders(count: int) -> str:
    return "one order" if count == 1 else f"{count} orders"


def _loss_finding(service: Answer, fixed: Answer) -> str:
    price, one = fixed.get("price"), fixed.get("loss_chance_one")
    if price is None or one is None:
        return "How likely a fixed price loses money"
    said = f"At {amount(price)} {service['money']} one order loses money"
    return f"{said} with a chance of {percent(one)}"


def _loss_table(curves: Sequence[LossCurve], money: str) -> Table:
    rows = list(zip(curves[0].prices, *(each.chances for each in curves), strict=True))
    columns = (
        Column(f"price of one ({money})", "number"),
        *(Column(_orders(each.orders), "share") for each in curves),
    )
    return Table("Chance to lose money", columns, rows[::8])


def service_sentence(service: Answer) -> str:
    """One line of it for the overview."""
    fixed = fixed_term(service)
    if service["verdict"] == "offer" and fixed.get("price") is not None:
        return (
            f"offer at {amount(fixed['price'])} each, not under {amount(fixed['floor'])}; "
            f"one order loses money with a chance of {percent(fixed['loss_chance_one'])}"
        )
    return str(service["verdict"])
