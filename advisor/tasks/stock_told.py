"""What the sentences of the stock answer are made of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.decide.stock.purse_reasons import purse_cautions, purse_reasons
from advisor.decide.stock.stock_reasons import StockStory
from advisor.decide.stock.trader_trust import TraderRecord, tell_trust
from advisor.tasks.craft_news import doubt_prices
from advisor.tasks.pricing import Pricing
from advisor.tasks.stock_items import SupplyAnswer
from advisor.tasks.stock_needs import Order, SupplyNeeds
from advisor.tasks.stock_purse import PursePlan
from advisor.tasks.workspace import Workspace


def tell_stock(
    supplies: Sequence[SupplyAnswer],
    traders: Mapping[int, str],
    records: Mapping[int, TraderRecord],
    *,
    purse: PursePlan | None,
    orders: Sequence[Order],
    pricing: Pricing,
) -> tuple[list[StockStory], list[str], list[str]]:
    """What the sentences are made of; those on the purse, and its cautions."""
    money = pricing.market.money
    stories = [_story(each, traders, records, money=money) for each in supplies]
    if purse is None:
        return stories, [], []
    said = purse_reasons(
        budget=purse.budget,
        money=money,
        started=[(each.route, each.pieces) for each in purse.started],
        asked=sum(each.pieces for each in orders),
        paid=purse.paid,
        chance_started=purse.chance_started,
        chance_all=purse.chance_all,
        lacking=purse.lacking,
        enough_80=purse.parts[-1].enough_80,
    )
    count = sum(each.pieces for each in purse.started)
    cautions = [*purse_cautions(purse.chance_started, started=count), *purse.cautions]
    return stories, said, cautions


def _story(
    supply: SupplyAnswer,
    traders: Mapping[int, str],
    records: Mapping[int, TraderRecord],
    *,
    money: str,
) -> StockStory:
    market = supply.market
    offer_notes = market.sellers.assumptions if market.sellers else ()
    lots = [(lot.trader, lot.unit_price, lot.risk, False) for lot in supply.advice.lots if lot.risk]
    level = market.offers.ladder.level
    lots += [
        (step.trader, step.unit_price, records[step.trader].chance_failing * level, True)
        for step in market.left_aside
    ]
    trust = dict.fromkeys(
        tell_trust(
            supply.item,
            traders[trader],
            record=records[trader],
            price=price,
            risk=risk,
            aside=aside,
            money=money,
        )
        for trader, price, risk, aside in lots
    )
    return StockStory(
        item=supply.item,
        advice=supply.advice,
        stockable=market.stockable,
        offer=supply.offer,
        offer_assumptions=offer_notes if supply.offer else (),
        trust=tuple(trust),
    )


def price_notes(supplies: Sequence[SupplyAnswer], pricing: Pricing) -> list[str]:
    """What to beware of in the prices of what is still needed."""
    return doubt_prices([each.item for each in supplies], pricing)


def on_hand_note(needs: SupplyNeeds, kept: Mapping[str, int]) -> list[str]:
    """What the ledger says is there, where it counts."""
    there = [
        f"{units} {item}"
        for item, units in needs.on_hand.items()
        if units and kept.get(item) == units
    ]
    if not there:
        return []
    return [
        f"On hand by the ledger: {', '.join(there)}. If that is not so, say --on-hand ITEM=UNITS."
    ]


def trader_names(workspace: Workspace, supplies: Sequence[SupplyAnswer]) -> dict[int, str]:
    """The names of the traders in the lots, and of those left aside."""
    codes = {lot.trader for each in supplies for lot in each.advice.lots} - {-1}
    codes |= {step.trader for each in supplies for step in each.market.left_aside}
    if not codes:
        return {}
    marks = ",".join("?" * len(codes))
    with workspace.open_book(read_only=True) as store:
        rows = store.connection.execute(
            f"SELECT id, name FROM traders WHERE id IN ({marks})",  # noqa: S608
            sorted(codes),
        ).fetchall()
    return {int(code): str(name) for code, name in rows}
