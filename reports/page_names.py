"""File names for pages: safe on every system, unique, and the same from day to day."""

from __future__ import annotations

import re
import unicodedata
from hashlib import blake2b

LONGEST = 60


def page_name(kind: str, name: str) -> str:
    """The file name of a page.

    A name that plain letters, digits and single spaces spell keeps its look; any
    other gets a mark of its own, so that no two names share a page.

    Args:
        kind: "piece" or "item".
        name: The piece's or item's name, any text.

    >>> page_name("item", "lantern frame")
    'item-lantern-frame.html'
    >>> page_name("item", "../etc").startswith("item-etc-")
    True
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:LONGEST].strip("-")
    if not slug or slug.replace("-", " ") != name:
        mark = blake2b(name.encode("utf-8", "surrogatepass"), digest_size=4).hexdigest()
        slug = f"{slug}-{mark}" if slug else mark
    return f"{kind}-{slug}.html"
