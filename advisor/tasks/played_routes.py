"""A route played out piece by piece, with all that its own parts use where those are made too."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from advisor.decide.stock.need import Floats
from advisor.decide.stock.played_evenings import PlayedPieces, add_parts, play_pieces
from advisor.routes.chain import follow_choices
from advisor.routes.cost_answer import RouteCost
from advisor.tasks.pricing import Pricing
from advisor.tasks.routing import RouteBook, buy_prices, cost_route


def play_route(
    cost: RouteCost, columns: Mapping[str, int], *, pricing: Pricing, book: RouteBook, seed: int = 1
) -> PlayedPieces:
    """Single pieces: units of each supply and, in the last column, money for all else.

    Args:
        columns: The column of each supply, by the book's name.
    """
    made = [item for item in cost.model.items if item in cost.made]
    amounts = _amounts(cost, columns, made, pricing)
    played = play_pieces(follow_choices(cost.model, cost.actions), amounts, seed=seed)
    width = len(columns) + 1
    pieces = PlayedPieces(played.used[:, :width], played.mean[:width])
    for number, item in enumerate(made):
        nested = cost_route(book, cost.made[item].route, pricing=pricing)
        part = play_route(nested, columns, pricing=pricing, book=book, seed=seed + 101)
        units = played.used[:, width + number]
        pieces = add_parts(
            pieces, units, mean_units=float(played.mean[width + number]), part=part, seed=seed
        )
    return pieces


def _amounts(
    cost: RouteCost, columns: Mapping[str, int], made: list[str], pricing: Pricing
) -> Floats:
    """What each outcome needs: units of supplies, money, units of each made part."""
    uses = cost.model.uses.tocsc()
    amounts = np.zeros((uses.shape[0], len(columns) + 1 + len(made)))
    prices = buy_prices(pricing)
    for place, item in enumerate(cost.model.items):
        units = uses[:, [place]].toarray().ravel()
        name = pricing.name(item)
        if item in made:
            amounts[:, len(columns) + 1 + made.index(item)] += units
        elif name in columns:
            amounts[:, columns[name]] += units
        else:
            amounts[:, len(columns)] += units * prices.get(name, 0.0)
    return amounts
