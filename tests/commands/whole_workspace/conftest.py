"""Commands run in this process, which starts faster than one of their own."""

from __future__ import annotations

import pytest

from advisor.cli.main import main


class Run:
    """What a command line printed, and its exit code."""

    def __init__(self, code, printed):
        self.code, self.out, self.err = code, printed.out, printed.err

    def is_one_sentence(self):
        return self.err.count("\n") == 1 and self.err.startswith("makeworth: ") and not self.out


@pytest.fixture
def makeworth(capsys, monkeypatch):
    """Runs `makeworth WORDS...` in a folder; never in a workspace of the tester's own."""
    monkeypatch.delenv("MAKEWORTH_WORKSPACE", raising=False)

    def run(*words, cwd):
        monkeypatch.chdir(cwd)
        capsys.readouterr()
        code = main([str(word) for word in words])
        return Run(code, capsys.readouterr())

    return run


@pytest.fixture
def workspace(tmp_path, makeworth):
    assert makeworth("start", tmp_path / "fen", "--timezone", "UTC", cwd=tmp_path).code == 0
    return tmp_path / "fen"
