"""Pieces played out, against the moments of the chain and a law known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest

from advisor.decide.stock.played_evenings import (
    EVENINGS,
    LONG_ROW,
    PlayedPieces,
    add_parts,
    play_pieces,
    row_up,
)
from advisor.routes.chain import follow_choices
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices
from advisor.routes.stages import END


def chain_of(actions):
    model, costs = sketch_route(actions, start=0)
    return follow_choices(model, best_choices(model, costs).actions), costs


def test_tries_until_success_are_geometric():
    chain, costs = chain_of([(0, [(0.05, END, 1), (0.95, 0, 1)])])
    played = play_pieces(chain, costs[:, None]).used[:, 0]
    # mean 20, sd sqrt(0.95) / 0.05, and 1 - 0.95^n of the pieces take n or fewer
    assert played.mean() == pytest.approx(20, abs=4 * math.sqrt(0.95) / 0.05 / 63)
    for tries in (5, 14, 59):
        share = 1 - 0.95**tries
        error = math.sqrt(share * (1 - share) / len(played))
        assert (played <= tries).mean() == pytest.approx(share, abs=4 * error)


def test_moments_are_those_of_the_chain():
    chain, costs = chain_of(
        [
            (0, [(0.3, 1, 2), (0.6, 0, 1), (0.1, END, 5)]),
            (1, [(0.5, END, 3), (0.5, 0, 0)]),
        ]
    )
    played = play_pieces(chain, np.column_stack([costs, costs**2])).used
    for column, amounts in enumerate((costs, costs**2)):
        moments = chain.moments(amounts)
        error = moments.sd / math.sqrt(len(played))
        assert played[:, column].mean() == pytest.approx(moments.mean, abs=4 * error)
        assert played[:, column].std() == pytest.approx(moments.sd, rel=0.1)
    both = chain.moments(costs + costs**2)
    assert played.sum(axis=1).std() == pytest.approx(both.sd, rel=0.1)


@pytest.mark.parametrize("count", [3, LONG_ROW + 40])
def test_rows_add_up(count):
    random = np.random.default_rng(5)
    drawn = random.exponential(2.0, (4000, 1)) * np.array([[1.0, 3.0]])
    pieces = PlayedPieces(drawn, np.array([2.0, 6.0]))
    used = row_up([pieces, PlayedPieces(10 * drawn, 10 * pieces.mean)], [(0, count), (1, 1)])
    assert used.shape == (EVENINGS, 2, 2)
    first, both = used[:, 0], used[:, 1]
    error = 2.0 * math.sqrt(count) / math.sqrt(EVENINGS)
    assert first[:, 0].mean() == pytest.approx(2.0 * count, abs=5 * error)
    assert first[:, 0].std() == pytest.approx(2.0 * math.sqrt(count), rel=0.1)
    # the two columns are used up at one pace
    assert first[:, 1] == pytest.approx(3 * first[:, 0], rel=1e-6)
    assert np.all(both >= first)


def test_the_same_question_has_the_same_answer():
    chain, costs = chain_of([(0, [(0.2, END, 1), (0.8, 0, 1)])])
    once, again = (play_pieces(chain, costs[:, None]) for _ in range(2))
    assert np.array_equal(once.used, again.used)
    assert np.array_equal(row_up([once], [(0, 3)]), row_up([again], [(0, 3)]))


def test_a_piece_with_nothing_to_do_uses_nothing():
    chain, costs = chain_of([(0, [(1.0, END, 0)])])
    assert not play_pieces(chain, np.zeros((len(costs), 2))).used.any()


def test_parts_that_are_made_too_add_their_use():
    """A random number of parts, each of random use: mean and variance by their closed forms."""
    random = np.random.default_rng(8)
    own = random.exponential(2.0, (4000, 1))
    part = PlayedPieces(random.exponential(3.0, (4000, 1)), np.array([3.0]))
    units = random.poisson(5.0, 4000).astype(float)
    both = add_parts(PlayedPieces(own, np.array([2.0])), units, mean_units=5.0, part=part, seed=3)
    assert both.mean == pytest.approx([2 + 5 * 3])
    # a compound Poisson sum has the variance of its rate times the mean square of a part
    sd = math.sqrt(2.0**2 + 5 * 2 * 3.0**2)
    assert both.used.mean() == pytest.approx(17, abs=4 * sd / 63)
    assert both.used.std() == pytest.approx(sd, rel=0.08)
    none = add_parts(PlayedPieces(own, np.array([2.0])), 0 * units, mean_units=0, part=part, seed=3)
    assert np.array_equal(none.used, own)
