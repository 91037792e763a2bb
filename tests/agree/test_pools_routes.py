"""Whole routes with a pool, against a decision problem written out piece by piece.

The other road lists every piece as a set of affixes, writes out what each step may
lead to in fractions, and finds the least mean cost by value iteration. It knows no
lumping and no shared stages for redraws and offers.
"""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from itertools import permutations

import numpy as np
import pytest

from advisor.routes.cost import route_cost
from advisor.routes.learned import learn_odds
from advisor.routes.pools.expand import expand_pool_route
from advisor.routes.pools.lumping import BY_USE, BY_WEIGHT, ONE_BY_ONE
from advisor.routes.read import read_route

POOL = """
[pool]
slots = { etched = 1, inlaid = 2 }
placed_at_most = 1
[pool.count]
all = { 1 = 1, 2 = 2, 3 = 1 }
inlaid = { 1 = 1, 2 = 1 }
[pool.survivors]
1 = { 0 = 1, 1 = 2 }
2 = { 1 = 2, 2 = 1 }
3 = { 1 = 3, 2 = 6, 3 = 1 }
[[base]]
item = "lantern frame"
"""
AFFIXES = {  # name: kind, group, tier, weight, set
    "bright flame": ("etched", "flame", 1, 2, ""),
    "dim flame": ("etched", "flame", 2, 5, ""),
    "ward": ("etched", "ward", 1, 9, ""),
    "chime": ("inlaid", "chime", 1, 3, ""),
    "glow": ("inlaid", "glow", 1, 4, ""),
    "crest": ("inlaid", "crest", 1, 8, ""),
    "handle": ("inlaid", "handle", 1, 8, ""),
    "song": ("inlaid", "song", 1, 5, "hidden"),
    "dance": ("inlaid", "dance", 1, 1, "hidden"),
    "lens": ("inlaid", "lens", 1, 0, ""),
}
SLOTS = {"etched": 1, "inlaid": 2}
SURVIVORS = {
    1: {0: Fraction(1, 3), 1: Fraction(2, 3)},
    2: {1: Fraction(2, 3), 2: Fraction(1, 3)},
    3: {1: Fraction(3, 10), 2: Fraction(6, 10), 3: Fraction(1, 10)},
}
ROUTE = """
[route]
makes = "storm lantern"
pool = "lantern"
base = "lantern frame"
[finish]
all = ["flame:1", "chime"]
any = [{ k = 1, of = ["glow", "song", "dance"] }]
[[step]]
name = "take a frame"
from = "empty table"
uses = { "lantern frame" = 1 }
put = []
[[step]]
name = "wash and draw"
when = {}
uses = { "river dye" = 1 }
effect = { redraw = "all" }
[[step]]
name = "wash the inlay"
when = { all = ["flame:2"] }
uses = { "river dye" = 2 }
effect = { redraw = "inlaid" }
[[step]]
name = "add"
when = { none = ["ward"] }
uses = { "etching salt" = 1 }
effect = { add = 1 }
[[step]]
name = "rub out"
when = { all = ["flame:2"] }
uses = { "etching salt" = 1 }
[step.outcomes]
"piece" = { odds = "3/4", effect = { remove = 1, kind = "inlaid" } }
"empty table" = "rest"
[[step]]
name = "set a lens"
when = { all = ["flame:1"] }
uses = { "lens piece" = 1 }
effect = { place = "lens" }
[[step]]
name = "take the lens out"
when = { all = ["lens"] }
effect = { clear = "placed" }
fee = "1 shell"
[[step]]
name = "ask the old hand"
when = { all = ["flame:1", "chime"], none = ["lens"] }
uses = { "old hand" = 1 }
effect = { choose = 2, set = "hidden", decline = true }
[[step]]
name = "fuse"
when = { all = ["flame:1"], none = ["lens"] }
uses = { "chime piece" = 1 }
[step.outcomes]
"piece" = { odds = "90 %", effect = { join = ["chime"], frame = "either", other = "wrong frame" } }
"empty table" = "rest"
[[step]]
name = "break up"
when = {}
to = "empty table"
gives = { "scrap glass" = 1 }
[[step]]
name = "give away"
from = "wrong frame"
to = "empty table"
gives = { "scrap glass" = 2 }
[[grade]]
item = "plain lantern"
all = ["flame:2", "chime"]
[[grade]]
item = "fine lantern"
all = ["flame:1"]
free = { inlaid = 1 }
"""
BUY = {
    "lantern frame": 30.0,
    "river dye": 4.0,
    "etching salt": 6.0,
    "lens piece": 5.0,
    "old hand": 20.0,
    "chime piece": 12.0,
}
SELL = {"scrap glass": 2.0, "storm lantern": 260.0, "plain lantern": 55.0, "fine lantern": 70.0}


def fits(piece, name):
    kind, group, *_ = AFFIXES[name]
    taken = [AFFIXES[each] for each, _ in piece]
    return sum(each[0] == kind for each in taken) < SLOTS[kind] and group not in [
        each[1] for each in taken
    ]


def candidates(piece, set_name="", kind=None):
    return {
        name: weight
        for name, (own, _, _, weight, in_set) in AFFIXES.items()
        if weight and in_set == set_name and kind in (None, own) and fits(piece, name)
    }


def draw(pieces, kind=None):
    after = defaultdict(Fraction)
    for piece, chance in pieces.items():
        found = candidates(piece, kind=kind)
        if not found:
            after[piece] += chance
        for name, weight in found.items():
            after[piece | {(name, False)}] += chance * Fraction(weight, sum(found.values()))
    return after


def redraw(piece, kind):
    kept = frozenset(each for each in piece if kind and AFFIXES[each[0]][0] != kind)
    count = {1: Fraction(1, 2), 2: Fraction(1, 2)}
    if kind is None:
        count = {1: Fraction(1, 4), 2: Fraction(2, 4), 3: Fraction(1, 4)}
    law, layer = defaultdict(Fraction), {kept: Fraction(1)}
    for number in range(1, max(count) + 1):
        layer = draw(layer, kind)
        for end, chance in layer.items():
            law[end] += chance * count[number]
    return law


def join(piece, second):
    ends = {frozenset(): Fraction(1)}
    for kind in SLOTS:
        pot = [each for each in piece if AFFIXES[each[0]][0] == kind]
        pot += [(each, False) for each in second if AFFIXES[each][0] == kind]
        if not pot:
            continue
        after = defaultdict(Fraction)
        orders = list(permutations(pot))
        for end, chance in ends.items():
            for kept, share in SURVIVORS[len(pot)].items():
                for order in orders:
                    now, left = end, kept
                    for each in order:
                        if left and fits(now, each[0]):
                            now, left = now | {each}, left - 1
                    after[now] += chance * share / len(orders)
        ends = after
    return ends


def offers(piece):
    found = candidates(piece, "hidden")
    total = sum(found.values())
    law = defaultdict(Fraction)
    if len(found) == 1:
        law[frozenset(found)] += 1
    for one, two in permutations(found, 2):
        law[frozenset({one, two})] += Fraction(found[one], total) * Fraction(
            found[two], total - found[one]
        )
    return law


def has(piece, *names):
    return any((name, mark) in piece for name in names for mark in (False, True))


def flame(piece, worst):
    return has(piece, *["bright flame", "dim flame"][:worst])


def is_finished(piece):
    return flame(piece, 1) and has(piece, "chime") and has(piece, "glow", "song", "dance")


def actions_on(piece):
    """(cost, [(odds, [options])]): after chance has spoken the best option is taken."""
    one = [(Fraction(1), [piece])]
    yield BUY["river dye"], [(p, [end]) for end, p in redraw(piece, None).items()]
    yield -SELL["scrap glass"], [(Fraction(1), ["empty table"])]
    if flame(piece, 2):
        law = redraw(piece, "inlaid")
        yield 2 * BUY["river dye"], [(p, [end]) for end, p in law.items()]
        inlaid = [each for each in piece if AFFIXES[each[0]][0] == "inlaid"]
        if inlaid:
            left = [(Fraction(3, 4 * len(inlaid)), [piece - {each}]) for each in inlaid]
            yield BUY["etching salt"], [*left, (Fraction(1, 4), ["empty table"])]
    if not has(piece, "ward") and candidates(piece):
        law = draw({piece: Fraction(1)})
        yield BUY["etching salt"], [(p, [end]) for end, p in law.items()]
    if flame(piece, 1) and fits(piece, "lens") and not any(mark for _, mark in piece):
        yield BUY["lens piece"], [(Fraction(1), [piece | {("lens", True)}])]
    if has(piece, "lens"):
        yield 1.0, [(p, [frozenset(e for e in piece if not e[1])]) for p, _ in one]
    asks = flame(piece, 1) and has(piece, "chime") and not has(piece, "lens")
    if asks and candidates(piece, "hidden"):
        takings = [
            (p, [piece, *(piece | {(name, False)} for name in offered)])
            for offered, p in offers(piece).items()
        ]
        yield BUY["old hand"], takings
    if flame(piece, 1) and not has(piece, "lens"):
        joined = [(Fraction(9, 20) * p, [end]) for end, p in join(piece, ["chime"]).items()]
        ends = [(Fraction(9, 20), ["wrong frame"]), (Fraction(1, 10), ["empty table"])]
        yield BUY["chime piece"], [*joined, *ends]


def sales_of(piece):
    if is_finished(piece):
        yield SELL["storm lantern"]
    if flame(piece, 2) and has(piece, "chime"):
        yield SELL["plain lantern"]
    inlaid = sum(AFFIXES[each][0] == "inlaid" for each, _ in piece)
    if flame(piece, 1) and inlaid < 2:
        yield SELL["fine lantern"]


def value_of_start(goal):
    """Least mean cost from the empty table, by value iteration over all pieces."""
    plain = {
        "empty table": [(BUY["lantern frame"], [(Fraction(1), [frozenset()])])],
        "wrong frame": [(-2 * SELL["scrap glass"], [(Fraction(1), ["empty table"])])],
    }
    known = dict(plain)
    waiting = [frozenset()]
    while waiting:
        piece = waiting.pop()
        if piece in known:
            continue
        known[piece] = [] if is_finished(piece) else list(actions_on(piece))
        for _, law in known[piece]:
            waiting += [end for _, ends in law for end in ends if end not in known]
    states = {state: place for place, state in enumerate(known)}
    compiled = []
    for state, actions in known.items():
        rows = [
            (
                cost,
                np.array([float(p) for p, _ in law]),
                [np.array([states[end] for end in ends]) for _, ends in law],
            )
            for cost, law in actions
        ]
        sold = list(sales_of(state)) if isinstance(state, frozenset) else []
        compiled.append((rows, -max(sold, default=0.0)))
    values = np.zeros(len(states))
    for _ in range(3000):
        before = values.copy()
        for state, (rows, sale) in enumerate(compiled):
            costs = [
                cost + odds @ np.array([values[ends].min() for ends in options])
                for cost, odds, options in rows
            ]
            if goal == "sale":
                costs.append(sale)
            values[state] = min(costs) if costs else 0.0
        if np.abs(values - before).max() < 1e-13:
            break
    return values[states["empty table"]]


@pytest.fixture(scope="module")
def route(tmp_path_factory):
    folder = tmp_path_factory.mktemp("workspace")
    (folder / "pools").mkdir()
    (folder / "routes").mkdir()
    text = POOL + "".join(
        f'[[affix]]\nname = "{name}"\nkind = "{kind}"\ngroup = "{group}"\ntier = {tier}\n'
        f"weight = {weight}\n" + (f'set = "{own}"\n' if own else "")
        for name, (kind, group, tier, weight, own) in AFFIXES.items()
    )
    (folder / "pools/lantern.toml").write_text(text)
    (folder / "routes/evening.toml").write_text(ROUTE)
    return read_route(folder / "routes/evening.toml")


@pytest.mark.parametrize("goal", ["keep", "sale"])
def test_least_cost_is_that_of_the_problem_written_out(route, goal):
    sell = SELL if goal == "sale" else {"scrap glass": SELL["scrap glass"]}
    found = route_cost(
        route.name, routes={route.name: route}, buy=BUY, sell=sell, money="shell", goal=goal
    )
    assert found.mean == pytest.approx(value_of_start(goal), rel=1e-9)


@pytest.mark.parametrize("goal", ["keep", "sale"])
def test_lumped_and_unlumped_routes_cost_the_same(route, goal):
    from advisor.routes.solve import best_choices

    means, stages = [], []
    for how in (ONE_BY_ONE, BY_WEIGHT, BY_USE):
        model = expand_pool_route(
            route, goal=goal, money="shell", odds=learn_odds(route).odds, how=how
        )
        prices = {**BUY, "shell": 1.0}
        buy = np.array([prices.get(item, 0.0) for item in model.items])
        sell = np.array([SELL.get(item, 0.0) for item in model.items])
        found = best_choices(model, model.outcome_costs(buy, sell))
        means.append(found.cost_to_go[model.start])
        stages.append(len(model.stages))
    assert means[1:] == pytest.approx(means[:1] * 2, rel=1e-12)
    assert stages == sorted(stages, reverse=True)
    assert stages[2] < stages[0]


def test_stage_names_are_plain_words_and_different(route):
    model = expand_pool_route(route, goal="sale", money="shell", odds=learn_odds(route).odds)
    names = list(model.stages)
    assert len(set(names)) == len(names)
    assert {"empty table", "wrong frame", "storm lantern"} <= set(names)
    assert "nothing on it" in names
    assert any(name.startswith("flame 1, chime, lens (placed)") for name in names)


def test_odds_of_each_action_sum_to_one(route):
    for goal in ("keep", "sale"):
        model = expand_pool_route(route, goal=goal, money="shell", odds=learn_odds(route).odds)
        sums = np.bincount(model.outcome_action, weights=model.odds)
        assert np.abs(sums - 1).max() < 1e-12
