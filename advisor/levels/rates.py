"""Moneys in one another: the rate at any moment, how sure it is, and circles that do not close.

A rate is a quote of one money in another. Each pair that was quoted is a
track of its own; from the workspace money every other money is reached by
the road of pairs whose variances add up to least at that moment.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.levels.series import Bools, Floats, Ints, QuoteSeries
from advisor.quotes import MICROSECONDS_A_DAY

STEP_SD_A_DAY = 0.02
"""How far a rate wanders in a day where its own quotes are too few to tell, log scale."""

NOISE_SD = 0.03
"""How far one rate quote lies from the rate where its own quotes are too few to tell."""

TOGETHER_US = 3 * 60 * 60 * 1_000_000
"""Rate quotes of one such stretch of time are one knot."""

_FAR_OFF = 0.35
_ALIKE = 0.1
_FEW_QUOTES = 4
_PRIOR_QUOTES = 6.0
_CIRCLE_SDS = 3.0
_LEAST_GAIN = 0.02


@dataclass(frozen=True, slots=True)
class Rate:
    """One unit of a money in the workspace money at one moment: value and log sd."""

    value: float
    log_sd: float


@dataclass(frozen=True, slots=True)
class RateCircle:
    """A way round that does not close: after `moneys` in turn, back at the first.

    Attributes:
        moneys: The moneys in the order of exchange.
        gain: Share won by going round once, > 0.
        sd: Its standard deviation on the log scale.
    """

    moneys: tuple[str, ...]
    gain: float
    sd: float


@dataclass(frozen=True, eq=False)
class _Pair:
    """Log rate of one money in another: knots where it was quoted, lines between them.

    Attributes:
        at_us: Times of the knots, ascending.
        mean: Log rate at each; quotes of a few hours are one knot, their mean.
        var: Variance of each.
        step_var: How far the rate wanders in a day, variance of the log.
    """

    item: str
    money: str
    at_us: Ints
    mean: Floats
    var: Floats
    step_var: float

    def at(self, when_us: Ints) -> tuple[Floats, Floats]:
        """Log rate and variance at moments: interpolated; carried on beyond the outer knots.

        Between knots the rate is a Brownian bridge: its variance is step_var * a * b / (a + b)
        at a and b days from them.
        """
        log_rate = np.interp(when_us, self.at_us, self.mean)
        after = np.searchsorted(self.at_us, when_us, side="right")
        left = np.clip(after - 1, 0, len(self.at_us) - 1)
        right = np.clip(after, 0, len(self.at_us) - 1)
        a = np.abs(when_us - self.at_us[left]) / MICROSECONDS_A_DAY
        b = np.abs(self.at_us[right] - when_us) / MICROSECONDS_A_DAY
        apart = np.where(left == right, np.maximum(a, b), a * b / np.maximum(a + b, 1e-12))
        nearer = np.where(a <= b, left, right)
        return log_rate, self.var[nearer] + self.step_var * apart


@dataclass(frozen=True, eq=False)
class Rates:
    """Every money's rate to the workspace money, at any moment up to `as_of_us`."""

    money: str
    as_of_us: int
    moneys: tuple[str, ...]
    pairs: tuple[_Pair, ...]

    def log_rate(self, money: str, when_us: Ints) -> tuple[Floats, Floats]:
        """Log of one unit of `money` in the workspace money, and its variance, at moments.

        nan and inf where no chain of quotes leads from one to the other.
        """
        when = np.asarray(when_us, dtype=np.int64)
        if money == self.money:
            return np.zeros(when.shape), np.zeros(when.shape)
        value, variance = self._roads(when)
        row = self.moneys.index(money) if money in self.moneys else None
        if row is None:
            return np.full(when.shape, np.nan), np.full(when.shape, np.inf)
        return value[row], variance[row]

    def now(self, money: str) -> Rate | None:
        """The rate at the moment of the answer; None without a road."""
        value, variance = self.log_rate(money, np.array([self.as_of_us]))
        if not np.isfinite(variance[0]):
            return None
        return Rate(float(np.exp(value[0])), float(np.sqrt(variance[0])))

    def _roads(self, when: Ints) -> tuple[Floats, Floats]:
        """Shortest roads by variance (Bellman and Ford), for all moments at once."""
        n = len(self.moneys)
        value = np.full((n, *when.shape), np.nan)
        variance = np.full((n, *when.shape), np.inf)
        home = self.moneys.index(self.money)
        value[home], variance[home] = 0.0, 0.0
        legs = []
        for pair in self.pairs:
            a, b = self.moneys.index(pair.item), self.moneys.index(pair.money)
            log_rate, var = pair.at(when)
            legs += [(a, b, log_rate, var), (b, a, -log_rate, var)]
        for _ in range(max(n - 1, 0)):
            for a, b, log_rate, var in legs:
                better = variance[b] + var < variance[a] - 1e-15
                value[a] = np.where(better, value[b] + log_rate, value[a])
                variance[a] = np.where(better, variance[b] + var, variance[a])
        return value, variance

    def circles(self) -> list[RateCircle]:
        """Ways round of two to four moneys that are surely worth more after going round."""
        now = np.array([self.as_of_us])
        legs: dict[str, list[tuple[str, float, float, int]]] = {m: [] for m in self.moneys}
        for number, pair in enumerate(self.pairs):
            log_rate, var = (float(x[0]) for x in pair.at(now))
            legs[pair.item].append((pair.money, log_rate, var, number))
            legs[pair.money].append((pair.item, -log_rate, var, number))
        found: list[RateCircle] = []
        for first in self.moneys:
            _walk_circles(first, [first], legs=legs, used=(), total=(0.0, 0.0), found=found)
        return sorted(found, key=lambda circle: -circle.gain)


def _walk_circles(
    here: str,
    road: list[str],
    *,
    legs: Mapping[str, Sequence[tuple[str, float, float, int]]],
    used: tuple[int, ...],
    total: tuple[float, float],
    found: list[RateCircle],
) -> None:
    """Every circle once: it starts at its first money by name and uses no pair twice."""
    for there, log_rate, var, number in legs[here]:
        if number in used:
            continue
        gain, variance = total[0] + log_rate, total[1] + var
        if there == road[0]:
            sd = float(np.sqrt(variance))
            if gain > max(_CIRCLE_SDS * sd, np.log1p(_LEAST_GAIN)):
                found.append(RateCircle(tuple(road), float(np.expm1(gain)), sd))
        elif there > road[0] and there not in road and len(road) < 4:
            _walk_circles(
                there,
                [*road, there],
                legs=legs,
                used=(*used, number),
                total=(gain, variance),
                found=found,
            )


def find_moneys(series: Mapping[str, QuoteSeries], money: str, *, as_of_us: int) -> tuple[str, ...]:
    """Every item that some quote up to a moment is priced in, and the workspace money; by name."""
    names = {money}
    for each in series.values():
        known = int(np.searchsorted(each.at_us, as_of_us, side="right"))
        if known and len(each.money_names) == 1:
            names.add(each.money_names[0])
        elif known:
            names.update(each.money_names[code] for code in np.unique(each.money[:known]))
    return tuple(sorted(names))


def read_rates(
    series: Mapping[str, QuoteSeries],
    money: str,
    *,
    as_of_us: int,
    left_out: frozenset[int] = frozenset(),
) -> Rates:
    """The rates between moneys as known at `as_of_us`; later quotes are never looked at."""
    moneys = find_moneys(series, money, as_of_us=as_of_us)
    pairs: list[_Pair] = []
    for item in moneys:
        own = series.get(item)
        if own is None:
            continue
        good = (own.at_us <= as_of_us) & np.isfinite(own.price) & (own.price > 0)
        if left_out:
            good &= ~np.isin(own.ids, list(left_out))
        for code, other in enumerate(own.money_names):
            rows = np.flatnonzero(good & (own.money == code))
            if other != item and len(rows):
                pairs.append(
                    _follow_pair(item, other, at_us=own.at_us[rows], price=own.price[rows])
                )
    return Rates(money, as_of_us, moneys, tuple(pairs))


def _follow_pair(item: str, money: str, *, at_us: Ints, price: Floats) -> _Pair:
    """The knots of one pair; quotes of one moment count as one, their median."""
    when, inverse = np.unique(at_us, return_inverse=True)
    y = np.log(price)
    if len(when) < len(y):
        y = np.array([np.median(y[inverse == k]) for k in range(len(when))])
    noise_var, step_var = _learn_variances(when, y)
    believed = _believe_rates(when, y, step_var=step_var)
    when, y = when[believed], y[believed]
    _, start, knot, count = np.unique(
        when // TOGETHER_US, return_index=True, return_inverse=True, return_counts=True
    )
    # A lone quote is its own mean exactly: no sum, no rounding.
    mean = np.where(count > 1, np.bincount(knot, y) / count, y[start])
    later = np.bincount(knot, when - when[start][knot]) / count
    at = when[start] + np.rint(later).astype(np.int64)
    return _Pair(item, money, at, mean, noise_var / count, step_var)


def _learn_variances(when: Ints, y: Floats) -> tuple[float, float]:
    """How far a quote lies from the rate, and how far the rate wanders in a day."""
    n = len(when)
    change = np.diff(y) if n > 1 else np.zeros(0)
    days = np.diff(when) / MICROSECONDS_A_DAY
    typical = 1.4826 * np.median(np.abs(change)) if n > 1 else 0.0
    plain_var = 2 * NOISE_SD**2 + STEP_SD_A_DAY**2
    seen_var = (_PRIOR_QUOTES * plain_var + (n - 1) * typical**2) / (_PRIOR_QUOTES + n - 1)
    share = seen_var / plain_var
    step_var = STEP_SD_A_DAY**2 * share
    if n > 1:
        step_var /= max(float(np.median(days)), 1.0)
    return NOISE_SD**2 * share, step_var


def _believe_rates(when: Ints, y: Floats, *, step_var: float) -> Bools:
    """Which quotes count: those near the median of the five about them, or borne out by the next.

    A rate that jumped is believed from its second quote on; of fewer than four
    quotes all are, and all where no two are near one another.
    """
    n = len(y)
    if n < _FEW_QUOTES:
        return np.ones(n, dtype=bool)
    width = min(5, n)
    begin = np.clip(np.arange(n) - width // 2, 0, n - width)
    middle = np.median(y[begin[:, np.newaxis] + np.arange(width)], axis=1)
    days = (when[begin + width - 1] - when[begin]) / MICROSECONDS_A_DAY
    near = np.abs(y - middle) <= _FAR_OFF + 3.0 * np.sqrt(step_var * days)
    agrees = np.abs(np.diff(y)) <= _ALIKE
    borne_out = np.append(agrees, False) | np.insert(agrees, 0, False)
    believed = np.asarray(near | borne_out)
    return believed if believed.any() else np.ones(n, dtype=bool)
