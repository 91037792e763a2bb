"""Like stages written once: varied names, and the names and numbers made from them."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np

from advisor.errors import RouteFault
from advisor.names import did_you_mean
from advisor.routes.amounts import Amount, ByRung
from advisor.routes.table import Table, describe_type

_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_RANGE = re.compile(r"\s*(-?\d{1,9})\s*\.\.\s*(-?\d{1,9})\s*")
_BRACED = re.compile(
    r"\{\s*([A-Za-z_][A-Za-z0-9_]*)\s*(?:([+-])\s*(\d{1,9}))?\s*"
    r"(?::\s*(-?\d{1,9})?\s*\.\.\s*(-?\d{1,9})?\s*)?\}"
)


def read_vary(table: Table) -> dict[str, Sequence[int]]:
    """Read `vary = { n = "0..9", m = [1, 2, 5] }` of a step; empty where it is not written."""
    inner = table.table("vary", '{ n = "0..9" }')
    if "vary" in table.values and not inner.values:
        raise table.fault("`vary` is empty", "vary", right='write it like { n = "0..9" }')
    return {name: _values(inner, name) for name in inner.values}


def _values(table: Table, name: str) -> Sequence[int]:
    value = table.values[name]
    right = f'write {name} = "0..9", or a list of different whole numbers'
    if not _NAME.fullmatch(name):
        raise table.fault(
            f"`vary` has the name {name!r}", name, right="a varied name is a word like n"
        )
    if isinstance(value, str):
        found = _RANGE.fullmatch(value)
        if found is None or int(found[1]) > int(found[2]):
            raise table.fault(f"`vary` of {name} is {value!r}", name, right=right)
        return range(int(found[1]), int(found[2]) + 1)
    if not isinstance(value, list):
        raise table.fault(f"`vary` of {name} is {describe_type(value)}", name, right=right)
    if any(isinstance(each, bool) or not isinstance(each, int) for each in value):
        raise table.fault(f"`vary` of {name} holds something else", name, right=right)
    if not value or len(set(value)) < len(value) or any(abs(each) >= 10**9 for each in value):
        raise table.fault(f"`vary` of {name} is {value}", name, right=right)
    return tuple(value)


def refuse_braces(table: Table, text: str, key: str) -> None:
    """Refuse a varied name where nothing varies."""
    if "{" in text or "}" in text:
        raise table.fault(
            f"{text!r} has braces", key, right="varied names are only known inside a step"
        )


@dataclass(frozen=True)
class Rungs:
    """Every combination of a step's varied values, one row each; one row if none varies.

    Attributes:
        vary: The values of each varied name.
    """

    vary: Mapping[str, Sequence[int]]

    @property
    def count(self) -> int:
        """How many combinations there are; known without making them."""
        return math.prod(len(values) for values in self.vary.values())

    @cached_property
    def positions(self) -> dict[str, np.ndarray]:
        """Position of each row in the values of each name; the last name runs fastest."""
        shape = tuple(len(values) for values in self.vary.values())
        rows = np.arange(self.count)
        return dict(zip(self.vary, np.unravel_index(rows, shape), strict=True)) if shape else {}

    @cached_property
    def values(self) -> dict[str, np.ndarray]:
        """Value of each varied name in each row."""
        return {
            name: np.asarray(self.vary[name], dtype=np.int64)[self.positions[name]]
            for name in self.vary
        }

    def amounts(self, amount: Amount, table: Table) -> tuple[list[Fraction], np.ndarray]:
        """The different numbers an amount takes, and which of them each row has.

        Raises:
            RouteFault: a name that does not vary, a list of the wrong length, or a
                difference that is missing.
        """
        if not isinstance(amount, ByRung):
            return [amount], np.zeros(self.count, dtype=np.int64)
        for name in amount.names:
            self._refuse_unknown(name, amount, table)
        if len(amount.names) == 1:
            return self._by_name(amount, table)
        return self._by_difference(amount, table)

    def _refuse_unknown(self, name: str, amount: ByRung, table: Table) -> None:
        if name not in self.vary:
            right = did_you_mean(name, self.vary) or "name one of `vary`"
            raise _fault(table, amount.line, f"`by` names {name!r}, which does not vary", right)

    def _by_name(self, amount: ByRung, table: Table) -> tuple[list[Fraction], np.ndarray]:
        name = amount.names[0]
        wanted, found = len(self.vary[name]), len(_listed(amount))
        if wanted != found:
            raise _fault(
                table,
                amount.line,
                f"`values` has {found} entries",
                f"{name} has {wanted} values, so {wanted} are needed",
            )
        return list(_listed(amount)), self.positions[name]

    def _by_difference(self, amount: ByRung, table: Table) -> tuple[list[Fraction], np.ndarray]:
        first, second = amount.names
        known = np.array(sorted(_keyed(amount)), dtype=np.int64)
        wanted = self.values[first] - self.values[second]
        place = np.searchsorted(known, wanted).clip(max=len(known) - 1)
        missing = wanted[known[place] != wanted] if len(known) else wanted
        if len(missing):
            raise _fault(
                table,
                amount.line,
                f"`values` has no entry for the difference {missing[0]}",
                f"{first}-{second} runs from {wanted.min()} to {wanted.max()}",
            )
        return [_keyed(amount)[each] for each in known.tolist()], place

    def numbers(self, amount: Amount, table: Table) -> np.ndarray:
        """The amount in each row, shape (count,)."""
        values, which = self.amounts(amount, table)
        floats: np.ndarray = np.array([float(each) for each in values])[which]
        return floats


def _listed(amount: ByRung) -> tuple[Fraction, ...]:
    return amount.values if isinstance(amount.values, tuple) else ()


def _keyed(amount: ByRung) -> Mapping[int, Fraction]:
    return {} if isinstance(amount.values, tuple) else amount.values


def _fault(table: Table, line: int | None, what: str, right: str) -> RouteFault:
    return RouteFault(what, right=right, file=table.lines.file, line=line, step=table.step)


@dataclass(frozen=True)
class Braced:
    """A varied name inside a text: `{n+1:0..9}`."""

    name: str
    plus: int
    least: int | None
    most: int | None

    def values(self, rungs: Rungs) -> np.ndarray:
        """Its whole number in each row."""
        shifted: np.ndarray = rungs.values[self.name] + self.plus
        if self.least is None and self.most is None:
            return shifted
        clamped: np.ndarray = np.clip(shifted, self.least, self.most)
        return clamped


def split_braces(text: str, rungs: Rungs, table: Table) -> list[str | Braced]:
    """Split a name into texts and varied names.

    Raises:
        RouteFault: braces around something that does not vary.
    """
    parts: list[str | Braced] = []
    end = 0
    for found in _BRACED.finditer(text):
        parts += [text[end : found.start()], _braced(found, text, rungs, table)]
        end = found.end()
    parts.append(text[end:])
    for part in parts:
        if isinstance(part, str) and ("{" in part or "}" in part):
            right = "write {n}, {n+1}, {n-1} or {n-1:0..9} with a name of `vary`"
            raise table.fault(f"{text!r} has braces that cannot be read", right=right)
    return [part for part in parts if part != ""]


def _braced(found: re.Match[str], text: str, rungs: Rungs, table: Table) -> Braced:
    name, sign, plus, least, most = found.groups()
    if name not in rungs.vary:
        right = did_you_mean(name, rungs.vary) or (
            "names that vary are " + ", ".join(rungs.vary)
            if rungs.vary
            else f'the step has no `vary`: write vary = {{ {name} = "0..9" }}'
        )
        raise table.fault(f"{text!r} has {{{name}}}, which does not vary", right=right)
    limits = [None if each is None else int(each) for each in (least, most)]
    if None not in limits and limits[0] > limits[1]:  # type: ignore[operator]
        raise table.fault(f"{text!r} is clamped from {least} to {most}", right="low end first")
    shift = int(plus or 0) * (-1 if sign == "-" else 1)
    return Braced(name, shift, limits[0], limits[1])


def fill_braces(text: str, rungs: Rungs, table: Table, *, row: int) -> str:
    """The name in one row."""
    return "".join(
        part if isinstance(part, str) else str(int(part.values(rungs)[row]))
        for part in split_braces(text, rungs, table)
    )
