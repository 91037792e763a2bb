"""How long a replay takes on the sample book: a whole season, then once more from what is kept.

python tests/bench/replay_season.py [first day] [last day]
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from time import perf_counter

from advisor.tasks.demonstrating import make_demo
from advisor.tasks.replaying import replay


def main() -> None:
    first, last = sys.argv[1:3] if len(sys.argv) > 2 else ("2026-03-01", "2026-06-18")
    with tempfile.TemporaryDirectory() as name:
        place = make_demo(Path(name) / "fen").workspace
        for what in ("worked out", "kept"):
            begin = perf_counter()
            answer = replay(place, first=first, last=last)
            took = perf_counter() - begin
            days = len(answer.sums.days)
            print(f"{days} days, {answer.worked_out} of them now ({what}): {took:.1f} s")
        times = os.times()
        used = times.user + times.system + times.children_user + times.children_system
        print(f"processor time in all: {used:.0f} s")


if __name__ == "__main__":
    main()
