"""The README cannot drift: its evening runs, its commands exist, its output is the real one."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from advisor.cli.commands import COMMANDS, help_text

TOP = Path(__file__).parents[2]
README = (TOP / "README.md").read_text()
MAKEWORTH = Path(sys.executable).with_name("makeworth")


def evening():
    """(command, expected output) pairs of the README's console blocks, in order."""
    pairs = []
    for block in re.findall(r"```console\n(.*?)```", README, flags=re.DOTALL):
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _, output = part.partition("\n")
            pairs.append((command, output))
    return pairs


NUMBER = re.compile(r"\d+(?:\.\d+)?")
CLOSE = 0.03


def matches(expected, actual):
    """Whether the output is as written: its words exactly, its numbers nearly.

    A line of three dots stands for any lines. Numbers may differ by a few in a
    hundred, or by one in their last place, for processors round differently;
    spaces may, since columns are as wide as their numbers.
    """
    words = [NUMBER.sub("#", " ".join(line.split())) for line in actual.splitlines()]
    pieces = re.split(r"^\.\.\.\n", expected, flags=re.MULTILINE)
    pattern = r"(?:.*\n)*?".join(
        "".join(
            re.escape(NUMBER.sub("#", " ".join(line.split()))) + r"\n"
            for line in piece.splitlines()
        )
        for piece in pieces
    )
    if not re.fullmatch(pattern, "".join(f"{line}\n" for line in words)):
        return False
    if len(pieces) > 1:
        return True
    pairs = zip(NUMBER.findall(expected), NUMBER.findall(actual), strict=True)
    return all(is_close(*pair) for pair in pairs)


def is_close(written, printed):
    places = len(written.partition(".")[2])
    apart = abs(float(written) - float(printed))
    return apart <= max(CLOSE * abs(float(written)), 1.01 * 10**-places)


def test_the_first_evening_runs_as_written(tmp_path):
    folder, pairs = tmp_path, evening()
    assert len(pairs) >= 5
    plain = {**os.environ, "COLUMNS": "80", "NO_COLOR": "1"}
    plain.pop("MAKEWORTH_WORKSPACE", None)
    for command, expected in pairs:
        words = shlex.split(command)
        if words[0] == "cd":
            folder = folder / words[1]
            continue
        assert words[0] == "makeworth", command
        run = subprocess.run(
            [MAKEWORTH, *words[1:]],
            cwd=folder,
            capture_output=True,
            text=True,
            check=False,
            env=plain,
        )
        assert run.returncode == 0, f"{command}\n{run.stderr}"
        assert matches(expected, run.stdout), f"$ {command}\n{run.stdout}"


def test_every_command_is_in_the_readme_and_has_help():
    for name in COMMANDS:
        assert f"`{name}" in README, name
        run = subprocess.run(
            [MAKEWORTH, name, "--help"], capture_output=True, text=True, check=False
        )
        assert run.returncode == 0
        assert "Usage: makeworth" in run.stdout


def test_help_fits_80_columns():
    assert max(map(len, help_text().splitlines())) <= 80


@pytest.mark.parametrize("marker", ["<!-- demo command -->", "<!-- test command -->"])
def test_set_up_commands_are_marked_for_the_robot(marker):
    block = README.split(marker)[1].split("```")[1]
    assert ".venv/bin/" in block


def written_files():
    """(place, text) of every file of a workspace that the README writes out."""
    blocks = re.findall(r"```toml\n(# ((?:pools|routes)/\S+)\n.*?)```", README, flags=re.DOTALL)
    return [(place, text) for text, place in blocks]


def test_the_files_it_writes_out_are_answered(tmp_path):
    """An edge by hand: p = 0.9, 0.6, 0.3 up, else one back; use = visits times 1, 1, 2."""

    def run(*words):
        return json.loads(
            subprocess.run(
                [MAKEWORTH, "-w", tmp_path / "fen", *words, "--json"],
                capture_output=True,
                text=True,
                check=True,
            ).stdout
        )

    subprocess.run([MAKEWORTH, "start", tmp_path / "fen"], capture_output=True, check=True)
    files = written_files()
    assert [place for place, _ in files] == [
        "pools/bell.toml",
        "routes/bell.toml",
        "routes/edge.toml",
    ]
    for place, text in files:
        (tmp_path / "fen" / place).write_text(text)
    prices = ["bell blank=3", "river dye=1", "silver dust=6", "ringing half=20", "scrap=0.5"]
    words = [word for price in prices for word in ("--price", price)]
    bell = run("route", "bell", *words)
    assert 0 < bell["cost"]["mean"] < 100
    assert run("pool", "bell")["want"]["chance"] > 0
    edge = run("route", "edge", "--price", "etching salt=1")
    # x0 = 1 + .9 x1 + .1 x0; x1 = 1 + .6 x2 + .4 x0; x2 = 2 + .7 x1, solved by hand
    x1 = (1 + 0.6 * 2 + 0.4 / 0.9) / (1 - 0.6 * 0.7 - 0.4)
    assert edge["cost"]["mean"] == pytest.approx(1 / 0.9 + x1)
