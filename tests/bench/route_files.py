"""How long a run of rungs takes to read and build, and the memory it takes, by size.

    python tests/bench/route_files.py [largest]

Each size runs in a process of its own, so that the memory told is its own peak.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SIZES = (1_000, 10_000, 100_000, 1_000_000)
LARGEST_MEMORY_UNIT = 1024 * 1024

TEXT = """
[route]
makes = "edge {last}"
[[step]]
name = "harden {{n}}"
vary = {{ n = "0..{before_last}" }}
from = "edge {{n}}"
uses = {{ "etching salt" = 1, "binding wax" = 2 }}
fee = 1
[step.outcomes]
"edge {{n+1}}" = "80 %"
"edge {{n-1:0..}}" = "5 %"
"edge {{n-2:0..}}" = "rest"
"""


def build_one(size: int) -> None:
    """Read and build one route; print seconds and peak memory."""
    from advisor.routes.build import build_stages
    from advisor.routes.read import read_route

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "edge.toml"
        path.write_text(TEXT.format(last=size, before_last=size - 1))
        begin = time.perf_counter()
        model = build_stages(read_route(path), goal="keep", money="shell")
    seconds = time.perf_counter() - begin
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / LARGEST_MEMORY_UNIT
    each = 1e6 * seconds / size
    print(
        f"{len(model.stages):>9,} {len(model.odds):>9,} {seconds:>9.2f} {each:>9.1f} {peak:>9.2f}"
    )


def main() -> None:
    """Run every size up to the largest asked for."""
    if sys.argv[1:2] == ["--one"]:
        build_one(int(sys.argv[2]))
        return
    largest = int(sys.argv[1]) if len(sys.argv) > 1 else SIZES[-1]
    print("   stages  outcomes   seconds  us/stage  peak GiB", flush=True)
    for size in SIZES:
        if size <= largest:
            subprocess.run([sys.executable, __file__, "--one", str(size)], check=True)


if __name__ == "__main__":
    main()
