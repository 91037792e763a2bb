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
