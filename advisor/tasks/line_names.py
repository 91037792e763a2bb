"""Tells an item's name from the money, the count and the marks that a typed line has beside it."""

from __future__ import annotations

import re
from collections.abc import Mapping

from advisor.names import name_key

_ODD_IN_NAME = re.compile(r"[\[\](){}:;|/\\,]|\b(?:for|at|each|per)$|^[0-9]+[.)]?\s", re.IGNORECASE)
_COUNT_LAST = re.compile(r"(?P<item>.*\S)\s+(?P<count>[0-9.,]*[0-9])")


def is_odd_name(item: str, known: Mapping[str, str], *, may_begin_with_money: bool = False) -> bool:
    """Whether a name that is not known holds what hardly belongs to a name: marks, a count.

    Args:
        may_begin_with_money: A price stands right in front of it: a known name that
            it begins with could be the money of that.
    """
    if name_key(item) in known:
        return False
    words = name_key(item).split(" ")
    begins_known = any(" ".join(words[:end]) in known for end in range(1, len(words)))
    return _ODD_IN_NAME.search(item) is not None or (may_begin_with_money and begins_known)


def split_money_in_front(item: str, known: Mapping[str, str]) -> tuple[str, str | None]:
    """The item of "shell lantern frame", and the money, where both are known names.

    >>> split_money_in_front("shell lantern frame", {"shell": "shell", "lantern frame": ""})
    ('lantern frame', 'shell')
    """
    words = item.split(" ")
    if name_key(item) not in known:
        for end in range(1, len(words)):
            first, rest = " ".join(words[:end]), " ".join(words[end:])
            if name_key(first) in known and name_key(rest) in known:
                return rest, first
    return item, None


def split_number_behind(item: str, known: Mapping[str, str]) -> tuple[str, str | None]:
    """The item of "lantern frame 60", and the number, as text; a known name stays whole.

    >>> split_number_behind("lantern frame 60", {}), split_number_behind("mark 2", {"mark 2": ""})
    (('lantern frame', '60'), ('mark 2', None))
    """
    found = _COUNT_LAST.fullmatch(item)
    if found is None or name_key(item) in known:
        return item, None
    return found["item"], found["count"]
