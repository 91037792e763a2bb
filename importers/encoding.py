"""Which encoding a text file is in: by its byte-order mark, else checked through and through."""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from advisor.errors import BadInput

BLOCK_BYTES = 4 * 1024 * 1024
NOT_TEXT = "\ufffd"


@dataclass(frozen=True, slots=True)
class Encoding:
    """How bytes stand for text.

    Attributes:
        name: As shown.
        codec: As Python calls it; takes a byte-order mark off.
        is_sound: Every byte of the file is text in it.
    """

    name: str
    codec: str
    is_sound: bool = True


def find_encoding(path: Path) -> Encoding:
    """UTF-16 by its mark, UTF-8 where the bytes are that, else cp1252.

    A file with both sound and broken UTF-8 is UTF-8 with broken lines, not
    cp1252: else one bad byte would turn every other accent into two letters.

    Raises: BadInput: the file is no text.
    """
    with path.open("rb") as stream:
        start = stream.read(4)
    if start.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        raise BadInput("the file is UTF-32", right="save it as UTF-8", file=path)
    if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return Encoding("UTF-16", "utf-16", is_sound=False)
    _refuse_zero_bytes(path)
    if _is_utf8(path):
        return Encoding("UTF-8", "utf-8-sig")
    if _has_sound_utf8(path):
        return Encoding("UTF-8 with broken bytes", "utf-8-sig", is_sound=False)
    return Encoding("cp1252", "cp1252", is_sound=False)


def text_blocks(path: Path, encoding: Encoding, *, block_bytes: int = BLOCK_BYTES) -> Iterator[str]:
    """The file's text in blocks of about this size, without a byte-order mark.

    Line ends stay as they are; a block may end anywhere but between CR and LF.
    Bytes that are no text come as U+FFFD.
    """
    decoder = codecs.getincrementaldecoder(encoding.codec)(errors="replace")
    held = ""
    for block in _byte_blocks(path, block_bytes):
        text = held + decoder.decode(block)
        held = "\r" if text.endswith("\r") else ""
        yield text[: len(text) - len(held)]
    rest = held + decoder.decode(b"", True)
    if rest:
        yield rest


def _byte_blocks(path: Path, block_bytes: int = BLOCK_BYTES) -> Iterator[bytes]:
    with path.open("rb") as stream:
        while block := stream.read(block_bytes):
            yield block


def _refuse_zero_bytes(path: Path) -> None:
    if any(b"\0" in block for block in _byte_blocks(path)):
        raise BadInput(
            "the file is no text: it holds zero bytes",
            right="prices come in as CSV, JSON, a spreadsheet or Parquet",
            file=path,
        )


def _is_utf8(path: Path) -> bool:
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        for block in _byte_blocks(path):
            decoder.decode(block)
        decoder.decode(b"", True)
    except UnicodeDecodeError:
        return False
    return True


def _has_sound_utf8(path: Path) -> bool:
    decoder = codecs.getincrementaldecoder("utf-8")(errors="replace")
    return any(
        not text.isascii() and any(letter > "\x7f" and letter != NOT_TEXT for letter in text)
        for text in map(decoder.decode, _byte_blocks(path))
    )
