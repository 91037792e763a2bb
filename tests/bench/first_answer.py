"""How long a person waits: the help text, and make-or-buy on the demo book, cold.

Whole processes, run in turn with an empty Python start so that the ratio holds
when the machine's speed drifts. Prints medians and ratios; asserts nothing.

    python tests/bench/first_answer.py [RUNS]
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PYTHON = sys.executable
MAKEWORTH = str(Path(PYTHON).with_name("makeworth"))
IMPORTS = "import numpy, polars, scipy.sparse.linalg, typer"


def seconds(command: list[str], folder: str, environment: dict[str, str]) -> float:
    """Wall time of one process."""
    begun = time.perf_counter()
    subprocess.run(command, cwd=folder, check=True, capture_output=True, env=environment)
    return time.perf_counter() - begun


def main() -> None:
    """Measure and print."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    environment = {**os.environ, "COLUMNS": "80"}
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([MAKEWORTH, "demo", "fen"], cwd=folder, check=True, capture_output=True)
        advise = [MAKEWORTH, "-w", "fen", "advise", "craft", "storm lantern"]
        commands = {
            "empty Python start": [PYTHON, "-c", "pass"],
            "makeworth --help": [MAKEWORTH, "--help"],
            "importing libraries": [PYTHON, "-c", IMPORTS],
            "advise craft, cold": [*advise, "--as-of", "2026-10-30"],
        }
        times: dict[str, list[float]] = {name: [] for name in commands}
        for _ in range(runs + 1):
            for name, command in commands.items():
                times[name].append(seconds(command, folder, environment))
        empty = times["empty Python start"]
        print(f"{'':22} {'median s':>9} {'of an empty start':>18}")
        for name, taken in times.items():
            ratios = [one / start for one, start in zip(taken[1:], empty[1:], strict=True)]
            print(
                f"{name:22} {statistics.median(taken[1:]):9.3f} {statistics.median(ratios):18.2f}"
            )


if __name__ == "__main__":
    main()
