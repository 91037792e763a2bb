"""Worked examples of Markov decision processes and optimal stopping, solved as routes.

A discount factor beta becomes odds 1 - beta that the evening ends after a step,
which gives the same values. Rewards are negative costs. Each test names its
source; "from memory" marks values recalled rather than looked up.
"""

from __future__ import annotations

from itertools import combinations
from math import exp, sqrt

import numpy as np
import pytest

from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices
from advisor.routes.stages import END


def solve(actions, *, beta=1.0, done=(), start=0):
    """Best values (rewards) of every stage reached, and which action of its stage is taken.

    Args:
        actions: (stage, [(odds, next stage or END, reward)]).
    """
    costly = []
    for at, outcomes in actions:
        row = []
        for odds, onto, reward in outcomes:
            going = 1.0 if onto == END else beta
            row.append((odds * going, onto, -reward))
            if going < 1.0:
                row.append((odds * (1.0 - going), END, -reward))
        costly.append((at, [outcome for outcome in row if outcome[0] > 0]))
    model, costs = sketch_route(costly, done=done, start=start)
    found = best_choices(model, costs)
    assert found.upper - found.lower <= 1e-9 * max(1.0, abs(found.lower))
    first = np.searchsorted(model.action_stage, np.arange(len(model.stages)))
    return -found.cost_to_go, found.actions - first


def from_everywhere(actions, stages):
    """A stage -1 + count that leads everywhere, so that every stage is reached."""
    return [*actions, (stages, [(1 / stages, s, 0.0) for s in range(stages)])]


def test_two_state_process():
    """Puterman, Markov Decision Processes (Wiley 2005), section 3.1 and example 6.2.1."""
    actions = [
        (0, [(0.5, 0, 5), (0.5, 1, 5)]),
        (0, [(1.0, 1, 10)]),
        (1, [(1.0, 1, -1)]),
    ]
    values, choice = solve(actions, beta=0.95)
    np.testing.assert_allclose(values, [-8.57142857, -20], atol=1e-7)
    assert choice.tolist() == [0, 0]


def test_asset_replacement():
    """Miranda & Fackler, Applied Computational Economics and Finance (MIT 2002), section 7.6.2."""
    actions = []
    for age in range(1, 6):
        if age < 5:
            actions.append((age - 1, [(1.0, age, 50 - 2.5 * age - 2.5 * age**2)]))
        actions.append((age - 1, [(1.0, 0, 50 - 75)]))
    values, choice = solve(from_everywhere(actions, 5), beta=0.9, start=5)
    expected = [216.5600465, 190.6222739, 172.9136377, 169.9040419, 169.9040419]
    np.testing.assert_allclose(values[:5], expected, atol=1e-7)
    assert choice[:5].tolist() == [0, 0, 0, 1, 0]  # at age 5 replacing is the only action


def test_automobile_replacement():
    """Rust, Numerical dynamic programming in economics, Handbook of Computational Economics 1
    (1996), 4.2.2: replace from mileage class 53 on (of 100)."""
    rate, count = 0.5, 100
    edges = np.exp(-rate * (np.arange(count) - 0.5))
    drift = np.append(1 - edges[1], edges[1:-1] - edges[2:])
    actions = []
    for state in range(count):
        for base, reward in ((state, -200.0 * state), (0, -100_000.0)):
            odds = drift[: count - base].copy()
            odds[-1] = 1.0 - odds[:-1].sum()
            actions.append((state, [(p, base + k, reward) for k, p in enumerate(odds) if p > 0]))
    _, choice = solve(actions, beta=0.95)
    assert int(np.argmax(choice == 1)) == 53
    assert (choice[53:] == 1).all()


def test_taxicab_discounted():
    """Howard, Dynamic Programming and Markov Processes (MIT 1960), chapter 7, taxicab at 0.9."""
    odds = {
        1: [[0.5, 0.25, 0.25], [0.0625, 0.75, 0.1875], [0.25, 0.125, 0.625]],
        2: [[0.5, 0, 0.5], [0.0625, 0.875, 0.0625]],
        3: [[0.25, 0.25, 0.5], [0.125, 0.75, 0.125], [0.75, 0.0625, 0.1875]],
    }
    rewards = {
        1: [[10, 4, 8], [8, 2, 4], [4, 6, 4]],
        2: [[14, 0, 18], [8, 16, 8]],
        3: [[10, 2, 8], [6, 4, 2], [4, 0, 8]],
    }
    actions = [
        (town - 1, [(p, t, r) for t, (p, r) in enumerate(zip(ps, rs, strict=True)) if p])
        for town in odds
        for ps, rs in zip(odds[town], rewards[town], strict=True)
    ]
    values, choice = solve(actions, beta=0.9)
    np.testing.assert_allclose(values, [121.65, 135.31, 122.84], atol=0.006)
    assert choice.tolist() == [1, 1, 1]


GRID = [(x, y) for y in (1, 2, 3) for x in (1, 2, 3, 4) if (x, y) != (2, 2)]
EXITS = {(4, 3): 1.0, (4, 2): -1.0}


@pytest.mark.parametrize(
    ("beta", "order", "utilities", "within"),
    [
        (
            1.0,
            [(1, 3), (2, 3), (3, 3), (1, 2), (3, 2), (1, 1), (2, 1), (3, 1), (4, 1)],
            [0.812, 0.868, 0.918, 0.762, 0.660, 0.705, 0.655, 0.611, 0.388],
            0.0006,
        ),
        (
            0.9,
            [(1, 1), (1, 2), (1, 3), (2, 1), (2, 3), (3, 1), (3, 2), (3, 3), (4, 1)],
            [0.29544, 0.39810, 0.50929, 0.25349, 0.64958, 0.34461, 0.48644, 0.79536, 0.12959],
            0.0015,
        ),
    ],
)
def test_four_by_three_world(beta, order, utilities, within):
    """Russell & Norvig, Artificial Intelligence, 3rd ed., figure 17.3; with discount 0.9 the
    book's own code at its tolerance of 0.01."""
    number = {cell: n for n, cell in enumerate(c for c in GRID if c not in EXITS)}
    actions = []
    for (x, y), at in number.items():
        for dx, dy in ((1, 0), (0, 1), (-1, 0), (0, -1)):
            outcomes = []
            for odds, (ex, ey) in ((0.8, (dx, dy)), (0.1, (dy, dx)), (0.1, (-dy, -dx))):
                onto = (x + ex, y + ey) if (x + ex, y + ey) in GRID else (x, y)
                if onto in EXITS:
                    outcomes.append((odds, END, -0.04 + beta * EXITS[onto]))
                else:
                    outcomes.append((odds, number[onto], -0.04))
            actions.append((at, outcomes))
    values, _ = solve(actions, beta=beta)
    found = [values[number[cell]] for cell in order]
    np.testing.assert_allclose(found, utilities, atol=within)


def five_by_five():
    special = {(1, 0): ((1, 4), 10.0), (3, 0): ((3, 2), 5.0)}
    for y in range(5):
        for x in range(5):
            moves = []
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                if (x, y) in special:
                    (tx, ty), reward = special[x, y]
                elif 0 <= x + dx < 5 and 0 <= y + dy < 5:
                    (tx, ty), reward = (x + dx, y + dy), 0.0
                else:
                    (tx, ty), reward = (x, y), -1.0
                moves.append((5 * ty + tx, reward))
            yield 5 * y + x, moves


def test_five_by_five_world_at_random():
    """Sutton & Barto, Reinforcement Learning, 2nd ed. (MIT 2018), example 3.5, figure 3.2."""
    actions = [(at, [(0.25, onto, r) for onto, r in moves]) for at, moves in five_by_five()]
    values, _ = solve(actions, beta=0.9)
    expected = [3.3, 8.8, 4.4, 5.3, 1.5, 1.5, 3.0, 2.3, 1.9, 0.5, 0.1, 0.7, 0.7, 0.4, -0.4]
    expected += [-1.0, -0.4, -0.4, -0.6, -1.2, -1.9, -1.3, -1.2, -1.4, -2.0]
    np.testing.assert_allclose(values, expected, atol=0.06)


def test_five_by_five_world_at_best():
    """Sutton & Barto, 2nd ed., example 3.8, figure 3.5."""
    actions = [(at, [(1.0, onto, r)]) for at, moves in five_by_five() for onto, r in moves]
    values, _ = solve(actions, beta=0.9)
    expected = [22.0, 24.4, 22.0, 19.4, 17.5, 19.8, 22.0, 19.8, 17.8, 16.0, 17.8, 19.8, 17.8]
    expected += [16.0, 14.4, 16.0, 17.8, 16.0, 14.4, 13.0, 14.4, 16.0, 14.4, 13.0, 11.7]
    np.testing.assert_allclose(values, expected, atol=0.06)


def test_gamblers_problem():
    """Dubins & Savage, How to Gamble If You Must (1965), bold play; Sutton & Barto, example 4.3
    (from memory): from 25, 50 and 75 of 100 at odds 0.4."""
    actions = []
    for capital in range(1, 100):
        for stake in range(1, min(capital, 100 - capital) + 1):
            won = (0.4, END, 1.0) if capital + stake == 100 else (0.4, capital + stake - 1, 0.0)
            lost = (0.6, END, 0.0) if capital == stake else (0.6, capital - stake - 1, 0.0)
            actions.append((capital - 1, [won, lost]))
    values, _ = solve(from_everywhere(actions, 99), start=99)
    np.testing.assert_allclose(values[[24, 49, 74]], [0.16, 0.4, 0.64], atol=1e-9)


def test_reservation_wage():
    """McCall, Quarterly Journal of Economics 84 (1970) 113-126, as worked in the QuantEcon
    lectures, Job Search I: the reservation wage 47.31649976."""
    from scipy.stats import betabinom

    odds = betabinom(50, 200, 100).pmf(np.arange(51))
    beta, relief = 0.99, 25.0
    search = [(odds[k], k, relief) for k in range(51)]
    actions = [(k, [(1.0, END, (10.0 + k) / (1 - beta))]) for k in range(51)]
    actions += [(k, search) for k in range(51)] + [(51, search)]
    values, _ = solve(actions, beta=beta, start=51)
    assert values[51] * (1 - beta) == pytest.approx(47.31649976, abs=1e-6)


def test_selling_with_offers_left():
    """Moser (1956), On a problem of Cayley; Gilbert & Mosteller, JASA 61 (1966) 35-73: offers
    uniform on (0, 1), here on 500 midpoints, no recall."""
    expected = [0.5, 0.625, 0.6953125, 0.7417, 0.7751, 0.8004, 0.8203, 0.8364, 0.8498, 0.8611]
    points = 500
    offers = (np.arange(points) + 0.5) / points
    wait = {left: left * (points + 1) for left in range(11)}
    actions = []
    for left in range(1, 11):
        seen = [(1 / points, wait[left] + 1 + k, 0.0) for k in range(points)]
        actions.append((wait[left], seen))
        for k, offer in enumerate(offers):
            actions.append((wait[left] + 1 + k, [(1.0, END, offer)]))
            if left > 1:
                actions.append((wait[left] + 1 + k, [(1.0, wait[left - 1], 0.0)]))
    values, _ = solve(actions, start=wait[10])
    np.testing.assert_allclose([values[wait[n]] for n in range(1, 11)], expected, atol=6e-5)


@pytest.mark.parametrize(
    ("draws", "value"), [(1, 2.5), (2, 3.166666667), (3, 3.541666667), (4, 4.0)]
)
def test_cayleys_lottery(draws, value):
    """Cayley, Educational Times (1875), problem 4528: tickets 1 to 4, drawn without replacement."""
    tickets = (1, 2, 3, 4)
    number: dict = {}
    for used in range(draws + 1):
        for gone in combinations(tickets, used):
            for last in gone or (None,):
                number[gone, last] = len(number)
    actions = []
    for (gone, last), at in number.items():
        if last is not None:
            actions.append((at, [(1.0, END, float(last))]))
        rest = [t for t in tickets if t not in gone]
        if len(gone) < draws:
            onward = [(1 / len(rest), number[tuple(sorted((*gone, t))), t], 0.0) for t in rest]
            actions.append((at, onward))
    values, _ = solve(actions)
    assert values[0] == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(
    ("n", "first", "chance"),
    [
        (3, 2, 0.5),
        (4, 2, 0.458),
        (5, 3, 0.433),
        (6, 3, 0.428),
        (7, 3, 0.414),
        (8, 4, 0.410),
        (9, 4, 0.406),
        (10, 4, 0.399),
        (20, 8, 0.384),
        (100, 38, 0.371),
    ],
)
def test_secretary_problem(n, first, chance):
    """Gilbert & Mosteller, JASA 61 (1966), table 2 (from memory)."""
    actions = []
    for i in range(1, n + 1):  # stage 2i-2: candidate i is not the best so far; 2i-1: is
        onward = [(1 / (i + 1), 2 * i + 1, 0.0), (i / (i + 1), 2 * i, 0.0)]
        going = onward if i < n else [(1.0, END, 0.0)]
        actions += [(2 * i - 2, going), (2 * i - 1, [(1.0, END, i / n)]), (2 * i - 1, going)]
    values, choice = solve(actions, start=1)
    assert values[1] == pytest.approx(chance, abs=0.0006)
    accepted = [i for i in range(1, n + 1) if choice[2 * i - 1] == 0]
    assert accepted[0] == first


@pytest.mark.parametrize(("n", "rank"), [(10, 2.56), (100, 3.60)])
def test_least_expected_rank(n, rank):
    """Chow, Moriguti, Robbins & Samuels, Israel Journal of Mathematics 2 (1964) 81-90 (from
    memory)."""
    wait = {i: i * (i - 1) // 2 + i - 1 for i in range(1, n + 1)}  # then ranks 1..i follow
    actions = []
    for i in range(1, n + 1):
        actions.append((wait[i], [(1 / i, wait[i] + r, 0.0) for r in range(1, i + 1)]))
        for r in range(1, i + 1):
            actions.append((wait[i] + r, [(1.0, END, -(n + 1) / (i + 1) * r)]))
            if i < n:
                actions.append((wait[i] + r, [(1.0, wait[i + 1], 0.0)]))
    values, _ = solve(actions)
    assert -values[0] == pytest.approx(rank, abs=0.006)


def test_mine():
    """Miranda & Fackler (2002), section 7.6.1: the best run-down of a stock of 100."""
    actions = [(s, [(1.0, s - x, x - x * x / (1.0 + s))]) for s in range(101) for x in range(s + 1)]
    _, choice = solve(actions, beta=0.9, start=100)
    path = [100]
    while path[-1] > 0:
        path.append(path[-1] - int(choice[path[-1]]))
    assert path == [100, 76, 58, 44, 33, 25, 19, 14, 11, 8, 6, 4, 3, 2, 1, 0]


def price_option(payoff, *, spot, up, down, growth, steps, early=True):
    """Value of an option on a binomial tree; each step's discount is odds that all ends."""
    odds = (growth - down) / (up - down)
    number = {(i, k): i * (i + 1) // 2 + k for i in range(steps + 1) for k in range(i + 1)}
    actions = []
    for (i, k), at in number.items():
        worth = payoff(spot * up**k * down ** (i - k))
        if i < steps:
            onward = [(odds, number[i + 1, k + 1], 0.0), (1 - odds, number[i + 1, k], 0.0)]
            actions.append((at, onward))
        if early or i == steps:
            actions.append((at, [(1.0, END, worth)]))
    return solve(actions, beta=1 / growth)[0][0]


@pytest.mark.parametrize(
    ("steps", "early", "value", "within"),
    [
        (5, True, 4.49, 0.006),
        (5, False, 4.32, 0.006),
        (30, True, 4.263, 0.0006),
        (50, True, 4.272, 0.0006),
        (100, True, 4.278, 0.0006),
    ],
)
def test_american_put(steps, early, value, within):
    """Hull, Options, Futures, and Other Derivatives, 8th ed., section 20.1 (from memory)."""
    dt = 0.4166666667 / steps
    up = exp(0.4 * sqrt(dt))
    found = price_option(
        lambda s: max(50 - s, 0.0),
        spot=50,
        up=up,
        down=1 / up,
        growth=exp(0.1 * dt),
        steps=steps,
        early=early,
    )
    assert found == pytest.approx(value, abs=within)


@pytest.mark.parametrize(
    ("growth", "up", "down", "early", "value", "within"),
    [
        (exp(0.05), 1.2, 0.8, True, 5.0894, 5e-4),
        (exp(0.05), 1.2, 0.8, False, 4.1923, 5e-4),
        (1.05, 1.2, 0.8, True, 5.1361, 6e-5),
        (exp(0.05), exp(0.3), exp(-0.3), True, 7.43, 0.006),
    ],
)
def test_two_step_put(growth, up, down, early, value, within):
    """Hull, chapter on binomial trees, figures of the two-step put at 52."""
    found = price_option(
        lambda s: max(52 - s, 0.0), spot=50, up=up, down=down, growth=growth, steps=2, early=early
    )
    assert found == pytest.approx(value, abs=within)


def test_three_step_call():
    """Cox, Ross & Rubinstein, Journal of Financial Economics 7 (1979) 229-263, worked example
    (from memory; the paper multiplies by a rounded factor)."""
    found = price_option(
        lambda s: max(s - 80, 0.0), spot=80, up=1.5, down=0.5, growth=1.1, steps=3, early=False
    )
    assert found == pytest.approx(34.065, abs=0.02)


def test_two_stages_that_earn():
    """Closed form: each step earns 10 and ends with odds 0.1, so 1/0.1 steps earn 100."""
    values, _ = solve([(0, [(0.9, 1, 10), (0.1, END, 10)]), (1, [(0.9, 0, 10), (0.1, END, 10)])])
    np.testing.assert_allclose(values, [100, 100], rtol=1e-12)
