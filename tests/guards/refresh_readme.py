"""Runs the README's evening and writes what it printed into the README.

    python tests/guards/refresh_readme.py

A block that is shortened by a line of three dots keeps as many lines before and
behind the dots as it has now. Look at the difference before you commit it.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path

README = Path(__file__).parents[2] / "README.md"
MAKEWORTH = Path(sys.executable).with_name("makeworth")
DOTS = "...\n"


def shortened(old: str, new: str) -> str:
    """The new output, shortened where and as the old one was."""
    if old == DOTS or DOTS not in old:
        return new
    head, tail = old.split(DOTS, 1)
    lines = new.splitlines(keepends=True)
    before, after = head.count("\n"), tail.count("\n")
    return "".join([*lines[:before], DOTS, *(lines[-after:] if after else [])])


def refreshed(block: str, folder: Path) -> tuple[str, Path]:
    """One console block with what its commands print now, and the folder it ends in."""
    parts = re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]
    written = []
    for part in parts:
        command, _, old = part.partition("\n")
        words = shlex.split(command)
        if words[0] == "cd":
            folder = folder / words[1]
            new = ""
        else:
            run = subprocess.run(
                [MAKEWORTH, *words[1:]],
                cwd=folder,
                capture_output=True,
                text=True,
                check=False,
                env={**os.environ, "COLUMNS": "80", "NO_COLOR": "1"},
            )
            if run.returncode:
                sys.exit(f"$ {command}\n{run.stderr}")
            new = shortened(old, run.stdout)
        written.append(f"$ {command}\n{new}")
    return "".join(written), folder


def main() -> None:
    """Refresh every console block in order."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)

        def replace(found: re.Match[str]) -> str:
            nonlocal folder
            block, folder = refreshed(found[1], folder)
            return f"```console\n{block}```"

        text = re.sub(r"```console\n(.*?)```", replace, README.read_text(), flags=re.DOTALL)
    README.write_text(text)


if __name__ == "__main__":
    main()
