"""Write a report folder: only what changed, and never half a page."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path

from advisor.errors import BadInput
from reports.pages import GENERATOR_MARK, render_pages
from reports.pages_data import Report

OWN_FILES = ("report.css", "charts.js")
PLOTLY = "plotly.min.js"
PAGES = (
    *("piece-*.html", "item-*.html", "stock-*.html", "service-*.html", "sell-*.html"),
    *("luck-*.html", "ledger.html", "replay.html"),
)


@dataclass(frozen=True)
class ReportWritten:
    """What became of a report's files.

    Attributes:
        index: The page to open first.
        written: Files that are new or changed.
        unchanged: Files that already held just this.
        removed: Pages that the report no longer has.
    """

    index: Path
    written: tuple[Path, ...]
    unchanged: tuple[Path, ...]
    removed: tuple[Path, ...]


def write_report(folder: Path, report: Report) -> ReportWritten:
    """Write every page of a report and what the pages need, to be opened from the disk.

    Pages are made in memory first, so a report that cannot be drawn leaves the
    folder as it was. Of files in the folder that are not pages of ours none is touched.

    Args:
        folder: Made where it is missing.
        report: What to show.
    Raises: BadInput: the folder cannot be written to.
    """
    pages = render_pages(report)
    look = files("reports.look")
    texts = {name: look.joinpath(name).read_bytes() for name in OWN_FILES}
    texts |= {name: page.encode() for name, page in pages.items()}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        changed = {name: put_file(folder / name, text) for name, text in texts.items()}
        changed[PLOTLY] = _put_plotly(folder / PLOTLY)
        removed = tuple(_remove_old_pages(folder, keep=set(pages)))
    except OSError as fault:
        raise BadInput(
            f"the report cannot be written ({fault.strerror or fault})",
            right="name a folder that can be written to",
            file=fault.filename or folder,
        ) from fault
    return ReportWritten(
        index=folder / "index.html",
        written=tuple(folder / name for name, new in changed.items() if new),
        unchanged=tuple(folder / name for name, new in changed.items() if not new),
        removed=removed,
    )


def put_file(path: Path, content: bytes) -> bool:
    """Write a file aside and move it into place; False where it already holds this."""
    if path.is_file() and path.read_bytes() == content:
        return False
    handle, aside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(aside).chmod(0o644)
        Path(aside).replace(path)
    except BaseException:
        Path(aside).unlink(missing_ok=True)
        raise
    return True


def _put_plotly(path: Path) -> bool:
    """The drawing library, once for all pages; compared by size, since it is large."""
    package = find_spec("plotly")
    if package is None or package.origin is None:
        raise BadInput("the package plotly is not installed", right="install makeworth again")
    source = Path(package.origin).parent / "package_data" / PLOTLY
    if path.is_file() and path.stat().st_size == source.stat().st_size:
        return False
    aside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        shutil.copyfile(source, aside)
        aside.replace(path)
    finally:
        aside.unlink(missing_ok=True)
    return True


def _remove_old_pages(folder: Path, *, keep: set[str]) -> Iterator[Path]:
    """Pages of ours that are no longer in the report would tell old prices as new."""
    for pattern in PAGES:
        for path in sorted(folder.glob(pattern)):
            if path.name not in keep and GENERATOR_MARK in path.read_bytes()[:2000]:
                path.unlink()
                yield path
