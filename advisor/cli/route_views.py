"""How a route looks on a terminal: the cost and the bad night, what it needs, the best way."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

from advisor.cli.screen import bars, show, show_sentences, show_table, show_wrapped
from advisor.figures import amount, percent
from advisor.routes.cost_answer import NO_PROMISE
from advisor.routes.other_ways import find_other_ways

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from advisor.routes.cost_answer import RouteCost, StageChoice
    from advisor.routes.total_law import CostDistribution
    from advisor.tasks.made_or_bought import MadeOrBought

BARS = 10
MOST_STAGES = 40
OTHERS_SHOWN = 12
DRAWN_SHARE = 0.995
TOLD_APART = 0.005
"""A mean and a cost to go this far apart, as a share, are told apart."""


def show_route(
    cost: RouteCost, both: Sequence[MadeOrBought] = (), *, about: str, when: str
) -> None:
    """A route in full.

    Args:
        both: Items that could be made or bought.
    """
    count = "" if cost.pieces == 1 else f" x {cost.pieces}"
    show_wrapped(
        f"{cost.route} makes {cost.makes}{count}; in {cost.money}, {when}, prices held still"
    )
    if about:
        show_wrapped(about)
    show()
    _show_cost(cost)
    show()
    _show_needs(cost)
    show()
    _show_made_or_bought(both)
    show_best_way(cost)
    show()
    _show_other_ways(cost)
    _show_proof(cost)
    show_sentences([*cost.cautions, NO_PROMISE], mark="! ")


def _show_cost(cost: RouteCost) -> None:
    law = cost.law
    sign, word = (-1, "profit") if cost.goal == "sale" else (1, "cost")
    mean = "no mean exists" if cost.mean is None else f"{amount(sign * cost.mean)} on average"
    luck = f", give or take {amount(law.sd)} by luck" if math.isfinite(law.sd) else ""
    time = cost.tell_own_time()
    show_wrapped(f"{word}: {mean}{luck}{'' if time is None else f'; {time}'}")
    if cost.mean is not None:
        worst = amount(sign * law.shortfall(0.95))
        edge = amount(sign * law.quantile(0.95))
        than = "or less" if cost.goal == "sale" else "or more"
        show_wrapped(f"bad night: 1 in 20 times {edge} {than}, {worst} on average of those")
    shares = (0.05, 0.25, 0.5, 0.8, 0.9, 0.95, 0.99)
    show_table(
        ["chance of cost up to" if sign == 1 else "chance of profit from"]
        + [f"{share:.0%}".replace("%", " %") for share in shares],
        [["", *(amount(sign * law.quantile(share)) for share in shares)]],
        right="l" + "r" * len(shares),
    )
    if cost.minutes.quantile(0.95) > 0:
        long = f"{amount(cost.minutes.quantile(0.95), digits=3)} minutes or more on a bad night"
        usual = f"{amount(cost.minutes.mean, digits=3)} minutes on average, "
        show_wrapped(f"time: {usual if math.isfinite(cost.minutes.mean) else ''}{long}")
    if cost.budget is not None and cost.chance_within is not None:
        show_wrapped(_within(cost))
        _show_budget_way(cost)
    for line in histogram(law) if sign == 1 else profit_histogram(law):
        show(line)


def _within(cost: RouteCost) -> str:
    """The chance to stay within the budget, and what counts against it."""
    said = f"within {amount(cost.budget)}: {percent(cost.chance_within)} of the time"
    if cost.goal == "sale":
        return f"{said} the purse lasts: what is laid out counts, what comes in does not" + (
            ", nor does your own time" if cost.own_time else ""
        )
    return f"{said} (your own time is counted in)" if cost.own_time else said


def _show_budget_way(cost: RouteCost) -> None:
    """Said where another way than the cheapest has a better chance within the budget."""
    from advisor.routes.budget_way import find_budget_way

    way = find_budget_way(cost)
    if way is None:
        return
    if way.stage is None:
        show("no other way has a better chance within it")
        return
    show_wrapped(
        f"Another way has a better chance within it, {percent(way.best)} against "
        f"{percent(way.cheapest)}: at {way.stage}, with {amount(way.money_left)} {cost.money} or "
        f"less left, {way.instead}."
    )


def histogram(law: CostDistribution) -> list[str]:
    """Bars of the law of a cost, the last one holding everything dearer."""
    low, high = law.quantile(1.0 - DRAWN_SHARE), law.quantile(DRAWN_SHARE)
    if high <= low:
        return []
    edges = [low + (high - low) * each / BARS for each in range(1, BARS + 1)]
    below, rows = 0.0, []
    for place, edge in enumerate(edges):
        last = place == BARS - 1
        upto = 1.0 if last else law.chance_within(edge)
        label = f"over {amount(edges[-2], digits=3)}" if last else f"to {amount(edge, digits=3)}"
        rows.append((label, max(0.0, upto - below), percent(max(0.0, upto - below))))
        below = upto
    return bars(rows)


def profit_histogram(law: CostDistribution) -> list[str]:
    """Bars of a profit, the law being that of its negative; the first holds all that is worse."""
    low, high = law.quantile(1.0 - DRAWN_SHARE), law.quantile(DRAWN_SHARE)
    if high <= low:
        return []
    edges = [low + (high - low) * each / BARS for each in range(1, BARS)]
    within = [law.chance_within(edge) for edge in edges]
    shares = [max(0.0, upto - below) for below, upto in pairwise([0.0, *within, 1.0])]
    labels = [f"from {amount(-edge, digits=3)}" for edge in edges]
    labels.append(f"under {amount(-edges[-1], digits=3)}")
    rows = [(label, share, percent(share)) for label, share in zip(labels, shares, strict=True)]
    return bars(rows[::-1])


def _show_needs(cost: RouteCost) -> None:
    show_wrapped("what it needs, on average and to be 80 % and 95 % sure of enough:")
    rows = [
        [
            use.item,
            amount(use.mean),
            amount(use.law.quantile(0.8)),
            amount(use.law.quantile(0.95)),
            amount(use.unit_price),
            amount(use.mean_cost),
        ]
        for use in sorted(cost.use.values(), key=lambda each: -(each.mean_cost or 0.0))
    ]
    rows += [
        [
            f"{each.item} (made by {each.route})",
            amount(each.mean),
            "",
            "",
            amount(each.unit_cost),
            "",
        ]
        for each in cost.made.values()
    ]
    rows += [
        [
            f"{each.item} (comes back)",
            amount(each.mean),
            "",
            "",
            amount(each.unit_price),
            "" if each.mean is None else amount(-each.mean * (each.unit_price or 0.0) + 0.0),
        ]
        for each in cost.gives.values()
    ]
    if cost.own_time:
        hours = cost.own_time / cost.hour_value
        own = ["your own time (hours)", amount(hours), "", "", amount(cost.hour_value)]
        rows.append([*own, amount(cost.own_time)])
    show_table(["item", "average", "80 %", "95 %", "each", "cost"], rows, right="lrrrrr")


def show_best_way(cost: RouteCost) -> None:
    """The best thing to do at each stage, and why its start may differ from the mean."""
    _show_choices(cost.choices, visits=cost.visits, goal=cost.goal, pieces=cost.pieces)
    start = cost.model.stages[cost.model.start]
    if cost.mean is None or start not in cost.choices:
        return
    sign = -1 if cost.goal == "sale" else 1
    mean, to_go = sign * cost.mean / cost.pieces, sign * cost.choices[start].cost_to_go
    if abs(mean - to_go) > TOLD_APART * abs(mean):
        one = "" if cost.pieces == 1 else " for one piece"
        show_wrapped(
            f"{amount(to_go)} at {start} and not {amount(mean)}, the mean{one}: the way is chosen "
            "with each odds at its best guess; the mean is over all that the odds may be"
        )


def _show_choices(
    choices: Mapping[str, StageChoice],
    *,
    visits: Mapping[str, float | None],
    goal: str,
    pieces: int,
) -> None:
    sign, to_go = (1, "cost to go") if goal == "keep" else (-1, "profit to go")
    many = "" if pieces == 1 else f" (visits for {pieces} pieces, {to_go} for one)"
    show(f"the best way{many}:")
    rows = []
    for stage, choice in list(choices.items())[:MOST_STAGES]:
        does = choice.action if choice.step is None else f"{choice.action}: {choice.step}"
        if choice.action == "step":
            does = choice.step or "step"
        rows.append([stage, does, amount(visits.get(stage)), amount(sign * choice.cost_to_go)])
    show_table(["at stage", "do", "visits", to_go], rows, right="llrr")
    if len(choices) > MOST_STAGES:
        show(f"... and {len(choices) - MOST_STAGES} more stages; --json has all.")


def _show_made_or_bought(both: Sequence[MadeOrBought]) -> None:
    if not both:
        return
    show("made yourself, or bought:")
    rows = [
        [
            each.item,
            amount(each.bought),
            amount(each.made),
            amount(each.made_bad_night),
            f"{each.takes}: {each.route}" if each.takes == "make" else "buy",
        ]
        for each in both
    ]
    show_table(["item", "bought", "made", "1 in 20", "takes"], rows, right="lrrrl")
    show()


def _show_other_ways(cost: RouteCost) -> None:
    others = sorted(find_other_ways(cost), key=lambda each: each.more)
    if not others:
        return
    sale = cost.goal == "sale"
    verb, heads = ("earns", ["profit to go", "less"]) if sale else ("costs", ["cost to go", "more"])
    one = "" if cost.pieces == 1 else ", for one piece"
    show(f"what else could be done there, once, and what it then {verb} {heads[1]}{one}:")
    rows = []
    for each in others[:OTHERS_SHOWN]:
        does = each.action if each.step is None else f"{each.action}: {each.step}"
        if each.action == "step":
            does = each.step or "step"
        to_go = -each.cost_to_go if sale else each.cost_to_go
        rows.append([each.stage, does, amount(to_go + 0.0), amount(each.more)])
    show_table(["at stage", "could do", *heads], rows, right="llrr")
    if len(others) > OTHERS_SHOWN:
        show(f"... and {len(others) - OTHERS_SHOWN} more; --json has all.")
    show()


def _show_proof(cost: RouteCost) -> None:
    size = f"{abs(cost.upper - cost.lower):.1g}"
    sign, best = (-1, "greatest mean profit") if cost.goal == "sale" else (1, "least mean cost")
    stages = f"{len(cost.model.stages)} stages"
    if cost.odds_sd or cost.mean is None:
        show_wrapped(
            f"with each odds at its best guess the {best} is {amount(sign * cost.upper)}, proved "
            f"within {size}; {stages}"
        )
    else:
        show_wrapped(f"{best} proved to lie within {size} of that; {stages}")
