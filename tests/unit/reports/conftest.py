"""The report of Harrow Fen that the browser tests open, here without a browser."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest

SAMPLE = Path(__file__).parents[2] / "browser/sample_report.py"


@pytest.fixture(scope="session")
def sample():
    return runpy.run_path(str(SAMPLE))


@pytest.fixture(scope="session")
def report(sample):
    return sample["harrow_fen"]()
