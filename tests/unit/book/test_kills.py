"""A writer killed at random moments leaves the book as before or after a step."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

HARNESS = Path(__file__).parents[2] / "bench" / "book_kills.py"


@pytest.mark.slow
def test_kills_at_random_moments_lose_nothing_and_leave_nothing_half_written():
    done = subprocess.run(
        [sys.executable, str(HARNESS), "10", "3"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.startswith("10 kills survived")
