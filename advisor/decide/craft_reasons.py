"""The make-or-buy answer in sentences: the bad night first, then what it hangs on.

Every number in a sentence is one of the answer's own; a sentence that the
numbers do not carry is not written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.decide.break_even import FlipPoint
from advisor.decide.craft import CraftAdvice, RouteVerdict
from advisor.decide.worth_knowing import WorthKnowing
from advisor.decide.worth_of_news import TriesWorth
from advisor.figures import amount

FLIPS_TOLD = 2
LARGE_SHARE = 0.25
WORTH_SHARE = 0.005
LEAST_TOLD = 0.05


@dataclass(frozen=True)
class SpentOn:
    """What a route spends on one item: mean units, price of one, mean cost."""

    item: str
    units: float
    unit_price: float

    @property
    def cost(self) -> float:
        """Mean money spent on it."""
        return self.units * self.unit_price


def craft_reasons(
    advice: CraftAdvice,
    *,
    piece: str,
    money: str,
    goal: str,
    spending: Sequence[SpentOn],
    flips: Sequence[FlipPoint],
    worth: Sequence[WorthKnowing] = (),
    tries: Sequence[TriesWorth] = (),
    mean_at_levels: float | None = None,
    without_mean: Sequence[str] = (),
    own_time: str | None = None,
) -> list[str]:
    """Why the verdict is what it is.

    Args:
        advice: The answer.
        piece, money: Names for the sentences.
        goal: "keep" or "sale".
        spending: What the best route spends, any order.
        flips: Where the answer flips, nearest first.
        worth: What is worth looking up, most first.
        tries: What more logged tries are worth, most first.
        mean_at_levels: The best route's mean cost if every unit cost the ask level.
        without_mean: Routes whose mean cost does not exist, for a step may never succeed.
        own_time: How much of the best route's cost is one's own time, in words.
    """
    best = advice.best
    if best is None:
        return _reasons_without_a_route(advice, without_mean, piece=piece, money=money)
    if goal == "sale" and not spending:
        return [f"No route earns anything with {piece} now: the best is not to start."]
    return [
        *_bad_night(best, money, goal),
        *_means(advice, best, piece=piece, money=money, goal=goal),
        *([] if own_time is None else [f"{own_time[0].upper()}{own_time[1:]}."]),
        *(_chances(advice, best) if goal == "keep" else ()),
        *_largest_part(spending, best),
        *_walking(best, mean_at_levels, money=money),
        *_flip_sentences(flips, advice.verdict, money=money, goal=goal),
        *_look_up(worth, best, money=money),
        *_try_more(tries, best, money=money),
        *_caution_counts(best, money),
        *_other_routes(advice, money, goal),
    ]


def _reasons_without_a_route(
    advice: CraftAdvice, without_mean: Sequence[str], *, piece: str, money: str
) -> list[str]:
    made = f"No route makes {piece} at known prices"
    if without_mean:
        made = (
            f"What {piece} costs by {' or '.join(without_mean)} on average cannot be said before a "
            f"success is seen or odds are stated; `route {without_mean[0]}` tells what it costs "
            "half of the time"
        )
    if advice.buy is None:
        return [f"{made}, and nobody is seen selling it."]
    bought = f"Buying {piece} costs about {amount(advice.buy.belief.price)} {money}"
    return [
        f"{bought}; no route has an answer to compare.",
        *([f"{made}."] if without_mean else []),
    ]


def _bad_night(best: RouteVerdict, money: str, goal: str) -> list[str]:
    edge, beyond = best.law.quantile(0.95), best.law.worst_mean()
    if beyond <= best.option.mean + 1e-9 * abs(best.option.mean):
        return []
    if goal == "sale":
        return [
            f"A bad night: one time in twenty the profit is {amount(-edge)} {money} or less, "
            f"{amount(-beyond)} on average of those."
        ]
    return [
        f"A bad night: one time in twenty making costs {amount(edge)} {money} or more, "
        f"{amount(beyond)} on average of those."
    ]


def _means(
    advice: CraftAdvice, best: RouteVerdict, *, piece: str, money: str, goal: str
) -> list[str]:
    mean, name = best.option.mean, best.option.route
    if goal == "sale":
        earned = (
            f"Making {piece} by {name} and selling it brings {amount(-mean)} {money} on average"
        )
        return [f"{earned}, fees paid." if mean <= 0 else f"{earned}: a loss."]
    made = f"Making by {name} costs {amount(mean)} {money} on average"
    if advice.buy is None or advice.saving is None or advice.saving_sd is None:
        return [f"{made}; nobody is seen selling {piece}."]
    doubt = f", give or take {amount(advice.saving_sd)}" if advice.saving_sd else ""
    return [
        f"{made}, buying {amount(advice.buy.belief.price)}: making {_saves(advice.saving)}{doubt}."
    ]


def _saves(saving: float) -> str:
    if saving == 0:
        return "costs just as much"
    return f"{'saves' if saving > 0 else 'loses'} {amount(abs(saving))}"


def _chances(advice: CraftAdvice, best: RouteVerdict) -> list[str]:
    if advice.chance_make_cheaper is None or advice.chance_this_one_cheaper is None:
        return []
    said = (
        f"Making is the cheaper way on average with a chance of "
        f"{_in_hundred(advice.chance_make_cheaper)}; this time it turns out cheaper in "
        f"{_in_hundred(advice.chance_this_one_cheaper)}"
    )
    luck = (advice.shares or {}).get("luck", 0.0)
    if luck >= LARGE_SHARE and best.law.luck_variance > 0:
        said += f", for luck is {_in_hundred(luck)} of what is uncertain (variance)"
    return [f"{said}."]


def _in_hundred(share: float) -> str:
    if 0 < share < 0.005:
        return "under 1 in 100"
    if 0.995 < share < 1:
        return "over 99 in 100"
    return f"{round(100 * share)} in 100"


def _largest_part(spending: Sequence[SpentOn], best: RouteVerdict) -> list[str]:
    spent = [part for part in spending if part.cost > 0]
    total = sum(part.cost for part in spent)
    if not spent or total <= 0:
        return []
    part = max(spent, key=lambda each: each.cost)
    return [
        f"The largest part is {part.item}: {amount(part.units)} at {amount(part.unit_price)} "
        f"on average, {_in_hundred(part.cost / total)} of what {best.option.route} spends."
    ]


def _walking(best: RouteVerdict, mean_at_levels: float | None, *, money: str) -> list[str]:
    """Worth a sentence where it moves the mean by a hundredth or more."""
    if mean_at_levels is None:
        return []
    extra = best.option.mean - mean_at_levels
    if extra <= 0 or extra < 0.01 * abs(mean_at_levels):
        return []
    return [
        f"Buying all of it at once goes up the standing offers: {amount(extra)} {money} of it are "
        "saved if you can buy in parts at the present level."
    ]


def _flip_sentences(
    flips: Sequence[FlipPoint], verdict: str, *, money: str, goal: str
) -> list[str]:
    turned = {
        "make": f"The answer turns to {'buying' if goal == 'keep' else 'not making it'}",
        "buy": "The answer turns to making",
        "either": "Making and buying cost just the same",
    }.get(verdict)
    if turned is None:
        return []
    sentences = []
    for flip in flips[:FLIPS_TOLD]:
        way = "rises" if flip.change > 0 else "falls"
        change = f"{flip.change:+.0%}".replace("%", " %")
        if flip.kind == "item":
            now, then = f"{amount(flip.now)}", f"{amount(flip.flips_at)} {money}"
        else:
            now, then = f"{100 * flip.now:.3g} %", f"{100 * flip.flips_at:.3g} %"
        thing = flip.name if flip.kind == "item" else f"the odds of {flip.name}"
        verb = way if flip.kind == "item" else {"rises": "rise", "falls": "fall"}[way]
        sentences.append(f"{turned} if {thing} {verb} from {now} to {then} ({change}).")
    return sentences


def _look_up(worth: Sequence[WorthKnowing], best: RouteVerdict, *, money: str) -> list[str]:
    """Worth a sentence where it is worth more than a two-hundredth of the piece."""
    if not worth or worth[0].worth < WORTH_SHARE * abs(best.option.mean):
        return []
    most = worth[0]
    one = ""
    if most.one_more is not None and most.one_more >= LEAST_TOLD * most.worth:
        one = f", one more quote {amount(most.one_more, digits=2)}"
    return [
        f"Look up the {most.what} before you start: knowing it well is worth "
        f"{amount(most.worth, digits=2)} {money} on average{one}, since it may turn the answer."
    ]


def _try_more(tries: Sequence[TriesWorth], best: RouteVerdict, *, money: str) -> list[str]:
    """Likewise for tries that somebody logged; what it costs to make them is not in it."""
    if not tries or tries[0].worth < WORTH_SHARE * abs(best.option.mean):
        return []
    most = tries[0]
    return [
        f"{most.tries} more logged tries of {most.step} ({most.route}) are worth "
        f"{amount(most.worth, digits=2)} {money} on average before you decide, what they cost "
        "aside: ask around for how others fared."
    ]


def _caution_counts(best: RouteVerdict, money: str) -> list[str]:
    """Said where caution makes a route count as dearer than its mean."""
    if abs(best.cautious - best.option.mean) < 0.005 * abs(best.option.mean):
        return []
    return [
        f"With your caution in the settings the bad night counts: {best.option.route} is weighed "
        f"at {amount(best.cautious)} {money}, not at its mean."
    ]


def _other_routes(advice: CraftAdvice, money: str, goal: str) -> list[str]:
    if len(advice.routes) < 2:
        return []
    second = advice.routes[1]
    sign = -1.0 if goal == "sale" else 1.0
    chance = advice.chance_cheapest[advice.routes[0].option.route]
    first = advice.routes[0].option.route
    return [
        f"Next best is {second.option.route} at {amount(sign * second.option.mean)} {money}; "
        f"the chance that {first} is the cheapest of all is {_in_hundred(chance)}."
    ]
