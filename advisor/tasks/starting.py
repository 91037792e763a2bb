"""Makes a new workspace: commented settings, one worked route, folders and a book."""

from __future__ import annotations

import json
import os
import re
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from advisor.book.settings import SETTINGS_FILE
from advisor.book.settings_file import known_timezone, read_settings
from advisor.book.store import open_store
from advisor.errors import BadInput
from advisor.names import name_key
from advisor.tasks.whole_folder import whole_folder
from advisor.tasks.workspace import BOOK_FILE, FOLDERS

ROUTE_FILE = "storm-lantern.toml"
LONGEST_NAME = 100


@dataclass(frozen=True, slots=True)
class StartedWorkspace:
    """A workspace just made.

    Attributes:
        folder: Where it is.
        timezone: How dates will be read in it.
    """

    folder: Path
    money: str
    timezone: str


def start_workspace(
    folder: Path, *, money: str = "shell", timezone: str | None = None
) -> StartedWorkspace:
    """Make a workspace in a new or empty folder.

    All of it is written in a folder aside and then moved, so that it is there
    whole or not at all.

    Args:
        timezone: None takes this computer's.
    Raises: BadInput: a name or timezone that cannot be meant; the place is taken,
        missing, or cannot be written to.
    """
    money = _sound_money(money)
    zone = known_timezone(timezone if timezone is not None else local_timezone()).key
    if (folder / SETTINGS_FILE).exists():
        right = "use it as it is, or choose another folder"
        raise BadInput("there is a workspace already", right=right, file=folder)
    with whole_folder(folder, last=SETTINGS_FILE) as aside:
        _write_workspace(aside, money=money, timezone=zone)
    return StartedWorkspace(folder, money, zone)


def local_timezone() -> str:
    """The timezone that this computer is set to, "UTC" where it does not tell."""
    told = os.environ.get("TZ", "").lstrip(":")
    linked = str(Path("/etc/localtime").resolve())
    found = re.search(r"/zoneinfo/(?:posix/|right/)?(.+)$", linked)
    for name in (told, found.group(1) if found else ""):
        try:
            if name:
                return known_timezone(name).key
        except BadInput:
            continue
    return "UTC"


def _sound_money(money: str) -> str:
    name = " ".join(money.split())
    if not name_key(name) or not name.isprintable() or len(name) > LONGEST_NAME:
        right = 'a short name on one line, such as "shell"'
        raise BadInput(f"{money[:LONGEST_NAME]!r} is no name for a money", right=right)
    return name


def _write_workspace(folder: Path, *, money: str, timezone: str) -> None:
    for name in FOLDERS:
        (folder / name).mkdir()
    settings = _template("start_settings.toml")
    settings = _with_value(settings, "money", money)
    settings = _with_value(settings, "timezone", timezone)
    (folder / SETTINGS_FILE).write_text(settings, encoding="utf-8")
    (folder / "routes" / ROUTE_FILE).write_text(_template("start_route.toml"), encoding="utf-8")
    read_settings(folder / SETTINGS_FILE)
    with open_store(folder / BOOK_FILE, create=True):
        pass


def _template(name: str) -> str:
    return files("advisor.tasks").joinpath(name).read_text(encoding="utf-8")


def _with_value(settings: str, key: str, value: str) -> str:
    """The settings with `key = "..."` set; JSON's way to write a text is also TOML's."""
    line = f"{key} = {json.dumps(value, ensure_ascii=False)}"
    return re.sub(rf"^{key} = .*$", lambda _: line, settings, count=1, flags=re.MULTILINE)
