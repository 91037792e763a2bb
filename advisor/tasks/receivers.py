"""To whom alerts go. Addresses are secrets: only marks that tell nothing of them leave here."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from hashlib import blake2b

from advisor.book.settings import Alert, Settings, WatchSettings

MARK_BYTES = 4
"""So short that it tells the receivers of a workspace apart, and no guess can be checked by it."""


def receivers_of(alert: Alert, settings: Settings) -> tuple[str, ...]:
    """Marks of those that an alert goes to: its own addresses, else the watch's."""
    own = alert if alert.send or alert.send_env else settings.watch
    marks = [_mark(address) for address in own.send]
    if own.send_env is not None:
        marks.append(_variable_mark(own.send_env))
    return tuple(dict.fromkeys(marks))


def addresses_by_mark(settings: Settings) -> Mapping[str, tuple[str, ...]]:
    """The addresses behind every mark of the settings; of a variable, those it holds now."""
    found: dict[str, tuple[str, ...]] = {}
    owners: list[Alert | WatchSettings] = [*settings.alerts, settings.watch]
    for each in owners:
        found |= {_mark(address): (address,) for address in each.send}
        if each.send_env is not None:
            held = os.environ.get(each.send_env, "")
            found[_variable_mark(each.send_env)] = tuple(held.split())
    return found


def receiver_words(mark: str, addresses: tuple[str, ...]) -> str:
    """How a receiver is spoken of: by its variable, or the kind of its address alone."""
    if mark.startswith("$"):
        return mark
    kinds = [re.match(r"([a-z]{2,20})://", address) for address in addresses]
    known = next((kind[1] for kind in kinds if kind), None)
    return "an address" if known is None else f"a {known} address"


def _mark(address: str) -> str:
    return "#" + blake2b(address.encode(), digest_size=MARK_BYTES).hexdigest()


def _variable_mark(name: str) -> str:
    return "$" + name
