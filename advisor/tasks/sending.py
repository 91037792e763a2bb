"""Sends what waits in the book; what does not get through waits on and is tried again."""

from __future__ import annotations

import logging
import warnings
from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from advisor.book.outbox import (
    Waiting,
    list_waiting,
    mark_failed,
    mark_sent,
    posts_since,
    send_elsewhere,
)
from advisor.book.settings import Settings
from advisor.decide.alerts.posting import (
    HOUR_US,
    Letter,
    Post,
    growing_pause,
    is_quiet,
    plan_posts,
)
from advisor.tasks.alerting import name_alerts
from advisor.tasks.receivers import addresses_by_mark, receiver_words, receivers_of
from advisor.tasks.workspace import Workspace
from advisor.times import now_us, us_to_rfc3339

MICROSECONDS = 1_000_000
SILENCED = ("apprise", "urllib3", "requests")

Sender = Callable[[Sequence[str], str, str], str | None]
"""Sends title and body to addresses; what went wrong, in words without any secret, or None."""


@dataclass(frozen=True)
class Sent:
    """One attempt to send.

    Attributes:
        receiver: In words that give nothing away.
        messages: How many were in the post.
        fault: None: it got through.
        next_us: When it is tried again, where it did not.
    """

    receiver: str
    messages: int
    fault: str | None = None
    next_us: int | None = None


def send_waiting(workspace: Workspace, *, sender: Sender | None = None) -> list[Sent]:
    """Try what is due now, receiver by receiver, unless these are quiet hours.

    Each post is marked right after it went out. A kill between the two sends it once
    more; it is never lost.
    """
    settings = workspace.settings
    now = now_us()
    if not workspace.book.exists() or _is_quiet_now(settings, now):
        return []
    addresses = addresses_by_mark(settings)
    waiting, posted = _read_waiting(workspace, addresses, now)
    sent: list[Sent] = []
    for mark in dict.fromkeys(each.receiver for each in waiting):
        own = [each for each in waiting if each.receiver == mark]
        letters = _letters(own, now)
        most = settings.watch.most_an_hour
        for post in plan_posts(letters, posted.get(mark, []), now, most_an_hour=most):
            # Posts are told apart by their time: no two of one round have the same.
            tried = _send_one(
                workspace,
                post,
                own,
                mark=mark,
                addresses=addresses,
                sender=sender or send_post,
                place=len(sent),
            )
            sent.append(tried)
            if tried.fault is not None:
                break
    return sent


def _read_waiting(
    workspace: Workspace, known: Container[str], now: int
) -> tuple[list[Waiting], dict[str, list[int]]]:
    """What waits, and when each receiver was sent something within the hour.

    What waits for an address that is no longer in the settings goes to those that the
    alert has now: one corrects a wrong address, and gets what was meant for it.
    """
    with workspace.open_book(read_only=True) as store:
        waiting = list_waiting(store)
        posted = posts_since(store, now - HOUR_US) if waiting else {}
    stray = [each for each in waiting if each.receiver not in known]
    if not stray:
        return waiting, posted
    alerts = name_alerts(workspace.settings.alerts)
    with workspace.open_book() as store:
        for each in stray:
            alert = alerts.get(each.alert)
            receivers = receivers_of(alert, workspace.settings) if alert is not None else ()
            send_elsewhere(store, each.id, receivers, next_us=now)
        return list_waiting(store), posted


def _letters(own: Sequence[Waiting], now: int) -> list[Letter]:
    """What waits for one receiver; a pause ends early where the clock was set back."""
    longest = int(growing_pause(1000)) * MICROSECONDS
    return [
        Letter(each.id, each.words, each.next_us if each.next_us <= now + longest else now)
        for each in own
    ]


def _is_quiet_now(settings: Settings, now: int) -> bool:
    clock = datetime.fromtimestamp(now // MICROSECONDS, settings.timezone).time()
    return is_quiet(clock, settings.watch.quiet_from, settings.watch.quiet_until)


def _send_one(
    workspace: Workspace,
    post: Post,
    own: Sequence[Waiting],
    *,
    mark: str,
    addresses: Mapping[str, tuple[str, ...]],
    sender: Sender,
    place: int,
) -> Sent:
    known = addresses.get(mark, ())
    words = receiver_words(mark, known)
    unset = f"the environment variable {mark[1:]} holds no address"
    fault = sender(known, post.title, post.body) if known else unset
    now = now_us()
    with workspace.open_book() as store:
        if fault is None:
            mark_sent(store, post.deliveries, sent_us=now + place)
            return Sent(words, len(post.deliveries))
        tries = max(each.tries for each in own if each.id in post.deliveries) + 1
        next_us = now + int(growing_pause(tries)) * MICROSECONDS
        mark_failed(store, post.deliveries, fault=fault, next_us=next_us)
    return Sent(words, len(post.deliveries), fault, next_us)


def send_post(addresses: Sequence[str], title: str, body: str) -> str | None:
    """Send with apprise; what it says of failures may hold the address, so none of it is kept."""
    service = _quiet_service()
    try:
        with warnings.catch_warnings():
            # It loads the services when the first address is added, old modules among them.
            warnings.simplefilter("ignore", DeprecationWarning)
            if not all(service.add(address) for address in addresses):
                return "not an address that can be sent to"
        done = service.notify(title=title, body=body)
    except Exception as error:  # whatever a service's own code may raise
        return f"sending failed ({type(error).__name__})"
    return None if done else "the receiver did not take it"


def _quiet_service() -> Any:
    """Apprise, silenced: what it logs may hold the address."""
    import apprise

    for name in SILENCED:
        logging.getLogger(name).disabled = True
    return apprise.Apprise()


@dataclass(frozen=True)
class OutboxState:
    """What waits.

    Attributes:
        waiting: Messages times receivers.
        failing: Receivers in words, tries, why, and when they are tried again.
    """

    waiting: int
    failing: tuple[tuple[str, int, str, str], ...]


def outbox_state(workspace: Workspace) -> OutboxState:
    """What waits to be sent, and what keeps it."""
    if not workspace.book.exists():
        return OutboxState(0, ())
    with workspace.open_book(read_only=True) as store:
        waiting = list_waiting(store)
    addresses = addresses_by_mark(workspace.settings)
    failing = {}
    for each in waiting:
        if each.fault is not None:
            words = receiver_words(each.receiver, addresses.get(each.receiver, ()))
            next_at = us_to_rfc3339(each.next_us)
            failing[each.receiver] = (words, each.tries, each.fault, next_at)
    return OutboxState(len(waiting), tuple(failing.values()))
