"""File names for pages: safe on every system, unique, and the same from day to day."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from hashlib import blake2b
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reports.pages_data import Report

LONGEST = 60
BY_ROUTE = ("stock", "service", "luck", "guide")
"""Kinds of pages that are of a route: its name is a file's and may have hyphens."""

PageNames = Mapping[str, Mapping[str, str]]
"""File names by the kind of page, then by what it is of."""


def name_pages(report: Report) -> PageNames:
    """The file name of every page that a report has, but the one to open first."""
    made = report.decisions
    of = {
        "piece": [page.craft["piece"] for page in report.pieces],
        "item": [page.prices["item"] for page in report.items],
        "stock": list(made.stocks),
        "service": list(made.services),
        "sell": list(made.sells),
        "luck": list(made.lucks),
    }
    names = {kind: {name: page_name(kind, name) for name in own} for kind, own in of.items()}
    names["ledger"] = {} if made.ledger is None else {"ledger": "ledger.html"}
    names["replay"] = {} if made.replay is None else {"replay": "replay.html"}
    return names


def page_name(kind: str, name: str) -> str:
    """The file name of a page.

    A name that plain letters, digits and single spaces spell (of a route: hyphens) keeps
    its look; any other gets a mark of its own, so that no two names share a page.

    Args:
        kind: "piece", "item", "stock", "service", "sell", "luck" or "guide".
        name: The piece's, item's or route's name, any text.

    >>> page_name("item", "lantern frame")
    'item-lantern-frame.html'
    >>> page_name("item", "../etc").startswith("item-etc-")
    True
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:LONGEST].strip("-")
    spelled = slug if kind in BY_ROUTE else slug.replace("-", " ")
    if not slug or spelled != name:
        mark = blake2b(name.encode("utf-8", "surrogatepass"), digest_size=4).hexdigest()
        slug = f"{slug}-{mark}" if slug else mark
    return f"{kind}-{slug}.html"
