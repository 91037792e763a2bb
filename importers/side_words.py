"""The plain trade words for offered, wanted and done, wherever a side is read."""

from __future__ import annotations

SIDE_WORDS = {
    "ask": (
        "ask", "asked", "asking", "offer", "offered", "offering", "sell", "selling",
        "for sale", "wts",
    ),
    "bid": ("bid", "bidding", "want", "wanted", "buy", "buying", "wtb"),
    "deal": ("deal", "dealt", "done", "sold", "bought"),
}  # fmt: skip
SIDES = {word: side for side, words in SIDE_WORDS.items() for word in words}
"""Word in small letters -> ask, bid or deal."""
