"""How make-or-buy looks on a terminal: the answer, the bad night, why, and what to beware of."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.cli.price_views import moment
from advisor.cli.route_views import show_best_way
from advisor.cli.screen import show, show_sentences, show_table, show_wrapped
from advisor.figures import amount, percent

if TYPE_CHECKING:
    from advisor.tasks.crafting import Craft

FLIPS_SHOWN = 6

SAID = {
    "make": "MAKE it, by {route}",
    "buy": "BUY it",
    "either": "EITHER: {route} and buying cost the same as far as one can know",
    "neither": "NEITHER: it is not worth making or buying now",
}
UNKNOWN = "NEITHER: what making it costs is not known yet, and nobody is seen selling it"


def show_craft(craft: Craft) -> None:
    """The whole answer."""
    advice, pricing = craft.advice, craft.pricing
    route = "" if advice.best is None else advice.best.option.route
    when = moment(pricing.market.as_of_us, pricing.settings.timezone)
    many = "" if craft.count == 1 else f" x {craft.count}"
    show_wrapped(f"{craft.piece}{many}, {when}, in {pricing.market.money}")
    show()
    said = UNKNOWN if _is_unknown(craft) else SAID[advice.verdict].format(route=route)
    show_wrapped(f"  {said}")
    show()
    _show_compared(craft)
    show()
    show_sentences(craft.reasons)
    show()
    _show_flips(craft)
    cost = craft.best_cost
    if cost is not None:
        show_best_way(cost)
        show()
    show_sentences(craft.cautions, mark="! ")


def _is_unknown(craft: Craft) -> bool:
    """Whether there is nothing to compare, rather than nothing that pays."""
    advice = craft.advice
    return advice.verdict == "neither" and advice.best is None and craft.goal == "keep"


def _show_compared(craft: Craft) -> None:
    """Mean and bad night side by side: every route, and buying."""
    advice = craft.advice
    sign = -1.0 if craft.goal == "sale" else 1.0
    rows = [
        [
            each.option.route,
            amount(sign * each.option.mean),
            amount(each.law.sd, digits=3),
            amount(sign * each.law.quantile(0.5)),
            amount(sign * each.law.quantile(0.95)),
            amount(sign * each.law.worst_mean()),
            percent(advice.chance_cheapest[each.option.route]),
        ]
        for each in advice.routes
    ]
    if not rows and advice.buy is None:
        return
    if advice.buy is not None and craft.goal == "keep":
        price = advice.buy.belief
        rows.append(
            [
                "buying it",
                amount(price.price),
                amount(price.price * price.log_sd, digits=3),
                *("" for _ in range(4)),
            ]
        )
    what = "profit of" if craft.goal == "sale" else "cost of"
    show_table(
        [what, "mean", "+/-", "1 in 2", "1 in 20", "worst 5 %", "best route"],
        rows,
        right="lrrrrrr",
    )


def _show_flips(craft: Craft) -> None:
    if not craft.flips:
        return
    show("the answer flips when")
    rows = []
    for flip in craft.flips[:FLIPS_SHOWN]:
        is_item = flip.kind == "item"
        thing = flip.name if is_item else f"odds of {flip.name}"
        now, then = (
            (amount(flip.now), amount(flip.flips_at))
            if is_item
            else (percent(flip.now), percent(flip.flips_at))
        )
        way = "rises" if flip.change > 0 else "falls"
        rows.append([thing, f"{way} from {now}", f"to {then}", f"{100 * flip.change:+.0f} %"])
    show_table(["", "", "", ""], rows, right="lllr")
    show()


def show_against(craft: Craft, other: Craft, *, named: str) -> None:
    """Two answers side by side: of two dates, or of two workspaces."""
    show()
    show_wrapped(f"against {named}")
    sides = [_told_briefly(each) for each in (craft, other)]
    rows = [[what, here, there[1]] for (what, here), there in zip(*sides, strict=True)]
    moneys = [each.pricing.market.money for each in (craft, other)]
    heads = ["here", "there"]
    if len(set(moneys)) > 1:
        heads = [f"{head}, in {money}" for head, money in zip(heads, moneys, strict=True)]
    show_table(["", *heads], rows, right="lrr")


def _told_briefly(craft: Craft) -> list[tuple[str, str]]:
    advice = craft.advice
    best, buy = advice.best, advice.buy
    return [
        ("verdict", advice.verdict),
        ("route", "-" if best is None else best.option.route),
        ("making", amount(None if best is None else best.option.mean)),
        ("buying", amount(None if buy is None else buy.belief.price)),
        ("saving by making", amount(advice.saving)),
        ("chance that making is cheaper", percent(advice.chance_make_cheaper)),
    ]
