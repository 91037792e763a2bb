"""The entry: help without a workspace, unknown commands, one sentence for every fault."""

from __future__ import annotations

import pytest

from advisor import __version__
from advisor.cli.commands import COMMANDS


def test_help_lists_every_command(tmp_path, makeworth):
    for words in ((), ("--help",), ("-h",)):
        run = makeworth(*words, cwd=tmp_path)
        assert run.code == 0
        assert all(f"  {name} " in run.out for name in COMMANDS)


def test_version(tmp_path, makeworth):
    assert makeworth("--version", cwd=tmp_path).out == f"makeworth {__version__}\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("advice",), 'did you mean "advise"?'),
        (("zzz",), "see makeworth --help"),
        (("-w",), "needs a folder"),
        (("-w", "somewhere"), "no command given"),
        (("prices", "--wrong"), "no such option"),
        (("--workspce", "x"), "no command"),
    ],
)
def test_wrong_use_is_one_sentence_and_exit_2(tmp_path, makeworth, words, said):
    run = makeworth(*words, cwd=tmp_path)
    assert run.code == 2
    assert run.is_one_sentence(), run.err
    assert said in run.err


def test_workspace_before_or_behind_the_command(tmp_path, workspace, makeworth):
    for words in (
        ("-w", workspace, "prices"),
        (f"--workspace={workspace}", "prices"),
        ("prices", "-w", workspace),
    ):
        assert makeworth(*words, cwd=tmp_path).code == 0


def test_a_name_cannot_steer_the_terminal(workspace, makeworth):
    run = makeworth("prices", "\x1b[2Jframe", cwd=workspace)
    assert run.code == 1
    assert "\x1b" not in run.err


def test_a_closed_pipe_is_no_fault(workspace):
    import subprocess
    import sys
    from pathlib import Path

    command = f"{Path(sys.executable).with_name('makeworth')} --help | head -n 1"
    run = subprocess.run(
        command, shell=True, cwd=workspace, capture_output=True, text=True, check=True
    )
    assert run.stderr == ""
