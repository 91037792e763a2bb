"""Layouts: which columns a kind of file has, and which header they are found by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from advisor.errors import BadInput
from advisor.money import DecimalMark
from advisor.names import did_you_mean, name_key
from importers.reading import FIELDS, NEEDED

CANONICAL = "canonical"


@dataclass(frozen=True)
class Layout:
    """A kind of file.

    Attributes:
        name: What it is called.
        columns: Canonical column -> the header words it goes by, best first. A
            word "date + time" stands for two columns that are read as one.
        needs: The columns that a header must have for the layout to fit.
        decimal, date_order, money, side: What was said when the layout was saved.
    """

    name: str
    columns: Mapping[str, Sequence[str]]
    needs: Sequence[str] = NEEDED
    decimal: DecimalMark | None = None
    date_order: str | None = None
    money: str | None = None
    side: str | None = None


@dataclass(frozen=True)
class Match:
    """A header line that a layout fits.

    Attributes:
        positions: Canonical column -> positions of its cells in a row, from 0.
    """

    layout: Layout
    header: tuple[str, ...]
    positions: Mapping[str, tuple[int, ...]]

    @property
    def columns(self) -> dict[str, str]:
        """Canonical column -> what it is called in the file."""
        return {
            field: " + ".join(self.header[place] or f"{place + 1}" for place in places)
            for field, places in self.positions.items()
        }

    @property
    def is_told(self) -> bool:
        """Whether the user has said, now or earlier, which column is which."""
        return self.layout.needs is not NEEDED

    @property
    def is_full_canonical(self) -> bool:
        """Whether the header is the canonical one, complete and in order, as export writes it."""
        return self.header == FIELDS

    @property
    def unused(self) -> list[str]:
        """Named columns of the file that are not read."""
        used = {place for places in self.positions.values() for place in places}
        return [name for place, name in enumerate(self.header) if name and place not in used]


class UnsaidColumn(BadInput):
    """It must be said which column of the file is meant.

    Attributes:
        field, name: What would be said: the canonical column, and one of the file's.
        otherwise: What could be said instead, to follow that; may be empty.
    """

    def __init__(self, what: str, *, field: str, name: str, otherwise: str = "") -> None:
        self.field = field
        self.name = name
        self.otherwise = otherwise
        super().__init__(what, right=f'if it is the one: --map {field}="{name}"{otherwise}')


@cache
def declared_layouts() -> tuple[Layout, ...]:
    """Every layout declared in importers/layouts, the canonical one first."""
    from importlib import import_module
    from pkgutil import iter_modules

    import importers.layouts as folder

    names = sorted(module.name for module in iter_modules(folder.__path__))
    layouts = [import_module(f"importers.layouts.{name}").LAYOUT for name in names]
    return tuple(sorted(layouts, key=lambda each: each.name != CANONICAL))


def mapped_layout(columns: Mapping[str, str], *, name: str = "mapped") -> Layout:
    """The layout of `--map`; columns that are not mapped go by their usual words.

    Raises: BadInput: no such canonical column.
    """
    for field in columns:
        if field not in FIELDS:
            right = did_you_mean(field, FIELDS) or f"columns are {', '.join(FIELDS)}"
            raise BadInput(f"--map: there is no column {field!r} to map to", right=right)
    usual_words: dict[str, Sequence[str]] = {}
    for layout in declared_layouts():
        for field, usual in layout.columns.items():
            usual_words[field] = (*usual_words.get(field, ()), *usual)
    taken = {name_key(word) for word in columns.values()}
    free: dict[str, Sequence[str]] = {
        field: [word for word in usual if name_key(word) not in taken]
        for field, usual in usual_words.items()
    }
    words = free | {field: (word,) for field, word in columns.items()}
    return Layout(name, words, needs=tuple({*NEEDED, *columns}))


def match_header(cells: Sequence[str], layouts: Iterable[Layout]) -> Match | None:
    """The layout that this line of cells is a header of, or None.

    A layout that was saved or mapped goes before the declared ones; of several,
    the one that finds most columns.

    Raises: BadInput: two columns go by the same name or could both be the price,
        two saved layouts fit alike.
    """
    keys = [name_key(cell) for cell in cells]
    header = tuple(cell.strip() for cell in cells)
    found = [Match(layout, header, _positions(keys, layout)) for layout in layouts]
    fitting = [match for match in found if all(n in match.positions for n in match.layout.needs)]
    if not fitting:
        return None
    best = max(fitting, key=_rank)
    for match in fitting:
        alike = _rank(match) == _rank(best) and match.positions != best.positions
        if alike and best.is_told:
            raise BadInput(
                f"the layouts {best.layout.name!r} and {match.layout.name!r} both fit",
                right=f'say which is meant: --layout "{best.layout.name}"',
            )
    _refuse_doubles(best, keys)
    return best


def _rank(match: Match) -> tuple[bool, int]:
    return match.is_told, len(match.positions)


def match_numbers(columns: Mapping[str, str], width: int) -> Match | None:
    """A headerless file, its columns mapped by number from 1; None where they do not fit."""
    if not columns or not all(word.isascii() and word.isdigit() for word in columns.values()):
        return None
    positions = {field: (int(word) - 1,) for field, word in columns.items()}
    if any(not 0 <= place < width for (place,) in positions.values()):
        return None
    return Match(mapped_layout(columns), ("",) * width, positions)


def _positions(keys: Sequence[str], layout: Layout) -> dict[str, tuple[int, ...]]:
    """Where each canonical column stands, by the best of its words that is there."""
    positions = {}
    for field in FIELDS:
        for word in layout.columns.get(field, ()):
            parts = [name_key(word)] if name_key(word) in keys else _parts(word)
            if all(part in keys for part in parts):
                positions[field] = tuple(keys.index(part) for part in parts)
                break
    return positions


def _parts(word: str) -> list[str]:
    return [name_key(part) for part in word.split(" + ")]


def _refuse_doubles(match: Match, keys: Sequence[str]) -> None:
    for places in match.positions.values():
        for place in places:
            if keys[place] and keys.count(keys[place]) > 1:
                raise BadInput(
                    f"two columns are called {match.header[place]!r}",
                    right="give them names of their own",
                )
    if match.is_told:
        return
    price_words = {name_key(w) for each in declared_layouts() for w in each.columns["price"]}
    also_price = [name for name in match.unused if name_key(name) in price_words]
    if also_price:
        chosen = match.columns["price"]
        raise UnsaidColumn(
            f"both {chosen!r} and {also_price[0]!r} could be the price of one unit",
            field="price",
            name=also_price[0],
        )
