"""Replay: the advice of every morning of some days, settled on what stood later."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Generator, Mapping, Sequence
from contextlib import closing
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from hashlib import sha256
from typing import TYPE_CHECKING

from advisor import __version__
from advisor.book.replayed_days import fingerprints_by_day, keep_day, keeps_days, recall_days
from advisor.book.settings import SETTINGS_FILE
from advisor.decide.replay.day_advice import DayAdvice, as_plain, from_plain
from advisor.decide.replay.replay_sums import ReplaySums, settle_day, sum_days
from advisor.errors import BadInput, WrongUse
from advisor.tasks.own_stall import own_traders
from advisor.tasks.pricing import known_item, read_pricing
from advisor.tasks.replay_gaps import tell_missing_pieces
from advisor.tasks.replayed_day import AHEAD, ReplayQuestion, advise_on
from advisor.tasks.routing import RouteBook, read_routes
from advisor.tasks.standing_prices import read_market_days
from advisor.tasks.stock_ledger import trader_records
from advisor.times import EPOCH, MICROSECOND, now_us, read_date_option, read_time

if TYPE_CHECKING:
    from advisor.book.store import Store
    from advisor.tasks.workspace import Workspace

MOST_DAYS = 400
WORKERS = 2
ALONE_UP_TO = 6
"""So few days are worked out in this process: starting others takes as long."""

FORM = 1
"""Goes up when a day's advice is written down in another form."""

PIECES = 3
WITHIN_DAYS = 7

OnDay = Callable[[int, int], None]
"""Called with the days that are done, and all of them."""


@dataclass(frozen=True)
class Replay:
    """The answer.

    Attributes:
        first, last: The first and the last day.
        money: All sums are in it.
        sums: What came of it.
        left_out: How many mornings had no answer to something, by what was wrong.
        missing: Why pieces are in no row of make or buy, in sentences.
        worked_out: Days that were worked out now; the others were kept from before.
    """

    first: date
    last: date
    money: str
    question: ReplayQuestion
    sums: ReplaySums
    left_out: Mapping[str, int]
    missing: tuple[str, ...]
    worked_out: int


def replay(
    workspace: Workspace,
    *,
    first: str | None,
    last: str | None,
    pieces: Sequence[str] = (),
    count: int = PIECES,
    within: int = WITHIN_DAYS,
    on_day: OnDay | None = None,
) -> Replay:
    """Replay some days on the workspace's own book.

    Days that are worked out are kept in the book one by one, so that this may be stopped
    at any moment and goes on from there.

    Args:
        first, last: Dates as typed; None: four weeks up to the last day with a quote.
        pieces: As typed; none: every piece that a route makes.
        count, within: Pieces that are supplied and sold together, and days one has for it.
    Raises: WrongUse, BadInput: what cannot be meant. CannotAnswer: nothing was quoted.
    """
    if not 1 <= count <= 100:
        raise WrongUse(f"--pieces {count} is out of range", right="1 to 100")
    if not 1 <= within <= 60:
        raise WrongUse(f"--within {within} is out of range", right="1 to 60 days")
    days = _days(workspace, first, last)
    book = read_routes(workspace)
    question = ReplayQuestion(_pieces(workspace, book, pieces), count, within)
    with workspace.open_book() as store:
        own = own_traders(store, workspace.settings.trade.stall)
        advice, worked_out = _advise_all(workspace, store, days, question, on_day)
    pricing = read_pricing(workspace, as_of=days[-1].isoformat())
    ends = [_end_us(workspace, day) for day in days]
    market = read_market_days(pricing, ends, own=own)
    kept = 1.0 - float(pricing.settings.trade.sale_fee)
    settled = [settle_day(each, market[place:], kept=kept) for place, each in enumerate(advice)]
    left_out: dict[str, int] = {}
    for each in advice:
        for fault in dict.fromkeys(each.left_out):
            left_out[fault] = left_out.get(fault, 0) + 1
    sums = sum_days(settled, ahead=AHEAD)
    money = pricing.market.money
    missing = tell_missing_pieces(
        question.pieces,
        advice,
        settled={piece for day in settled for piece in day.crafts},
        pricing=pricing,
    )
    return Replay(
        first=days[0],
        last=days[-1],
        money=money,
        question=question,
        sums=sums,
        left_out=left_out,
        missing=tuple(missing),
        worked_out=worked_out,
    )


def replay_kept(workspace: Workspace, *, last: str | None = None) -> Replay | None:
    """The newest replayed days that are still kept, without working any out.

    Args:
        last: No later day, as typed; None: the last day with a quote.
    Returns: Up to four weeks in a row, asked as `replay` asks unless told otherwise; None
        where fewer than two days are kept.
    """
    with workspace.open_book(read_only=True) as store:
        if not keeps_days(store):
            return None
        days = _days(workspace, None, last)
        question = ReplayQuestion(
            _pieces(workspace, read_routes(workspace), ()), PIECES, WITHIN_DAYS
        )
        marks = _marks(workspace, store, days, question)
        known = recall_days(store, marks)
    kept = [mark in known for mark in marks]
    end = max((place for place, is_kept in enumerate(kept) if is_kept), default=0)
    begin = end
    while begin > 0 and kept[begin - 1]:
        begin -= 1
    if end - begin < 1:
        return None
    return replay(workspace, first=days[begin].isoformat(), last=days[end].isoformat())


def _days(workspace: Workspace, first: str | None, last: str | None) -> list[date]:
    zone = workspace.settings.timezone
    with workspace.open_book(read_only=True) as store:
        newest = store.connection.execute("SELECT max(at_us) FROM quotes").fetchone()[0]
    if newest is None:
        raise BadInput("the book holds no quotes", right="take in prices: makeworth import FILE")
    end = (
        _local_day(read_time(last, zone).at_us, workspace)
        if last
        else _local_day(min(newest, now_us()), workspace)
    )
    begin = (
        _local_day(read_time(first, zone).at_us, workspace) if first else end - timedelta(days=27)
    )
    if begin > end:
        raise WrongUse(f"--from {begin} lies after --to {end}", right="give the earlier one first")
    if end > _local_day(now_us(), workspace):
        raise WrongUse(f"--to {end} has not come yet", right="replay tells of days gone by")
    count = (end - begin).days + 1
    if count > MOST_DAYS:
        raise WrongUse(f"{count} days are too many", right=f"at most {MOST_DAYS} at once")
    return [begin + timedelta(days=each) for each in range(count)]


def _local_day(at_us: int, workspace: Workspace) -> date:
    return (EPOCH + at_us * MICROSECOND).astimezone(workspace.settings.timezone).date()


def _end_us(workspace: Workspace, day: date) -> int:
    return read_date_option(day.isoformat(), workspace.settings.timezone)


def _pieces(workspace: Workspace, book: RouteBook, typed: Sequence[str]) -> tuple[str, ...]:
    from advisor.book.items import known_names

    if not typed:
        return tuple(book.pieces())
    with workspace.open_book(read_only=True) as store:
        names = known_names(store, workspace.settings)
    pieces = tuple(dict.fromkeys(known_item(each, names) for each in typed))
    for piece in pieces:
        if not book.making(piece):
            known = ", ".join(book.pieces())
            raise BadInput("no route makes it", item=piece, right=f"routes make {known}")
    return pieces


def _advise_all(
    workspace: Workspace,
    store: Store,
    days: Sequence[date],
    question: ReplayQuestion,
    on_day: OnDay | None,
) -> tuple[list[DayAdvice], int]:
    """The advice of every morning, and how many were worked out now."""
    marks = _marks(workspace, store, days, question)
    known = recall_days(store, marks)
    missing = [place for place, mark in enumerate(marks) if mark not in known]
    done = len(days) - len(missing)
    if on_day is not None:
        on_day(done, len(days))
    with closing(_work(workspace, [days[place] for place in missing], question)) as answers:
        for place, answer in zip(missing, answers, strict=True):
            known[marks[place]] = answer
            keep_day(store, marks[place], answer)
            done += 1
            if on_day is not None:
                on_day(done, len(days))
    return [from_plain(json.loads(known[mark])) for mark in marks], len(missing)


def _marks(
    workspace: Workspace, store: Store, days: Sequence[date], question: ReplayQuestion
) -> list[bytes]:
    """What each morning's advice is kept under."""
    ends = [_end_us(workspace, day - timedelta(days=1)) for day in days]
    marks = fingerprints_by_day(store, ends, rest=_rests_on(workspace, question))
    return [
        sha256(mark + day.isoformat().encode()).digest()
        for mark, day in zip(marks, days, strict=True)
    ]


def _rests_on(workspace: Workspace, question: ReplayQuestion) -> bytes:
    """The settings, the routes and pools, the question, and the form of the answer."""
    files = [workspace.folder / SETTINGS_FILE]
    files += sorted(workspace.routes.glob("*.toml")) + sorted(workspace.pools.glob("*.toml"))
    said = [__version__, str(FORM), repr(asdict(question))]
    said += [f"{file.name}:{sha256(file.read_bytes()).hexdigest()}" for file in files]
    return "\n".join(said).encode()


def _work(
    workspace: Workspace, days: Sequence[date], question: ReplayQuestion
) -> Generator[str, None, None]:
    """One answer a day, in order, as JSON; several processes where there are many."""
    if len(days) <= ALONE_UP_TO or (os.cpu_count() or 1) == 1:
        for day in days:
            yield advise_morning(workspace, day, question)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    pool = ProcessPoolExecutor(
        min(WORKERS, os.cpu_count() or 1),
        mp_context=get_context("spawn"),
        initializer=_leave_stopping_to_the_first,
    )
    try:
        waiting = [pool.submit(advise_morning, workspace, day, question) for day in days]
        for each in waiting:
            yield each.result()
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _leave_stopping_to_the_first() -> None:
    """Ctrl-C goes to every process; the one that holds the book ends the others."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)


def advise_morning(workspace: Workspace, day: date, question: ReplayQuestion) -> str:
    """The advice on the morning of a day, as JSON."""
    book = read_routes(workspace)
    eve = day - timedelta(days=1)
    pricing = read_pricing(workspace, as_of=eve.isoformat())
    with workspace.open_book(read_only=True) as store:
        own = own_traders(store, workspace.settings.trade.stall)
    answer = advise_on(
        day.isoformat(),
        book,
        pricing,
        question=question,
        own=own,
        records=trader_records(workspace, until_us=pricing.market.as_of_us),
    )
    return json.dumps(as_plain(answer), allow_nan=False)
