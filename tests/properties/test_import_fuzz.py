"""The short version of tests/bench/import_fuzz.py: a few hundred damaged and random files."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

FUZZ = Path(__file__).parents[1] / "bench" / "import_fuzz.py"


@pytest.fixture(scope="module")
def fuzzer():
    spec = importlib.util.spec_from_file_location("import_fuzz", FUZZ)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    yield module
    del sys.modules[spec.name]


def test_three_hundred_inputs_without_a_fault(fuzzer):
    findings = fuzzer.fuzz(300, seed=20)
    assert findings.faults == []
    assert sum(findings.outcomes.values()) == 300
    assert findings.outcomes["read"] > 30 and findings.outcomes["refused"] > 30
    assert findings.rows > 300


def test_a_lost_row_would_be_noticed(fuzzer, tmp_path):
    path = tmp_path / "prices.csv"
    path.write_text("item,price\nwax,2.5\nflux,1.5\n", encoding="utf-8")
    fuzzer.accounted(path, [2, 3], [])
    with pytest.raises(AssertionError, match=r"lines \[3\] are lost"):
        fuzzer.accounted(path, [2], [])
    with pytest.raises(AssertionError, match="counted twice"):
        fuzzer.accounted(path, [2, 2, 3], [])
