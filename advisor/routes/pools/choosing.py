"""A choice among offered affixes: a stage for each offer, with an action for each affix."""

from __future__ import annotations

import numpy as np

from advisor.routes.draft import ModelDraft
from advisor.routes.pools.effects import Choose
from advisor.routes.pools.landing import Landing
from advisor.routes.pools.offers import NOTHING, Offering
from advisor.routes.pools.piece_stages import Namer
from advisor.routes.stages import STEP

NONE_OF_THEM = "nothing"


class Choosing:
    """One choose effect.

    Args:
        effect: The effect.
        landing: Where pieces come to.
        label: What its stages are called after.
    """

    def __init__(self, effect: Choose, landing: Landing, *, label: str) -> None:
        self.effect, self.landing, self.label = effect, landing, label
        self.pieces = landing.pieces
        self.offering = Offering(self.pieces, effect)
        self._waiting: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
        self._known: dict[int, tuple[np.ndarray, np.ndarray, np.ndarray]] = {}

    def available(self, rows: np.ndarray) -> np.ndarray:
        """Where there is something to offer."""
        return self.offering.available(rows)

    def lead(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Each piece goes to the stages of what may be offered on it."""
        codes, which = np.unique(self.pieces.code(rows), return_inverse=True)
        new = np.array([code for code in codes.tolist() if code not in self._known], dtype=np.int64)
        if len(new):
            self._note_offers(new)
        found = [self._known[code] for code in codes.tolist()]
        origins = [
            np.full(len(found[place][0]), piece) for piece, place in enumerate(which.ravel())
        ]
        return (
            np.concatenate(origins),
            np.concatenate([found[place][0] for place in which.ravel()]),
            np.concatenate([found[place][1] for place in which.ravel()]),
        )

    def _note_offers(self, codes: np.ndarray) -> None:
        rows = self.pieces.rows(codes)
        offers = self.offering.offers(rows)
        self.landing.refuse_too_many(len(offers.odds))
        names = self._namer(rows[offers.origin], offers.offered)
        stages = self.landing.stages.add_run(len(offers.odds), names)
        self._waiting.append((stages, rows[offers.origin], offers.offered))
        starts = np.searchsorted(offers.origin, np.arange(len(codes) + 1))
        for place, code in enumerate(codes.tolist()):
            own = slice(starts[place], starts[place + 1])
            self._known[code] = (stages[own], offers.odds[own], offers.offered[own])

    def _namer(self, rows: np.ndarray, offered: np.ndarray) -> Namer:
        symbols = self.pieces.symbols.symbols

        def name(place: int) -> str:
            words = [symbols[each].name for each in offered[place] if each != NOTHING]
            words += [NONE_OF_THEM] if self.effect.decline else []
            (piece,) = self.landing.names.of_rows(rows[place : place + 1])
            return f"{self.label} beside {piece}: {' or '.join(words)}"

        return name

    def add_waiting(self, draft: ModelDraft, steps: list[str]) -> bool:
        """Add the choices at the stages that are new; whether there were any.

        Args:
            draft: Takes the actions.
            steps: Names of all steps; "take ..." is added.
        """
        waiting, self._waiting = self._waiting, []
        for stages, rows, offered in waiting:
            for position in range(self.effect.number):
                there = np.flatnonzero(offered[:, position] != NOTHING)
                self._add_taking(draft, steps, stages[there], rows[there], offered[there, position])
            if self.effect.decline:
                actions = draft.add_actions(stages, STEP, steps=_step(steps, NONE_OF_THEM))
                draft.add_outcomes(actions, self.landing.number(rows))
        return bool(waiting)

    def _add_taking(
        self,
        draft: ModelDraft,
        steps: list[str],
        stages: np.ndarray,
        rows: np.ndarray,
        taken: np.ndarray,
    ) -> None:
        for symbol in np.unique(taken).tolist():
            own = np.flatnonzero(taken == symbol)
            kind = self.pieces.symbols.symbols[symbol].kind
            with_it = rows[own].copy()
            with_it[:, kind] = self.pieces.kinds[kind].adding[
                with_it[:, kind], self.pieces.column(symbol)
            ]
            name = self.pieces.symbols.symbols[symbol].name
            actions = draft.add_actions(stages[own], STEP, steps=_step(steps, name))
            draft.add_outcomes(actions, self.landing.number(with_it))


def _step(steps: list[str], what: str) -> int:
    """The number of the step that takes this."""
    name = f"take {what}"
    if name not in steps:
        steps.append(name)
    return steps.index(name)
