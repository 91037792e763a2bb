"""A table of a TOML file that knows where it stands, so that faults name their line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from math import isfinite
from pathlib import Path
from typing import Any, TypeVar

from advisor.errors import BadInput
from advisor.names import did_you_mean, name_key
from advisor.times import FIRST_YEAR, LAST_YEAR

LARGEST_NUMBER = 10**15
LONGEST_NUMBER = 400
LONGEST_NAME = 1000
MOST_SHOWN = 60
Value = TypeVar("Value")
Choice = TypeVar("Choice", bound=str)


def read_toml(text: str, file: Path) -> TomlTable:
    """The whole file as a table; decimal numbers are exact.

    Raises: BadInput: not TOML.
    """
    try:
        content = tomllib.loads(text, parse_float=_exact)
    except tomllib.TOMLDecodeError as error:
        said, _, place = str(error).partition(" (at line ")
        line = place.partition(",")[0]
        raise BadInput(
            f"not TOML ({said[:1].lower()}{said[1:]})",
            right='settings look like: money = "shell"',
            file=file,
            line=int(line) if line.isdigit() else text.count("\n") + 1,
        ) from None
    except RecursionError:
        raise BadInput("not TOML (nested too deep)", file=file) from None
    except (ValueError, OverflowError):
        raise BadInput("not TOML (a number of too many digits)", file=file) from None
    return TomlTable(content, file=file, text=text)


@dataclass(frozen=True)
class TomlTable:
    """One table, read value by value; every fault names file, line and key.

    A reading method gives None where the key is absent.

    Attributes:
        content: As tomllib read it, decimal numbers as Fraction.
        file, text: The file it stands in.
        path: Keys that lead to it; a number is a place in an array of tables.
    """

    content: Mapping[str, Any]
    file: Path
    text: str
    path: tuple[str | int, ...] = ()

    def fault(self, key: str | None, what: str, *, right: str | None = None) -> BadInput:
        """An error about the value of `key`, or about the table itself."""
        path = self.path if key is None else (*self.path, key)
        place = ".".join(str(each) for each in path if isinstance(each, str))
        return BadInput(
            f"{place}: {what}" if place else what,
            right=right,
            file=self.file,
            line=line_of(self.text, path),
        )

    def only(self, *known: str) -> None:
        """Refuse keys that are not among the known ones, with the nearest of these."""
        for key in self.content:
            if key not in known:
                right = did_you_mean(key, known) or f"known here: {', '.join(known)}"
                raise self.fault(key, "no such setting", right=right)

    def needed(self, key: str, value: Value | None) -> Value:
        """The value, or a fault where the key is absent."""
        if value is None:
            raise self.fault(None, f"{key} is missing", right=f"write {key} = ...")
        return value

    def table(self, key: str) -> TomlTable:
        """The table under `key`; empty where there is none."""
        value = self.content.get(key, {})
        if not isinstance(value, dict):
            raise self.fault(key, "not a table", right=f"write it under [{key}]")
        return TomlTable(value, self.file, self.text, (*self.path, key))

    def tables(self, key: str) -> list[TomlTable]:
        """The array of tables under `key`; empty where there is none."""
        value = self.content.get(key, [])
        if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
            raise self.fault(key, "not a list of tables", right=f"write each under [[{key}]]")
        return [
            TomlTable(each, self.file, self.text, (*self.path, key, place))
            for place, each in enumerate(value)
        ]

    def name(self, key: str) -> str | None:
        """A text of one line with something in it."""
        value = self.content.get(key)
        return None if value is None else self._name(key, value)

    def names(self, key: str, *, secret: bool = False) -> tuple[str, ...]:
        """A list of such texts; empty where there is none. A secret one is never shown."""
        values = self.content.get(key, [])
        if not isinstance(values, list):
            shown = "the value" if secret else shown_value(values)
            raise self.fault(key, f"{shown} is no list", right=f'write {key} = ["..."]')
        return tuple(self._name(key, value, secret=secret) for value in values)

    def _name(self, key: str, value: Any, *, secret: bool = False) -> str:
        if isinstance(value, str) and name_key(value) and _is_one_line(value):
            return " ".join(value.split())
        shown = "a value" if secret else shown_value(value)
        raise self.fault(key, f"{shown} is no name", right=f'write {key} = "..."')

    def one_of(self, key: str, choices: Sequence[Choice]) -> Choice | None:
        """One of a few words."""
        value = self.content.get(key)
        if value is None or value in choices:
            return value
        right = did_you_mean(str(value), choices) or f"one of: {', '.join(choices)}"
        raise self.fault(key, f"{shown_value(value)} is not known", right=right)

    def number(self, key: str) -> Fraction | None:
        """A number of 0 or more, exact."""
        value = self.content.get(key)
        if value is None:
            return None
        number = exact_number(value)
        if number is None or not 0 <= number <= LARGEST_NUMBER:
            raise self.fault(
                key, f"{shown_value(value)} is not a number from 0 to {LARGEST_NUMBER:,}"
            )
        return number

    def count(self, key: str) -> int | None:
        """A whole number of 1 or more."""
        value = self.content.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value < 2**53:
            raise self.fault(key, f"{shown_value(value)} is not a whole number of 1 or more")
        return value

    def share(self, key: str) -> Fraction | None:
        """A share in [0, 1), written "5 %" or 0.05."""
        value = self.content.get(key)
        if value is None:
            return None
        percent = re.fullmatch(r"\s*(\d{1,3}(?:\.\d+)?)\s*%\s*", str(value))
        share = Fraction(percent.group(1)) / 100 if percent else exact_number(value)
        if share is None or not 0 <= share < 1:
            right = 'from 0 to under 100 %, such as "5 %" or 0.05'
            raise self.fault(key, f"{shown_value(value)} is no share of the price", right=right)
        return share

    def date(self, key: str) -> date | None:
        """A day, written 2026-09-01 without quotes."""
        value = self.content.get(key)
        if value is None:
            return None
        if isinstance(value, datetime) or not isinstance(value, date):
            right = f"write {key} = 2026-09-01, without quotes"
            raise self.fault(key, f"{shown_value(value)} is no date", right=right)
        if not FIRST_YEAR <= value.year <= LAST_YEAR:
            raise self.fault(key, f"{value} is not in {FIRST_YEAR} to {LAST_YEAR}")
        return value


def exact_number(value: object) -> Fraction | None:
    """The finite number that a TOML value is, or None; true and false are none."""
    if isinstance(value, Fraction):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return Fraction(value)
    return None


def line_of(text: str, path: Sequence[str | int]) -> int | None:
    """The line where the value at `path` is written, counted from 1.

    Of a table, its heading. None where it cannot be told, as in a value that
    spans lines; then the nearest table above that has a heading is taken.
    """
    places = _places(text)
    for length in range(len(path), 0, -1):
        line = places.get(tuple(path[:length]))
        if line is not None:
            return line
    return None


def _places(text: str) -> dict[tuple[str | int, ...], int]:
    """The first line of each key and table heading."""
    places: dict[tuple[str | int, ...], int] = {}
    heading: tuple[str | int, ...] = ()
    seen: dict[tuple[str, ...], int] = {}
    for number, line in enumerate(text.split("\n"), start=1):
        stripped = line.strip()
        if stripped.startswith("["):
            keys = _keys_of(stripped)
            if keys is None:
                continue
            heading = keys
            if stripped.startswith("[["):
                seen[keys] = seen.get(keys, -1) + 1
                heading = (*keys, seen[keys])
            places.setdefault(heading, number)
        elif "=" in stripped and not stripped.startswith("#"):
            keys = _keys_of(f"{stripped.partition('=')[0]} = 0")
            if keys is not None:
                places.setdefault((*heading, *keys), number)
    return places


def _keys_of(line: str) -> tuple[str, ...] | None:
    """The dotted keys of a heading or of `key = 0`, or None when the line is neither."""
    try:
        content: Any = tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return None
    keys: list[str] = []
    while content and isinstance(content, (dict, list)):
        content = content[0] if isinstance(content, list) else content
        if content:
            key, content = next(iter(content.items()))
            keys.append(key)
    return tuple(keys)


def _exact(digits: str) -> Fraction | float:
    """A TOML float as written: 0.1 stays a tenth; nan and inf stay what they are."""
    value = float(digits)
    exponent = digits.lower().partition("e")[2]
    is_short = len(digits) <= LONGEST_NUMBER and abs(int(exponent or 0)) <= LONGEST_NUMBER
    return Fraction(digits.replace("_", "")) if isfinite(value) and is_short else value


def _is_one_line(text: str) -> bool:
    return text.isprintable() and len(text) <= LONGEST_NAME


def shown_value(value: object) -> str:
    """A value as a sentence may quote it: decimal, and cut short."""
    text = str(float(value)) if isinstance(value, Fraction) else repr(value)
    return text if len(text) <= MOST_SHOWN else f"{text[:MOST_SHOWN]}..."
