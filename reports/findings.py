"""What a page says in one sentence; every number in it is one of the answer's own."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.figures import amount, percent
from reports.pages_data import Answer, CostPart


def craft_headline(craft: Answer) -> str:
    """The verdict with its two numbers."""
    money, verdict = craft["money"], craft["verdict"]
    mean = (craft.get("make") or {}).get("mean")
    price = (craft.get("buy") or {}).get("level")
    if craft.get("for") == "sale":
        return _sale_headline(verdict, mean, money)
    if verdict == "make":
        beside = "nobody is seen selling it" if price is None else f"{amount(price)} to buy"
        return f"Make it: {amount(mean)} {money} on average, {beside}."
    if verdict == "buy":
        beside = "no route has an answer" if mean is None else f"making costs {amount(mean)}"
        average = "" if mean is None else " on average"
        return f"Buy it: {amount(price)} {money}; {beside}{average}."
    if verdict == "either":
        return (
            f"As good as even: {amount(mean)} {money} on average to make, {amount(price)} to buy."
        )
    return "Neither: no route has an answer, and nobody is seen selling it."


def _sale_headline(verdict: str, mean: float | None, money: str) -> str:
    if verdict == "make" and mean is not None:
        return f"Make it to sell: it earns {amount(-mean)} {money} on average."
    if verdict == "buy":
        return "Buy it to sell on: that earns more than making it."
    if verdict == "either":
        return "Making it to sell comes out even."
    lost = "" if mean is None else f", making one loses {amount(mean)} {money} on average"
    return f"Leave it: today nothing is earned with it{lost}."


def bad_night(craft: Answer) -> str | None:
    """What a bad night costs, or None where the answer has no spread."""
    make = craft.get("make")
    if not make:
        return None
    edge, worst = make["quantiles"].get("0.95"), make.get("shortfall_95")
    if edge is None:
        return None
    word = "loses" if craft.get("for") == "sale" else "costs"
    said = f"A bad night, 1 in 20, {word} {amount(edge)} {craft['money']} or more"
    return f"{said}." if worst is None else f"{said}; {amount(worst)} on average of those."


def evenings(chance: float) -> str:
    """A chance as a count of evenings.

    >>> evenings(0.71), evenings(0.034), evenings(0.9999)
    ('7 of 10 evenings', '3 of 100 evenings', 'over 99 of 100 evenings')
    >>> evenings(1.0), evenings(0.0)
    ('every evening', 'no evening')
    """
    if chance <= 0:
        return "no evening"
    if chance >= 1:
        return "every evening"
    if chance < 0.005:
        return "under 1 of 100 evenings"
    if chance > 0.995:
        return "over 99 of 100 evenings"
    tenths = round(10 * chance)
    if abs(chance - tenths / 10) < 0.03 and 0 < tenths < 10:
        return f"{tenths} of 10 evenings"
    return f"{round(100 * chance)} of 100 evenings"


def cost_finding(craft: Answer) -> str:
    """How often making turns out cheaper; without a price to compare, how wide the cost runs."""
    money, price = craft["money"], (craft.get("buy") or {}).get("level")
    chance = craft.get("chance_this_one_cheaper")
    if craft.get("for") == "sale" and chance is not None:
        return f"In {evenings(chance)} making one to sell beats leaving it"
    if price is not None and chance is not None:
        return f"In {evenings(chance)} making is cheaper than {amount(price)} {money}"
    spread = craft["make"]["quantiles"]
    half, edge = spread.get("0.5"), spread.get("0.95")
    if half is None or edge is None:
        return f"Making costs {amount(craft['make']['mean'])} {money} on average"
    return (
        f"Half of all evenings cost at most {amount(half)} {money}, "
        f"1 in 20 costs {amount(edge)} or more"
    )


def parts_finding(parts: Sequence[CostPart], money: str) -> str:
    """The largest part of the cost."""
    spent = [part for part in parts if part.mean_cost > 0]
    if not spent:
        return "Nothing is spent on this route"
    part = max(spent, key=lambda each: each.mean_cost)
    said = f"The largest part is {part.item}: {amount(part.mean_cost)} {money}"
    return said if part.share is None else f"{said}, {percent(part.share)} of the cost"


def break_even_finding(craft: Answer) -> str:
    """The nearest price or odds at which the answer flips."""
    flips = [each for each in craft.get("break_even", ()) if each.get("change") is not None]
    if not flips:
        return "No single price or odds turns the answer"
    near = min(flips, key=lambda each: abs(each["change"]))
    turned = {"make": "Buying wins", "buy": "Making wins"}.get(craft["verdict"], "The answer turns")
    way = "rise" if near["change"] > 0 else "fall"
    way += "s" if near.get("item") else ""
    return (
        f"{turned} once {flip_name(near)} {way} to {flip_value(near, 'flips_at')} "
        f"({signed_percent(near['change'])})"
    )


def flip_name(flip: Answer) -> str:
    """What has to move: an item, or the odds of a step."""
    return str(flip["item"]) if flip.get("item") else f"the odds of {flip['odds']}"


def flip_value(flip: Answer, key: str) -> str:
    """Its price, or its odds in per cent."""
    return amount(flip[key]) if flip.get("item") else percent(flip[key])


def signed_percent(change: float) -> str:
    """A relative change.

    >>> signed_percent(0.254), signed_percent(-0.031), signed_percent(-0.0002)
    ('+25 %', '-3.1 %', '0 %')
    """
    if abs(change) < 0.0005:
        return "0 %"
    digits = 0 if abs(change) >= 0.0995 else 1
    return f"{100 * change:+.{digits}f} %"


def routes_finding(craft: Answer) -> str:
    """Which route is cheapest, and how sure that is."""
    routes = craft["routes"]
    best = routes[0]
    said = f"{best['route']} is cheapest on average"
    if best.get("chance_cheapest") is None:
        return said
    return f"{said}, with a chance of {percent(best['chance_cheapest'])} that it truly is"


def price_finding(prices: Answer, money: str) -> str:
    """What one costs now and what it will most likely cost."""
    ask = prices.get("ask")
    if not ask:
        return "Nobody is seen asking for it: there is no ask level"
    said = f"One costs {amount(ask['level'])} {money} now"
    ahead = [each for each in prices.get("forecast") or () if each["quantiles"].get("0.5")]
    if not ahead:
        return said
    last = ahead[-1]
    days = "a day" if last["days"] == 1 else f"{amount(last['days'])} days"
    return f"{said}; in {days} as likely above {amount(last['quantiles']['0.5'])} as below"
