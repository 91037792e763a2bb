"""`makeworth import`: prices from files, shown, tried out, taken back."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.options import (
    JsonOption,
    WorkspaceOption,
    new_app,
    one_of,
    read_decimal_option,
    read_side_option,
    warn,
    write_json,
)
from advisor.errors import BadInput, MakeworthError, WrongUse

if TYPE_CHECKING:
    from advisor.tasks.importing import ImportChoices, ImportReport, Progress
    from advisor.tasks.workspace import Workspace

app = new_app()

BAR_FROM_BYTES = 100 * 1024 * 1024


@app.command()
def import_files(  # noqa: PLR0917
    files: Annotated[
        list[Path] | None,
        typer.Argument(metavar="FILE...", help="Price lists, or a folder that export wrote."),
    ] = None,
    mapping: Annotated[
        list[str] | None,
        typer.Option("--map", metavar="COL=NAME", help='Which column is what: price="Unit cost".'),
    ] = None,
    layout: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Use this layout; with --map, save it by this name."),
    ] = None,
    check: Annotated[bool, typer.Option("--check", help="Only say what would happen.")] = False,
    money: Annotated[
        str | None, typer.Option(metavar="ITEM", help="The money of prices that name none.")
    ] = None,
    decimal: Annotated[
        str | None, typer.Option(metavar="comma|point", help="The mark before decimals.")
    ] = None,
    date_order: Annotated[
        str | None, typer.Option(metavar="dmy|mdy|ymd", help="How 03/04/2026 is read.")
    ] = None,
    sheet: Annotated[
        str | None, typer.Option(metavar="NAME", help="Which sheet of a spreadsheet.")
    ] = None,
    at: Annotated[
        str | None, typer.Option(metavar="TIME", help="When seen, where the file does not say.")
    ] = None,
    side: Annotated[
        str | None,
        typer.Option(metavar="ask|bid|deal", help="What they are, where the file does not say."),
    ] = None,
    undo: Annotated[
        int | None, typer.Option(metavar="BATCH", help="Take a batch back whole.")
    ] = None,
    set_aside: Annotated[
        bool, typer.Option("--set-aside", help="Show the rows that could not be read.")
    ] = False,
    batches: Annotated[bool, typer.Option("--batches", help="Show what was taken in.")] = False,
    as_json: JsonOption = False,
    workspace: WorkspaceOption = None,
) -> None:
    """Take in prices from files: CSV, spreadsheets (.xlsx, .ods), JSON, Parquet.

    Rows that cannot be read are set aside with line, column and reason; the rest
    goes in at once. The same file twice adds nothing. A column is found by its
    usual names; others are said once: --map price="Unit cost" --layout NAME.
    """
    from advisor.tasks.importing import ImportChoices
    from advisor.tasks.workspace import open_workspace

    _refuse_mixed(files, undo=undo, set_aside=set_aside, batches=batches)
    choices = ImportChoices(
        columns=_columns(mapping or []),
        layout=layout,
        money=money,
        decimal=read_decimal_option(decimal),
        date_order=one_of(date_order, ("dmy", "mdy", "ymd"), option="--date-order"),
        sheet=sheet,
        at=at,
        side=read_side_option(side),
    )
    place = open_workspace(workspace)
    if undo is not None:
        _undo(place, undo, as_json=as_json)
    elif set_aside:
        _show_set_aside(place, as_json=as_json)
    elif batches:
        _show_batches(place, as_json=as_json)
    else:
        _import_all(place, files or [], choices=choices, check=check, as_json=as_json)


def _refuse_mixed(
    files: list[Path] | None, *, undo: int | None, set_aside: bool, batches: bool
) -> None:
    asked = [bool(files), undo is not None, set_aside, batches]
    if sum(asked) == 0:
        raise WrongUse("no file given", right="makeworth import FILE...")
    if sum(asked) > 1:
        raise WrongUse("files, --undo, --set-aside and --batches each go alone")


def _columns(mapping: list[str]) -> dict[str, str]:
    columns: dict[str, str] = {}
    for text in mapping:
        field, equals, name = text.partition("=")
        field, name = field.strip().lower(), name.strip()
        if not equals or not field or not name:
            raise WrongUse(f"--map {text!r} is not COL=NAME", right='write --map price="Unit cost"')
        if field in columns:
            raise WrongUse(f"--map {field} is given twice")
        columns[field] = name
    return columns


def _import_all(
    place: Workspace, files: list[Path], *, choices: ImportChoices, check: bool, as_json: bool
) -> None:
    """Each file by itself: one that cannot be read does not keep the others out."""
    from advisor.cli.import_views import show_report

    reports, failed = [], 0
    for file in files:
        try:
            report = _import_one(place, file, choices=choices, check=check)
        except BadInput as fault:
            if len(files) == 1:
                raise
            warn(str(fault))
            failed += 1
            continue
        reports.append(report)
        if not as_json:
            show_report(report)
    if as_json:
        write_json([report.to_json() for report in reports])
    if failed:
        raise MakeworthError(f"{failed} of {len(files)} files could not be read")


def _import_one(
    place: Workspace, file: Path, *, choices: ImportChoices, check: bool
) -> ImportReport:
    from advisor.tasks.importing import import_file

    is_long = file.is_file() and file.stat().st_size > BAR_FROM_BYTES
    if not is_long:
        return import_file(place, file, choices=choices, check=check)
    with _bar(file.name) as on_progress:
        return import_file(place, file, choices=choices, check=check, on_progress=on_progress)


@contextmanager
def _bar(name: str) -> Iterator[Progress]:
    """A progress bar on stderr."""
    from rich.console import Console
    from rich.markup import escape
    from rich.progress import Progress as Bar

    with Bar(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(f"reading {escape(name)}", total=1.0)
        yield lambda share: bar.update(task, completed=share)


def _undo(place: Workspace, batch: int, *, as_json: bool) -> None:
    from advisor.book.batches import undo_batch
    from advisor.cli.import_views import show_undone

    with place.open_book() as store:
        undone = undo_batch(store, batch)
    if as_json:
        write_json({"batch": undone.batch, "removed": undone.removed, "kept": undone.kept})
    else:
        show_undone(undone)


def _show_set_aside(place: Workspace, *, as_json: bool) -> None:
    from advisor.book.history import list_set_aside
    from advisor.cli.import_views import show_set_aside

    with place.open_book() as store:
        rows = list_set_aside(store)
    if as_json:
        keys = ("batch", "file", "line", "column", "reason", "text")
        write_json([{key: getattr(row, key) for key in keys} for row in rows])
    else:
        show_set_aside(rows)


def _show_batches(place: Workspace, *, as_json: bool) -> None:
    from dataclasses import asdict

    from advisor.book.history import list_batches
    from advisor.cli.import_views import show_batches
    from advisor.times import us_to_rfc3339

    with place.open_book() as store:
        batches = list_batches(store)
    if not as_json:
        show_batches(batches, zone=place.settings.timezone)
        return
    write_json(
        [
            {
                **{k: v for k, v in asdict(each).items() if k not in ("at_us", "undone_us")},
                "at": us_to_rfc3339(each.at_us),
                "undone": each.undone_us is not None,
            }
            for each in batches
        ]
    )
