"""Reads `makeworth.toml`, and refuses with file and line what it cannot mean."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import get_args
from zoneinfo import ZoneInfo

from advisor.book.alert_tables import read_alert, read_watch
from advisor.book.settings import (
    USUAL_TRUST,
    DateOrder,
    ItemSettings,
    LedgerOrder,
    Season,
    Settings,
    TradeSettings,
)
from advisor.book.toml_table import TomlTable, read_toml
from advisor.errors import BadInput
from advisor.names import did_you_mean, name_key

LARGEST_FILE_BYTES = 1_000_000


def read_settings(file: Path) -> Settings:
    """Read a settings file.

    Raises: BadInput: not to be read, not TOML, an unknown key (with the nearest
        known one), a value of the wrong kind or out of range, spellings or
        seasons that clash; always with file and line.
    """
    return _settings(read_toml(_text_of(file), file))


def _text_of(file: Path) -> str:
    try:
        raw = file.read_bytes()
    except OSError as error:
        said = (error.strerror or str(error)).lower()
        raise BadInput(f"the settings cannot be read ({said})", file=file) from None
    if len(raw) > LARGEST_FILE_BYTES:
        raise BadInput("the settings are larger than a megabyte", file=file)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise BadInput("not UTF-8 text", right="save it as UTF-8", file=file, line=line) from None


def _settings(table: TomlTable) -> Settings:
    table.only("money", "timezone", "date_order", "trade", "season", "item", "alert", "watch")
    zone = _timezone(table)
    money = table.needed("money", table.name("money"))
    return Settings(
        file=table.file,
        money=money,
        timezone=zone,
        date_order=table.one_of("date_order", get_args(DateOrder)) or "ask",
        trade=_trade(table.table("trade")),
        seasons=_seasons(table.tables("season"), zone),
        items=_items(table.table("item"), money),
        alerts=tuple(read_alert(each) for each in table.tables("alert")),
        watch=read_watch(table.table("watch")),
    )


def _timezone(table: TomlTable) -> ZoneInfo:
    name = table.name("timezone") or "UTC"
    try:
        return known_timezone(name)
    except BadInput as fault:
        raise table.fault("timezone", fault.what, right=fault.right) from None


def _trade(table: TomlTable) -> TradeSettings:
    table.only("sale_fee", "hour_value", "caution", "trust", "ledger", "stall")
    caution = table.number("caution") or Fraction(0)
    if caution > 1:
        raise table.fault("caution", f"{float(caution)} is over 1", right="a number from 0 to 1")
    trust = table.number("trust")
    return TradeSettings(
        sale_fee=table.share("sale_fee") or Fraction(0),
        hour_value=table.number("hour_value") or Fraction(0),
        caution=float(caution),
        trust=USUAL_TRUST if trust is None else float(trust),
        ledger=table.one_of("ledger", get_args(LedgerOrder)) or "average",
        stall=table.name("stall"),
    )


def _seasons(tables: list[TomlTable], zone: ZoneInfo) -> tuple[Season, ...]:
    seasons = sorted(((_season(each, zone), each) for each in tables), key=lambda s: s[0].start_us)
    for (earlier, _), (later, table) in pairwise(seasons):
        if later.start_us < earlier.end_us:
            raise table.fault("start", f"{later.name!r} starts before {earlier.name!r} has ended")
    names: dict[str, str] = {}
    for season, table in seasons:
        if name_key(season.name) in names:
            raise table.fault("name", f"two seasons are named {season.name!r}")
        names[name_key(season.name)] = season.name
    return tuple(season for season, _ in seasons)


def _season(table: TomlTable, zone: ZoneInfo) -> Season:
    table.only("name", "start", "end")
    start = table.needed("start", table.date("start"))
    end = table.needed("end", table.date("end"))
    if end < start:
        raise table.fault("end", f"{end} is before the start, {start}")
    return Season(
        name=table.needed("name", table.name("name")),
        start_us=_midnight_us(start, zone),
        end_us=_midnight_us(end + timedelta(days=1), zone),
    )


def _midnight_us(day: date, zone: ZoneInfo) -> int:
    moment = datetime(day.year, day.month, day.day, tzinfo=zone)
    return round(moment.timestamp()) * 1_000_000


def _items(table: TomlTable, money: str) -> Mapping[str, ItemSettings]:
    items: dict[str, ItemSettings] = {}
    owners = {name_key(money): name_key(money)}
    for written in table.content:
        each = table.table(written)
        item = _item(written, each)
        key = name_key(item.name)
        if any(name_key(other) == key for other in items):
            raise each.fault(None, "this item is described twice")
        for spelling in (item.name, *item.also):
            owner = owners.setdefault(name_key(spelling), key)
            if owner != key:
                where = "also" if spelling in item.also else None
                raise each.fault(where, f"{spelling!r} already stands for {owner!r}")
        items[item.name] = item
    return items


def _item(name: str, table: TomlTable) -> ItemSettings:
    table.only("family", "also", "usual_qty", "lots_of", "sells_per_day", "leftover")
    if not name_key(name):
        raise table.fault(None, "an item without a name")
    sells = table.number("sells_per_day")
    if sells == 0:
        raise table.fault("sells_per_day", "0 a day", right="leave it out if none sell")
    return ItemSettings(
        name=" ".join(name.split()),
        family=table.name("family"),
        also=table.names("also"),
        usual_qty=table.count("usual_qty"),
        lots_of=table.count("lots_of") or 1,
        sells_per_day=None if sells is None else float(sells),
        leftover=float(table.number("leftover") or 0),
    )


def known_timezone(name: str) -> ZoneInfo:
    """The timezone of this name.

    Raises: BadInput: there is none; with the nearest name.
    """
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        from zoneinfo import available_timezones

        right = did_you_mean(name, available_timezones()) or 'such as "Europe/Lisbon" or "UTC"'
        raise BadInput(f"no timezone {name!r}", right=right) from None
