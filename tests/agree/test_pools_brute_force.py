"""Every effect on small pools, against enumeration of every order in fractions.

The other road knows nothing of lumping, parts or clocks: a piece is a set of (affix,
placed) pairs, every order of draws, removals and picks is written out, and chances
are fractions. Agreement is to 1e-12.
"""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from itertools import permutations

import numpy as np
import pytest

from advisor.routes.pools.changes import Adding, Clearing, Placing, Removing
from advisor.routes.pools.clocks import redraw_law
from advisor.routes.pools.draws import Branches, Drawing
from advisor.routes.pools.effects import Add, Choose, Clear, Join, Place, Redraw, Remove
from advisor.routes.pools.joining import Joining
from advisor.routes.pools.lumping import BY_USE, BY_WEIGHT, ONE_BY_ONE, lump_affixes
from advisor.routes.pools.mentions import Mentions
from advisor.routes.pools.offers import NOTHING, Offering
from advisor.routes.pools.parts import list_pieces
from advisor.routes.pools.read_pool import read_pool

HEAD = """
[pool]
slots = { etched = 2, inlaid = 2 }
placed_at_most = 1
[pool.count]
all = { 1 = 1, 2 = 2, 3 = 3, 4 = 1 }
etched = { 1 = 2, 2 = 1 }
[pool.survivors]
1 = { 0 = 1, 1 = 2 }
2 = { 1 = 2, 2 = 1 }
3 = { 1 = 3, 2 = 6, 3 = 1 }
4 = { 2 = 1 }
[[base]]
item = "lantern frame"
traits = ["brass"]
"""
AFFIXES = [  # name, kind, group, tier, weight, set
    ("bright flame", "etched", "flame", 1, 3, ""),
    ("dim flame", "etched", "flame", 2, 5, ""),
    ("ward", "etched", "ward", 1, 7, ""),
    ("seam", "etched", "seam", 1, 7, ""),
    ("clear chime", "inlaid", "chime", 1, 2, ""),
    ("dull chime", "inlaid", "chime", 2, 11, ""),
    ("crest", "inlaid", "crest", 1, 13, ""),
    ("handle", "inlaid", "handle", 1, 13, ""),
    ("hush", "etched", "hush", 1, 4, "hidden"),
    ("song", "inlaid", "song", 1, 6, "hidden"),
    ("lens", "inlaid", "lens", 1, 0, ""),
]
SPANNING = [("long flame", "inlaid", "flame", 3, 9, ""), ("wide ward", "inlaid", "ward", 2, 1, "")]
SLOTS = {"etched": 2, "inlaid": 2}
COUNT = {1: Fraction(1, 7), 2: Fraction(2, 7), 3: Fraction(3, 7), 4: Fraction(1, 7)}


class Enumerated:
    """Pieces as sets, chances as fractions."""

    def __init__(self, affixes):
        self.affixes = affixes

    def fits(self, piece, number):
        _, kind, group, *_ = self.affixes[number]
        taken = [self.affixes[each] for each, _ in piece]
        return sum(each[1] == kind for each in taken) < SLOTS[kind] and all(
            each[2] != group for each in taken
        )

    def candidates(self, piece, set_name, kind, barred=()):
        return {
            number: each[4]
            for number, each in enumerate(self.affixes)
            if each[4] > 0
            and each[5] == set_name
            and kind in (None, each[1])
            and each[2] not in barred
            and self.fits(piece, number)
        }

    def draw(self, pieces, number, set_name="", kind=None):
        for _ in range(number):
            after = defaultdict(Fraction)
            for piece, chance in pieces.items():
                found = self.candidates(piece, set_name, kind)
                if not found:
                    after[piece] += chance
                for affix, weight in found.items():
                    share = Fraction(weight, sum(found.values()))
                    after[piece | {(affix, False)}] += chance * share
            pieces = after
        return pieces

    def redraw(self, piece, kind, count, set_name=""):
        kept = frozenset(
            each for each in piece if kind is not None and self.affixes[each[0]][1] != kind
        )
        after = defaultdict(Fraction)
        for number, chance in count.items():
            for end, share in self.draw({kept: Fraction(1)}, number, set_name, kind).items():
                after[end] += chance * share
        return after

    def remove(self, piece, number, kind):
        after = defaultdict(Fraction)
        present = [each for each in piece if kind in (None, self.affixes[each[0]][1])]
        orders = list(permutations(present, min(number, len(present))))
        for order in orders:
            after[piece - set(order)] += Fraction(1, len(orders))
        return after

    def offer(self, piece, number, set_name, kind):
        """Chances of the sets that are offered."""
        offers = {(): Fraction(1)}
        for _ in range(number):
            after = defaultdict(Fraction)
            for offered, chance in offers.items():
                barred = [self.affixes[each][2] for each in offered]
                found = self.candidates(piece, set_name, kind, barred)
                if not found:
                    after[offered] += chance
                for affix, weight in found.items():
                    after[(*offered, affix)] += chance * Fraction(weight, sum(found.values()))
            offers = after
        sets = defaultdict(Fraction)
        for offered, chance in offers.items():
            sets[frozenset(offered)] += chance
        return sets

    def join(self, first, second, survivors):
        ends = {frozenset(): Fraction(1)}
        for kind in SLOTS:
            pot = [each for each in first if self.affixes[each[0]][1] == kind]
            pot += [(each, False) for each in second if self.affixes[each][1] == kind]
            if not pot:
                continue
            after = defaultdict(Fraction)
            orders = list(permutations(pot))
            for piece, chance in ends.items():
                for kept, share in survivors[len(pot)].items():
                    for order in orders:
                        end, left = piece, kept
                        for each in order:
                            if left and self.fits(end, each[0]):
                                end, left = end | {each}, left - 1
                        after[end] += chance * share / len(orders)
            ends = after
        return ends


class Made:
    """The same pool in the tool, lumped in one way."""

    def __init__(self, folder, affixes, effects, *, how, wanted=(), put=()):
        text = HEAD + "".join(
            f'[[affix]]\nname = "{name}"\nkind = "{kind}"\ngroup = "{group}"\ntier = {tier}\n'
            f"weight = {weight}\n" + (f'set = "{own}"\n' if own else "")
            for name, kind, group, tier, weight, own in affixes
        )
        path = folder / "lantern.toml"
        path.write_text(text)
        self.pool = read_pool(path)
        self.mentions = Mentions(
            wanted=frozenset(wanted), appearing=frozenset(put), named=frozenset(put)
        ).with_effects(effects)
        self.symbols = lump_affixes(
            self.pool, self.pool.bases[0], 0, mentions=self.mentions, how=how
        )
        self.pieces = list_pieces(self.symbols)

    def symbol(self, affix, placed):
        return self.symbols.symbol_of(affix, placed=placed)

    def row(self, piece):
        return self.pieces.of([self.symbol(*each) for each in piece])

    def lumped(self, law):
        """A law over sets of affixes, as a law over codes."""
        after = defaultdict(Fraction)
        for piece, chance in law.items():
            after[int(self.pieces.code(self.row(piece))[0])] += chance
        return after

    def compare(self, found, law):
        expected = self.lumped(law)
        got = defaultdict(float)
        for code, odds in zip(self.pieces.code(found.rows), found.odds, strict=True):
            got[int(code)] += odds
        assert set(got) == {code for code, chance in expected.items() if chance}
        for code, chance in expected.items():
            assert got[code] == pytest.approx(float(chance), abs=1e-12)


def start_pieces(known):
    """Pieces to try effects on: bare, some drawn, some with a placed affix."""
    bare = {frozenset(): Fraction(1)}
    found = {frozenset()}
    for number in (1, 2, 3):
        found |= set(known.draw(bare, number))
    lens = len(AFFIXES) - 1
    placed = {each | {(lens, True)} for each in found if known.fits(each, lens)}
    return sorted(found | placed, key=sorted)


CASES = [(AFFIXES, how) for how in (ONE_BY_ONE, BY_WEIGHT, BY_USE)]
CASES += [(AFFIXES + SPANNING, how) for how in (ONE_BY_ONE, BY_WEIGHT, BY_USE)]
LENS = len(AFFIXES) - 1
ALWAYS = [Place(LENS)]


@pytest.fixture(params=CASES, ids=lambda case: f"{len(case[0])} affixes {case[1]}")
def case(request):
    return request.param


@pytest.mark.parametrize("number", [1, 2, 3])
@pytest.mark.parametrize(("set_name", "kind"), [("", None), ("", "inlaid"), ("hidden", None)])
def test_add(tmp_path, case, number, set_name, kind):
    affixes, how = case
    effect = Add(number, kind, set_name)
    effects = [*ALWAYS, Redraw(None, "", COUNT), effect]
    made, known = Made(tmp_path, affixes, effects, how=how, wanted=[0]), Enumerated(affixes)
    worker = Adding(made.pieces, effect)
    for piece in start_pieces(known):
        row = made.row(piece)
        can = bool(known.candidates(piece, set_name, kind))
        assert worker.available(row)[0] == can
        if can:
            law = known.draw({piece: Fraction(1)}, number, set_name, kind)
            made.compare(worker.branches(row), law)


@pytest.mark.parametrize("kind", [None, "etched"])
def test_redraw(tmp_path, case, kind):
    affixes, how = case
    effect = Redraw(kind, "", COUNT)
    effects = [*ALWAYS, Redraw(None, "", COUNT), effect]
    made, known = Made(tmp_path, affixes, effects, how=how, wanted=[0, 4]), Enumerated(affixes)
    if made.symbols.separable:
        fresh = redraw_law(made.pieces, ("", kind), COUNT)
    kept = {
        frozenset(each for each in piece if kind and affixes[each[0]][1] != kind)
        for piece in start_pieces(known)
    }
    for staying in kept:
        law = known.redraw(staying, kind, COUNT)
        row = made.row(staying)
        if how != BY_USE or not made.symbols.separable:
            drawing = Drawing(made.pieces, ("", kind))
            made.compare(drawing.draw_counted(row, COUNT), law)
        if made.symbols.separable:
            rows, odds = fresh
            made.compare(Branches(np.zeros(len(rows)), rows + row, odds), law)


@pytest.mark.parametrize(("number", "kind"), [(1, None), (1, "etched"), (2, None)])
def test_remove(tmp_path, case, number, kind):
    affixes, how = case
    effect = Remove(number, kind)
    effects = [*ALWAYS, Redraw(None, "", COUNT), effect]
    made, known = Made(tmp_path, affixes, effects, how=how, wanted=[0]), Enumerated(affixes)
    worker = Removing(made.pieces, effect)
    for piece in start_pieces(known):
        present = any(kind in (None, affixes[each][1]) for each, _ in piece)
        assert worker.available(made.row(piece))[0] == present
        if present:
            made.compare(worker.branches(made.row(piece)), known.remove(piece, number, kind))


def test_place_takes_a_slot_and_its_group_within_the_limit(tmp_path, case):
    affixes, how = case
    effects = [Place(LENS), Place(0), Redraw(None, "", COUNT)]
    made, known = Made(tmp_path, affixes, effects, how=how), Enumerated(affixes)
    for affix in (LENS, 0):
        worker = Placing(made.pieces, Place(affix), at_most=made.pool.placed_at_most)
        for piece in start_pieces(known):
            can = known.fits(piece, affix) and not any(placed for _, placed in piece)
            assert worker.available(made.row(piece))[0] == can
            if can:
                law = {piece | {(affix, True)}: Fraction(1)}
                made.compare(worker.branches(made.row(piece)), law)


@pytest.mark.parametrize("affix", [None, 0])
def test_clear(tmp_path, case, affix):
    affixes, how = case
    effects = [*ALWAYS, Place(0), Clear(affix), Redraw(None, "", COUNT)]
    made, known = Made(tmp_path, affixes, effects, how=how), Enumerated(affixes)
    worker = Clearing(made.pieces, Clear(affix))
    for piece in start_pieces(known):
        leaving = {each for each in piece if (each[1] if affix is None else each[0] == affix)}
        assert worker.available(made.row(piece))[0] == bool(leaving)
        if leaving:
            made.compare(worker.branches(made.row(piece)), {piece - leaving: Fraction(1)})


@pytest.mark.parametrize(
    ("number", "set_name", "kind"), [(2, "", None), (3, "", "inlaid"), (3, "hidden", None)]
)
def test_choose(tmp_path, case, number, set_name, kind):
    affixes, how = case
    effect = Choose(number, kind, set_name, False)
    effects = [*ALWAYS, Redraw(None, "", COUNT), effect]
    made, known = Made(tmp_path, affixes, effects, how=how, wanted=[0, 4]), Enumerated(affixes)
    worker = Offering(made.pieces, effect)
    for piece in start_pieces(known):
        can = bool(known.candidates(piece, set_name, kind))
        assert worker.available(made.row(piece))[0] == can
        if not can:
            continue
        expected = defaultdict(Fraction)
        for offered, chance in known.offer(piece, number, set_name, kind).items():
            expected[frozenset(made.symbol(each, False) for each in offered)] += chance
        offers = worker.offers(made.row(piece))
        got = {
            frozenset(each for each in offered if each != NOTHING): odds
            for offered, odds in zip(offers.offered.tolist(), offers.odds, strict=True)
        }
        assert set(got) == set(expected)
        for offered, chance in expected.items():
            assert got[offered] == pytest.approx(float(chance), abs=1e-12)


@pytest.mark.parametrize("second", [(LENS,), (0, 4), (1,)])
def test_join(tmp_path, case, second):
    affixes, how = case
    effect = Join(second, "first", None)
    effects = [*ALWAYS, Redraw(None, "", COUNT), effect]
    made, known = Made(tmp_path, affixes, effects, how=how, wanted=[0]), Enumerated(affixes)
    worker = Joining(
        made.pieces, effect, survivors=dict(made.pool.survivors), missing=AssertionError
    )
    for piece in start_pieces(known):
        law = known.join(piece, second, made.pool.survivors)
        made.compare(worker.branches(made.row(piece)), law)


def test_many_pieces_at_once_are_each_on_their_own(tmp_path):
    effects = [*ALWAYS, Redraw(None, "", COUNT), Add(2, None, ""), Join((0, 4), "first", None)]
    made, known = Made(tmp_path, AFFIXES, effects, how=BY_WEIGHT, wanted=[0]), Enumerated(AFFIXES)
    rows = np.concatenate([made.row(piece) for piece in start_pieces(known)])
    joining = Joining(
        made.pieces, effects[-1], survivors=dict(made.pool.survivors), missing=AssertionError
    )
    for worker in (Adding(made.pieces, effects[2]), joining):
        together = worker.branches(rows)
        for place, row in enumerate(rows):
            alone = worker.branches(row[None])
            own = together.origin == place
            assert np.array_equal(together.rows[own], alone.rows)
            assert together.odds[own] == pytest.approx(alone.odds, abs=1e-15)
