"""How surprising it is that an outcome came so often, its odds being as stated."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

SAME = 1e-7
"""Chances this close, relative to each other, count as equal: they are rounded."""


def two_sided_chance(seen: int, tries: int, *, odds: float) -> float:
    """The chance of a count at least as unlikely as the one seen.

    Exact: the sum of the binomial chances of all counts that are no likelier.

    >>> round(two_sided_chance(0, 10, odds=0.5), 6)
    0.001953

    Args:
        seen: How often it came, 0 to tries.
        tries: How often it was tried, >= 0.
        odds: As stated, 0 to 1.
    Source: the exact two-sided binomial test that adds up all counts no likelier than
        the one seen, as in textbooks of statistics (from memory).
    """
    from scipy.stats import binom

    chances = binom.pmf(np.arange(tries + 1), tries, odds)
    return float(min(1.0, chances[chances <= chances[seen] * (1 + SAME)].sum()))


def correct_for_many(chances: Sequence[float]) -> list[float]:
    """The same chances, corrected for looking at several things at once.

    Below 0.05 for anything means: had all odds been as stated, at most one log in
    twenty would have said that of any of them.

    >>> [round(each, 3) for each in correct_for_many([0.01, 0.04, 0.03])]
    [0.03, 0.06, 0.06]

    Source: Holm, A simple sequentially rejective multiple test procedure,
        Scandinavian Journal of Statistics 6 (1979) 65-70.
    """
    found, highest = [0.0] * len(chances), 0.0
    for rank, place in enumerate(sorted(range(len(chances)), key=lambda each: chances[each])):
        highest = max(highest, min(1.0, (len(chances) - rank) * chances[place]))
        found[place] = highest
    return found
