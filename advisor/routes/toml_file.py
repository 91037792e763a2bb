"""A TOML file as values and lines, or one sentence on why it cannot be read."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from advisor.errors import BadInput
from advisor.routes.toml_lines import LineIndex, index_lines

LARGEST_FILE_BYTES = 32 * 1024 * 1024

_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")


@dataclass(frozen=True)
class TomlFile:
    """What a TOML file says, and on which lines.

    Attributes:
        path: The file.
        values: Its tables as plain values; decimals are exact (`Decimal`).
        lines: Where each key stands.
    """

    path: Path
    values: dict[str, Any]
    lines: LineIndex


def read_toml(path: Path) -> TomlFile:
    """Read one TOML file with the lines of its keys.

    A byte order mark at the start is passed over.

    Raises:
        BadInput: no such file, a folder, too large, not text in UTF-8, not TOML.
    """
    text = _read_text(path)
    try:
        values = tomllib.loads(text, parse_float=Decimal)
        lines = index_lines(text, path)
    except tomllib.TOMLDecodeError as fault:
        raise _not_toml(str(fault), path, text) from None
    except RecursionError:
        raise BadInput("lists or tables are nested too deep", file=path) from None
    except (ValueError, ArithmeticError) as fault:
        raise BadInput(
            f"a number cannot be read: {fault}", file=path, right="write it with fewer digits"
        ) from None
    return TomlFile(path=path, values=values, lines=lines)


def _read_text(path: Path) -> str:
    if path.is_dir():
        raise BadInput("is a folder", file=path, right="name a .toml file in it")
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE_BYTES:
            raise BadInput(
                f"has {size / 1024 / 1024:.0f} MB",
                file=path,
                right=f"at most {LARGEST_FILE_BYTES // 1024 // 1024} MB are read; "
                "write like stages once with `vary`",
            )
        raw = path.read_bytes()
    except FileNotFoundError:
        raise BadInput("there is no such file", file=path) from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        raise BadInput(f"cannot be read: {reason.lower()}", file=path) from None
    return _decode(raw, path)


def _decode(raw: bytes, path: Path) -> str:
    if b"\0" in raw and not raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise BadInput("is not a text file", file=path, right="it must be TOML text in UTF-8")
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        line = raw.count(b"\n", 0, fault.start) + 1
        raise BadInput(
            "is not written in UTF-8", file=path, line=line, right="save it as UTF-8"
        ) from None


def _not_toml(message: str, path: Path, text: str) -> BadInput:
    place = _PLACE.search(message)
    what = _PLACE.sub("", message)
    line = int(place.group(1)) if place and place.group(1) else text.count("\n") + 1
    what = what[:1].lower() + what[1:]
    return BadInput(f"is not TOML: {what}", file=path, line=line)
