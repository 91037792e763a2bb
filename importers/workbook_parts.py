"""What the reader of .xlsx leaves out: formulas without a value, and where days begin.

Source: ECMA-376, 5th edition, part 1: 18.2.28 (workbookPr, date1904), 18.3.1.4 (c),
18.3.1.40 (f), 18.3.1.96 (v).
"""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO
from xml.etree.ElementTree import Element, ParseError, iterparse

WORKBOOK = "xl/workbook.xml"
RELATIONS = "xl/_rels/workbook.xml.rels"
TRUE = ("1", "true")
BLOCK_BYTES = 1024 * 1024
LONGEST_PREFIX = 40
FORMULA_BEGINS = re.compile(rb"<(?:[A-Za-z_][A-Za-z0-9_.-]{0,30}:)?f[ />]|t=[\"']e[\"']")

Formulas = dict[tuple[int, int], str]
"""(row, column), both from 0 at the sheet's first filled column -> "=" and the formula."""


def begins_in_1904(path: Path) -> bool:
    """Whether the workbook counts days from 1904 on, not from 1900."""
    with zipfile.ZipFile(path) as archive:
        if WORKBOOK not in archive.namelist():
            return False
        try:
            with archive.open(WORKBOOK) as part:
                said = [each.get("date1904", "") for each in _elements(part, "workbookPr")]
        except ParseError:
            return False
    return any(each.lower() in TRUE for each in said)


def formulas_without_value(path: Path, sheet: str) -> Formulas:
    """Cells of which only the formula was saved, not worked out, or only an error mark.

    Empty for other kinds of spreadsheet, and where the sheet's part cannot be read.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            part_name = _part_of(archive, sheet)
            if part_name is None:
                return {}
            with archive.open(part_name) as part:
                if not _has_formula(part):
                    return {}
            with archive.open(part_name) as part:
                return _unvalued(part)
    except (ParseError, KeyError, ValueError):
        return {}


def _has_formula(part: IO[bytes]) -> bool:
    """Whether any cell has one: a look at the bytes, much faster than going through the cells."""
    end = b""
    while block := part.read(BLOCK_BYTES):
        if FORMULA_BEGINS.search(end + block):
            return True
        end = block[-LONGEST_PREFIX:]
    return False


def _unvalued(part: IO[bytes]) -> Formulas:
    found: Formulas = {}
    first_column: int | None = None
    for cell in _elements(part, "c"):
        row, column = _place(cell.get("r", ""))
        parts = {_local(child.tag): child for child in cell}
        formula, value = parts.get("f"), parts.get("v")
        says = "is" in parts or (value is not None and bool(value.text))
        if says:
            first_column = column if first_column is None else min(first_column, column)
        if cell.get("t") == "e" and value is not None:
            found[row, column] = f"={value.text or ''}"
        elif says:
            continue
        elif formula is not None and cell.get("t") != "str":
            found[row, column] = f"={formula.text or ''}"
    left = first_column or 0
    return {(row, column - left): text for (row, column), text in found.items() if column >= left}


def _part_of(archive: zipfile.ZipFile, sheet: str) -> str | None:
    """The name of the part that holds a sheet."""
    names = set(archive.namelist())
    if not {WORKBOOK, RELATIONS} <= names:
        return None
    with archive.open(WORKBOOK) as part:
        ids = {each.get("name"): _relation_id(each) for each in _elements(part, "sheet")}
    with archive.open(RELATIONS) as part:
        targets = {each.get("Id"): each.get("Target") for each in _elements(part, "Relationship")}
    target = targets.get(ids.get(sheet))
    if target is None:
        return None
    name = posixpath.normpath(posixpath.join("/xl", target)).lstrip("/")
    return name if name in names else None


def _relation_id(sheet: Element) -> str | None:
    return next((value for key, value in sheet.attrib.items() if _local(key) == "id"), None)


def _elements(part: IO[bytes], name: str) -> Iterator[Element]:
    """Every element of this name; what has been gone through is let go of."""
    # No entity grows without limit and none is fetched: expat from 2.4.1 on sees to it.
    for _, element in iterparse(part):  # noqa: S314
        if _local(element.tag) == name:
            yield element
        if _local(element.tag) in ("row", "sheet", "Relationship"):
            element.clear()


def _local(tag: str) -> str:
    return tag.rpartition("}")[2]


def _place(reference: str) -> tuple[int, int]:
    """Row and column of "C5", both from 0."""
    form = re.fullmatch(r"([A-Z]{1,3})([0-9]{1,7})", reference)
    if form is None:
        raise ValueError(reference)
    column = 0
    for letter in form[1]:
        column = 26 * column + ord(letter) - ord("A") + 1
    return int(form[2]) - 1, column - 1
