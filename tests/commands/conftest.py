"""A command run as its user runs it, and a small workspace to run it in."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

MAKEWORTH = str(Path(sys.executable).with_name("makeworth"))


class Run:
    """What one command line printed, and its exit code."""

    def __init__(self, done: subprocess.CompletedProcess[str]):
        self.code, self.out, self.err = done.returncode, done.stdout, done.stderr

    @property
    def json(self):
        return json.loads(self.out)

    def is_one_sentence(self):
        """Whether it failed as every command should: one line on stderr, no traceback."""
        lines = self.err.strip().splitlines()
        faults = [line for line in lines if line.startswith("makeworth: ")]
        return len(faults) == 1 and "Traceback" not in self.err and not self.out


@pytest.fixture
def makeworth():
    """Runs `makeworth WORDS...` in a folder; never in a workspace of the tester's own."""

    def run(*words, cwd, text=None):
        environment = {**os.environ, "COLUMNS": "80", "NO_COLOR": "1"}
        environment.pop("MAKEWORTH_WORKSPACE", None)
        done = subprocess.run(
            [MAKEWORTH, *map(str, words)],
            cwd=cwd,
            input=text,
            capture_output=True,
            text=True,
            check=False,
            env=environment,
        )
        return Run(done)

    return run


@pytest.fixture
def workspace(tmp_path, makeworth):
    """A new workspace as `makeworth start` leaves it."""
    folder = tmp_path / "fen"
    started = makeworth("start", folder, "--timezone", "UTC", cwd=tmp_path)
    assert started.code == 0, started.err
    return folder
