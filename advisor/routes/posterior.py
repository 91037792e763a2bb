"""What a few tries say of a chance: the posterior of a step's odds.

Before any try every division of the odds among the outcomes counts as equally
likely (the flat Dirichlet prior). Each try seen adds one to its outcome, and odds
that are stated count as `trust` tries that came out exactly as stated:

    alpha_i = 1 + trust * stated_i + seen_i

So `{ odds = p, seen = [s, n] }` says the same as `{ seen = [s + trust p, n + trust] }`.
A mean cost over p ~ Beta(a, b) meets E[1/p] = (a + b - 1) / (a - 1), which exists only
for a > 1: where odds are stated, or a success was seen. With stated odds and a success
chance p it is (trust + tries + 1) / (trust p + successes), next to the plain ratio.

Source: Gelman et al., Bayesian Data Analysis, 3rd ed. (CRC 2013), sections 2.4 and 3.4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class OddsPosterior:
    """A Dirichlet posterior over the outcomes of a step.

    Attributes:
        alphas: One for each outcome, > 0.
    """

    alphas: tuple[float, ...]

    def mean(self) -> np.ndarray:
        """The chance of each outcome at the next try, shape (outcomes,)."""
        alphas = np.array(self.alphas)
        return np.asarray(alphas / alphas.sum())

    def single_odds(self) -> np.ndarray:
        """The one set of odds to choose by, shape (outcomes,).

        The most likely odds: tries seen and stated, pooled. Where an outcome was
        neither stated nor seen, which would make it impossible, the mean.
        """
        alphas = np.array(self.alphas)
        if bool((alphas <= 1).any()):
            return self.mean()
        return np.asarray((alphas - 1) / (alphas - 1).sum())

    def quantile(self, outcome: int, probability: float) -> float:
        """A quantile of the chance of one outcome.

        >>> round(OddsPosterior((438.0, 544.0)).quantile(0, 0.975), 3)
        0.477
        """
        from scipy.stats import beta

        own = self.alphas[outcome]
        return float(beta.ppf(probability, own, sum(self.alphas) - own))


def learn_posterior(
    stated: Sequence[float] | None, seen: Sequence[float], *, trust: float
) -> OddsPosterior:
    """The posterior of a step's odds.

    Args:
        stated: Odds as written, summing to 1; None where none are.
        seen: How often each outcome came.
        trust: How many tries the stated odds count as, >= 0.
    """
    tries = np.array(seen, dtype=float)
    if stated is not None:
        tries = tries + trust * np.array(stated, dtype=float)
    return OddsPosterior(tuple((tries + 1.0).tolist()))
