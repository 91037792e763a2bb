"""At which price, or which odds, does the answer flip?

The least mean cost is the least of many straight lines in any one price (one
line for each way of choosing), so it is concave in that price. Following the
line of the present best way to the target therefore lands where the cost is at
most the target, and from there each further line comes nearer the flip without
stepping over it; it ends after as many steps as the best
way changes. Choices are solved again at each step, so the result is exact where
a straight line through today's would not be.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

LINES_AT_MOST = 60
CROSSINGS = 80


@dataclass(frozen=True)
class FlipPoint:
    """Where the answer flips.

    Attributes:
        name: The item, or the step whose odds these are.
        kind: "item" or "odds".
        now: Today's price or odds.
        flips_at: The price or odds at which making and buying are even.
    """

    name: str
    kind: str
    now: float
    flips_at: float

    @property
    def change(self) -> float:
        """Relative change from now to the flip: -0.2 is a fall by a fifth."""
        return self.flips_at / self.now - 1.0


def flip_price(
    cost_at: Callable[[float], tuple[float, float]], target: float, *, now: float
) -> float | None:
    """The price at which the least mean cost equals the target; None where no price >= 0 does.

    Args:
        cost_at: Least mean cost and its slope (units used by the best way, or
            minus the units given back) at a price of one item; minus infinity
            where going round and round earns without limit.
        target: The cost to meet: what buying the piece costs.
        now: Today's price, > 0.
    Returns: The nearest such price in the direction that closes the gap.
    Source: Newton's method on a concave, piecewise straight function; each
        tangent is the cost of one fixed way of choosing.

    >>> flip_price(lambda p: (min(10 * p, 20 + 2 * p), 10 if p < 2.5 else 2), 30, now=1.0)
    5.0
    """
    price, dearest_endless = now, -math.inf
    cheapest_above = math.inf
    from_nothing = False
    for _ in range(LINES_AT_MOST):
        cost, slope = cost_at(price)
        if cost == -math.inf:
            dearest_endless = max(dearest_endless, price)
            if not math.isfinite(cheapest_above):
                return None
            price = (dearest_endless + cheapest_above) / 2
            continue
        gap = target - cost
        near = cheapest_above - dearest_endless <= 1e-9 * max(1.0, abs(price))
        if near or abs(gap) <= 1e-10 * max(1.0, abs(target)):
            return price
        if gap < 0 and slope > 0:
            cheapest_above = min(cheapest_above, price)
        if slope == 0 and gap < 0 and not from_nothing:
            # the best way does without the item; one that uses it may be cheap enough
            from_nothing, cheapest_above, price = True, price, 0.0
            continue
        if slope == 0 or (price == 0 and gap < 0):
            return None
        following = price + gap / slope
        if following < 0 and (gap > 0 or slope < 0):
            return None
        price = max(following, 0.0)
        if price <= dearest_endless:
            price = (dearest_endless + cheapest_above) / 2
    return None


def flip_odds(cost_at: Callable[[float], float], target: float, *, now: float) -> float | None:
    """The odds at which the least mean cost equals the target; None where none in (0, 1] do.

    Args:
        cost_at: Least mean cost when the outcome has these odds and the other
            outcomes of its step share the rest as they do today.
        target: The cost to meet.
        now: Today's odds, in (0, 1).
    Returns: A crossing between today's odds and 1 or nearly 0, found by halving.
    """
    gap_now = cost_at(now) - target
    for end in (1.0, now / 1024.0):
        gap_end = cost_at(end) - target
        if gap_end * gap_now < 0:
            return _cross(lambda odds: cost_at(odds) - target, (now, gap_now), (end, gap_end))
    return None


def _cross(
    gap_at: Callable[[float], float], left: tuple[float, float], right: tuple[float, float]
) -> float:
    """Where the gap is zero between two odds at which it has opposite signs.

    Costs are about straight in one over the odds, so lines are drawn there
    (regula falsi); a side that stays twice counts half (the Illinois rule).
    Source: Dahlquist & Bjorck, Numerical Methods (Prentice-Hall 1974), section 6.4.
    """
    (odds_a, gap_a), (odds_b, gap_b) = left, right
    a, b = 1.0 / odds_a, 1.0 / odds_b
    for _ in range(CROSSINGS):
        endless = not (math.isfinite(gap_a) and math.isfinite(gap_b))
        middle = (a + b) / 2 if endless else (a * gap_b - b * gap_a) / (gap_b - gap_a)
        gap = gap_at(1.0 / middle)
        if gap == 0 or abs(b - a) <= 1e-9 * max(a, b):
            return 1.0 / middle
        if gap * gap_b < 0:
            a, gap_a = b, gap_b
        else:
            gap_a /= 2
        if abs(middle - b) <= 1e-10 * middle:
            return 1.0 / middle
        b, gap_b = middle, gap
    return 1.0 / b
