"""Looks at every alert and writes down what is news, to be sent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from advisor.book.outbox import Message, Told, read_told, write_news
from advisor.book.settings import Alert, Settings
from advisor.decide.alerts.conditions import AlertState
from advisor.decide.alerts.news import Memory, find_news
from advisor.tasks.alerting import AlertDesk, judge_alert, name_alerts
from advisor.tasks.pricing import read_pricing
from advisor.tasks.receivers import receivers_of
from advisor.tasks.routing import read_routes
from advisor.tasks.workspace import Workspace


@dataclass(frozen=True)
class AlertRound:
    """One look at all alerts.

    Attributes:
        messages: What is news.
        states: Of every alert, by name.
    """

    messages: tuple[Message, ...]
    states: Mapping[str, AlertState]


def tell_alerts(workspace: Workspace) -> AlertRound:
    """Judge every alert at the prices of now; news land in the book, to be sent later.

    Raises: MakeworthError: the book or the prices cannot be read, the book not written.
    """
    settings = workspace.settings
    alerts = name_alerts(settings.alerts)
    if not alerts or not workspace.book.exists():
        return AlertRound((), {})
    pricing = read_pricing(workspace)
    desk = AlertDesk(workspace, read_routes(workspace), pricing)
    with workspace.open_book(read_only=True) as store:
        told = read_told(store)
    marks = {name: each.marks for name, each in told.items()}
    states = {name: judge_alert(alert, desk, told=marks) for name, alert in alerts.items()}
    return _write_round(workspace, states, told, now_us=pricing.market.as_of_us)


def _write_round(
    workspace: Workspace,
    states: Mapping[str, AlertState],
    told: Mapping[str, Told],
    *,
    now_us: int,
) -> AlertRound:
    alerts = name_alerts(workspace.settings.alerts)
    changed: dict[str, Told] = {}
    messages = []
    for name, state in states.items():
        before = told.get(name)
        memory = None if before is None else Memory(before.marks, before.told_us)
        after, is_news = find_news(state, memory, now_us, at_once=alerts[name].bargain)
        if after is not None and after != memory:
            changed[name] = Told(after.marks, after.told_us)
        if is_news:
            messages.append(_message(name, state, alerts[name], workspace.settings, now_us))
    if changed or messages:
        with workspace.open_book() as store:
            write_news(store, changed, messages)
    return AlertRound(tuple(messages), states)


def _message(
    name: str, state: AlertState, alert: Alert, settings: Settings, now_us: int
) -> Message:
    return Message(now_us, name, f"{state.what}: {state.words}", receivers_of(alert, settings))
