"""Two roads: the solver, and every way of choosing solved in exact fractions.

Small random routes with costs of both signs. Every stationary way is listed,
its linear equations solved by Gauss elimination in `fractions.Fraction`, and the
least cost among the ways that end is compared with the solver's. A way that
never ends but earns on every round must make the solver refuse, and only then.
"""

from __future__ import annotations

import itertools
import random
from fractions import Fraction

import numpy as np
import pytest

from advisor.errors import RouteFault
from advisor.routes.chain import follow_choices
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices

ROUTES = 600
EARNS = "earns without limit"
FREE = "for ever at no cost"


def draw_route(chance: random.Random) -> list[tuple[int, list[tuple[float, int, float]]]]:
    """Up to four stages (the last plus one is the end), up to three actions each."""
    stages = chance.randint(1, 4)
    actions = []
    for stage in range(stages):
        for _ in range(chance.randint(1, 3)):
            targets = chance.sample(range(-1, stages), chance.randint(1, min(3, stages + 1)))
            parts = [chance.randint(1, 7) for _ in targets]
            whole = 2 ** (sum(parts) - 1).bit_length()  # odds exact in binary
            parts[0] += whole - sum(parts)
            costs = [chance.choice((-3, -1, 0, 1, 2, 5, 8)) for _ in targets]
            actions.append(
                (stage, [(p / whole, t, c) for p, t, c in zip(parts, targets, costs, strict=True)])
            )
    return actions


def solve_exactly(chosen: dict[int, list]) -> dict[int, Fraction] | None:
    """Mean cost to go of one way by elimination; None where it does not surely end."""
    stages = sorted(chosen)
    ends = {s for s in stages if any(t == -1 for _, t, _ in chosen[s])}
    while True:
        more = {s for s in stages if s not in ends and any(t in ends for _, t, _ in chosen[s])}
        if not more:
            break
        ends |= more
    if len(ends) < len(stages):
        return None
    rows = []
    for s in stages:
        row = [Fraction(int(s == t)) for t in stages] + [Fraction(0)]
        for odds, target, cost in chosen[s]:
            row[-1] += Fraction(odds) * cost
            if target >= 0:
                row[stages.index(target)] -= Fraction(odds)
        rows.append(row)
    for i in range(len(rows)):
        pivot = next(k for k in range(i, len(rows)) if rows[k][i] != 0)
        rows[i], rows[pivot] = rows[pivot], rows[i]
        rows[i] = [x / rows[i][i] for x in rows[i]]
        for k in range(len(rows)):
            if k != i and rows[k][i] != 0:
                rows[k] = [x - rows[k][i] * y for x, y in zip(rows[k], rows[i], strict=True)]
    return {s: rows[n][-1] for n, s in enumerate(stages)}


def find_loop_gains(chosen: dict[int, list]) -> list[Fraction]:
    """Mean cost per step of each closed loop of one way, exactly."""
    reach = {s: {s} for s in chosen}
    for _ in chosen:
        for s in chosen:
            reach[s] |= {u for t in list(reach[s]) if t >= 0 for _, u, _ in chosen[t]}
    gains = []
    for s in chosen:
        loop = sorted(reach[s])
        if -1 in loop or any(s not in reach[t] for t in loop):
            continue
        rest = [t for t in loop if t != s]
        cut = {
            t: [(p, u if u != s else -1, c) for p, u, c in chosen[t]] for t in loop
        }  # one round, from s back to s
        cost = solve_exactly(cut)
        steps = solve_exactly({t: [(p, u, 1) for p, u, _ in cut[t]] for t in loop})
        assert rest is not None and cost is not None and steps is not None
        gains.append(cost[s] / steps[s])
    return gains


def list_reached(actions: list, start: int = 0) -> set[int]:
    reached, fresh = {start}, [start]
    while fresh:
        stage = fresh.pop()
        for at, outcomes in actions:
            if at == stage:
                new = {t for _, t, _ in outcomes if t >= 0} - reached
                reached |= new
                fresh += new
    return reached


def test_random_routes_agree_with_every_way_in_fractions():
    chance = random.Random(20240901)
    solved = refused = 0
    widest = 0.0
    while solved + refused < ROUTES:
        actions = draw_route(chance)
        model, costs = sketch_route(actions)
        reached = list_reached(actions)
        by_stage = {s: [o for at, o in actions if at == s] for s in sorted(reached)}
        ways = [
            dict(zip(by_stage, way, strict=True)) for way in itertools.product(*by_stage.values())
        ]
        values = [value for way in ways if (value := solve_exactly(way)) is not None]
        gains = [gain for way in ways for gain in find_loop_gains(way)]
        try:
            found = best_choices(model, costs)
        except RouteFault as fault:
            if EARNS in str(fault):
                assert min(gains) < 0, actions
            elif FREE in str(fault):
                assert 0 in gains, actions
            else:
                assert not values, actions
            refused += 1
            continue
        assert not gains or min(gains) >= 0, actions
        for stage in reached:
            least = min(value[stage] for value in values)
            assert found.cost_to_go[stage] == pytest.approx(float(least), rel=1e-11, abs=1e-11)
        least = min(value[0] for value in values)
        assert Fraction(found.lower) <= least <= Fraction(found.upper)
        gap = (found.upper - found.lower) / max(1.0, abs(float(least)))
        assert gap <= 1e-9
        widest = max(widest, gap)
        solved += 1
    print(f"\n{solved} solved alike, {refused} refused alike, widest gap {widest:.1e}")
    assert solved > 150 and refused > 50


def test_moments_of_random_ways_agree_with_fractions():
    chance = random.Random(7)
    compared = 0
    while compared < 150:
        actions = draw_route(chance)
        first = {s: next(o for at, o in actions if at == s) for s in {at for at, _ in actions}}
        value = solve_exactly(first)
        if value is None:
            continue
        squares = {  # second moment: E[(c + X')^2], solved the same way
            s: [(p, t, c * c + (2 * c * value[t] if t >= 0 else 0)) for p, t, c in outcomes]
            for s, outcomes in first.items()
        }
        variance = solve_exactly(squares)[0] - value[0] ** 2
        model, costs = sketch_route(list(first.items()))
        chain = follow_choices(model, np.arange(len(first)))
        moments = chain.moments(costs)
        assert moments.mean == pytest.approx(float(value[0]), rel=1e-12, abs=1e-12)
        assert moments.sd**2 == pytest.approx(float(variance), rel=1e-11, abs=1e-11)
        compared += 1
