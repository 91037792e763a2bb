"""Layouts that the book keeps: which column is what in a file, and what was said of such files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from advisor.errors import BadInput
from advisor.names import did_you_mean

if TYPE_CHECKING:
    from advisor.book.store import Store
    from advisor.tasks.importing import ImportChoices
    from importers.layout import Layout
    from importers.reading import Reading


def read_layouts(store: Store) -> list[Layout]:
    """Saved layouts, those with the most columns first."""
    from advisor.book.layouts import saved_layouts
    from importers.layout import Layout

    layouts = []
    for saved in saved_layouts(store):
        columns = saved.columns["columns"]
        words = {name: (word,) for name, word in columns.items()}
        said = saved.columns["said"]
        layouts.append(Layout(saved.name, words, needs=tuple(columns), **said))
    return sorted(layouts, key=lambda each: -len(each.columns))


def layout_named(name: str, saved: Sequence[Layout]) -> Layout:
    """The layout of this name, declared or saved.

    Raises: BadInput: there is none.
    """
    from importers.layout import declared_layouts

    layouts = {layout.name: layout for layout in (*declared_layouts(), *saved)}
    if name not in layouts:
        right = did_you_mean(name, layouts) or f"known are {', '.join(sorted(layouts))}"
        raise BadInput(f"--layout: there is no layout {name!r}", right=right)
    return layouts[name]


def with_kept(choices: ImportChoices, saved: Sequence[Layout]) -> ImportChoices:
    """With what a layout keeps that is about to be saved anew, where nothing else was said."""
    if not choices.layout or not choices.columns:
        return choices
    for kept in saved:
        if kept.name == choices.layout:
            words = ("decimal", "date_order", "money", "side")
            said = {word: getattr(choices, word) or getattr(kept, word) for word in words}
            return replace(choices, **said)
    return choices


def keep_layout(store: Store, name: str, choices: ImportChoices, *, reading: Reading) -> None:
    """Save the columns of a file just read, and what was said of it, under a name."""
    from advisor.book.layouts import save_layout

    choices = with_kept(choices, read_layouts(store))
    said = {
        "decimal": choices.decimal,
        "date_order": choices.date_order,
        "money": choices.money,
        "side": choices.side,
    }
    columns = {"columns": dict(reading.columns), "said": said}
    save_layout(store, name, header=reading.header, columns=columns)
    kept = ", ".join(f"{word.replace('_', ' ')} {said[word]}" for word in said if said[word])
    reading.notes.append(f'the layout is saved as "{name}"' + (f", with {kept}" if kept else ""))
