"""What a replay could not settle, and why: pieces that are missing, ranges that are too short."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from advisor.decide.replay.day_advice import DayAdvice
from advisor.decide.replay.replay_sums import ReplaySums
from advisor.figures import counted
from advisor.tasks.pricing import Pricing


def tell_missing_pieces(
    pieces: Sequence[str],
    advice: Sequence[DayAdvice],
    *,
    settled: Collection[str],
    pricing: Pricing,
) -> list[str]:
    """Why pieces are in no row of make or buy, in sentences.

    Args:
        pieces: Those asked about.
        advice: Of every morning.
        settled: Pieces that are in a row.
        pricing: Prices as known at the end of the last day.
    """
    advised = {craft.piece for day in advice for craft in day.crafts}
    said = []
    for piece in pieces:
        name = pricing.name(piece)
        if name in settled:
            continue
        levels = pricing.levels(name)
        if name in advised:
            why = "nobody looked at its price on these days, or a supply of it had no price"
        elif levels is None or levels.ask is None:
            why = "nobody is known to ask a price for it, so buying it was no way"
        else:
            why = (
                "on no morning was there both a price to buy it at and a route to it whose cost "
                "was known"
            )
        said.append(f"{name} is not in make or buy: {why}")
    return said


def tell_unsettled(sums: ReplaySums, *, within: int) -> list[str]:
    """Which questions were settled on no morning, with what would help, in sentences.

    Args:
        within: Days that one has for supplies and sales.
    """
    mornings = len(sums.days)
    said = []
    # a sale needs all its days, supplies the day after the last of them as well
    for name, ways, needs in (("supplies", sums.stock, within + 1), ("sales", sums.sell, within)):
        if ways.settled:
            continue
        if needs <= mornings:
            said.append(f"no {name} could be settled: nobody looked at their prices afterwards")
            continue
        fits = mornings // 2
        shorter = f"--within {fits}, or " if fits else ""
        said.append(
            f"no {name} could be settled: with {counted(within, 'day')} to go, a morning needs "
            f"{needs} days of prices, and this replay has {mornings}: ask with {shorter}an earlier "
            "--from"
        )
    return said
