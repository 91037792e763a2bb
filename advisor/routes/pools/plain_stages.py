"""The stages of a pool's route that are written by name."""

from __future__ import annotations

import numpy as np

from advisor.names import name_key
from advisor.routes.pools.effects import Join
from advisor.routes.pools.piece_stages import PieceStages
from advisor.routes.pools.pool_route import PoolRoute
from advisor.routes.route import Step
from advisor.routes.vary import Rungs, fill_braces


class PlainStages:
    """Numbers of the stages that have a name in the file.

    Attributes:
        stages: All stages of the route; those written by name come first.
        start, finish: Their numbers.
        left: Keys of the stages that a step leaves.
    """

    def __init__(self, pool_route: PoolRoute) -> None:
        self._texts: list[str] = []
        self._numbers: dict[str, int] = {}
        route = pool_route.route
        self.start = self._add(route.start)
        self.left: set[str] = set()
        self._led_to: set[str] = {name_key(each.stage) for each in route.market}
        for step in pool_route.steps:
            rungs = Rungs(step.step.vary)
            if step.step.start is not None:
                names = self._names(step.step.start, step.step, rungs)
                self.left |= {name_key(name) for name in names}
                self._add_all(names)
            for each in step.outcomes:
                if not each.keeps_piece:
                    names = self._names(each.outcome.stage, step.step, rungs)
                    self._led_to |= {name_key(name) for name in names}
                    self._add_all(names)
                if isinstance(each.effect, Join) and each.effect.other is not None:
                    self._add(each.effect.other)
        for market in route.market:
            self._add(market.stage)
        self.finish = self._add(route.finish)
        self.stages = PieceStages()
        texts = self._texts
        self.stages.add_run(len(texts), lambda place: texts[place])

    def add_done(self, name: str) -> int:
        """Number one more stage at which the route ends."""
        return int(self.stages.add_run(1, lambda _: name)[0])

    def number(self, name: str) -> int:
        """The number of a stage by name."""
        return self._numbers[name_key(name)]

    def numbers(self, name: str, step: Step, rungs: Rungs) -> np.ndarray:
        """The numbers of a step's stage, one for each rung."""
        return np.array([self.number(each) for each in self._names(name, step, rungs)])

    def is_led_to(self, name: str) -> bool:
        """Whether a step or the market leads to the stage of this name."""
        return name_key(name) in self._led_to

    @property
    def texts(self) -> list[str]:
        """The names, in order."""
        return list(self._texts)

    def _names(self, name: str, step: Step, rungs: Rungs) -> list[str]:
        return [fill_braces(name, rungs, step.table, row=row) for row in range(rungs.count)]

    def _add_all(self, names: list[str]) -> None:
        for name in names:
            self._add(name)

    def _add(self, name: str) -> int:
        key = name_key(name)
        if key not in self._numbers:
            self._numbers[key] = len(self._texts)
            self._texts.append(" ".join(name.split()))
        return self._numbers[key]
