"""A first way that surely ends and is already cheap: where policy iteration begins.

Take money for distance. The distance of a stage is the least, over all roads to an
end, of the sum of price / odds along the road, as if a try that goes astray changed
nothing. At each stage the action is taken that pays least for the distance it wins
on average; where none wins any, the first step of the shortest road.

Source: shortest roads, Dijkstra, Numerische Mathematik 1 (1959) 269-271; that a
way which wins distance everywhere ends, Foster, Annals of Mathematical Statistics
24 (1953) 355-360.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_array

from advisor.routes.problem import CostProblem

LEAST_PRICE = 1e-9


def choose_ending_way(problem: CostProblem) -> np.ndarray:
    """An action at each stage, its index in the problem, such that the evening surely ends.

    Args:
        problem: Actions and costs; from every stage some action leads towards an end.
    """
    table = problem.table
    price = np.maximum(problem.costs.astype(float), 0.0) + LEAST_PRICE * (1.0 + problem.sizes)
    distance, following = _measure_distances(problem, price)
    shortest = _follow_roads(problem, price, following)
    won = distance[table.stage] - table.moves @ distance
    with np.errstate(divide="ignore", invalid="ignore"):
        pays = np.where(won > 1e-9 * distance[table.stage], price / won, np.inf)
    cheap = problem.first_least(pays)
    way = np.where(np.isfinite(pays[cheap]), cheap, shortest)
    while (endless := problem.find_endless_stages(way) >= 0).any():
        way = np.where(endless, shortest, way)
    return way


def _measure_distances(problem: CostProblem, price: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distance of each stage, and the next stage on its shortest road (n: it ends)."""
    from scipy.sparse.csgraph import dijkstra

    table = problem.table
    count, ending = table.stage_count, table.ending_odds > 0
    ends = np.cumsum(np.diff(table.moves.indptr) + ending)
    onto_end = np.zeros(int(ends[-1]), dtype=bool)
    onto_end[ends[ending] - 1] = True
    onto, odds = np.full(len(onto_end), count), np.empty(len(onto_end))
    onto[~onto_end], odds[~onto_end] = table.moves.indices, table.moves.data
    odds[onto_end] = table.ending_odds[ending]
    lengths = np.repeat(price, np.diff(ends, prepend=0)) / odds
    first = np.concatenate(([0], ends))[table.first]
    roads = csr_array((lengths, onto, np.append(first, ends[-1])), shape=(count + 1, count + 1))
    distance, following = dijkstra(csr_array(roads.T), indices=count, return_predecessors=True)
    return distance[:count], following[:count]


def _follow_roads(problem: CostProblem, price: np.ndarray, following: np.ndarray) -> np.ndarray:
    """At each stage the action that most cheaply moves on to the next stage of its road."""
    table = problem.table
    follows = following[table.stage]
    row = np.repeat(np.arange(len(follows)), np.diff(table.moves.indptr))
    onto_next = table.moves.indices == follows[row]
    odds = np.where(follows == table.stage_count, table.ending_odds, 0.0)
    odds[row[onto_next]] += table.moves.data[onto_next]
    with np.errstate(divide="ignore"):
        return problem.first_least(price / odds)
