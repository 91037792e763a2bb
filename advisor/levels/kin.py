"""Borrowing from kin: means drawn towards the family's, and those towards a prior."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.levels.series import Floats, Ints


@dataclass(frozen=True, eq=False)
class Kin:
    """Which tracks belong together, numbered from 0."""

    member: Ints
    count: int

    @staticmethod
    def of(family: Ints) -> Kin:
        """Kin by any numbers that are the same within a family."""
        kinds, member = np.unique(family, return_inverse=True)
        return Kin(member, len(kinds))

    def mean(self, total: Floats, weight: Floats, *, prior: float, strength: float) -> Floats:
        """Each track's family mean, drawn towards `prior`."""
        sums = np.bincount(self.member, total, minlength=self.count)
        weights = np.bincount(self.member, weight, minlength=self.count)
        return ((sums + strength * prior) / (weights + strength))[self.member]

    def total(self, weight: Floats) -> Floats:
        """The sum over each track's family."""
        sums = np.bincount(self.member, weight, minlength=self.count).astype(np.float64)
        return sums[self.member]

    def draw(self, total: Floats, weight: Floats, *, prior: float, strength: float) -> Floats:
        """Each track's own mean, drawn towards its family's."""
        shared = self.mean(total, weight, prior=prior, strength=strength)
        return (total + strength * shared) / (weight + strength)
