"""Lumped and unlumped pools give the same chances and costs, to 1e-12, on pools made at random."""

from __future__ import annotations

import tempfile
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import RouteFault
from advisor.routes.learned import learn_odds
from advisor.routes.pools.clocks import redraw_law
from advisor.routes.pools.draws import Drawing
from advisor.routes.pools.expand import expand_pool_route
from advisor.routes.pools.lumping import BY_USE, BY_WEIGHT, ONE_BY_ONE, lump_affixes
from advisor.routes.pools.meeting import meets
from advisor.routes.pools.mentions import Mentions
from advisor.routes.pools.parts import list_pieces
from advisor.routes.pools.read_pool import read_pool
from advisor.routes.pools.wants import Entry, Want
from advisor.routes.read import read_route
from advisor.routes.solve import best_choices

HOWS = (ONE_BY_ONE, BY_WEIGHT, BY_USE)

affix = st.tuples(
    st.sampled_from(["etched", "inlaid"]),
    st.integers(0, 4),  # group
    st.sampled_from([0, 1, 1, 2, 2, 7, 1000]),  # weight
    st.sampled_from(["", "", "", "hidden"]),
)
pools = st.lists(affix, min_size=4, max_size=9)
slots = st.tuples(st.integers(1, 2), st.integers(1, 2))


def write_pool(path, affixes, etched, inlaid):
    """A pool in which groups may have affixes of both kinds."""
    tiers: dict[int, int] = {}
    text = f"[pool]\nslots = {{ etched = {etched}, inlaid = {inlaid} }}\n"
    text += "[pool.count]\nall = { 1 = 1, 2 = 2, 3 = 1 }\netched = { 1 = 1, 2 = 1 }\n"
    text += "[pool.survivors]\n" + "".join(
        f"{size} = {{ {max(0, size - 1)} = 1, 1 = 2 }}\n" if size > 2 else f"{size} = {{ 1 = 1 }}\n"
        for size in range(1, 4)
    )
    text += '[[base]]\nitem = "frame"\n'
    text += '[[affix]]\nname = "sure"\nkind = "etched"\nweight = 3\n'
    for number, (kind, group, weight, own) in enumerate(affixes):
        tiers[group] = tiers.get(group, 0) + 1
        text += (
            f'[[affix]]\nname = "affix {number}"\nkind = "{kind}"\ngroup = "group {group}"\n'
            f"tier = {tiers[group]}\nweight = {weight}\n" + (f'set = "{own}"\n' if own else "")
        )
    path.write_text(text)


@settings(max_examples=25, deadline=None)
@given(affixes=pools, slots=slots, wanted=st.sets(st.integers(0, 8), min_size=1, max_size=3))
def test_chance_of_a_want(affixes, slots, wanted):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lantern.toml"
        write_pool(path, affixes, *slots)
        pool = read_pool(path)
    wanted = {each for each in wanted if each < len(pool.affixes)} or {0}
    want = Want(all=tuple(Entry(str(each), (each,)) for each in sorted(wanted)))
    count = {1: Fraction(1, 4), 2: Fraction(1, 2), 4: Fraction(1, 4)}
    draw = ("", None)
    mentions = Mentions(
        wanted=frozenset(wanted), appearing=frozenset(wanted), draws=frozenset({draw})
    )
    chances = []
    for how in HOWS:
        symbols = lump_affixes(pool, pool.bases[0], 0, mentions=mentions, how=how)
        pieces = list_pieces(symbols)
        if how != BY_USE:
            bare = np.zeros((1, len(symbols.kinds)), dtype=np.int64)
            law = Drawing(pieces, draw).draw_counted(bare, count)
            chances.append(law.odds @ meets(want, pieces, law.rows))
        if symbols.separable:
            rows, odds = redraw_law(pieces, draw, count)
            chances.append(odds @ meets(want, pieces, rows))
    assert chances == pytest.approx([chances[0]] * len(chances), abs=1e-12)


ROUTE = """
[route]
makes = "piece"
pool = "lantern"
base = "frame"
[finish]
{finish}
[[step]]
name = "take"
from = "table"
uses = {{ frame = 1 }}
put = []
[[step]]
name = "again"
when = {{}}
uses = {{ dye = 1 }}
effect = {{ redraw = "all" }}
"""
FINISHES = [
    'all = ["sure"]',
    'all = ["sure"]',
    'all = ["sure"]\nfree = { inlaid = 1 }',
    'all = ["sure"]\nany = [{ k = 1, of = ["group 0:1", "group 1:2", "affix 0"] }]',
    'any = [{ k = 2, of = ["group 0:2", "group 1:2", "sure"] }]',
    'all = ["group 0:2"]\nnone = ["group 1:1"]',
]
STEPS = [
    'effect = { redraw = "etched" }',
    "effect = { add = 1 }",
    'effect = { add = 2, kind = "inlaid" }',
    "effect = { remove = 1 }",
    'effect = { remove = 1, kind = "etched" }',
    "effect = { choose = 2 }",
    'effect = { choose = 2, kind = "etched", decline = true }',
    'to = "table"',
    'effect = { join = ["sure"] }',
]


@settings(max_examples=25, deadline=None)
@given(
    affixes=pools,
    slots=slots,
    steps=st.sets(st.sampled_from(range(len(STEPS))), min_size=1, max_size=3),
    prices=st.lists(st.integers(1, 9), min_size=len(STEPS), max_size=len(STEPS)),
    finish=st.sampled_from(FINISHES),
)
def test_cost_of_a_route(affixes, slots, steps, prices, finish):
    text = ROUTE.format(finish=finish)
    for number in sorted(steps):
        text += (
            f'[[step]]\nname = "step {number}"\nwhen = {{}}\n'
            f"uses = {{ salt = {prices[number]} }}\n{STEPS[number]}\n"
        )
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for each in ("pools", "routes"):
            (folder / each).mkdir()
        write_pool(folder / "pools/lantern.toml", affixes, *slots)
        (folder / "routes/evening.toml").write_text(text)
        route = read_route(folder / "routes/evening.toml")
        answers = [cost_or_refusal(route, how) for how in HOWS]
    first = answers[0]
    if isinstance(first, str):
        assert answers == [first] * 3
        return
    costs, sizes = zip(*answers, strict=True)
    assert costs == pytest.approx([costs[0]] * 3, rel=1e-11)
    assert list(sizes) == sorted(sizes, reverse=True)


def cost_or_refusal(route, how):
    """Least mean cost and number of stages, or why there is none."""
    odds = learn_odds(route).odds
    try:
        model = expand_pool_route(route, goal="keep", money="shell", odds=odds, how=how)
        assert np.abs(np.bincount(model.outcome_action, weights=model.odds) - 1).max() < 1e-12
        assert len(set(model.stages)) == len(model.stages)
        prices = np.array([{"frame": 20.0, "dye": 3.0}.get(item, 1.0) for item in model.items])
        found = best_choices(model, model.outcome_costs(prices, prices))
    except RouteFault as fault:
        return fault.what if fault.stage is None else "a stage is refused"
    return found.cost_to_go[model.start], len(model.stages)
