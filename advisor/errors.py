"""What can go wrong, as sentences a user can act on.

    MakeworthError                exit 1, unless noted
    |-- BadInput                  a file, name, number, date or option that cannot be read
    |   `-- RouteFault            a route or pool file that describes no solvable route
    |       `-- EarningLoop       a route that earns without limit by going round
    |-- CannotAnswer              the input is sound, the data does not reach for an answer
    |-- BookFault                 the book cannot be opened, read or written
    `-- WrongUse                  exit 2: the command line itself is wrong

Each error carries what was wrong, where, and what would be right, as data;
the sentence is made from them in one place.
"""

from __future__ import annotations

import os


class MakeworthError(Exception):
    """Root of every error a user can cause; prints as one sentence.

    Args:
        what: What is wrong, without a full stop: "the odds sum to 0.93".
        right: What would be right: "they must sum to 1".
        file, line, column, item, step, stage: Where, as far as known.
    """

    exit_code = 1

    def __init__(
        self,
        what: str,
        *,
        right: str | None = None,
        file: object | None = None,
        line: int | None = None,
        column: str | None = None,
        item: str | None = None,
        step: str | None = None,
        stage: str | None = None,
    ) -> None:
        self.what = what
        self.right = right
        self.file = None if file is None else str(file)
        self.line = line
        self.column = column
        self.item = item
        self.step = step
        self.stage = stage
        super().__init__(what)

    def __str__(self) -> str:
        place = [
            text
            for known, text in (
                (self.file, f"{self.file}"),
                (self.line, f"line {self.line}"),
                (self.column, f"column {self.column!r}"),
                (self.item, f"item {self.item!r}"),
                (self.step, f"step {self.step!r}"),
                (self.stage, f"stage {self.stage!r}"),
            )
            if known is not None
        ]
        where = ", ".join(place)
        sentence = f"{where}: {self.what}" if where else self.what
        if self.right:
            sentence += f"; {self.right}"
        return sentence

    def told_within(self, folder: object) -> str:
        """The same sentence, its file named from this folder on where it lies inside."""
        return str(self).replace(f"{folder}{os.sep}", "")


class BadInput(MakeworthError):
    """A file, name, number, date or option that cannot be read as meant."""


class RouteFault(BadInput):
    """A route or pool file that describes no solvable route."""


class EarningLoop(RouteFault):
    """A route that earns without limit by going round.

    Attributes:
        sold: Items that the loop sells out; none where it earns by its steps alone.
        gain: Earned by one of these sales, making what is sold paid for; without any, by one
            action.
    """

    sold: tuple[str, ...] = ()
    gain: float = 0.0


class CannotAnswer(MakeworthError):
    """The input is sound, but the data at hand does not reach for an answer."""


class BookFault(MakeworthError):
    """The book cannot be opened, read or written."""


class WrongUse(MakeworthError):
    """The command line itself is wrong."""

    exit_code = 2
