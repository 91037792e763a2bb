"""Names as users type them: one spelling for comparing, and the nearest known name."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable


def name_key(name: str) -> str:
    """The form under which two spellings of one name are equal.

    Case, runs of white space and the Unicode form do not matter; everything
    else does, so a likeness never counts as the same name.

    >>> name_key("  Lantern\\u00a0 FRAME ")
    'lantern frame'
    """
    folded = unicodedata.normalize("NFKC", name).casefold()
    return " ".join(unicodedata.normalize("NFKC", folded).split())


def nearest_name(name: str, known: Iterable[str]) -> str | None:
    """The known name most like this one, to ask "did you mean"; None if none is near.

    >>> nearest_name("lantern fraem", ["lantern frame", "binding wax"])
    'lantern frame'
    >>> nearest_name("xyz", ["lantern frame"]) is None
    True
    """
    import difflib

    by_key = {name_key(each): each for each in sorted(known)}
    close = difflib.get_close_matches(name_key(name), list(by_key), n=1, cutoff=0.7)
    return by_key[close[0]] if close else None


def did_you_mean(name: str, known: Iterable[str]) -> str | None:
    """`did you mean "..."?`, or None; the `right` part of an error about a name."""
    near = nearest_name(name, known)
    return None if near is None else f'did you mean "{near}"?'
