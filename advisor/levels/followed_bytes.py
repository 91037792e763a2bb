"""What was learned of a family as bytes, and back: exact, and refused where a byte is wrong.

A digest of the rest, then compressed: one line of JSON that names each array's type
and shape, then the arrays themselves, in the same order.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import numpy as np

from advisor.levels.followed import FollowedMarket, FollowedTracks
from advisor.levels.following import number_families
from advisor.levels.seasons import Calendar
from advisor.levels.series import MarketSettings
from advisor.levels.valuing import ValuedQuotes

_DIGEST_BYTES = 16
_OF_QUOTES = ("rows", "group", "code", "qty", "usual_qty")
_LEVEL = 1
"""Of compression: most of what can be saved, quickly."""


def write_followed(followed: FollowedMarket) -> bytes:
    """What was learned, without the quotes it was learned from."""
    tracks = {f.name: getattr(followed.tracks, f.name) for f in fields(FollowedTracks)}
    arrays = tracks | {name: getattr(followed, name) for name in _OF_QUOTES}
    head = json.dumps([(name, a.dtype.str, a.shape) for name, a in arrays.items()])
    body = b"".join(np.ascontiguousarray(each).tobytes() for each in arrays.values())
    packed = zlib.compress(head.encode() + b"\n" + body, _LEVEL)
    return hashlib.blake2b(packed, digest_size=_DIGEST_BYTES).digest() + packed


def read_followed(
    data: bytes, quotes: ValuedQuotes, *, settings: MarketSettings
) -> FollowedMarket | None:
    """What was learned of these quotes; None where the bytes are not what was written."""
    packed = data[_DIGEST_BYTES:]
    if hashlib.blake2b(packed, digest_size=_DIGEST_BYTES).digest() != data[:_DIGEST_BYTES]:
        return None
    arrays = _read_arrays(zlib.decompress(packed))
    names = [f.name for f in fields(FollowedTracks)]
    return FollowedMarket(
        quotes=quotes,
        calendar=Calendar.of(settings.seasons),
        family=number_families(quotes.items, settings),
        tracks=FollowedTracks(**{name: arrays[name] for name in names}),
        **{name: arrays[name] for name in _OF_QUOTES},
    )


def _read_arrays(plain: bytes) -> Mapping[str, Any]:
    head, _, _ = plain.partition(b"\n")
    place, arrays = len(head) + 1, {}
    for name, kind, shape in json.loads(head):
        count = int(np.prod(shape))
        flat = np.frombuffer(plain, dtype=np.dtype(kind), count=count, offset=place)
        arrays[name] = flat.reshape(shape)
        place += flat.nbytes
    return arrays
