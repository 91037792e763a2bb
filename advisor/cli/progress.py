"""A line on stderr that says what is being worked out, where somebody is looking."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def show_progress(doing: str) -> Iterator[Callable[[str], None]]:
    """Yields a function that names the part being worked on; silent where nobody looks."""
    if not sys.stderr.isatty():
        yield lambda part: None
        return
    from rich.console import Console

    console = Console(stderr=True, color_system=None, highlight=False, markup=False)
    with console.status(doing) as status:
        yield lambda part: status.update(f"{doing}: {part}")


@contextmanager
def show_bar(doing: str) -> Iterator[Callable[[int, int], None]]:
    """Yields a function that takes how many are done of how many; silent where nobody looks."""
    if not sys.stderr.isatty():
        yield lambda done, of: None
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    console = Console(stderr=True, color_system=None, highlight=False, markup=False)
    columns = (TextColumn(doing), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(doing, total=None)
        yield lambda done, of: bar.update(task, completed=done, total=of)
