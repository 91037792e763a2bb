"""Reads what the settings say of the watch: its own table, and the alerts."""

from __future__ import annotations

import re
from datetime import time
from fractions import Fraction
from typing import Literal

from advisor.book.settings import Alert, WatchSettings
from advisor.book.toml_table import TomlTable, exact_number, shown_value
from advisor.names import name_key

ITEM_CONDITIONS = ("below", "above", "moved", "stale_days", "bargain")
SEND = ("send", "send_env")
SUBJECTS = {
    "item": ("item", *ITEM_CONDITIONS, "within_days", *SEND),
    "piece": ("piece", "verdict", *SEND),
    "route": ("route", "short", "pieces", *SEND),
}
KNOWN = tuple(dict.fromkeys(key for keys in SUBJECTS.values() for key in keys))
LONGEST_DAYS = 120
LONGEST_MINUTES = 1440


def read_alert(table: TomlTable) -> Alert:
    """One [[alert]] table.

    Raises: BadInput: an unknown key, no condition or several, a value that cannot be meant.
    """
    table.only(*KNOWN)
    subjects = [key for key in SUBJECTS if key in table.content]
    if len(subjects) != 1:
        raise table.fault(
            None,
            "an alert is about one item or one piece or one route",
            right="write item = or piece = or route =",
        )
    table.only(*SUBJECTS[subjects[0]])
    send, send_env = table.names("send", secret=True), _variable(table)
    if subjects[0] == "piece":
        _refuse_not_true(table, "verdict")
        return Alert(piece=table.name("piece"), verdict=True, send=send, send_env=send_env)
    if subjects[0] == "route":
        return Alert(
            route=table.name("route"),
            pieces=table.count("pieces") or 1,
            short=table.needed("short", _share_over_zero(table, "short")),
            send=send,
            send_env=send_env,
        )
    return _item_alert(table, send, send_env)


def _item_alert(table: TomlTable, send: tuple[str, ...], send_env: str | None) -> Alert:
    told = [key for key in ITEM_CONDITIONS if key in table.content]
    if len(told) != 1:
        what = "no condition" if not told else f"several conditions, {' and '.join(told)}"
        right = f"write one of {', '.join(ITEM_CONDITIONS)}; another [[alert]] for another one"
        raise table.fault(None, what, right=right)
    if "bargain" in table.content:
        _refuse_not_true(table, "bargain")
    if "within_days" in table.content and "moved" not in table.content:
        raise table.fault("within_days", "goes with moved alone", right="leave it out")
    return Alert(
        item=table.name("item"),
        below=_price(table, "below", or_advice=True),
        above=_above(table),
        moved=_share_over_zero(table, "moved"),
        within_days=_most(table, "within_days", LONGEST_DAYS) or 1,
        stale_days=_over_zero(table, "stale_days"),
        bargain="bargain" in table.content,
        send=send,
        send_env=send_env,
    )


def read_watch(table: TomlTable) -> WatchSettings:
    """The [watch] table; what it leaves out is as usual.

    Raises: BadInput: an unknown key, a value that cannot be meant.
    """
    table.only("every_minutes", "quiet_from", "quiet_until", "most_an_hour", *SEND)
    usual = WatchSettings()
    quiet = [_clock(table, key) for key in ("quiet_from", "quiet_until")]
    if (quiet[0] is None) != (quiet[1] is None):
        lacking = "quiet_from" if quiet[0] is None else "quiet_until"
        raise table.fault(None, f"{lacking} is missing", right=f'write {lacking} = "08:00"')
    return WatchSettings(
        every_minutes=_most(table, "every_minutes", LONGEST_MINUTES) or usual.every_minutes,
        quiet_from=quiet[0],
        quiet_until=quiet[1],
        most_an_hour=table.count("most_an_hour") or usual.most_an_hour,
        send=table.names("send", secret=True),
        send_env=_variable(table),
    )


def _refuse_not_true(table: TomlTable, key: str) -> None:
    if table.content.get(key) is not True:
        raise table.fault(key, "missing or not true", right=f"write {key} = true")


def _price(
    table: TomlTable, key: str, *, or_advice: bool = False
) -> Fraction | Literal["advice"] | None:
    if key not in table.content:
        return None
    value = table.content[key]
    if or_advice and isinstance(value, str) and name_key(value) == "advice":
        return "advice"
    price = exact_number(value)
    if price is None or price <= 0:
        right = 'a price over 0, or "advice"' if or_advice else "a price over 0"
        raise table.fault(key, f"{shown_value(value)} is no price", right=right)
    return price


def _above(table: TomlTable) -> Fraction | None:
    price = _price(table, "above")
    return price if isinstance(price, Fraction) else None


def _share_over_zero(table: TomlTable, key: str) -> Fraction | None:
    share = table.share(key)
    if share == 0:
        raise table.fault(key, "0 would always hold", right='such as "10 %"')
    return share


def _over_zero(table: TomlTable, key: str) -> Fraction | None:
    number = table.number(key)
    if number == 0:
        raise table.fault(key, "0 would always hold", right="such as 3")
    return number


def _most(table: TomlTable, key: str, most: int) -> int | None:
    number = table.count(key)
    if number is not None and number > most:
        raise table.fault(key, f"{number} is too many", right=f"from 1 to {most}")
    return number


def _clock(table: TomlTable, key: str) -> time | None:
    value = table.content.get(key)
    if value is None or (isinstance(value, time) and value.tzinfo is None):
        return value
    found = re.fullmatch(r"([01]?[0-9]|2[0-3]):([0-5][0-9])", str(value).strip())
    if not isinstance(value, str) or found is None:
        right = f'write {key} = "23:00"'
        raise table.fault(key, f"{shown_value(value)} is no time of day", right=right)
    return time(int(found[1]), int(found[2]))


def _variable(table: TomlTable) -> str | None:
    """The name of an environment variable; an address written here by mistake is not shown."""
    name = table.content.get("send_env")
    if name is None:
        return None
    if not isinstance(name, str) or not re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]*", name):
        raise table.fault(
            "send_env",
            "no name of an environment variable",
            right='write send_env = "NAME" and put the address into the variable NAME',
        )
    return name
