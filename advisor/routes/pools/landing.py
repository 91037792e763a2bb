"""Where a piece comes to rest: its own stage, or the end where it is finished."""

from __future__ import annotations

from itertools import compress

import numpy as np

from advisor.routes.pools.lumping import BY_USE
from advisor.routes.pools.meeting import meets
from advisor.routes.pools.parts import Pieces
from advisor.routes.pools.piece_stages import PieceNames, PieceStages
from advisor.routes.pools.plain_stages import PlainStages
from advisor.routes.pools.pool_route import Grade, PoolRoute
from advisor.routes.stated import MOST_STAGES

DENSE_AT_MOST = 30_000_000
"""Codes up to which numbers are looked up in one array."""


class Landing:
    """Gives every piece its stage and remembers which pieces are new."""

    def __init__(
        self,
        pool_route: PoolRoute,
        pieces: Pieces,
        plain: PlainStages,
        *,
        goal: str,
        how: str,
    ) -> None:
        self.pool_route, self.pieces, self.plain = pool_route, pieces, plain
        self.goal, self.how = goal, how
        self.names = PieceNames(pieces)
        self.done_stages: dict[tuple[bool, ...], int] = {}
        self.finished_pieces = False
        self._table, self._heirs = _Table(pieces.span), _Table(pieces.span)
        self._new: list[tuple[np.ndarray, np.ndarray]] = []
        self._graded: list[tuple[np.ndarray, np.ndarray]] = []
        self._refuse_names_of_pieces()

    @property
    def stages(self) -> PieceStages:
        """All stages."""
        return self.plain.stages

    def number(self, rows: np.ndarray) -> np.ndarray:
        """The stage of each piece, shape (n,); new pieces get a new one."""
        codes = self.pieces.code(rows)
        numbers = self._table.find(codes)
        unknown = np.unique(codes[numbers < 0])
        if len(unknown):
            self._table.put(unknown, self._settle(unknown))
            numbers = self._table.find(codes)
        return numbers

    def _settle(self, codes: np.ndarray) -> np.ndarray:
        """Stages of new pieces.

        Where every step that can be taken does away with the whole piece, it does not
        matter which others are on it: all such pieces are one stage.
        """
        rows = self.pieces.rows(codes)
        parting = self._only_parting_steps(rows)
        forgetting = self.pieces.code(self.pieces.forget_others(rows[parting]))
        numbers = np.empty(len(codes), dtype=np.int64)
        numbers[~parting] = self._new_stages(codes[~parting], forgotten=False)
        heirs, which = np.unique(forgetting, return_inverse=True)
        known = self._heirs.find(heirs)
        new = known < 0
        known[new] = self._new_stages(heirs[new], forgotten=True)
        self._heirs.put(heirs[new], known[new])
        numbers[parting] = known[which.ravel()]
        return numbers

    def _only_parting_steps(self, rows: np.ndarray) -> np.ndarray:
        """Whether no step leaves anything of the piece, bool, shape (n,)."""
        parting = np.full(len(rows), self.how == BY_USE)
        for step in self.pool_route.steps:
            if step.when is not None and step.keeps_others:
                parting &= ~meets(step.when, self.pieces, rows)
        return parting

    def _new_stages(self, codes: np.ndarray, *, forgotten: bool) -> np.ndarray:
        """Stages of new pieces: a done one where the finish is met, else their own."""
        rows = self.pieces.rows(codes)
        numbers = np.empty(len(codes), dtype=np.int64)
        finished = np.zeros(len(codes), dtype=bool)
        if self.pool_route.finish is not None:
            finished = meets(self.pool_route.finish, self.pieces, rows)
        grades = self._grades_met(rows)
        numbers[finished] = self._done_numbers(grades[:, finished])
        self.finished_pieces |= bool(finished.any())
        going_on = codes[~finished]
        self.refuse_too_many(len(going_on))
        names = self.names
        numbers[~finished] = self.stages.add_run(
            len(going_on),
            lambda place: names.of_code(int(going_on[place]), forgotten=forgotten),
        )
        self._new.append((going_on, numbers[~finished]))
        self._graded.append((grades[:, ~finished], numbers[~finished]))
        return numbers

    def refuse_too_many(self, more: int) -> None:
        """Refuse more than five million stages."""
        count = len(self.stages) + more
        if count > MOST_STAGES:
            raise self.pool_route.route.fault(
                f"the pool makes more than {count - 1:,} stages",
                right=f"at most {MOST_STAGES:,} are solved: mention fewer affixes",
            )

    def _grades_met(self, rows: np.ndarray) -> np.ndarray:
        """Which grades each piece meets, shape (grades, n); none where nothing is sold."""
        grades = self.pool_route.grades if self.goal == "sale" else ()
        met = [meets(grade.want, self.pieces, rows) for grade in grades]
        return np.array(met, dtype=bool).reshape(len(grades), len(rows))

    def _done_numbers(self, grades: np.ndarray) -> np.ndarray:
        return np.array(
            [self._done_number(tuple(met)) for met in grades.T.tolist()], dtype=np.int64
        )

    def _done_number(self, met: tuple[bool, ...]) -> int:
        if met not in self.done_stages:
            items = [each.item for each in compress(self.pool_route.grades, met)]
            name = self.pool_route.route.finish + ", also " + " and ".join(items)
            self.done_stages[met] = self.plain.add_done(name) if items else self.plain.finish
        return self.done_stages[met]

    def take_new_pieces(self) -> tuple[np.ndarray, np.ndarray]:
        """Codes and stages of the pieces that came since the last call."""
        new, self._new = self._new, []
        if not new:
            return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
        return np.concatenate([each for each, _ in new]), np.concatenate([each for _, each in new])

    def at_rest(self) -> np.ndarray:
        """Stages where nothing is being drawn or offered: plain ones and pieces."""
        plain = np.arange(len(self.plain.texts))
        done = np.array([*self.done_stages.values()], dtype=np.int64)
        return np.unique(np.concatenate([plain, done, *(each for _, each in self._graded)]))

    def done(self) -> np.ndarray:
        """At which stages the piece is made, bool, shape (stages,)."""
        done = np.zeros(len(self.stages), dtype=bool)
        done[[self.plain.finish, *self.done_stages.values()]] = True
        return done

    def graded_stages(self) -> list[tuple[Grade, np.ndarray]]:
        """For each grade, the stages whose piece meets it."""
        found = []
        grades = self.pool_route.grades if self.goal == "sale" else ()
        for place, grade in enumerate(grades):
            own = [numbers[met[place]] for met, numbers in self._graded]
            ends = [number for met, number in self.done_stages.items() if met[place]]
            found.append((grade, np.concatenate([*own, np.array(ends, dtype=np.int64)])))
        return found

    def refuse_unreached_finish(self) -> None:
        """Refuse a route in which no piece is ever finished."""
        route = self.pool_route.route
        if self.finished_pieces or self.plain.is_led_to(route.finish):
            return
        if self.pool_route.finish is None:
            raise route.fault(
                f"no step leads to {route.finish!r}, where the piece is made",
                line=route.lines.line_of(("route", "makes")),
                right="write [finish], or a step that leads there",
            )
        raise route.fault(
            "no piece that the steps can make meets [finish]",
            line=route.lines.line_of(("finish",)),
            right="write a step that brings what is missing",
        )

    def _refuse_names_of_pieces(self) -> None:
        for name in self.plain.texts:
            if self.names.reads_like_piece(name):
                raise self.pool_route.route.fault(
                    f"the stage {name!r} reads like a piece with this on it",
                    stage=name,
                    right="give the stage another name",
                )


class _Table:
    """Numbers by code: one array where codes are few, else sorted codes."""

    def __init__(self, span: int) -> None:
        self._dense = np.full(span, -1, dtype=np.int32) if span <= DENSE_AT_MOST else None
        self._codes = np.zeros(0, dtype=np.int64)
        self._numbers = np.zeros(0, dtype=np.int64)

    def find(self, codes: np.ndarray) -> np.ndarray:
        """The number of each code; -1 for one that is not known."""
        if self._dense is not None:
            return np.asarray(self._dense[codes], dtype=np.int64)
        if not len(self._codes):
            return np.full(len(codes), -1)
        place = np.searchsorted(self._codes, codes).clip(max=len(self._codes) - 1)
        return np.where(self._codes[place] == codes, self._numbers[place], -1)

    def put(self, codes: np.ndarray, numbers: np.ndarray) -> None:
        """Note new codes, ascending."""
        if self._dense is not None:
            self._dense[codes] = numbers
            return
        place = np.searchsorted(self._codes, codes)
        self._codes = np.insert(self._codes, place, codes)
        self._numbers = np.insert(self._numbers, place, numbers)
