"""Whether a condition that the user asked to be told of holds now, and why."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.figures import amount, counted, percent

DEAD_BAND = 0.02
"""A price that was told holds until it is so much (a share) beyond its limit again."""

ROUNDING = 1e-9
"""So far a share worked out in floats may miss the one that was written."""

UNDECIDED = "either"


@dataclass(frozen=True)
class AlertState:
    """One alert and whether it holds.

    Attributes:
        what: What it watches, in words.
        holds: None where it cannot be told.
        words: Why, a sentence without its full stop.
        marks: What holds, each by a word that stays the same from one look to the next.
    """

    what: str
    holds: bool | None
    words: str
    marks: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Offer:
    """An ask that stands and is believed.

    Attributes:
        mark: What tells it from every other.
        price: Money for a unit.
        qty: Units; None where not said.
        trader: None where not said.
    """

    mark: str
    price: float
    qty: int | None
    trader: str | None


def judge_below(
    item: str, level: float | None, limit: float | None, *, money: str, advised: bool, told: bool
) -> AlertState:
    """Whether one costs at most so much.

    Args:
        level: The ask level; None: nobody asks.
        limit: None: no route's supplies advise on it.
        advised: The limit is what stock advice says to pay at most.
        told: It was told and did not end since: then it ends beyond the dead band only.
    """
    what = f"{item} at {_limit_words(limit, money, advised=advised)}"
    unknown = _unknown(what, level, limit)
    if unknown is not None or level is None or limit is None:
        return unknown or AlertState(what, None, "")
    holds = level <= limit * (1.0 + DEAD_BAND * told)
    return _of_limit(what, "below", holds, level, limit, money=money)


def judge_above(
    item: str, level: float | None, limit: float, *, money: str, told: bool
) -> AlertState:
    """Whether one costs at least so much; as `judge_below`."""
    what = f"{item} at {amount(limit)} {money} or more"
    if level is None:
        return AlertState(what, None, "nobody is seen asking for it")
    holds = level >= limit * (1.0 - DEAD_BAND * told)
    return _of_limit(what, "above", holds, level, limit, money=money)


def _limit_words(limit: float | None, money: str, *, advised: bool) -> str:
    if advised:
        return "what stock advice says to pay at most"
    return f"{amount(limit)} {money} or less"


def _unknown(what: str, level: float | None, limit: float | None) -> AlertState | None:
    if level is None:
        return AlertState(what, None, "nobody is seen asking for it")
    if limit is None:
        return AlertState(what, None, "no route's supplies advise on it")
    return None


def _of_limit(
    what: str, mark: str, holds: bool, level: float, limit: float, *, money: str
) -> AlertState:
    words = f"one costs {amount(level)} {money}, the limit is {amount(limit)}"
    return AlertState(what, holds, words, frozenset({mark} if holds else ()))


def judge_moved(
    item: str, before: float | None, now: float | None, *, share: float, days: int, told: bool
) -> AlertState:
    """Whether the ask level is up or down by a share against some days ago.

    Args:
        before, now: Levels; None where nobody asked.
        share: In (0, 1): up by it, or down by it.
    """
    span = counted(days, "day")
    what = f"{item} moved by {percent(share)} in {span}"
    if before is None or now is None:
        return AlertState(what, None, f"there is no price to compare of {span} ago")
    change = now / before - 1.0
    enough = share * (1.0 - 0.5 * told) - ROUNDING
    up, down = change >= enough, change <= -enough
    word = "up" if change > 0 else "down"
    words = f"one costs {amount(now)}, {percent(abs(change))} {word} from {amount(before)}"
    if change == 0:
        words = f"one costs {amount(now)} as it did"
    return AlertState(what, up or down, words, frozenset({word} if up or down else ()))


def judge_stale(item: str, age_days: float | None, *, limit_days: float) -> AlertState:
    """Whether nobody has looked at a price for so many days."""
    what = f"no look at {item} for {amount(limit_days)} days"
    if age_days is None:
        return AlertState(what, None, "it was never quoted")
    holds = age_days >= limit_days
    words = f"the newest quote is {amount(age_days, digits=2)} days old"
    return AlertState(what, holds, words, frozenset({"stale"} if holds else ()))


def judge_bargains(
    item: str, offers: Sequence[Offer], reserve: float | None, *, money: str
) -> AlertState:
    """Which standing asks are worth taking at once: below what one would pay anyway.

    Args:
        offers: Believed asks of late.
        reserve: Up to which price buying more now saves money; None: nothing advises on it.
    """
    what = f"{item} asked for less than it is worth to you"
    if reserve is None:
        return AlertState(what, None, "no route's supplies advise on it")
    good = sorted((each for each in offers if each.price <= reserve), key=lambda each: each.price)
    if not good:
        return AlertState(what, False, f"nobody asks {amount(reserve)} {money} or less")
    told = "; ".join(_offer_words(each, money) for each in good[:3])
    more = f" and {counted(len(good) - 3, 'more offer')}" if len(good) > 3 else ""
    words = f"{told}{more}; worth it up to {amount(reserve)}"
    return AlertState(what, True, words, frozenset(each.mark for each in good))


def _offer_words(offer: Offer, money: str) -> str:
    many = "" if offer.qty is None else f"{offer.qty} "
    whose = "" if offer.trader is None else f" from {offer.trader}"
    return f"{many}at {amount(offer.price)} {money}{whose}"


def judge_short(
    route: str, chances: Mapping[str, float], *, pieces: int, share: float
) -> AlertState:
    """Which supplies may not reach for the pieces planned.

    Args:
        chances: That more is used than is on hand, by item.
        share: From this chance on a supply counts as short.
    """
    what = f"supplies for {counted(pieces, 'piece')} by {route}"
    short = {item: chance for item, chance in chances.items() if chance >= share}
    if not short:
        return AlertState(what, False, f"all reach with a chance over {percent(1.0 - share)}")
    ranked = sorted(short, key=lambda item: -short[item])
    each = [f"{item} runs short with a chance of {percent(short[item])}" for item in ranked]
    words = "; ".join(each)
    return AlertState(what, True, words, frozenset(ranked))


def judge_verdict(
    piece: str, before: str | None, now: str | None, *, saving: float | None, money: str
) -> AlertState:
    """Whether the make-or-buy answer is another one.

    "either" is the band in which the answer stays what it was, so that prices that
    swing about the point of indifference do not turn it to and fro.

    Args:
        before, now: Verdicts; None where there is no answer.
        saving: What making saves against buying, on average.
    """
    what = f"a new answer for {piece}"
    if now is None:
        return AlertState(what, None, "there is no answer")
    stays = now if before is None or (now == before) else None
    if now == UNDECIDED and before is not None:
        stays = before
    if stays is not None:
        known = "as it was" if before is not None else "and no earlier answer is known"
        words = f"it is {now}, {known}"
        if now == UNDECIDED and before not in (None, UNDECIDED):
            words = f"it is {now} and was {before}: no clear turn"
        return AlertState(what, False if before is not None else None, words, frozenset({stays}))
    gap = ""
    if saving is not None and math.isfinite(saving):
        word = "saves" if saving > 0 else "loses"
        said = f"{word} {amount(abs(saving))} {money}" if saving else "costs just as much"
        gap = f": making {said} on average"
    words = f"it turned from {before} to {now}{gap}"
    return AlertState(what, True, words, frozenset({str(now)}))
