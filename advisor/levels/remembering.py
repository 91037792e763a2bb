"""Following only what has changed: a family whose quotes are as before is remembered.

What is learned of a family hangs on its own quotes and their values, on what the
settings say of it, and on this code; never on the moment of the answer. So it is
kept under a fingerprint of exactly that, and the levels at any later moment are
made from it as if it had just been learned: bit for bit the same.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Protocol

import numpy as np

from advisor.levels.followed import FollowedMarket
from advisor.levels.followed_bytes import read_followed, write_followed
from advisor.levels.following import follow_market, number_families
from advisor.levels.rates import Rates
from advisor.levels.series import Floats, MarketSettings
from advisor.levels.valuing import ValuedQuotes, find_money_gaps


class LevelMemory(Protocol):
    """Where families are kept, by fingerprint; it may forget any of them at any time."""

    def recall(self, fingerprints: Sequence[bytes]) -> Mapping[bytes, bytes]:
        """What was kept under these; those that are not known are left out."""

    def keep(self, learned: Mapping[bytes, tuple[str, bytes]]) -> None:
        """Keep the (name of a family, what was learned of it), by fingerprint."""


def follow_families(
    quotes: ValuedQuotes,
    *,
    settings: MarketSettings,
    rates: Rates,
    memory: LevelMemory | None,
) -> list[FollowedMarket]:
    """What is known of every item, in parts of whole families; recalled where it can be."""
    gaps = find_money_gaps(quotes, rates)
    if memory is None:
        return [follow_market(quotes, gaps, settings=settings)]
    family = number_families(quotes.items, settings)
    members = [np.flatnonzero(family == each) for each in np.unique(family)]
    own = [quotes.of_items(each) for each in members]
    prints = [
        fingerprint_family(part, gaps[:, quotes.rows_of(each)], settings)
        for part, each in zip(own, members, strict=True)
    ]
    recalled = memory.recall(prints)
    parts, fresh = [], []
    for number, (part, print_) in enumerate(zip(own, prints, strict=True)):
        known = recalled.get(print_)
        followed = None if known is None else read_followed(known, part, settings=settings)
        if followed is None:
            fresh.append(number)
        else:
            parts.append(followed)
    if fresh:
        chosen = np.sort(np.concatenate([members[number] for number in fresh]))
        mine = gaps[:, quotes.rows_of(chosen)]
        learned = follow_market(quotes.of_items(chosen), mine, settings=settings)
        parts.append(learned)
        places = {number: np.searchsorted(chosen, members[number]) for number in fresh}
        memory.keep(
            {
                prints[number]: (
                    _name_of_family(own[number].items[0], settings),
                    write_followed(learned.of_items(places[number])),
                )
                for number in fresh
            }
        )
    return parts


def _name_of_family(item: str, settings: MarketSettings) -> str:
    return settings.of(item).family or f"{item}, alone"


def fingerprint_family(quotes: ValuedQuotes, money_gaps: Floats, settings: MarketSettings) -> bytes:
    """A digest of everything that following these items hangs on.

    Their ids in the book count only where the user has ruled on them or they are his own.
    """
    digest = hashlib.blake2b(_code_digest(), digest_size=20)
    ruled = [np.isin(quotes.ids, list(ids)) for ids in (settings.kept, settings.left_out)]
    items = [(name, settings.of(name)) for name in quotes.items]
    seasons = sorted((each.start_us, each.end_us) for each in settings.seasons)
    digest.update(repr((items, seasons, money_gaps.shape)).encode())
    columns = (
        quotes.track,
        quotes.at_us,
        quotes.trader,
        quotes.price,
        quotes.log_value,
        quotes.rate_var,
        quotes.qty,
        quotes.valued,
        quotes.priced,
        money_gaps,
        *ruled,
    )
    for column in columns:
        digest.update(np.ascontiguousarray(column).tobytes())
    return digest.digest()


@cache
def _code_digest() -> bytes:
    """A digest of this code and what it counts with: another version learns anew."""
    digest = hashlib.blake2b(np.__version__.encode(), digest_size=20)
    for file in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(file.read_bytes())
    return digest.digest()
