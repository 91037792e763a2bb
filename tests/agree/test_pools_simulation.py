"""A large pool, too large to enumerate, against plain simulation with a fixed seed.

200 affixes in 60 groups, three slots of each of two kinds, ten weights. The
simulated chances lie within 4.5 standard errors of the computed ones.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from advisor.routes.pools.chances import chance_met
from advisor.routes.pools.inclusion import on_piece_chances
from advisor.routes.pools.read_pool import read_pool
from advisor.routes.pools.wants import AtLeast, Entry, Want

WEIGHTS = (10, 25, 50, 75, 100, 150, 200, 300, 500, 1000)
RUNS = 20_000


@pytest.fixture(scope="module")
def pool(tmp_path_factory):
    rng = np.random.default_rng(60)
    text = "[pool]\nslots = { etched = 3, inlaid = 3 }\n[pool.count]\n"
    text += 'all = { 4 = 6, 5 = 3, 6 = 1 }\n[[base]]\nitem = "frame"\n'
    for group in range(60):
        for tier in range(1, 5 if group % 3 == 0 else 4):
            text += (
                f'[[affix]]\nname = "{group}.{tier}"\ngroup = "{group}"\ntier = {tier}\n'
                f'kind = "{("etched", "inlaid")[group % 2]}"\nweight = {rng.choice(WEIGHTS)}\n'
            )
    path = tmp_path_factory.mktemp("pools") / "large.toml"
    path.write_text(text)
    return read_pool(path)


@pytest.fixture(scope="module")
def drawn(pool):
    """Simulated redraws, bool, shape (runs, affixes): draws one after another, as written."""
    rng = np.random.default_rng(7)
    weights = np.array([float(each.weight) for each in pool.affixes])
    groups = np.array([pool.group_number(each) for each in range(len(weights))])
    kinds = np.array([list(pool.slots).index(each.kind) for each in pool.affixes])
    sizes = rng.choice([4, 5, 6], p=[0.6, 0.3, 0.1], size=RUNS)
    on_piece = np.zeros((RUNS, len(weights)), dtype=bool)
    taken = np.zeros((RUNS, 2), dtype=int)
    open_still = np.ones((RUNS, len(weights)), dtype=bool)
    for number in range(6):
        running = np.flatnonzero(sizes > number)
        now = np.where(open_still[running], weights, 0.0).cumsum(axis=1)
        spot = rng.random(len(running)) * now[:, -1]
        affix = (now > spot[:, None]).argmax(axis=1)
        on_piece[running, affix] = True
        open_still[running] &= groups[None, :] != groups[affix][:, None]
        taken[running, kinds[affix]] += 1
        for kind in range(2):
            full = running[taken[running, kind] == 3]
            open_still[np.ix_(full, kinds == kind)] = False
    return on_piece


def agrees(simulated, chance):
    spread = math.sqrt(chance * (1 - chance) / RUNS)
    return abs(simulated - chance) <= 4.5 * spread + 1e-9


def test_chance_of_every_affix_on_the_piece(pool, drawn):
    found = on_piece_chances(pool, pool.bases[0], 0, count=pool.count["all"])
    assert sum(found.values()) == pytest.approx(0.6 * 4 + 0.3 * 5 + 0.1 * 6, abs=1e-10)
    for affix, chance in found.items():
        assert agrees(drawn[:, affix].mean(), chance), (affix, chance)


def test_any_two_of_eight(pool, drawn):
    names = [f"{group}:2" for group in range(8)]
    entries = [
        Entry(
            name,
            tuple(
                number
                for number, each in enumerate(pool.affixes)
                if each.group == name[:-2] and each.tier <= 2
            ),
        )
        for name in names
    ]
    want = Want(any=(AtLeast(2, tuple(entries)),))
    chance = chance_met(pool, pool.bases[0], 0, want=want)
    met = sum(drawn[:, list(entry.affixes)].any(axis=1).astype(int) for entry in entries) >= 2
    assert 0.01 < chance < 0.5
    assert agrees(met.mean(), chance)
