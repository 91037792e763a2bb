"""Item names as the book spells them; a likeness is never taken for the name itself."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Mapping

from advisor.names import name_key

LONGEST_NAME = 200
SHORT_NAME = 5
FORMULA = re.compile(r"[=@]|[+-].*[(|!]")
JOINERS = "\u200c\u200d"  # needed inside words of some scripts, and in emoji
MARKS = re.compile(r"[0-9]+|\b[ivx]+\b")


class NameBook:
    """The names that are known, and what became of those that are not.

    Attributes:
        near: Name as typed -> the known name that it may be a slip of.
    """

    def __init__(self, known: Mapping[str, str]) -> None:
        """Start from what is known: name key -> the name as the book spells it."""
        self._spelled = dict(known)
        self._known = dict(known)
        self._letters = {key: Counter(key) for key in known}
        self.near: dict[str, str] = {}

    def spell(self, typed: str) -> tuple[str | None, str | None]:
        """The name as the book spells it, or why the cell holds no name.

        A name near no known one is new; its first spelling is kept.

        Returns: (name, None) or (None, reason).
        """
        fault = name_fault(typed)
        if fault is not None:
            return None, fault
        key = name_key(typed)
        if key not in self._spelled:
            near = self._near(key)
            if near is not None:
                self.near[typed] = self._known[near]
                return None, "near name"
            self._spelled[key] = tidy(typed)
        return self._spelled[key], None

    def knows(self, typed: str) -> bool:
        """Whether the name is a known one."""
        return name_key(typed) in self._known

    def _near(self, key: str) -> str | None:
        """The known key that is one or two letter edits away, digits alike; the nearest."""
        most = 1 if len(key) <= SHORT_NAME else 2
        letters = Counter(key)
        best: tuple[int, str] | None = None
        for known, known_letters in self._letters.items():
            if abs(len(known) - len(key)) > most or known_letters == letters == key:
                continue
            if _different_letters(letters, known_letters) > 2 * most:
                continue
            if MARKS.findall(known) != MARKS.findall(key):
                continue
            apart = letter_edits(key, known, most=most)
            if apart is not None and (best is None or (apart, known) < best):
                best = apart, known
        return None if best is None else best[1]


def name_fault(typed: str) -> str | None:
    """Why a cell can be no name, or None."""
    if not typed.strip():
        return "empty"
    if len(typed) > LONGEST_NAME:
        return "too long"
    if FORMULA.match(typed):
        return "formula"
    if any(
        unicodedata.category(each) in ("Cc", "Cf", "Cs") for each in typed if each not in JOINERS
    ):
        return "control character"
    return None


def tidy(typed: str) -> str:
    """The name with single spaces, its letters composed."""
    return " ".join(unicodedata.normalize("NFC", typed).split())


def letter_edits(one: str, other: str, *, most: int) -> int | None:
    """How many letters must be changed, put in, left out or swapped with the next; None if > most.

    Source: optimal string alignment distance (Damerau 1964, each letter edited once).

    >>> letter_edits("lantern fraem", "lantern frame", most=2)
    1
    """
    before: list[int] = []
    row = list(range(len(other) + 1))
    for place, letter in enumerate(one, start=1):
        oldest, before, row = before, row, [place]
        for at, opposite in enumerate(other, start=1):
            cost = min(before[at] + 1, row[at - 1] + 1, before[at - 1] + (letter != opposite))
            swapped = place > 1 < at and letter == other[at - 2] and one[place - 2] == opposite
            if swapped:
                cost = min(cost, oldest[at - 2] + 1)
            row.append(cost)
        if min(row) > most and min(before) > most:
            return None
    return row[-1] if row[-1] <= most else None


def spell_all(
    names: Iterable[str | None], book: NameBook
) -> dict[str | None, tuple[str | None, str | None]]:
    """Every distinct name of a column, spelled or faulted."""
    return {name: (None, "empty") if name is None else book.spell(name) for name in names}


def _different_letters(one: Counter[str], other: Counter[str]) -> int:
    return sum(((one - other) + (other - one)).values())
