"""How solving grows with the size of a route, beside a general model checker, in one run.

    python tests/bench/routes_scale.py [largest size, default 100000]

Four shapes: `rungs` (setbacks at most to the start of a block of ten), `grid` (two
qualities, setbacks by one), `restarts` (any failure throws the piece away),
`tumbles` (a failure may lead back to any earlier stage). The checker's time has two
parts, handing the route over and the answer, with bounds asked to 1e-9 of the
value; it is left out where it would take minutes.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # as the command line has it; before numpy

import numpy as np
from big_routes import build_grid, build_restarts, build_rungs, build_tumbles

from advisor.routes.solve import best_choices
from advisor.routes.stages import StageModel

SIZES = (10**3, 10**4, 10**5, 10**6)
CHECKER_AT_MOST = {"rungs": 10**6, "grid": 10**6, "restarts": 10**4, "tumbles": 10**4}
SHAPES: dict[str, Callable[[int], StageModel]] = {
    "rungs": build_rungs,
    "grid": lambda count: build_grid(round(count**0.5)),
    "restarts": build_restarts,
    "tumbles": build_tumbles,
}


def measure(action: Callable[[], object]) -> tuple[float, object]:
    """CPU seconds of the best of up to three runs, and the last result."""
    best, result = np.inf, None
    for _ in range(3):
        begin = time.process_time()
        result = action()
        best = min(best, time.process_time() - begin)
        if best > 1.0:
            break
    return best, result


def ask_checker(shape: str, model: StageModel, costs: np.ndarray) -> tuple[float, float] | None:
    try:
        from model_checker import hand_over, least_cost
    except ImportError:
        return None
    if len(model.stages) > CHECKER_AT_MOST[shape]:
        return None
    handing, process = measure(lambda: hand_over(model, costs))
    answering, _ = measure(lambda: least_cost(process, model.start, None))
    return handing, answering


def print_row(shape: str, count: int) -> None:
    model = SHAPES[shape](count)
    costs = model.outcome_costs(np.ones(1), np.ones(1))
    seconds, found = measure(lambda: best_choices(model, costs))
    outcomes = len(model.odds)
    gap = (found.upper - found.lower) / max(1.0, abs(found.lower))
    row = (
        f"{shape:9} {len(model.stages):9,} {outcomes:10,} {found.iterations:4}"
        f" {seconds:9.3f} {1e6 * seconds / outcomes:8.2f} {gap:8.1e}"
    )
    checker = ask_checker(shape, model, costs)
    if checker is not None:
        handing, answering = checker
        row += f" {handing:9.3f} {answering:9.3f} {seconds / (handing + answering):7.2f}"
    print(row, flush=True)


def main() -> None:
    largest = int(sys.argv[1]) if len(sys.argv) > 1 else 10**5
    print(
        "shape        stages   outcomes rnds   seconds us/outc.  gap      handing  checker   ratio"
    )
    for shape in SHAPES:
        for count in (size for size in SIZES if size <= largest):
            print_row(shape, count)


if __name__ == "__main__":
    main()
