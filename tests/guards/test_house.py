"""The shape of the house: what stands at the top, floors, lone imports, empty package roots."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]
PACKAGES = ("advisor", "importers", "reports")
MODULES = sorted(
    ".".join(path.relative_to(TOP).with_suffix("").parts).removesuffix(".__init__")
    for package in PACKAGES
    for path in (TOP / package).rglob("*.py")
)


def tracked_top_names():
    listed = subprocess.run(
        ["git", "ls-files"], cwd=TOP, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a git checkout")
    return {name.split("/")[0] for name in listed.stdout.splitlines()}


def test_top_level_is_fixed():
    allowed = {
        *("README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE"),
        *("advisor", "importers", "reports", "tests", "sample_prices"),
    }
    visible = {name for name in tracked_top_names() if not name.startswith(".")}
    assert visible == allowed


def test_floors_hold():
    linter = Path(sys.executable).with_name("lint-imports")
    run = subprocess.run([linter], cwd=TOP, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout + run.stderr


def test_package_roots_are_empty():
    for package in PACKAGES:
        for root in (TOP / package).rglob("__init__.py"):
            lines = [line for line in root.read_text().splitlines() if line.strip()]
            allowed = root == TOP / "advisor/__init__.py" and len(lines) == 1
            assert allowed or not lines, root


def imports_alone(module):
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", f"import {module}"],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
    )
    return f"{module}: {run.stderr.strip().splitlines()[-1]}" if run.returncode else None


def test_every_module_imports_alone_without_a_warning():
    with ThreadPoolExecutor(max_workers=2) as pool:
        faults = [fault for fault in pool.map(imports_alone, MODULES) if fault]
    assert not faults


def test_no_assert_in_shipped_code():
    """Input is checked with errors; an assert would vanish under -O."""
    for module in MODULES:
        path = TOP / (module.replace(".", "/") + ".py")
        if path.exists():
            tree = ast.parse(path.read_text())
            assert not [each for each in ast.walk(tree) if isinstance(each, ast.Assert)], path


def heavy_imports(statement):
    code = f"import sys; {statement}; print(' '.join(sys.modules))"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(run.stdout.split()) & {
        *("numpy", "scipy", "polars", "pandas", "statsmodels", "typer", "plotly"),
        *("sqlite_utils", "pydantic", "rich", "apscheduler"),
    }


def test_help_needs_no_library():
    assert heavy_imports("from advisor.cli.main import main; main(['--help'])") == set()
