"""The law of a cost: how fast, and beside a simulation of the same accuracy, in one run.

    python tests/bench/routes_law.py

An ordinary route is solved together with its law; imports are done before. The
simulation is vectorised with numpy; its accuracy is measured, that of the law's
quantiles is half a lattice cell, and the runs needed for that follow from the
square-root rule.
"""

from __future__ import annotations

import os
import time

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # as the command line has it; before numpy

import numpy as np

from advisor.routes.chain import sum_chain
from advisor.routes.distribution import cost_distribution
from advisor.routes.sketch import sketch_route
from advisor.routes.solve import best_choices

RUNS = 200_000


def sketch_ordinary(stages: int):
    """Rungs with setbacks of up to five, prices that fit no lattice, a dearer safe step each."""
    chance = np.random.default_rng(1)
    actions = []
    for stage in range(stages):
        back = max(0, stage - int(chance.integers(0, 6)))
        price = float(chance.uniform(1, 9))
        actions.append(
            (stage, [(0.6, stage + 1, price), (0.3, stage, price), (0.1, back, price - 0.5)])
        )
        actions.append((stage, [(0.9, stage + 1, 2 * price), (0.1, stage, 2 * price)]))
    return sketch_route(actions, done=[stages])


def measure(action, times: int = 5) -> float:
    best = np.inf
    for _ in range(times):
        begin = time.process_time()
        action()
        best = min(best, time.process_time() - begin)
    return best


def simulate(model, choices, costs, runs: int) -> np.ndarray:
    """Totals of many runs at once, one outcome of every unfinished run at a time."""
    random = np.random.default_rng(2)
    first = np.searchsorted(model.outcome_action, np.arange(len(model.action_stage) + 1))
    cumulated = np.cumsum(model.odds)
    before = np.concatenate(([0.0], cumulated))
    stage, total = np.full(runs, model.start), np.zeros(runs)
    going = np.arange(runs)
    while len(going):
        action = choices.actions[stage[going]]
        low = before[first[action]]
        pick = np.searchsorted(cumulated, low + random.random(len(going)), side="right")
        pick = np.minimum(pick, first[action + 1] - 1)
        total[going] += costs[pick]
        stage[going] = model.outcome_stage[pick]
        going = going[choices.actions[stage[going]] >= 0]
    return total


def print_row(stages: int) -> None:
    model, costs = sketch_ordinary(stages)
    choices = best_choices(model, costs)
    law = cost_distribution(model, choices, costs)
    solving = measure(lambda: best_choices(model, costs))
    summing = measure(lambda: sum_chain(model, choices))
    drawing = measure(lambda: cost_distribution(model, choices, costs))
    begin = time.process_time()
    totals = simulate(model, choices, costs, RUNS)
    simulating = time.process_time() - begin
    parts = [np.quantile(part, 0.99) for part in np.array_split(totals, 20)]
    error = np.std(parts) / np.sqrt(20)
    same = simulating * (error / (law.step / 2)) ** 2
    print(
        f"{stages:6} {1e3 * solving:9.1f} {1e3 * summing:8.1f} {1e3 * drawing:8.1f}"
        f" {1e3 * (solving + drawing):9.1f} {len(law.pmf):7,} {law.rounding_sd / law.sd:9.1e}"
        f" {simulating:9.2f} {error:9.2e} {law.step / 2:9.2e} {same / drawing:10,.0f}",
        flush=True,
    )


def main() -> None:
    print("CPU milliseconds; simulation in seconds; last: how many times slower simulating is")
    print(
        "stages   solving  sums      law  solve+law   cells rounding  simulate     error"
        " half cell      times"
    )
    for stages in (3, 10, 50, 100, 199):
        print_row(stages)


if __name__ == "__main__":
    main()
