"""The law of what a redraw gives, as one integral over time, kind by kind.

Give every affix an alarm clock that rings once, at rate equal to its weight, and
take affixes in the order in which their clocks ring, passing over what no longer
fits: the order has exactly the law of draws one after another by weight. In time
the groups are independent, so with n draws and no group of two kinds

    P(piece a) = integral of  sum_k  in_k(a_k, t) prod_{l != k} P_l(a_l, t)  dt,

a_k: what the piece has of kind k, with n affixes in all. P_k(a, t) is the chance
that kind k carries a at time t had it been left alone, in_k the rate at which it
gets there. While slots are free P_k is a product over groups; a full part keeps
what has flowed in, so there P_k is the integral of in_k. On the axis x = log t all
of this is smooth and dies away at both ends: the trapezoid rule, and its
indefinite form, converge exponentially.

Groups of unequal weight need not be told apart here, which is why pieces may forget
which others they carry whenever no later draw can meet them.

Source: Efraimidis & Spirakis (2006), Information Processing Letters 97:181-185
    (weighted draws as exponential clocks); Stenger, Numerical Methods Based on Sinc
    and Analytic Functions (1993), section 4.5 (indefinite integration).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from advisor.errors import CannotAnswer
from advisor.routes.pools.mentions import DrawUse
from advisor.routes.pools.parts import KindParts, Pieces
from advisor.routes.pools.pool import Sizes
from advisor.routes.stated import MOST_STAGES

STEP_OF_LOG_TIME = 1 / 8
"""Step of the trapezoid rule; its error here is far below rounding (see the tests)."""

TINY = 1e-19
LONGEST_WAIT = 50.0
MOST_CELLS = 150_000_000


@dataclass(frozen=True)
class KindInTime:
    """One kind left alone.

    Attributes:
        rows: Parts, shape (p, kinds of pieces), zero in all other kinds.
        sizes: int, shape (p,).
        carried: P(part, t), shape (p, times).
        entered: Rate at which the part is come to, shape (p, times).
    """

    rows: np.ndarray
    sizes: np.ndarray
    carried: np.ndarray
    entered: np.ndarray


def redraw_law(pieces: Pieces, draw: DrawUse, count: Sizes) -> tuple[np.ndarray, np.ndarray]:
    """What a redraw puts on a piece that has nothing of the kinds drawn.

    Only where no group has affixes of two kinds (`pieces.symbols.separable`).

    Args:
        pieces: What can be carried.
        draw: Set and kind; None: all kinds.
        count: How many are drawn.
    Returns: Pieces, shape (n, kinds), zero in kinds that are not drawn; and their odds.
    """
    set_name, kind = draw
    symbols = pieces.symbols
    drawn = [
        number
        for number, each in enumerate(symbols.kinds)
        if kind in (None, each) and _most_drawn(pieces, number, set_name)
    ]
    room = sum(_most_drawn(pieces, number, set_name) for number in drawn)
    chances: dict[int, float] = {}
    for number, chance in count.items():
        chances[min(number, room)] = chances.get(min(number, room), 0.0) + float(chance)
    rows = [np.zeros((1, len(symbols.kinds)), dtype=np.int64)]
    odds = [np.array([chances.pop(0, 0.0)])]
    if chances:
        times = _times(pieces, drawn, set_name)
        kinds = [_kind_in_time(pieces, number, set_name, times) for number in drawn]
        for number, share in chances.items():
            found, law = _joint_law(kinds, number, times)
            rows.append(found)
            odds.append(share * law / law.sum())
    all_rows, all_odds = np.concatenate(rows), np.concatenate(odds)
    possible = all_odds > 0
    total = all_odds.sum(dtype=np.longdouble)
    return all_rows[possible], np.asarray(all_odds[possible] / total, dtype=np.float64)


def _most_drawn(pieces: Pieces, kind: int, set_name: str) -> int:
    """How many affixes of a kind can be drawn onto nothing."""
    symbols = pieces.symbols
    group_weights = symbols.group_weights[set_name]
    blocks: dict[int, int] = {}
    for each in symbols.of_kind[kind]:
        alive = sum(weight > 0 for weight in group_weights[each])
        block = symbols.symbols[each].block
        blocks[block] = max(blocks.get(block, 0), alive)
    return min(symbols.slots[kind], sum(blocks.values()))


def _times(pieces: Pieces, kinds: list[int], set_name: str) -> np.ndarray:
    weights = [
        float(weight)
        for kind in kinds
        for each in pieces.symbols.of_kind[kind]
        for weight in pieces.symbols.group_weights[set_name][each]
        if weight > 0
    ]
    return ringing_times(weights)


def ringing_times(weights: list[float]) -> np.ndarray:
    """Times from before any clock rings until all have, evenly spaced in their logarithm.

    Args:
        weights: Rates of the clocks, > 0.
    """
    first = np.log(TINY / sum(weights))
    last = np.log(LONGEST_WAIT / min(weights))
    return np.asarray(np.exp(np.arange(first, last, STEP_OF_LOG_TIME)))


def _kind_in_time(pieces: Pieces, kind: int, set_name: str, times: np.ndarray) -> KindInTime:
    from scipy.sparse import csr_array

    parts = pieces.kinds[kind]
    if len(parts.sizes) * len(times) > MOST_CELLS:
        raise CannotAnswer(
            f"what can be on a piece of kind {pieces.symbols.kinds[kind]!r} comes in "
            f"{len(parts.sizes):,} ways, too many for one redraw",
            right="mention fewer affixes in wants and steps",
        )
    carried, rates = _left_alone(pieces, parts, set_name, times)
    entered = np.zeros_like(carried)
    for column, rate in enumerate(rates):
        before = np.flatnonzero(parts.adding[:, column] >= 0)
        flow = carried[before] * rate[parts.counts[before, column]]
        ways = (np.ones(len(before)), (parts.adding[before, column], np.arange(len(before))))
        entered += csr_array(ways, shape=(len(entered), len(before))) @ flow
    full = parts.sizes == pieces.symbols.slots[kind]
    carried[full] = (entered[full] * times) @ _running_integral(len(times))
    rows = np.zeros((len(parts.sizes), len(pieces.kinds)), dtype=np.int64)
    rows[:, kind] = np.arange(len(parts.sizes))
    return KindInTime(rows, parts.sizes, carried, entered)


def _left_alone(
    pieces: Pieces, parts: KindParts, set_name: str, times: np.ndarray
) -> tuple[np.ndarray, list[np.ndarray]]:
    """P(part, t) as a product over blocks, and for each symbol the rate of one more.

    Returns: shape (parts, times), right while slots are free; for each symbol shape
        (slots, times), by how many of it are there already.
    """
    symbols = pieces.symbols
    slots = int(parts.sizes.max())
    weights = [
        np.array([float(each) for each in symbols.group_weights[set_name][symbol]])
        for symbol in parts.symbols
    ]
    blocks = np.array([symbols.symbols[each].block for each in parts.symbols])
    carried = np.ones((len(parts.sizes), len(times)))
    rates: list[np.ndarray] = [np.zeros((slots, len(times)))] * len(parts.symbols)
    for block in np.unique(blocks):
        own = np.flatnonzero(blocks == block)
        if symbols.capacity[block] == 1:
            alone = sum(weights[each].sum() for each in own)
            none = np.exp(-alone * times)
            factor = np.broadcast_to(none, carried.shape).copy()
            for each in own:
                share = weights[each].sum() / alone if alone else 0.0
                factor[parts.counts[:, each] > 0] = -share * np.expm1(-alone * times)
                rates[each] = np.full((slots, len(times)), weights[each].sum())
            carried *= factor
        else:
            (each,) = own
            ways, rates[each] = chances_rung(weights[each], slots, times)
            carried *= ways[parts.counts[:, each]]
    return carried, rates


def chances_rung(
    weights: np.ndarray, most: int, times: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Of clocks with these rates: chance that so many have rung, and the rate of one more.

    Args:
        weights: The rates.
        most: Up to how many.
        times: When.
    Returns: shapes (most + 1, times) and (most, times).
    """
    ways = np.zeros((most + 1, len(times)))
    flow = np.zeros((most + 1, len(times)))
    ways[0] = 1.0
    for weight in weights:
        silent, rung = np.exp(-weight * times), -np.expm1(-weight * times)
        flow_with = flow * silent + weight * silent * ways
        flow_with[1:] += flow[:-1] * rung
        with_it = ways * silent
        with_it[1:] += ways[:-1] * rung
        ways, flow = with_it, flow_with
    rate = np.divide(flow, ways, out=np.zeros_like(flow), where=ways > 0)
    return ways, rate[:most]


def _running_integral(count: int) -> np.ndarray:
    """M with (f M)[j] the integral of f over log time up to j, shape (count, count)."""
    from scipy.special import sici

    apart = np.arange(1 - count, count)
    share = STEP_OF_LOG_TIME * (0.5 + sici(np.pi * apart)[0] / np.pi)
    points = np.arange(count)
    return np.asarray(share[points[None, :] - points[:, None] + count - 1])


def _joint_law(
    kinds: list[KindInTime], number: int, times: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Pieces with so many affixes in all, and their odds."""
    order = sorted(kinds, key=lambda each: len(each.sizes))
    *smaller, largest = order
    joined = KindInTime(
        rows=np.zeros((1, largest.rows.shape[1]), dtype=np.int64),
        sizes=np.zeros(1, dtype=np.int64),
        carried=np.ones((1, len(times))),
        entered=np.zeros((1, len(times))),
    )
    for each in smaller:
        joined = _together(joined, each, number)
    _refuse_too_many(joined, largest, number)
    measure = STEP_OF_LOG_TIME * times
    rows, odds = [], []
    for size, other in product(range(number + 1), repeat=2):
        if size + other != number:
            continue
        one, two = joined.sizes == size, largest.sizes == other
        law = (joined.carried[one] * measure) @ largest.entered[two].T
        law += (joined.entered[one] * measure) @ largest.carried[two].T
        rows.append(
            (joined.rows[one][:, None] + largest.rows[two][None]).reshape(-1, largest.rows.shape[1])
        )
        odds.append(law.ravel())
    return np.concatenate(rows), np.concatenate(odds)


def _refuse_too_many(one: KindInTime, two: KindInTime, number: int) -> None:
    """Refuse more pieces than stages are solved, before making any."""
    sizes = np.bincount(two.sizes, minlength=number + 1)
    left = number - one.sizes
    count = int(sizes[left[(left >= 0) & (left < len(sizes))]].sum())
    if count > MOST_STAGES:
        raise CannotAnswer(
            f"a redraw gives {count:,} different pieces",
            right=f"at most {MOST_STAGES:,} are solved: mention fewer affixes in wants and steps",
        )


def _together(one: KindInTime, two: KindInTime, most: int) -> KindInTime:
    """Two kinds side by side, up to so many affixes."""
    first, second = np.nonzero(one.sizes[:, None] + two.sizes[None, :] <= most)
    if len(first) * one.carried.shape[1] > MOST_CELLS:
        raise CannotAnswer(
            f"what a redraw gives comes in more than {len(first):,} ways",
            right="mention fewer affixes in wants and steps",
        )
    return KindInTime(
        rows=one.rows[first] + two.rows[second],
        sizes=one.sizes[first] + two.sizes[second],
        carried=one.carried[first] * two.carried[second],
        entered=one.entered[first] * two.carried[second] + one.carried[first] * two.entered[second],
    )
