"""Worked examples of absorbing chains, solved as routes without choices.

Each test names its source. Where a value is recalled rather than looked up the
source line says "from memory"; all of them also follow from a formula that is
worked out here or in `tests/agree`.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from advisor.routes.chain import sum_chain
from advisor.routes.distribution import cost_distribution
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices


def walk(rows, *, done, start=0, costs=None):
    """One certain way: {stage: {next stage: odds}}, each step costing 1 or what `costs` says."""
    actions = [
        (at, [(p, to, costs(at, to) if costs else 1.0) for to, p in row.items()])
        for at, row in rows.items()
    ]
    model, outcome_costs = sketch_route(actions, done=done, start=start)
    return model, best_choices(model, outcome_costs), outcome_costs


def sums_from(rows, *, done, start):
    model, choices, _ = walk(rows, done=done, start=start)
    return sum_chain(model, choices)


def test_drunkards_walk():
    """Grinstead & Snell, Introduction to Probability, 2nd ed. (AMS), section 11.2: N, t and B."""
    rows = {k: {k - 1: 0.5, k + 1: 0.5} for k in (1, 2, 3)}
    visits = [sums_from(rows, done=[0, 4], start=k).visits for k in (1, 2, 3)]
    np.testing.assert_allclose(
        [v[1:4] for v in visits], [[1.5, 1, 0.5], [1, 2, 1], [0.5, 1, 1.5]], atol=1e-12
    )
    np.testing.assert_allclose(
        [[v[0], v[4]] for v in visits], [[0.75, 0.25], [0.5, 0.5], [0.25, 0.75]], atol=1e-12
    )
    _, choices, _ = walk(rows, done=[0, 4], start=2)
    np.testing.assert_allclose(choices.cost_to_go[1:4], [3, 4, 3], atol=1e-12)


def test_drunkards_walk_uphill():
    """Grinstead & Snell, section 11.2, the exercise with steps of odds 1/3 and 2/3."""
    rows = {k: {k - 1: 1 / 3, k + 1: 2 / 3} for k in (1, 2, 3)}
    results = [sums_from(rows, done=[0, 4], start=k) for k in (1, 2, 3)]
    np.testing.assert_allclose([r.steps for r in results], [3.4, 3.6, 2.2], atol=1e-7)
    np.testing.assert_allclose(
        [[r.visits[0], r.visits[4]] for r in results],
        [[0.46666667, 0.5333333], [0.2, 0.8], [0.06666667, 0.9333333]],
        atol=1e-7,
    )


@pytest.mark.parametrize(
    ("p", "z", "a", "ruin", "duration"),
    [
        (0.5, 9, 10, 0.1, 9),
        (0.5, 90, 100, 0.1, 900),
        (0.5, 950, 1000, 0.05, 47500),
        (0.45, 9, 10, 0.210, 11.0),
        (0.45, 90, 100, 0.866, 765.6),
        (0.45, 99, 100, 0.182, 171.8),
        (0.4, 90, 100, 0.983, 441.3),
        (0.4, 99, 100, 0.333, 161.7),
    ],
)
def test_gamblers_ruin(p, z, a, ruin, duration):
    """Feller, An Introduction to Probability Theory, vol. 1, 3rd ed. (Wiley 1968), XIV.3,
    table 1 (from memory)."""
    rows = {k: {k - 1: 1 - p, k + 1: p} for k in range(1, a)}
    found = sums_from(rows, done=[0, a], start=z)
    assert found.visits[0] == pytest.approx(ruin, abs=6e-4)
    assert found.steps == pytest.approx(duration, abs=0.06)


def test_die_from_coin_flips():
    """Knuth & Yao, The complexity of nonuniform random number generation (1976): 11/3 flips."""
    rows = {
        0: {1: 0.5, 2: 0.5},
        1: {3: 0.5, 4: 0.5},
        2: {5: 0.5, 6: 0.5},
        3: {1: 0.5, 7: 0.5},
        4: {8: 0.5, 9: 0.5},
        5: {10: 0.5, 11: 0.5},
        6: {2: 0.5, 12: 0.5},
    }
    found = sums_from(rows, done=range(7, 13), start=0)
    assert found.steps == pytest.approx(11 / 3, abs=1e-12)
    np.testing.assert_allclose(found.visits[7:], 1 / 6, atol=1e-12)


def test_craps():
    """Win 244/495: Grinstead & Snell, craps example. Rolls 557/165: Ethier, The Doctrine of
    Chances (Springer 2010)."""
    ways = {total: 6 - abs(total - 7) for total in range(2, 13)}
    win, lose, points = 11, 12, (4, 5, 6, 8, 9, 10)
    first = {win: (ways[7] + ways[11]) / 36, lose: (ways[2] + ways[3] + ways[12]) / 36}
    rows = {0: first | {point: ways[point] / 36 for point in points}}
    for point in points:
        hit = ways[point] / 36
        rows[point] = {win: hit, lose: 6 / 36, point: 1 - hit - 6 / 36}
    found = sums_from(rows, done=[win, lose], start=0)
    assert found.visits[win] == pytest.approx(244 / 495, abs=1e-12)
    assert found.steps == pytest.approx(557 / 165, abs=1e-12)


@pytest.mark.parametrize(("n", "draws"), [(5, 11.42), (6, 14.70), (10, 29.29), (365, 2364.65)])
def test_coupon_collector(n, draws):
    """Mosteller, Fifty Challenging Problems in Probability (1965), no. 14; Feller, vol. 1,
    IX.3(d) (from memory)."""
    rows = {k: {k: k / n, k + 1: 1 - k / n} for k in range(n)}
    assert sums_from(rows, done=[n], start=0).steps == pytest.approx(draws, abs=0.006)


JUMPS = {1: 38, 4: 14, 9: 31, 16: 6, 21: 42, 28: 84, 36: 44, 47: 26, 49: 11, 51: 67, 56: 53}
JUMPS |= {62: 19, 64: 60, 71: 91, 80: 100, 87: 24, 93: 73, 95: 75, 98: 78}
MOVES = Fraction(
    225837582538403273407117496273279920181931269186581786048583,
    5757472998140039232950575874628786131130999406013041613400,
)


def board_rows():
    rows = {}
    for square in (s for s in range(100) if s not in JUMPS):
        row = rows.setdefault(square, {})
        for roll in range(1, 7):
            onto = square + roll if square + roll <= 100 else square
            onto = JUMPS.get(onto, onto)
            row[onto] = row.get(onto, 0) + Fraction(1, 6)
    return rows


def test_snakes_and_ladders():
    """Althoen, King & Schilling, How long is a game of snakes and ladders?, Mathematical Gazette
    77 (1993) 71-76: the exact mean 39.2251..., and the shortest game of 7 moves."""
    rows = {at: {to: float(p) for to, p in row.items()} for at, row in board_rows().items()}
    model, choices, costs = walk(rows, done=[100])
    assert choices.cost_to_go[0] == pytest.approx(float(MOVES), rel=1e-13)
    assert choices.lower - 1e-12 <= float(MOVES) <= choices.upper + 1e-12
    law = cost_distribution(model, choices, costs)
    assert law.values[np.argmax(law.pmf > 1e-9)] == 7
    assert law.pmf @ law.values == pytest.approx(float(MOVES), rel=1e-8)


def test_snakes_and_ladders_in_fractions():
    """The same chain by elimination in fractions gives the published rational to its last digit."""
    rows = board_rows()
    mean = dict.fromkeys(rows, Fraction(1))
    for square in sorted(rows, reverse=True)[:-1]:
        row, stay = rows.pop(square), 1
        stay = 1 - row.pop(square, 0)
        mean[square] /= stay
        for earlier in rows.values():
            if weight := earlier.pop(square, 0):
                for onto, odds in row.items():
                    earlier[onto] = earlier.get(onto, 0) + weight * odds / stay
                key = next(k for k, v in rows.items() if v is earlier)
                mean[key] += weight * mean[square]
    assert mean[0] / (1 - rows[0].get(0, 0)) == MOVES


@pytest.mark.parametrize(
    ("r", "p", "unit", "time"),
    [
        (5, 0.5, 60, 1.0),
        (10, 0.5, 60, 34.1),
        (15, 0.5, 3600, 18.2),
        (10, 0.6, 60, 6.9),
        (15, 0.6, 3600, 1.5),
        (20, 0.6, 3600, 19.0),
        (5, 1 / 6, 3600, 2.6),
        (10, 1 / 6, 2592000, 28.0),
    ],
)
def test_waiting_for_a_run(r, p, unit, time):
    """Feller, vol. 1, 3rd ed., XIII.7, table 2: one trial a second (from memory)."""
    rows = {k: {k + 1: p, 0: 1 - p} for k in range(r)}
    steps = sums_from(rows, done=[r], start=0).steps
    assert steps / unit == pytest.approx(time, abs=0.06)
    assert steps == pytest.approx((1 - p**r) / ((1 - p) * p**r), rel=1e-9)


@pytest.mark.parametrize(
    ("pattern", "tosses"),
    [("HH", 6), ("HT", 4), ("HTH", 10), ("HHH", 14), ("HHT", 8), ("HTHH", 18)],
)
def test_waiting_for_a_pattern(pattern, tosses):
    """Li, Annals of Probability 8 (1980) 1171-1176; Ross, Introduction to Probability Models
    (from memory)."""
    rows = {}
    for k in range(len(pattern)):
        row = rows.setdefault(k, {})
        for face in "HT":
            seen = pattern[:k] + face
            onto = next(n for n in range(len(pattern), -1, -1) if seen.endswith(pattern[:n]))
            row[onto] = row.get(onto, 0) + 0.5
    assert sums_from(rows, done=[len(pattern)], start=0).steps == pytest.approx(tosses, abs=1e-9)


def test_random_walk_to_a_corner():
    """Sutton & Barto, Reinforcement Learning, 2nd ed. (MIT Press 2018), example 4.1, figure 4.1."""
    rows = {}
    for cell in range(1, 15):
        x, y = cell % 4, cell // 4
        row = rows.setdefault(cell, {})
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            inside = 0 <= x + dx < 4 and 0 <= y + dy < 4
            onto = cell + dx + 4 * dy if inside else cell
            row[onto] = row.get(onto, 0) + 0.25
    _, choices, _ = walk(rows, done=[0, 15], start=5)
    values = [0, -14, -20, -22, -14, -18, -20, -20, -20, -20, -18, -14, -22, -20, -14, 0]
    np.testing.assert_allclose(-choices.cost_to_go, values, atol=1e-9)


def tries_until(successes, p):
    """The law of the number of tries until so many successes."""
    rows = {k: {k: 1 - p, k + 1: p} for k in range(successes)}
    return cost_distribution(*walk(rows, done=[successes]))


@pytest.mark.parametrize(("k", "chance"), [(1, 0.6651), (2, 0.6187), (3, 0.5973)])
def test_newton_and_pepys(k, chance):
    """Schell, American Statistician 14 (1960) 27-30: at least k sixes with 6k dice."""
    assert tries_until(k, 1 / 6).chance_within(6 * k) == pytest.approx(chance, abs=6e-5)


@pytest.mark.parametrize(
    ("p", "tries", "chance"), [(1 / 6, 4, 0.5177), (1 / 36, 24, 0.4914), (1 / 36, 25, 0.5055)]
)
def test_de_mere(p, tries, chance):
    """De Mere's wagers: Blitzstein & Hwang, Introduction to Probability, and any text."""
    assert tries_until(1, p).chance_within(tries) == pytest.approx(chance, abs=6e-5)


def test_tries_until_a_six():
    """Geometric law at 1/6: mean 6, sd sqrt(30) = 5.4772, median 4; any text."""
    law = tries_until(1, 1 / 6)
    assert (law.mean, law.sd) == pytest.approx((6, 5.4772), abs=6e-5)
    assert law.quantile(0.5) == 4


@pytest.mark.parametrize(
    ("confidence", "p", "tries"),
    [(0.95, 0.05, 59), (0.95, 0.1, 29), (0.9, 0.1, 22), (0.99, 0.01, 459), (0.9, 0.01, 230)],
)
def test_success_run_theorem(confidence, p, tries):
    """Wilks, Annals of Mathematical Statistics 12 (1941) 91-96; tables of reliability handbooks
    (from memory)."""
    assert tries_until(1, p).quantile(confidence) == tries


def test_fifty_tries_at_two_per_cent():
    """Common practice, no source: at a 2 % chance one buys about 50 bases. The shares that need
    more than 50, 100 and 200 are 0.98^50, 0.98^100 and 0.98^200."""
    law = tries_until(1, 0.02)
    assert law.mean == pytest.approx(50, rel=1e-12)
    for tries in (50, 100, 200):
        assert 1 - law.chance_within(tries) == pytest.approx(0.98**tries, abs=1e-9)


def test_banachs_match_boxes():
    """Feller, vol. 1, 3rd ed., VI.8 and table 8; IX.3(f) (from memory): 50 matches in each of two
    boxes, how many are left in the other when one is first found empty."""
    most = 50
    number = {
        (a, b): n
        for n, (a, b) in enumerate((a, b) for a in range(most + 1) for b in range(most + 1))
    }
    done = len(number)
    actions = []
    for (a, b), at in number.items():
        from_a = (0.5, number[a - 1, b], 0.0) if a else (0.5, done, float(b))
        from_b = (0.5, number[a, b - 1], 0.0) if b else (0.5, done, float(a))
        actions.append((at, [from_a, from_b]))
    model, costs = sketch_route(actions, done=[done], start=number[most, most])
    law = cost_distribution(model, best_choices(model, costs), costs)
    np.testing.assert_allclose(law.pmf[:4], [0.079589, 0.079589, 0.078785, 0.077177], atol=1e-6)
    assert law.mean == pytest.approx(7.04, abs=0.006)


def test_board_has_no_stage_left_out():
    """Guards the board above: a hundred squares less those one never rests on."""
    assert len(board_rows()) == 100 - len(JUMPS)
    assert all(sum(row.values()) == 1 for row in board_rows().values())
