"""The service answer as the plain values of its JSON, and the line to put up."""

from __future__ import annotations

from math import exp, isfinite
from typing import Any

from advisor.decide.service.service_advice import OFFER
from advisor.decide.service.service_reasons import agreements
from advisor.decide.service.service_terms import FIXED, ON_SUCCESS, PER_TRY
from advisor.decide.service.winning import GoingRate
from advisor.figures import amount
from advisor.routes.route_json import QUANTILES, WORST
from advisor.tasks.serving import Service
from advisor.times import us_to_rfc3339


def service_json(service: Service) -> dict[str, Any]:
    """The answer of `advise service ROUTE --json`; what does not exist is None."""
    law, story, pricing = service.law, service.story, service.pricing
    return {
        "route": service.cost.route,
        "makes": service.cost.makes,
        "orders": service.question.orders,
        "supplies": service.question.supplies,
        "money": pricing.market.money,
        "as_of": us_to_rfc3339(pricing.market.as_of_us),
        "principle": story.principle,
        "caution": story.caution,
        "cost": {
            "mean": law.mean,
            "sd": law.sd if isfinite(law.sd) else None,
            "quantiles": {share: law.quantile(float(share)) for share in QUANTILES},
            "shortfall_95": law.shortfall(WORST),
        },
        "terms": [
            {
                "kind": each.kind,
                "floor": each.floor,
                "price": each.price,
                "win_chance": each.win_chance,
                "loss_chance": each.loss_chance,
                "loss_chance_one": each.loss_chance_one,
                "loss_chance_twenty": each.loss_chance_twenty,
                "profit_per_hour": each.profit_per_hour,
                "pay_for_piece": each.pay_for_piece,
                "chance_done": each.chance_done,
                "pays_if_failed": _pays_if_failed(each.kind, service),
            }
            for each in service.terms
        ],
        "by_orders": [
            {"orders": each.orders, "price": each.price, "floor": each.floor}
            for each in service.by_orders
        ],
        "going_rate": None
        if service.rate is None
        else {"level": service.rate.level, "sd": service.rate.sd},
        "customers": _customers(story.going),
        "verdict": service.verdict,
        "try": None
        if story.try_step is None
        else {"step": story.try_step, "agreed": story.tries, "deposit": story.deposit},
        "lost": None
        if not story.losses
        else [
            {"stage": stage, "chance": story.chances_lost[stage], "pays": pays}
            for stage, pays in story.losses.items()
        ],
        "agree": agreements(story),
        "post": post_line(service),
        "reasons": list(service.reasons),
        "cautions": [*service.cautions, *_no_hours(service)],
    }


def _no_hours(service: Service) -> list[str]:
    if all(each.profit_per_hour is not None for each in service.terms):
        return []
    return ["The route says nothing of minutes: what an hour earns cannot be told."]


def _pays_if_failed(kind: str, service: Service) -> float | None:
    """What a customer pays where it fails: per try, for all the tries agreed on.

    None where nothing is left to chance, or no price pays.
    """
    story = service.story
    if kind == FIXED:
        return 0.0  # one goes on until it is made; a piece lost is not paid for
    term = story.term(kind)
    if story.tries is None or term is None or term.price is None:
        return None
    return story.deposit if kind == ON_SUCCESS else story.tries * term.price


def _customers(going: GoingRate | None) -> dict[str, Any] | None:
    """What own offers tell of the price for a piece that half the customers accept."""
    if going is None or going.customers is None:
        return None
    known = going.customers
    return {
        "offers": len(known.offers),
        "taken": known.taken,
        "half_accept": going.level * exp(known.mean_middle),
        "low_95": going.level * exp(known.share_of_middles(0.025)),
        "high_95": going.level * exp(known.share_of_middles(0.975)),
    }


def post_line(service: Service) -> str | None:
    """The line to put up; None where the service is not to be offered."""
    story, money = service.story, service.pricing.market.money
    if service.verdict != OFFER:
        return None
    terms = "my supplies" if story.supplies == "mine" else "bring your supplies"
    if story.offered(FIXED) is not None:
        said = f"{_prices(service)}; {terms}, paid when done"
    elif (by_try := story.offered(PER_TRY)) is not None:
        said = f"{amount(by_try.price, digits=3)} {money} for each {story.try_step!r}; {terms}"
    elif (success := story.offered(ON_SUCCESS)) is not None:
        price = f"{amount(success.price, digits=3)} {money}"
        said = f"{price} on success within {story.tries} tries; {terms}"
        if story.deposit:
            said += f", deposit of {amount(story.deposit)} kept if it fails"
    else:
        return None
    return f"Service: {story.makes}, {said}{_if_lost(service)}"


def _if_lost(service: Service) -> str:
    story, said = service.story, ""
    for stage, pays in story.losses.items():
        what = "a lost piece" if len(story.losses) == 1 else f"a piece lost at {stage!r}"
        then = f"paid for with {amount(pays)} {story.money}" if pays else "your risk"
        said += f"; {what} is {then}"
    return said


def _prices(service: Service) -> str:
    """The fixed price, and that of the largest number of orders where it is lower."""
    one, many = service.by_orders[0], service.by_orders[-1]
    first, last = (amount(each.price, digits=3) for each in (one, many))
    text = f"{first} {service.pricing.market.money} each"
    return text if first == last else f"{text}, {last} each for {many.orders}"
