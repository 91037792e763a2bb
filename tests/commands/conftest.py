"""A command run as its user runs it, and a small workspace to run it in."""

from __future__ import annotations

import contextlib
import io
import json
import os
import sys
from pathlib import Path

import pytest

from advisor.cli.main import main


class Run:
    """What one command line printed, and its exit code."""

    def __init__(self, code, out, err):
        self.code, self.out, self.err = code, out, err

    @property
    def json(self):
        return json.loads(self.out)

    def is_one_sentence(self):
        """Whether it failed as every command should: one line on stderr, no traceback."""
        lines = self.err.strip().splitlines()
        faults = [line for line in lines if line.startswith("makeworth: ")]
        return len(faults) == 1 and "Traceback" not in self.err and not self.out


@contextlib.contextmanager
def standing_in(folder, environment):
    before, old = dict(os.environ), Path.cwd()
    os.environ.update(environment)
    os.environ.pop("MAKEWORTH_WORKSPACE", None)
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(old)
        os.environ.clear()
        os.environ.update(before)


@pytest.fixture
def makeworth(monkeypatch):
    """Runs `makeworth WORDS...` in a folder, in this process; never in the tester's workspace."""

    def run(*words, cwd, text=None, columns=80):
        out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", newline="") for _ in range(2))
        typed = io.TextIOWrapper(io.BytesIO((text or "").encode()), "utf-8")
        with monkeypatch.context() as patch:
            patch.setattr(sys, "stdin", typed)
            patch.setattr(sys, "stdout", out)
            patch.setattr(sys, "stderr", err)
            with standing_in(cwd, {"COLUMNS": str(columns), "NO_COLOR": "1"}):
                code = main([str(word) for word in words])
            out.flush()
            err.flush()
        said = [stream.buffer.getvalue().decode() for stream in (out, err)]
        return Run(code, *said)

    return run


@pytest.fixture
def workspace(tmp_path, makeworth):
    """A new workspace as `makeworth start` leaves it."""
    folder = tmp_path / "fen"
    started = makeworth("start", folder, "--timezone", "UTC", cwd=tmp_path)
    assert started.code == 0, started.err
    return folder
