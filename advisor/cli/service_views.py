"""How the service answer looks on a terminal: terms, prices by orders, why, what to agree on."""

from __future__ import annotations

from advisor.cli.options import warn
from advisor.cli.price_views import moment
from advisor.cli.screen import show, show_sentences, show_table, show_wrapped
from advisor.figures import amount, percent
from advisor.tasks.service_json import post_line
from advisor.tasks.serving import Service

SAID = {
    "offer": "OFFER it",
    "decline": "DECLINE: the going rate does not pay for it",
    "buy the service": "BUY THE SERVICE from others: they ask less than it must cost you",
}


def show_service(service: Service) -> None:
    """The whole answer."""
    pricing, question = service.pricing, service.question
    when = moment(pricing.market.as_of_us, pricing.settings.timezone)
    many = "1 order" if question.orders == 1 else f"{question.orders} orders"
    whose = "my supplies" if question.supplies == "mine" else "the customer's supplies"
    show(f"{service.cost.makes} by {service.cost.route} for others: {many}, {whose}")
    show(f"{when}, in {pricing.market.money}")
    show()
    show(f"  {SAID[service.verdict]}")
    show()
    _show_terms(service)
    _show_by_orders(service)
    show_sentences(service.reasons)
    show()
    show_sentences(service.cautions, mark="! ")


def show_service_post(service: Service) -> None:
    """Only the line to put up."""
    line = post_line(service)
    show(line or f"Put up no post: {SAID[service.verdict].split(':')[0].lower()}.")
    for doubt in service.doubts:
        warn(doubt)


def _show_terms(service: Service) -> None:
    rows = [
        [
            each.kind,
            amount(each.floor),
            amount(each.price),
            percent(each.win_chance),
            percent(each.chance_done),
            percent(each.loss_chance_one),
            percent(each.loss_chance_twenty),
            amount(each.profit_per_hour),
        ]
        for each in service.terms
    ]
    show_table(
        ["terms", "floor", "ask", "won", "done", "loss", "of 20", "an hour"],
        rows,
        right="lrrrrrrr",
    )
    show("won: chance that a customer accepts; done: that the piece is made in the end;")
    show("loss, of 20: chance to lose money on one order, on twenty; an hour: mean profit.")
    story = service.story
    if story.try_step is not None:
        agreed = "" if story.tries is None else f"; on success: within {story.tries} of them"
        show_wrapped(f"A try is one {story.try_step!r}, the chancy step taken most often{agreed}.")
    show()


def _show_by_orders(service: Service) -> None:
    rows = [
        [f"{each.orders}", amount(each.floor), amount(each.price)] for each in service.by_orders
    ]
    if rows and service.story.caution == 0:
        _, floor, price = rows[0]
        show_wrapped(
            "Without caution the price does not fall with the number of orders: floor "
            f"{floor}, ask {price} each."
        )
        show()
    elif rows:
        show_table(["orders together", "floor each", "ask each"], rows, right="rrr")
        show()
