"""From quotes to observations: what was seen, what is marked, and how much each look counts."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from advisor.levels.context import context_beside
from advisor.levels.ladders import group_quotes, read_looks
from advisor.levels.other_sides import far_from_deals, hold_against_other_sides
from advisor.levels.screening import (
    DENIED_STRAY_SHARE,
    EXPLAINED,
    FAR_OFF,
    NOT_MARKED,
    STRAY_SHARE_OF_CODE,
    WRONG_DIGIT,
    mark_quotes,
    stand_alone,
)
from advisor.levels.series import ASK, DEAL, Bools, Floats, Ints, MarketSettings
from advisor.levels.tracks import SURE
from advisor.levels.valuing import SIDES_PER_ITEM, ValuedQuotes
from advisor.quotes import MICROSECONDS_A_DAY

_USUAL_MARKED = 0.05
_RECORD_QUOTES = 10.0

_DEAREST = math.log(10.0)
"""No offer is so far above the middle of earlier ones, or of those beside it, log scale."""


@dataclass(frozen=True, eq=False)
class Observations:
    """Looks at the market: one for each group of quotes seen together on one side of an item.

    Attributes:
        track, at_us: Per observation, sorted by both.
        log_price, noise_scale, stray_share: As in `TrackTable`.
        apart: Whether it says nothing of its side at all, being far from the item's others.
        rate_var: Variance of the log rate behind the observation.
        group: Per valued quote that is not left out: its observation.
        rows: Those quotes' rows in `ValuedQuotes`.
        code: Those quotes' marks (codes of `screening`).
        used: Whether those quotes are read into their observation.
        qty: Those quotes' units, guessed where not said.
        usual_qty: Per item: units one buys at a time.
    """

    track: Ints
    at_us: Ints
    log_price: Floats
    noise_scale: Floats
    stray_share: Floats
    apart: Bools
    rate_var: Floats
    group: Ints
    rows: Ints
    code: Ints
    used: Bools
    qty: Floats
    usual_qty: Floats


def observe(
    quotes: ValuedQuotes, settings: MarketSettings, *, money_gaps: Floats, family: Ints
) -> Observations:
    """Group, screen and read the quotes; each is judged by earlier ones alone.

    Args:
        money_gaps: Of every quote, as `find_money_gaps` has them.
        family: Number of each item's family: a trader's record is kept in each apart.
    """
    left_out = _are_in(quotes.ids, settings.left_out)
    rows = np.flatnonzero(quotes.valued & ~left_out)
    track, at_us = quotes.track[rows], quotes.at_us[rows]
    log_value, trader, side = quotes.log_value[rows], quotes.trader[rows], quotes.side[rows]
    group = group_quotes(track, at_us)
    first = np.flatnonzero(np.diff(group, prepend=-1))
    sizes = np.diff(np.append(first, len(group)))
    middle = _middle_of_groups(log_value, group, first=first, sizes=sizes)
    beside = hold_against_other_sides(track[first], at_us[first], log_value=middle)
    context = context_beside(
        track[first],
        at_us[first],
        log_value=middle,
        trader=_only_trader(trader, first),
        beside=beside,
    )
    code = mark_quotes(
        log_value,
        side,
        context=context,
        group=group,
        trader=trader,
        money_gaps=money_gaps[:, rows],
        standing_days=_standing_days(quotes, rows),
    )
    kept = _are_in(quotes.ids[rows], settings.kept)
    code[kept] = NOT_MARKED
    honest = np.bincount(group, weights=code == NOT_MARKED, minlength=len(first)) > 0
    # a dear offer beside honest ones is only a dear offer, unless it is absurd
    alone = np.isnan(context.middle)[group]
    above = log_value - np.where(alone, middle[group], context.middle[group])
    absurd = (side == ASK) & (above > _DEAREST)
    code[(code == FAR_OFF) & honest[group] & (side == ASK) & ~absurd] = NOT_MARKED
    code[alone & absurd & ~kept] = FAR_OFF
    dear = (code == NOT_MARKED) & (side == ASK) & ~kept
    code[dear & _dear_beside(log_value - middle[group], above)] = WRONG_DIGIT
    used = (code == NOT_MARKED) | ~honest[group]
    qty, usual_by_item = _known_units(quotes, rows, settings=settings)
    usual_qty = usual_by_item[quotes.item[rows]]
    looks = read_looks(group, log_value, side=side, qty=qty, usual_qty=usual_qty, used=used)
    plenty = looks.units / np.maximum(usual_qty[first], 1e-9)
    denied = stand_alone(log_value, code, side, context=context, group=group, trader=trader)
    denied[denied] = far_from_deals(
        group[denied],
        track[first],
        at_us[first],
        log_value=middle,
        band=context.band,
        before=context.before,
    )
    return Observations(
        track=track[first],
        at_us=at_us[first],
        log_price=looks.log_price,
        noise_scale=np.clip(plenty, 0.25, 4.0) ** -0.5,
        stray_share=_stray_shares(
            code,
            first,
            denied=denied,
            kept=kept,
            trader=_within_families(trader, family[quotes.item[rows]]),
            at_us=at_us,
        ),
        apart=beside.far & ~honest,
        rate_var=quotes.rate_var[rows][first],
        group=group,
        rows=rows,
        code=code,
        used=used,
        qty=qty,
        usual_qty=usual_by_item,
    )


def _dear_beside(above_look: Floats, above: Floats) -> Bools:
    """Ten times what is asked beside it, and no less above what was asked before."""
    least = _DEAREST - EXPLAINED
    return (above_look > least) & (above > least)


def _stray_shares(
    code: Ints, first: Ints, *, denied: Bools, kept: Bools, trader: Ints, at_us: Ints
) -> Floats:
    """How surely each look says nothing, before the filter sees it.

    A look with an honest quote is doubted only as far as its traders are; one that
    the user vouches for is not doubted at all.
    """
    if len(first) == 0:
        return np.zeros(0)
    honest = np.logical_or.reduceat(code == NOT_MARKED, first)
    shares = np.where(denied, DENIED_STRAY_SHARE, STRAY_SHARE_OF_CODE[code])
    worst = np.where(honest, 0.0, np.maximum.reduceat(shares, first))
    doubt = _doubt_of_traders(trader, at_us, marked=code != NOT_MARKED)
    share = np.maximum(worst, np.minimum.reduceat(doubt, first))
    return np.where(np.logical_or.reduceat(kept, first), SURE, share)


def _within_families(trader: Ints, family: Ints) -> Ints:
    """A number for each trader in each family, -1 for unknown ones."""
    if len(trader) == 0:
        return trader
    apart = (family - family.min()) * (trader.max() + 1) + trader
    return np.where(trader >= 0, apart, -1)


def _are_in(ids: Ints, chosen: frozenset[int]) -> Bools:
    if not chosen:
        return np.zeros(len(ids), dtype=bool)
    return np.isin(ids, np.fromiter(chosen, dtype=np.int64))


def _middle_of_groups(log_value: Floats, group: Ints, *, first: Ints, sizes: Ints) -> Floats:
    """The lower median of each group's log values."""
    if len(first) == len(group):
        return log_value
    order = np.lexsort((log_value, group))
    middle: Floats = log_value[order][first + (sizes - 1) // 2]
    return middle


def _only_trader(trader: Ints, first: Ints) -> Ints:
    if len(first) == 0:
        return np.zeros(0, dtype=np.int64)
    low = np.minimum.reduceat(trader, first)
    return np.where(low == np.maximum.reduceat(trader, first), low, -1)


def _doubt_of_traders(trader: Ints, at_us: Ints, *, marked: Bools) -> Floats:
    """Share of each quote's trader's earlier quotes that were marked, 0 for the usual share.

    Drawn towards `_USUAL_MARKED` as if that had been seen of `_RECORD_QUOTES` quotes.
    """
    doubt = np.zeros(len(trader))
    known = np.flatnonzero(trader >= 0)
    if len(known) == 0 or not marked.any():
        return doubt
    order = known[np.lexsort((at_us[known], trader[known]))]
    who, when = trader[order], at_us[order]
    place = np.arange(len(order))
    same_time = np.zeros(len(order), dtype=bool)
    same_time[1:] = (who[1:] == who[:-1]) & (when[1:] == when[:-1])
    begin = np.maximum.accumulate(np.where(same_time, 0, place))
    of_trader = np.searchsorted(who, who, side="left")
    sums = np.concatenate([[0], np.cumsum(marked[order])])
    bad, all_ = sums[begin] - sums[of_trader], begin - of_trader
    share = (bad + _USUAL_MARKED * _RECORD_QUOTES) / (all_ + _RECORD_QUOTES)
    doubt[order] = np.maximum(share - _USUAL_MARKED, 0.0)
    return doubt


def _standing_days(quotes: ValuedQuotes, rows: Ints) -> Floats:
    """Days since the very same offer (track, trader, price, units) was first seen."""
    trader, qty = quotes.trader[rows], np.nan_to_num(quotes.qty[rows], nan=-1.0)
    track, at_us = quotes.track[rows], quotes.at_us[rows]
    price = quotes.price[rows]
    candidates = np.flatnonzero((trader >= 0) & (track % SIDES_PER_ITEM != DEAL))
    days = np.zeros(len(rows))
    if len(candidates) == 0:
        return days
    columns = (at_us, price, qty, trader, track)
    order = candidates[np.lexsort(tuple(column[candidates] for column in columns))]
    new = np.ones(len(order), dtype=bool)
    for column in columns[1:]:
        new[1:] &= column[order][1:] == column[order][:-1]
    new[0] = False
    begins = ~new
    begin = order[np.flatnonzero(begins)][np.cumsum(begins) - 1]
    days[order] = (at_us[order] - at_us[begin]) / MICROSECONDS_A_DAY
    return days


def _known_units(
    quotes: ValuedQuotes, rows: Ints, *, settings: MarketSettings
) -> tuple[Floats, Floats]:
    """Units of each quote, an item's usual listing where not said, and its usual quantity.

    A usual listing is the median of the units its quotes state, 1 with none;
    it is also the usual quantity where the settings have none.
    """
    item, qty = quotes.item[rows], quotes.qty[rows].copy()
    with np.errstate(invalid="ignore"):
        qty[~(qty > 0)] = np.nan
    listing = np.ones(len(quotes.items))
    stated = np.flatnonzero(np.isfinite(qty))
    if len(stated):
        order = stated[np.lexsort((qty[stated], item[stated]))]
        names, first, count = np.unique(item[order], return_index=True, return_counts=True)
        listing[names] = qty[order][first + (count - 1) // 2]
    usual = listing.copy()
    number = {name: k for k, name in enumerate(quotes.items)}
    for name, own in settings.items.items():
        if own.usual_qty is not None and name in number:
            usual[number[name]] = own.usual_qty
    return np.where(np.isfinite(qty), qty, listing[item]), usual
