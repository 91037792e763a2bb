"""Takes off a line what chat puts around a price: a time, who said it, which side it is."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from advisor.names import name_key
from importers.side_words import SIDE_WORDS, SIDES

LONGEST_NAME_WORDS = 8

_CLOCK = re.compile(r"\[\s*[0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?\s*(?:am|pm)?\s*\]\s*", re.IGNORECASE)
_SPEAKER = re.compile(r"(?P<name>[^\W\d][^:;,@/\[\]0-9]{0,39}?)\s*:\s+(?=\S)")
_SIDE = re.compile(
    r"(?P<word>" + "|".join(w for words in SIDE_WORDS.values() for w in words) + r")\b[:\s]\s*",
    re.IGNORECASE,
)
_LETTERS_FIRST = re.compile(r"[^\W\d_]{2}")
_COUNT_IN_FRONT = re.compile(r"[0-9]+\s*[x×]?\s+")


@dataclass(frozen=True, slots=True)
class SaidLine:
    """What a line says of a price, without what stands around it; None where it does not say."""

    text: str
    side: str | None = None
    trader: str | None = None


def has_clock(line: str) -> bool:
    """Whether a line begins with a time in brackets."""
    return _CLOCK.match(line.strip()) is not None


def take_apart(text: str, known: Mapping[str, str]) -> SaidLine:
    """The side and the speaker that a line begins with, and the rest.

    >>> take_apart("[20:14] Wen: WTB marsh oil 3.0", {})
    SaidLine(text='marsh oil 3.0', side='bid', trader='Wen')

    A time in brackets names no day, so it is left out. "lantern frame: 2.4" has
    an item in front of the colon, no speaker.

    Args:
        known: Name key -> item; an item that begins like a side word stays whole.
    """
    clock = _CLOCK.match(text)
    text = text if clock is None else text[clock.end() :]
    trader, text = _taken_speaker(text, known, is_chat=clock is not None)
    side, text = _taken_side(text, known)
    return SaidLine(text, side, trader)


def _taken_speaker(text: str, known: Mapping[str, str], *, is_chat: bool) -> tuple[str | None, str]:
    found = _SPEAKER.match(text)
    if found is None or name_key(found["name"]) in {*known, *SIDES}:
        return None, text
    rest = text[found.end() :]
    item_first = _COUNT_IN_FRONT.sub("", rest, count=1)
    if is_chat or _LETTERS_FIRST.match(rest) or _begins_known(item_first, known):
        return " ".join(found["name"].split()), rest
    return None, text


def _taken_side(text: str, known: Mapping[str, str]) -> tuple[str | None, str]:
    found = _SIDE.match(text)
    if found is None or _begins_known(text, known):
        return None, text
    return SIDES[found["word"].lower()], text[found.end() :]


def _begins_known(text: str, known: Mapping[str, str]) -> bool:
    words = name_key(text).split(" ")[:LONGEST_NAME_WORDS]
    return any(" ".join(words[:count]) in known for count in range(1, len(words) + 1))
