"""The four layouts the sample is written in, with some rows nobody can read.

Each writer returns for every quote the line it stands on, so that the ground
truth can name it. Lines are counted from 1, as a text editor or a spreadsheet
shows them.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from openpyxl import Workbook

from sample_prices.seen_quotes import Seen

Fault = tuple[str, str]
TOWN_TIME = ZoneInfo("Europe/Lisbon")
CANONICAL = ("at", "item", "price", "money", "side", "qty", "trader", "source", "note")
STALL_BOOK = ("When seen", "Goods", "Unit cost", "Coin", "Kind", "How many", "Who")
SAVED_AT = b"2026-10-30T23:00:00Z"
SHEET_TITLE = "Guild of lantern makers: prices called out, autumn fair"

# Rows of the stall book that cannot be read: (line, column at fault, reason).
UNREADABLE = (
    ("2026-09-05 18:20,binding wax,about five,shell,Ask,20,Hob Lathe", "price", "not a number"),
    ("2026-09-11 19:02,lantern frame,,shell,Ask,40,Tansy Rook", "price", "empty"),
    ("2026-09-31 18:44,etching salt,0.95,shell,Ask,60,Old Pemmick", "at", "not a date"),
    ("2026-10-01 21:10,lantern fraem,2.9,shell,Ask,20,Inês Caldwater", "item", "near name"),
    ("2026-10-02 20:15,river dye,5.1,shell,Swap,10,Widow Garrow", "side", "not a side"),
    ("2026-10-07 21:30,frostglass,-9.5,shell,Ask,10,Jory Fen", "price", "negative"),
    ("2026-10-09 17:55,grey salt,0,shell,Bid,60,Nettie Sedge", "price", "zero"),
    ("2026-10-14 19:40,,3.6,shell,Ask,10,Dorit Ashby", "item", "empty"),
    ("2026-10-18 20:25,polish,0.45 crown,shell,Ask,1,Zoë of the Weir", "price", "two moneys"),
    ("2026-10-21 18:05,black wax,1.7,shell,Ask,a few,Ferry Joss", "qty", "not a number"),
    ("2026-10-23 19:15,hinge pin,=0.9/2,shell,Ask,40,Brân Tollow", "price", "formula"),
    ("2026-10-26 18:50,scrap glass,0.85,shell,Deal,12.5,Old Pemmick", "qty", "not whole"),
    ("some evening,amber wax,3.7,shell,Deal,10,Hob Lathe", "at", "not a date"),
)


def write_canonical(path: Path, rows: list[Seen]) -> list[int]:
    """Comma, decimal point, UTC times, UTF-8."""
    table = [
        (
            _utc_text(row.at),
            row.item,
            row.price,
            row.money,
            row.side,
            row.qty,
            row.trader,
            row.source,
            row.note,
        )
        for row in rows
    ]
    _write_text(path, [CANONICAL, *table], delimiter=",", encoding="utf-8")
    return [number + 2 for number in range(len(rows))]


def write_semicolons(path: Path, rows: list[Seen]) -> list[int]:
    """Semicolon, decimal comma, space between thousands, d/m/y, cp1252, CRLF."""
    table = [
        (
            f"{row.at:%d/%m/%Y %H:%M}",
            row.item,
            _comma_price(row.price),
            row.money,
            row.side,
            row.qty,
            row.trader,
            row.source,
            row.note,
        )
        for row in rows
    ]
    _write_text(path, [CANONICAL, *table], delimiter=";", encoding="cp1252", line_end="\r\n")
    return [number + 2 for number in range(len(rows))]


def write_stall_book(path: Path, rows: list[Seen]) -> tuple[list[int], dict[int, Fault]]:
    """Another wording of the header, sides in capitals, some prices with their money inside.

    Returns:
        The line of each quote, and the column and reason of each unreadable row by its line.
    """
    table = [_stall_cells(number, row) for number, row in enumerate(rows)]
    unreadable: dict[int, Fault] = {}
    for number, (line, *fault) in enumerate(UNREADABLE, start=1):
        index = number * len(rows) // (len(UNREADABLE) + 1) + number
        table.insert(index, tuple(line.split(",")))
        unreadable[index + 2] = (fault[0], fault[1])
    _write_text(path, [STALL_BOOK, *table], delimiter=",", encoding="utf-8")
    read = [index + 2 for index in range(len(table)) if index + 2 not in unreadable]
    return read, unreadable


def _stall_cells(number: int, row: Seen) -> tuple[object, ...]:
    """One row; every nineteenth price names its money itself, goods are spelled as they come."""
    price, coin = row.price, row.money
    if number % 19 == 7:
        amount, slash, units = price.partition("/")
        price, coin = f"{amount} {row.money}{' / ' if slash else ''}{units}", ""
    goods = row.item.capitalize() if number % 5 == 0 else row.item
    if row.item == "lantern frame" and number % 3 == 0:
        goods = "lantern frames"
    return (
        f"{row.at:%Y-%m-%d %H:%M}",
        goods,
        price,
        coin,
        row.side.capitalize(),
        row.qty,
        row.trader,
    )


def write_sheet(path: Path, rows: list[Seen]) -> list[int]:
    """A spreadsheet: a title and an empty line above the header, a totals line below."""
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = "prices"
    sheet.append([SHEET_TITLE])
    sheet.append([])
    sheet.append(CANONICAL)
    for row in rows:
        price: object = row.price if "/" in row.price else float(row.price)
        cells = (row.at, row.item, price, row.money, row.side, row.qty)
        sheet.append([*cells, row.trader, row.source, row.note or None])
        sheet.cell(sheet.max_row, 1).number_format = "dd/mm/yyyy hh:mm"
    sheet.append(["Total", None, None, None, None, sum(row.qty for row in rows)])
    sheet.column_dimensions["A"].width = 18
    sheet.column_dimensions["B"].width = 24
    _save_without_clock(book, path)
    return [number + 4 for number in range(len(rows))]


def _save_without_clock(book: Workbook, path: Path) -> None:
    """Save a sheet whose bytes do not depend on when it was saved."""
    buffer = io.BytesIO()
    book.save(buffer)
    with zipfile.ZipFile(buffer) as made, zipfile.ZipFile(path, "w") as fixed:
        for entry in sorted(made.namelist()):
            content = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", SAVED_AT, made.read(entry))
            name = zipfile.ZipInfo(entry, (2026, 10, 30, 23, 0, 0))
            name.compress_type = zipfile.ZIP_DEFLATED
            fixed.writestr(name, content)


def _utc_text(at: datetime) -> str:
    return f"{at.replace(tzinfo=TOWN_TIME).astimezone(ZoneInfo('UTC')):%Y-%m-%dT%H:%M:%SZ}"


def _comma_price(price: str) -> str:
    """12.5 as 12,5 and 1250 as 1 250; seven thirds stay 7/3."""
    if "/" in price:
        return price
    whole, _, cents = price.partition(".")
    return f"{int(whole):,}".replace(",", " ") + ("," + cents if cents else "")


def _write_text(
    path: Path,
    table: Sequence[Sequence[object]],
    *,
    delimiter: str,
    encoding: str,
    line_end: str = "\n",
) -> None:
    with path.open("w", encoding=encoding, newline="") as file:
        csv.writer(file, delimiter=delimiter, lineterminator=line_end).writerows(table)
