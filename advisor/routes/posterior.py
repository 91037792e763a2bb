"""What a few tries say of a chance: the posterior of a step's odds.

Odds that are stated count as `trust` tries that came out exactly as stated, and
each try seen adds one to its outcome:

    alpha_i = trust * stated_i + seen_i

Where nothing is stated, every division of the odds counts as equally likely before
any try (the flat Dirichlet prior): alpha_i = 1 + seen_i. That one try of each kind
is also added to stated odds while some outcome amounts to fewer than two tries: the
mean cost over p ~ Beta(a, b) meets E[1/p] = (a + b - 1) / (a - 1), which would not
exist for a stated 2 %, or hang on nothing but the far tail, as soon as one failure
is logged. At the change nothing jumps: a second success makes up for the one added.

Source: Gelman et al., Bayesian Data Analysis, 3rd ed. (CRC 2013), sections 2.4
(prior mean and size) and 3.4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

FEW_TRIES = 2.0


@dataclass(frozen=True)
class OddsPosterior:
    """A Dirichlet posterior over the outcomes of a step.

    Attributes:
        alphas: One for each outcome, > 0.
        added: Tries in each alpha that were neither stated nor seen.
    """

    alphas: tuple[float, ...]
    added: float = 0.0

    def mean(self) -> np.ndarray:
        """The chance of each outcome at the next try, shape (outcomes,)."""
        alphas = np.array(self.alphas)
        return np.asarray(alphas / alphas.sum())

    def single_odds(self) -> np.ndarray:
        """The one set of odds to choose by, shape (outcomes,).

        Tries stated and seen, pooled: the mean, but for the one try of each kind that
        was added. Where an outcome was neither stated nor seen, which would make it
        impossible, the mean.
        """
        pooled = np.array(self.alphas) - self.added
        if bool((pooled <= 0).any()):
            return self.mean()
        return np.asarray(pooled / pooled.sum())

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
    added = 0.0 if stated is not None and tries.min() >= FEW_TRIES else 1.0
    return OddsPosterior(tuple((tries + added).tolist()), added)
