"""One table of a file, asked for its keys; every wrong type or unknown key is told by line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NoReturn

from advisor.errors import RouteFault
from advisor.names import did_you_mean
from advisor.routes.toml_lines import KeyPath, LineIndex

_TYPE_WORDS = {
    "str": "text",
    "bool": "true or false",
    "int": "a whole number",
    "Decimal": "a number",
    "list": "a list",
    "dict": "a table",
    "datetime": "a date",
    "date": "a date",
    "time": "a time",
}


def describe_type(value: Any) -> str:
    """What kind of value this is, in the words of a user.

    >>> describe_type([1])
    'a list'
    """
    return _TYPE_WORDS.get(type(value).__name__, type(value).__name__)


@dataclass(frozen=True)
class Table:
    """One table of a file and where it stands.

    Attributes:
        values: Its keys and plain values.
        path: The keys and positions that lead to it.
        lines: The lines of its file.
        step: The step it belongs to, named in faults; None outside a step.
    """

    values: Mapping[str, Any]
    path: KeyPath
    lines: LineIndex
    step: str | None = None

    def line(self, key: str | None = None) -> int | None:
        """The line of a key, or of the table itself."""
        return self.lines.line_of(self.path if key is None else (*self.path, key))

    def fault(self, what: str, key: str | None = None, *, right: str | None = None) -> RouteFault:
        """An error about this table, or one key of it, ready to raise."""
        return RouteFault(
            what, right=right, file=self.lines.file, line=self.line(key), step=self.step
        )

    def fault_at(
        self, line: int | None, what: str, *, step: str | None = None, right: str | None = None
    ) -> RouteFault:
        """An error at a line of this file, ready to raise."""
        step = step or self.step
        return RouteFault(what, right=right, file=self.lines.file, line=line, step=step)

    def refuse_type(self, key: str, wanted: str) -> NoReturn:
        """Say that a key holds the wrong kind of value."""
        found = describe_type(self.values[key])
        raise self.fault(f"`{key}` is {found}", key, right=f"it must be {wanted}")

    def refuse_unknown_keys(self, known: Iterable[str]) -> None:
        """Refuse the first key that is not known, with the nearest that is."""
        known = list(known)
        for key in self.values:
            if key not in known:
                right = did_you_mean(key, known) or "known are " + ", ".join(known)
                raise self.fault(f"`{key}` is not known here", key, right=right)

    def text(self, key: str, default: str | None = None) -> str:
        """A text that says something; required when there is no default."""
        value = self.optional_text(key)
        if value is not None:
            return value
        if default is None:
            raise self.fault(f"`{key}` is missing", right=f'write {key} = "..."')
        return default

    def optional_text(self, key: str) -> str | None:
        """A text, or None where the key is not written."""
        if key not in self.values:
            return None
        value = self.values[key]
        if not isinstance(value, str):
            self.refuse_type(key, "text in quotes")
        if not value.strip():
            raise self.fault(f"`{key}` is empty", key, right="give it a name")
        return value

    def whole_number(self, key: str, default: int) -> int:
        """A whole number, or the default where the key is not written."""
        value = self.values.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int):
            self.refuse_type(key, "a whole number")
        return value

    def table(self, key: str, example: str) -> Table:
        """The table under a key; empty where it is not written."""
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            self.refuse_type(key, f"a table, like {example}")
        return Table(value, (*self.path, key), self.lines, self.step)

    def tables(self, key: str) -> list[Table]:
        """The tables written [[key]], in the order of the file."""
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(each, dict) for each in value):
            self.refuse_type(key, f"written as [[{key}]]")
        return [
            Table(each, (*self.path, key, number), self.lines) for number, each in enumerate(value)
        ]
