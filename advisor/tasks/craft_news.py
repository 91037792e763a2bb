"""What there is to say of the prices that make or buy rests on: age, marks, the season."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.decide.craft import CraftAdvice
from advisor.decide.craft_cautions import PriceNews, price_cautions
from advisor.levels.item_levels import ItemLevels
from advisor.levels.screening import OWN_STALL
from advisor.quotes import MICROSECONDS_A_DAY
from advisor.routes.cost_answer import RouteCost
from advisor.tasks.pricing import Pricing
from advisor.times import us_to_local

RECENT_DAYS = 14
DATE_LENGTH = len("2026-11-02")


def find_price_news(
    piece: str, advice: CraftAdvice, costs: Mapping[str, RouteCost], pricing: Pricing
) -> list[PriceNews]:
    """What there is to say of the prices that the best route and the buying rest on.

    Args:
        piece: The book's name of it.
        advice: The answer.
        costs: What each route costs, by name.
        pricing: The prices.
    """
    return news_of_prices(_prices_rested_on(piece, advice, costs, pricing), pricing)


def news_of_prices(items: Sequence[str], pricing: Pricing) -> list[PriceNews]:
    """What there is to say of the prices of these items; nothing of those never quoted."""
    news = []
    for name in items:
        levels = pricing.levels(name)
        if levels is None or levels.newest_us is None:
            continue
        age_days = (pricing.market.as_of_us - levels.newest_us) / MICROSECONDS_A_DAY
        news.append(PriceNews(name, age_days, levels.quotes, _recently_screened(levels, pricing)))
    return news


def doubt_prices(items: Sequence[str], pricing: Pricing) -> list[str]:
    """What to beware of in the prices of these items, what-if prices left out."""
    seen = [name for name in dict.fromkeys(items) if name not in pricing.fixed]
    news = news_of_prices(seen, pricing)
    return [*warn_of_season(news, pricing), *price_cautions(news)]


def warn_of_season(news: Sequence[PriceNews], pricing: Pricing) -> list[str]:
    """Said where prices are from before the market restarted, or of a market that has closed.

    Args:
        news: The prices that an answer rests on.
        pricing: The prices; with the seasons of the settings.
    """
    as_of_us, zone = pricing.market.as_of_us, pricing.settings.timezone
    begun = [each for each in pricing.settings.seasons if each.start_us <= as_of_us]
    if not begun or not news:
        return []
    season = max(begun, key=lambda each: each.start_us)
    if season.end_us <= as_of_us:
        ended = us_to_local(season.end_us - 1, zone)[:DATE_LENGTH]
        return [
            f"The {season.name} ended on {ended} and no later season has begun: these are prices "
            "of a market that has closed; name the new season in makeworth.toml when it begins."
        ]
    since_days = (as_of_us - season.start_us) / MICROSECONDS_A_DAY
    before = [each.item for each in news if (each.age_days or 0.0) > since_days]
    if not before:
        return []
    began = f"before the {season.name} began on {us_to_local(season.start_us, zone)[:DATE_LENGTH]}"
    if len(before) == len(news):
        return [
            f"Every price here is from {began}: the market has restarted since, so take this for "
            "a guess and quote the goods anew before you act on it."
        ]
    return [f"From {began}, when the market restarted: {', '.join(before)}; quote them anew."]


def _prices_rested_on(
    piece: str, advice: CraftAdvice, costs: Mapping[str, RouteCost], pricing: Pricing
) -> list[str]:
    """Names of the items, what-if prices left out."""
    names = [piece]
    if advice.best is not None:
        names += [pricing.name(item) for item in costs[advice.best.option.route].use]
    return [name for name in dict.fromkeys(names) if name not in pricing.fixed]


def _recently_screened(levels: ItemLevels, pricing: Pricing) -> int:
    """How many recent quotes are not believed."""
    since = pricing.market.as_of_us - RECENT_DAYS * MICROSECONDS_A_DAY
    series = pricing.series.get(levels.item)
    if series is None:
        return 0
    recent = series.ids[series.at_us >= since].tolist()
    return sum(levels.screened.get(each, OWN_STALL) != OWN_STALL for each in recent)
