"""What the actions of a route use and give back, and what all their outcomes have in common."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array

from advisor.names import name_key
from advisor.routes.stages import StageModel
from reports.guide_data import Units

SMALL = 1e-12


@dataclass
class ActionUnits:
    """Units by action of a model.

    Args:
        model: The route.
        moneys: Keys of the names that are money.
    """

    model: StageModel
    moneys: AbstractSet[str]

    @cached_property
    def first_row(self) -> list[int]:
        """Where the outcomes of each action begin, and where those of the last one end."""
        ends = np.arange(len(self.model.action_stage) + 1)
        return [int(each) for each in np.searchsorted(self.model.outcome_action, ends)]

    def rows(self, action: int) -> range:
        """The outcomes of an action."""
        return range(self.first_row[action], self.first_row[action + 1])

    def minutes(self, action: int) -> float:
        """The time it takes whatever it comes to."""
        return min(float(self.model.minutes[row]) for row in self.rows(action))

    def common(self, actions: Sequence[int]) -> list[Units]:
        """What each of the actions uses whatever it comes to."""
        return self._named([self._least(action) for action in actions])

    def beyond(self, actions: Sequence[int], rows: Sequence[Sequence[int]]) -> list[Units]:
        """What each of the actions uses only if it comes to these of its outcomes."""
        found = []
        for action, own in zip(actions, rows, strict=True):
            least = self._least(action)
            units = _row_units(self.model.uses, own[0]) if own else {}
            found.append({item: count - least.get(item, 0.0) for item, count in units.items()})
        return self._named(found)

    def back(self, rows: Sequence[Sequence[int]]) -> list[Units]:
        """What comes back with these outcomes."""
        return self._named([_row_units(self.model.gives, own[0]) if own else {} for own in rows])

    def _least(self, action: int) -> dict[int, float]:
        each = [_row_units(self.model.uses, row) for row in self.rows(action)]
        return {item: min(units.get(item, 0.0) for units in each) for item in each[0]}

    def _named(self, by_place: Sequence[Mapping[int, float]]) -> list[Units]:
        items = dict.fromkeys(
            item for units in by_place for item, count in units.items() if count > SMALL
        )
        names = self.model.items
        return [
            Units(
                names[item],
                [max(0.0, units.get(item, 0.0)) for units in by_place],
                name_key(names[item]) in self.moneys,
            )
            for item in items
        ]


def _row_units(matrix: csr_array, row: int) -> dict[int, float]:
    """Units by item in one row."""
    begin, end = int(matrix.indptr[row]), int(matrix.indptr[row + 1])
    items, units = matrix.indices[begin:end].tolist(), matrix.data[begin:end].tolist()
    return dict(zip(items, units, strict=True))
