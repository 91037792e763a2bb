"""How long a large pool takes: 200 affixes in 60 groups, 2 kinds with 3 slots, ten weights.

Builds the stages of a route that wants any three of eight and solves it. Run alone:

    python tests/bench/pools_large.py

Each case runs in a process of its own so that its peak memory is its own. Two pools:
`even`: all affixes of a group have one weight, so that groups come in few sorts;
`mixed`: every affix has its own of the ten weights, so that hardly two groups are alike.
Times are of the processor, over all threads, so that other work beside does not count.
"""

from __future__ import annotations

import random
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

WEIGHTS = (10, 25, 50, 75, 100, 150, 200, 300, 500, 1000)
WANTED = [f"group {number}:2" for number in range(8)]
HEAD = """
[pool]
slots = { etched = 3, inlaid = 3 }
[pool.count]
all = { 4 = 6, 5 = 3, 6 = 1 }
[[base]]
item = "lantern frame"
"""
DRAW = """
[route]
makes = "storm lantern"
pool = "large"
base = "lantern frame"
[finish]
any = [{ k = 3, of = %s }]
[[step]]
name = "take a frame"
from = "empty table"
uses = { "lantern frame" = 1 }
put = []
[[step]]
name = "wash and draw"
when = {}
uses = { "river dye" = 1 }
effect = { redraw = "all" }
[[step]]
name = "break up"
when = {}
to = "empty table"
gives = { "scrap glass" = 1 }
"""
ADD = """
[[step]]
name = "add"
when = {}
uses = { "etching salt" = 1 }
effect = { add = 1 }
"""
REMOVE = """
[[step]]
name = "rub out"
when = {}
uses = { "binding wax" = 1 }
effect = { remove = 1 }
"""
ROUTES = {"redraw": DRAW, "redraw, add": DRAW + ADD, "redraw, add, remove": DRAW + ADD + REMOVE}
BUY = {"lantern frame": 40.0, "river dye": 3.0, "etching salt": 5.0, "binding wax": 4.0}


def pool_text(sort: str) -> str:
    """A pool of 200 affixes in 60 groups."""
    rng = random.Random(60)
    text = HEAD
    for group in range(60):
        # ten weights for the groups of each kind in turn, so that each kind has every weight
        own = WEIGHTS[group // 2 % 10]
        for tier in range(1, 5 if group % 3 == 0 else 4):
            weight = own if sort == "even" else rng.choice(WEIGHTS)
            text += (
                f'[[affix]]\nname = "affix {group}.{tier}"\ngroup = "group {group}"\n'
                f'kind = "{("etched", "inlaid")[group % 2]}"\ntier = {tier}\nweight = {weight}\n'
            )
    return text


def count_pieces(sort: str, steps: str) -> None:
    """How many pieces there are by each way of lumping, without making them."""
    from math import prod

    from advisor.routes.pools.lumping import BY_USE, BY_WEIGHT, ONE_BY_ONE, lump_affixes
    from advisor.routes.pools.parts import count_parts
    from advisor.routes.pools.pool_route import read_pool_route
    from advisor.routes.pools.read_pool import read_pool
    from advisor.routes.read import read_route

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "large.toml").write_text(pool_text(sort))
        (folder / "evening.toml").write_text(ROUTES[steps] % WANTED)
        pool, route = read_pool(folder / "large.toml"), read_route(folder / "evening.toml")
    if route.pool is None:
        raise SystemExit("the route names no pool")
    meant = read_pool_route(route, route.pool, pool)
    counts = []
    for how in (ONE_BY_ONE, BY_WEIGHT, BY_USE):
        symbols = lump_affixes(pool, meant.base, 0, mentions=meant.mentions, how=how)
        counts.append(f"{how} {prod(count_parts(symbols, kind) for kind in range(2)):,}")
    print(f"{sort:6} {steps:20} pieces that fit: {', '.join(counts)}")


def run_case(sort: str, steps: str, how: str) -> None:
    """Build and solve one case; prints one line."""
    import numpy as np

    from advisor.routes.learned import learn_odds
    from advisor.routes.pools.expand import expand_pool_route
    from advisor.routes.read import read_route
    from advisor.routes.solve import best_choices

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for each in ("pools", "routes"):
            (folder / each).mkdir()
        (folder / "pools/large.toml").write_text(pool_text(sort))
        (folder / "routes/evening.toml").write_text(ROUTES[steps] % WANTED)
        started = time.process_time()
        route = read_route(folder / "routes/evening.toml")
        model = expand_pool_route(
            route, goal="keep", money="shell", odds=learn_odds(route).odds, how=how
        )
    built = time.process_time()
    prices = np.array([BUY.get(item, 1.0) for item in model.items])
    found = best_choices(model, model.outcome_costs(prices, prices))
    solved = time.process_time()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{sort:6} {steps:20} {how:10} {len(model.stages):>9,} stages {len(model.odds):>10,} "
        f"outcomes  built {built - started:6.2f} s  solved {solved - built:6.2f} s  "
        f"{peak:5.0f} MiB  mean {found.cost_to_go[model.start]:.9g}"
    )


def main() -> None:
    """Run every case, each in its own process."""
    for sort in ("even", "mixed"):
        for steps in ROUTES:
            count_pieces(sort, steps)
            for how in ("by use", "by weight", "one by one"):
                command = [sys.executable, __file__, sort, steps, how]
                run = subprocess.run(command, capture_output=True, text=True, check=False)
                last = run.stderr.strip().splitlines()[-1:] or [""]
                print(run.stdout.strip() or f"{sort:6} {steps:20} {how:10} {last[0][:300]}")


if __name__ == "__main__":
    if len(sys.argv) == 4:
        run_case(*sys.argv[1:])
    else:
        main()
