"""What things cost at a moment: the book's quotes, levelled, with what-if prices on top."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import tzinfo
from typing import TYPE_CHECKING

from advisor.book.attempts import LoggedTries, read_tries
from advisor.book.dealings import OwnDealings, read_dealings
from advisor.book.items import item_names, known_names
from advisor.book.known_levels import KnownLevels
from advisor.book.rulings import ruled_quotes
from advisor.book.series import StoredSeries, quote_rows, read_series
from advisor.book.settings import ItemSettings as ItemWords
from advisor.book.settings import Settings
from advisor.book.store import Store
from advisor.errors import BadInput, WrongUse
from advisor.levels.market import FORECAST_DAYS, Market, level_market
from advisor.levels.series import ItemSettings, MarketSettings, QuoteSeries, Season
from advisor.money import read_amount, read_price
from advisor.names import did_you_mean, name_key
from advisor.tasks.own_stall import own_asks
from advisor.tasks.workspace import Workspace
from advisor.times import now_us, read_date_option, us_to_local

if TYPE_CHECKING:
    from advisor.levels.item_levels import ItemLevels


@dataclass(frozen=True)
class Pricing:
    """Prices at one moment, and how names are spelled.

    Attributes:
        market: The levels; an item that was never quoted is not in it.
        series: The quotes behind them, by item.
        fixed: What-if prices in the workspace money, by the book's name of the item.
        names: Every known spelling's key, with the name it stands for.
        settings: The workspace's settings.
        tries: The attempts logged by then.
        dealings: Own offers, listings and sales by then.
    """

    market: Market
    series: Mapping[str, QuoteSeries]
    fixed: Mapping[str, float]
    names: Mapping[str, str]
    settings: Settings
    tries: LoggedTries = field(default_factory=dict)
    dealings: OwnDealings = field(default_factory=OwnDealings)

    def at_stated_odds(self) -> Pricing:
        """The same as if nothing had been logged: odds as the route files state them."""
        return replace(self, tries={})

    def name(self, spelled: str) -> str:
        """The book's name of an item; a name that nothing is known of stays as it is."""
        return self.names.get(name_key(spelled), spelled)

    def levels(self, item: str) -> ItemLevels | None:
        """The levels of an item, by the book's name; None where it was never quoted."""
        if item not in self.market.items:
            return None
        return self.market.items[item]


def read_pricing(
    workspace: Workspace,
    *,
    as_of: str | None = None,
    days: Sequence[int] = FORECAST_DAYS,
    fixed: Sequence[str] = (),
    items: Sequence[str] | None = None,
) -> Pricing:
    """Level the book as known at a moment.

    Args:
        as_of: A date as typed; None for now.
        days: Days ahead of the forecasts.
        fixed: What-if prices as typed, "ITEM=PRICE".
        items: Spellings of the items to answer for; None for all.
    Raises: BadInput: a date, an item or a what-if price that cannot be meant.
    """
    settings = workspace.settings
    moment = now_us() if as_of is None else read_date_option(as_of, settings.timezone)
    with workspace.open_book(read_only=True) as store, store.reading():
        names = known_names(store, settings)
        chosen = None if items is None else [known_item(each, names) for each in items]
        series = _read_market_series(store, settings, chosen, until_us=moment)
        known = KnownLevels(store)
        market = level_market(
            series,
            settings=market_settings(store, settings, series),
            as_of_us=moment,
            items=chosen,
            days=days,
            memory=known,
        )
        tries = read_tries(store, until_us=moment)
        dealings = read_dealings(store, until_us=moment, stall=settings.trade.stall)
        for name in chosen or ():
            if name not in market.items:
                raise _not_known_yet(store, name, moment, settings.timezone)
    known.write()
    fixed_prices = read_fixed_prices(fixed, market, names)
    return Pricing(market, series, fixed_prices, names, settings, tries, dealings)


def known_item(spelled: str, names: Mapping[str, str]) -> str:
    """The book's name of an item that must be known.

    Raises: BadInput: nothing is known of it.
    """
    name = names.get(name_key(spelled))
    if name is None:
        right = did_you_mean(spelled, names.values())
        raise BadInput(
            "nothing is known of this item",
            right=right or f'quote it: makeworth quote "{spelled}" PRICE',
            item=spelled,
        )
    return name


def _not_known_yet(store: Store, item: str, moment: int, zone: tzinfo) -> BadInput:
    """Of an item that the book or the settings name, but that had no price by then."""
    rows = quote_rows(store, item)
    first = f"its first is of {us_to_local(rows[0].at_us, zone)}" if rows else None
    return BadInput(
        f"no price of it was known by {us_to_local(moment, zone)}",
        right=first or f'quote it: makeworth quote "{item}" PRICE',
        item=item,
    )


def market_settings(
    store: Store, settings: Settings, series: Mapping[str, QuoteSeries]
) -> MarketSettings:
    """The settings as the levels want them, with the user's rulings and own listings.

    Args:
        series: The quotes to be levelled, in which the own listings are found.
    """
    rulings = ruled_quotes(store)
    return MarketSettings(
        money=settings.money,
        sale_fee=float(settings.trade.sale_fee),
        seasons=tuple(Season(each.name, each.start_us, each.end_us) for each in settings.seasons),
        items={
            name: ItemSettings(
                family=said.family,
                usual_qty=None if said.usual_qty is None else float(said.usual_qty),
                lots_of=said.lots_of,
            )
            for name, said in _settings_by_book_name(store, settings).items()
        },
        kept=frozenset(quote for quote, word in rulings.items() if word == "keep"),
        dropped=frozenset(quote for quote, word in rulings.items() if word == "drop"),
        own=own_asks(store, series, stall=settings.trade.stall),
    )


def _settings_by_book_name(store: Store, settings: Settings) -> dict[str, ItemWords]:
    names = known_names(store, settings)
    return {names[name_key(item.name)]: item for item in settings.items.values()}


def _read_market_series(
    store: Store, settings: Settings, items: Sequence[str] | None, *, until_us: int
) -> dict[str, QuoteSeries]:
    """The quotes that the levels of these items depend on: their families' and the moneys'."""
    wanted = None if items is None else _with_family(store, settings, items)
    stored = read_series(store, wanted, until_us=until_us)
    return as_series(stored)


def as_series(stored: Mapping[str, StoredSeries]) -> dict[str, QuoteSeries]:
    """What the book holds, as the levels want it."""
    return {
        item: QuoteSeries(
            item=item,
            ids=each.ids,
            at_us=each.at_us,
            price=each.price,
            money_names=each.money_names,
            money=each.money,
            side=each.side,
            qty=each.qty,
            trader=each.trader,
        )
        for item, each in stored.items()
    }


def _with_family(store: Store, settings: Settings, items: Iterable[str]) -> list[str]:
    known = item_names(store)
    asked = list(items)
    families = {settings.item(item).family for item in asked} - {None}
    wanted = {name_key(name) for name in [*asked, *_money_names(store)]}
    return [
        name for name in known if settings.item(name).family in families or name_key(name) in wanted
    ]


def _money_names(store: Store) -> list[str]:
    rows = store.connection.execute(
        "SELECT name FROM items WHERE id IN (SELECT DISTINCT money_id FROM quotes)"
    )
    return [name for (name,) in rows]


def read_fixed_prices(
    typed: Sequence[str], market: Market, names: Mapping[str, str]
) -> dict[str, float]:
    """What-if prices in the workspace money, by the book's name of the item.

    Raises: WrongUse: not ITEM=PRICE; BadInput: a price that cannot be read, or in
        a money that has no rate.
    """
    fixed = {}
    for text in typed:
        spelled, sign, price = text.rpartition("=")
        if not sign or not spelled.strip():
            raise WrongUse(
                f"--price {text!r} names no item", right='write --price "binding wax=3.5"'
            )
        item = names.get(name_key(spelled), " ".join(spelled.split()))
        try:
            said = read_price(price)
        except BadInput as fault:
            raise BadInput(fault.what, right=fault.right, item=item) from None
        fixed[item] = float(said.price) * rate_now(market, said.money, names)
    return fixed


def rate_now(market: Market, money: str | None, names: Mapping[str, str]) -> float:
    """One unit of a money as named in the workspace money; None is that money itself.

    Raises: BadInput: no rate leads there.
    """
    if money is None or name_key(money) == name_key(market.money):
        return 1.0
    rate = market.rates.now(names.get(name_key(money), money))
    if rate is None:
        right = did_you_mean(money, market.rates.moneys)
        raise BadInput(
            f"no rate leads from {money!r} to {market.money}",
            right=right or f'quote one: makeworth quote "{money} PRICE"',
        )
    return rate.value


def read_money(option: str, text: str, pricing: Pricing) -> float:
    """An amount as typed, in the workspace money.

    Args:
        option: Where it was typed, for the error.
    Raises: BadInput: not an amount of money, or in a money that has no rate.
    """
    try:
        said, money = read_amount(text)
    except BadInput as fault:
        raise BadInput(f"{option}: {fault.what}", right=fault.right) from None
    return float(said) * rate_now(pricing.market, money, pricing.names)
