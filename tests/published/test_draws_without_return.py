"""Draws without return against published distributions.

WD01 hypergeometric: Fisher, The Design of Experiments (1935), chapter 2 (lady tasting
tea); Feller, An Introduction to Probability Theory, vol. 1, chapter II (aces in a hand
of bridge); a 6 of 49 lottery, C(49,6). From memory; recomputed with math.comb.

WD02 draws one after another with unequal odds: Wallenius (1963), Biased sampling: the
noncentral hypergeometric probability distribution; parameters as in Fog (2008),
Communications in Statistics, Simulation and Computation 37:258-273. Small case exact
in fractions; large case also from scipy.stats.nchypergeom_wallenius.

WD03 chance to be among the first two: Luce (1959), Individual Choice Behavior; Plackett
(1975), Applied Statistics 24:193-202; Harville (1973), Journal of the American
Statistical Association 68:312-316, p_i p_j / (1 - p_i).
"""

from __future__ import annotations

from fractions import Fraction
from math import comb

import numpy as np
import pytest

from advisor.routes.pools.clocks import redraw_law
from advisor.routes.pools.draws import Branches, Drawing
from advisor.routes.pools.lumping import BY_USE, BY_WEIGHT, lump_affixes
from advisor.routes.pools.mentions import Mentions
from advisor.routes.pools.parts import list_pieces
from advisor.routes.pools.read_pool import read_pool


class Urn:
    """A pool of one kind: `wanted` affixes, of weight `odds`, and others of weight 1."""

    def __init__(self, folder, *, wanted, others, drawn, odds=1):
        affixes = [(f"wanted {n}", odds) for n in range(wanted)]
        affixes += [(f"other {n}", 1) for n in range(others)]
        self.pieces, self.count = pieces_of(folder, affixes, drawn), {drawn: Fraction(1)}

    def counted(self):
        """Chance of 0, 1, 2... wanted, by draws one after another and by clocks."""
        drawing = Drawing(self.pieces, ("", None))
        by_draws = drawing.draw_counted(np.zeros((1, 1), dtype=np.int64), self.count)
        rows, odds = redraw_law(self.pieces, ("", None), self.count)
        for law in (by_draws, Branches(np.zeros(len(odds)), rows, odds)):
            weights = self.pieces.symbols.weights("")
            heavy = weights == weights.max()
            if len(weights) == 1:
                raise AssertionError("the two sorts must be told apart")
            wanted = self.pieces.counts(law.rows)[:, heavy].sum(axis=1)
            yield np.bincount(wanted, weights=law.odds)


def pieces_of(folder, affixes, slots, *, how=BY_WEIGHT, wanted=()):
    path = folder / "urn.toml"
    path.write_text(
        f'[pool]\nslots = {{ drawn = {slots} }}\n[[base]]\nitem = "urn"\n'
        + "".join(
            f'[[affix]]\nname = "{name}"\nkind = "drawn"\nweight = {weight}\n'
            for name, weight in affixes
        )
    )
    pool = read_pool(path)
    mentions = Mentions(
        wanted=frozenset(wanted),
        draws=frozenset({("", None)}),
        draws_onto_others=frozenset({("", None)}),
    )
    return list_pieces(lump_affixes(pool, pool.bases[0], 0, mentions=mentions, how=how))


def wanted_counts(folder, wanted, others, drawn):
    """Chance of so many wanted of equal weight; each wanted one is told apart by name."""
    affixes = [(f"wanted {n}", 7) for n in range(wanted)]
    affixes += [(f"other {n}", 7) for n in range(others)]
    pieces = pieces_of(folder, affixes, drawn, wanted=range(wanted))
    is_wanted = pieces.symbols.standing_for(range(wanted))
    drawing = Drawing(pieces, ("", None))
    by_draws = drawing.draw_several(np.zeros((1, 1), dtype=np.int64), drawn)
    yield np.bincount(pieces.count_of(by_draws.rows, is_wanted), weights=by_draws.odds)
    rows, odds = redraw_law(pieces, ("", None), {drawn: Fraction(1)})
    yield np.bincount(pieces.count_of(rows, is_wanted), weights=odds)


def test_lady_tasting_tea(tmp_path):
    for law in wanted_counts(tmp_path, 4, 4, 4):
        assert law == pytest.approx(
            [0.01428571429, 0.2285714286, 0.5142857143, 0.2285714286, 0.01428571429], abs=1e-10
        )
        assert law == pytest.approx([comb(4, n) ** 2 / comb(8, 4) for n in range(5)], abs=1e-12)


def test_aces_in_a_bridge_hand(tmp_path):
    for law in wanted_counts(tmp_path, 4, 48, 13):
        assert law == pytest.approx([0.3038, 0.4388, 0.2135, 0.0412, 0.0026], abs=6e-5)
        exact = [comb(4, n) * comb(48, 13 - n) / comb(52, 13) for n in range(5)]
        assert law == pytest.approx(exact, abs=1e-12)


def test_six_of_forty_nine(tmp_path):
    for law in wanted_counts(tmp_path, 6, 43, 6):
        assert law[3] == pytest.approx(0.01765, abs=6e-6)
        assert round(1 / law[6]) == 13_983_816


def test_wallenius_small_case_exact(tmp_path):
    urn = Urn(tmp_path, wanted=2, others=2, drawn=2, odds=2)
    for law in urn.counted():
        assert law == pytest.approx([1 / 15, 3 / 5, 1 / 3], abs=1e-12)


def test_wallenius_large_case(tmp_path):
    from scipy.stats import nchypergeom_wallenius

    urn = Urn(tmp_path, wanted=25, others=32, drawn=20, odds=2.5)
    for law in urn.counted():
        assert law[12] == pytest.approx(0.2183387475, abs=1e-9)
        assert law @ np.arange(len(law)) == pytest.approx(12.38372899, abs=1e-8)
        assert law[12] == pytest.approx(nchypergeom_wallenius(57, 25, 20, 2.5).pmf(12), rel=1e-9)


def test_chance_to_be_among_the_first_two(tmp_path):
    pieces = pieces_of(tmp_path, [("a", 5), ("b", 3), ("c", 2)], 2, how=BY_USE, wanted=[0, 1, 2])
    drawing = Drawing(pieces, ("", None))
    law = drawing.draw_several(np.zeros((1, 1), dtype=np.int64), 2)
    inclusion = [law.odds @ (pieces.counts(law.rows)[:, each] > 0) for each in range(3)]
    assert inclusion == pytest.approx([0.8392857143, 0.675, 0.4857142857], abs=1e-8)
    p = [Fraction(5, 10), Fraction(3, 10), Fraction(2, 10)]
    exact = [p[i] + sum(p[j] * p[i] / (1 - p[j]) for j in range(3) if j != i) for i in range(3)]
    assert inclusion == pytest.approx([float(each) for each in exact], abs=1e-12)
