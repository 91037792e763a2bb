"""What to send to one receiver now: not in quiet hours, so many an hour, the rest in one post."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time

HOUR_US = 3_600_000_000
MINUTE_US = 60_000_000
FIRST_PAUSE_SECONDS = 60
LONGEST_PAUSE_SECONDS = 3600


@dataclass(frozen=True, slots=True)
class Letter:
    """A message that waits for one receiver.

    Attributes:
        id: Of the delivery.
        next_us: Not to be tried before.
    """

    id: int
    words: str
    next_us: int


@dataclass(frozen=True, slots=True)
class Post:
    """One post: a message, or a summary of several."""

    deliveries: tuple[int, ...]
    title: str
    body: str


def plan_posts(
    letters: Sequence[Letter], posted_us: Sequence[int], now_us: int, *, most_an_hour: int
) -> list[Post]:
    """What one receiver is sent now, oldest first.

    A receiver that failed is left alone until the pause of its oldest letter is over, so
    that new letters do not hammer at it. Within any hour no more than `most_an_hour` posts
    go out, a summary counting as one; what is over waits and goes in one summary.

    Args:
        letters: All that wait for the receiver, oldest first.
        posted_us: When it was sent something of late.
        most_an_hour: At least 1.
    """
    if not letters or max(each.next_us for each in letters) > now_us:
        return []
    # A post that seems to lie ahead was sent before the clock was set back.
    free = most_an_hour - sum(-MINUTE_US < now_us - each < HOUR_US for each in posted_us)
    if free <= 0:
        return []
    if len(letters) <= free:
        return [_single(each) for each in letters]
    alone, rest = letters[: free - 1], letters[free - 1 :]
    return [*(_single(each) for each in alone), _summary(rest)]


def _single(letter: Letter) -> Post:
    return Post((letter.id,), "Makeworth", letter.words)


def _summary(letters: Sequence[Letter]) -> Post:
    lines = [f"- {each.words}" for each in letters]
    return Post(
        tuple(each.id for each in letters), f"Makeworth: {len(letters)} at once", "\n".join(lines)
    )


def is_quiet(clock: time, quiet_from: time | None, quiet_until: time | None) -> bool:
    """Whether a time of day lies in the quiet hours; they may go past midnight.

    >>> is_quiet(time(2), time(23), time(8)), is_quiet(time(8), time(23), time(8))
    (True, False)
    """
    if quiet_from is None or quiet_until is None:
        return False
    if quiet_from <= quiet_until:
        return quiet_from <= clock < quiet_until
    return clock >= quiet_from or clock < quiet_until


def growing_pause(
    failures: int, *, first: float = FIRST_PAUSE_SECONDS, longest: float = LONGEST_PAUSE_SECONDS
) -> float:
    """Seconds to wait after so many failures in a row: twice as long each time.

    >>> [growing_pause(n) for n in (1, 2, 3, 7, 1000)]
    [60.0, 120.0, 240.0, 3600, 3600]
    """
    return min(longest, first * 2.0 ** min(failures - 1, 60))
