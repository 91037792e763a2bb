"""Makes a new workspace: commented settings, one worked route, folders and a book."""

from __future__ import annotations

import json
import os
import re
import shutil
import tempfile
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from advisor.book.settings import SETTINGS_FILE
from advisor.book.settings_file import known_timezone, read_settings
from advisor.book.store import open_store
from advisor.errors import BadInput
from advisor.names import name_key
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
    _refuse_taken(folder)
    try:
        aside = Path(
            tempfile.mkdtemp(prefix=f".{folder.absolute().name}-", dir=folder.absolute().parent)
        )
    except OSError as error:
        raise _unwritable(folder, error) from None
    try:
        _write_workspace(aside, money=money, timezone=zone)
        _move(aside, folder)
    except OSError as error:
        raise _unwritable(folder, error) from None
    finally:
        shutil.rmtree(aside, ignore_errors=True)
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


def _refuse_taken(folder: Path) -> None:
    if (folder / SETTINGS_FILE).exists():
        right = "use it as it is, or choose another folder"
        raise BadInput("there is a workspace already", right=right, file=folder)
    if folder.is_dir():
        if any(folder.iterdir()):
            right = "choose a new or an empty folder"
            raise BadInput("the folder has other files in it", right=right, file=folder)
    elif folder.exists() or folder.is_symlink():
        raise BadInput("there is a file of that name", right="choose another name", file=folder)
    elif not folder.absolute().parent.is_dir():
        right = f"make {folder.absolute().parent} first"
        raise BadInput("the folder that should hold it is missing", right=right, file=folder)


def _write_workspace(folder: Path, *, money: str, timezone: str) -> None:
    folder.chmod(0o777 & ~_umask())
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


def _move(aside: Path, folder: Path) -> None:
    """Put the finished workspace in its place.

    An empty folder that exists may be someone's current folder: it stays, and
    gets the parts, the settings last, since they make it a workspace.
    """
    if not folder.exists():
        aside.rename(folder)
        return
    parts = sorted(aside.iterdir(), key=lambda part: part.name == SETTINGS_FILE)
    for part in parts:
        part.rename(folder / part.name)


def _unwritable(folder: Path, error: OSError) -> BadInput:
    said = (error.strerror or str(error)).lower()
    return BadInput(
        f"no workspace can be made here ({said})", right="nothing was made", file=folder
    )


def _umask() -> int:
    """The mask for new files; Python can only read it by setting it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
