"""What is said on stderr: wrapped where a person reads it, one line for a program."""

from __future__ import annotations

import io
import sys

import pytest

from advisor.cli.screen import say_beside

SENTENCE = "the sheet holds dates, but its name does not say so; if it does: --map at=Datum"


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.mark.parametrize("columns", [50, 80])
def test_at_a_terminal_no_line_is_longer_than_it_is_wide(monkeypatch, columns):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setenv("COLUMNS", str(columns))
    say_beside(SENTENCE, mark="note: ")
    lines = terminal.getvalue().splitlines()
    assert len(lines) > 1 and max(map(len, lines)) <= columns
    assert " ".join(line.strip() for line in lines) == f"note: {SENTENCE}"


def test_to_a_program_it_is_one_line_without_control_signs(monkeypatch):
    pipe = io.StringIO()
    monkeypatch.setattr(sys, "stderr", pipe)
    monkeypatch.setenv("COLUMNS", "50")
    say_beside(f"{SENTENCE}\x1b[2J", mark="makeworth: ")
    assert pipe.getvalue() == f"makeworth: {SENTENCE}\\x1b[2J\n"
