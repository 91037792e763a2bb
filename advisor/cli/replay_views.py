"""How a replay looks on a terminal: one small table for each question, with a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from advisor.cli.screen import show, show_sentences, show_table, show_wrapped, sparkline
from advisor.figures import amount, counted, percent

if TYPE_CHECKING:
    from advisor.decide.replay.forecast_scores import ForecastScore
    from advisor.decide.replay.replay_sums import SettledDay, Ways
    from advisor.tasks.replaying import Replay

CURVE_POINTS = 40


def show_replay(answer: Replay) -> None:
    """The whole answer."""
    from advisor.tasks.replay_rows import HOW, cautions_of

    show(f"Replay, {answer.first} to {answer.last}, in {answer.money}")
    show()
    _show_forecasts(answer.sums.forecast)
    _show_craft(answer)
    _show_stock(answer)
    _show_sales(answer)
    _show_curve(answer.sums.days, answer.money)
    show("how it is settled:")
    show_sentences(HOW)
    show()
    show_sentences(cautions_of(answer), mark="! ")


def _show_forecasts(scores: Sequence[ForecastScore]) -> None:
    settled = [each for each in scores if each.n]
    if not settled:
        return
    n = sum(each.n for each in settled)
    inside = sum(each.n * (each.inside_80 or 0.0) for each in settled) / n
    show_wrapped(
        f"Forecasts: {percent(inside)} of the prices that came lay inside the interval said to "
        "hold 80 %."
    )
    rows = [
        [
            str(each.days),
            str(each.n),
            *(percent(share) for share in (each.inside_80, each.inside_95)),
            *(percent(share) for share in (each.error, each.error_last_quote)),
        ]
        for each in settled
    ]
    headings = ["days ahead", "prices", "in 80 %", "in 95 %", "off by", "last quote off by"]
    show_table(headings, rows, right="rrrrrr")
    show()


def _show_craft(answer: Replay) -> None:
    from advisor.tasks.replay_rows import rows_of_craft

    rows = list(rows_of_craft(answer.sums.days))
    if not rows:
        return
    ways, right = answer.sums.craft, answer.sums.craft_right
    against = _against(ways.plain - ways.followed, answer.money)
    show_wrapped(
        f"Make or buy, one piece a day: the advice was as good as hindsight "
        f"{counted(right, 'time')} of {ways.settled}, and {against}."
    )
    cells = [[piece, *_cells(own), f"{ok} of {own.settled}"] for piece, own, ok in rows]
    headings = ["piece", "times", "as advised", "habit", "hindsight", "right"]
    show_table(headings, cells, right="lrrrrr")
    show()


def _show_stock(answer: Replay) -> None:
    from advisor.tasks.replay_rows import rows_of_stock

    rows = list(rows_of_stock(answer.sums.days))
    if not rows:
        return
    won = answer.sums.stock.plain - answer.sums.stock.followed
    show_wrapped(f"Supplies {_asked(answer)}: the advice {_against(won, answer.money)}.")
    cells = [[route, *_cells(own)] for route, own in rows]
    show_table(["route", "times", "as advised", "habit", "hindsight"], cells, right="lrrrr")
    show()


def _show_sales(answer: Replay) -> None:
    from advisor.tasks.replay_rows import rows_of_sales

    rows = list(rows_of_sales(answer.sums.days))
    if not rows:
        return
    won = answer.sums.sell.followed - answer.sums.sell.plain
    show_wrapped(f"Sales {_asked(answer)}: the advice {_against(won, answer.money)}.")
    cells = [[piece, *_cells(own), str(left[0]), str(left[1])] for piece, own, left in rows]
    headings = ["piece", "times", "as advised", "habit", "hindsight", "left", "by habit"]
    show_table(headings, cells, right="lrrrrrr")
    show("left: still there on the last day, gone to the highest bid or for nothing.")
    show()


def _asked(answer: Replay) -> str:
    asked = answer.question
    pieces, days = counted(asked.count, "piece"), counted(asked.within, "day")
    return f"for {pieces} each morning, within {days}"


def _cells(ways: Ways) -> list[str]:
    return [
        str(ways.settled),
        *(amount(each) for each in (ways.followed, ways.plain, ways.hindsight)),
    ]


def _against(won: float, money: str) -> str:
    if abs(won) < 1e-6:
        return "came to the same as the plain habit"
    word = "won" if won > 0 else "lost"
    return f"{word} {amount(abs(won))} {money} against the plain habit"


def _show_curve(days: Sequence[SettledDay], money: str) -> None:
    """What the advice won against the habit, added up day by day."""
    from advisor.tasks.replay_rows import won_by_day

    total, sums = 0.0, []
    for day in days:
        total += won_by_day(day)
        sums.append(total)
    if len(sums) < 3 or not any(sums):
        return
    last = len(sums) - 1
    places = sorted({round(last * each / (CURVE_POINTS - 1)) for each in range(CURVE_POINTS)})
    show("won against the habit, all three together, added up day by day:")
    curve = sparkline([sums[place] for place in places])
    show(f"{curve}  {amount(total)} {money}, least {amount(min(sums))}")
    show()
