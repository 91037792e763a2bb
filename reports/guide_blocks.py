"""What a guide is put together from: headings, sentences, lists and grids, and its Markdown."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

_MARKUP = re.compile(r"([\\`*_{}\[\]<>|#~])")


@dataclass(frozen=True)
class Heading:
    """A heading; level 1 is the guide's own."""

    level: int
    text: str


@dataclass(frozen=True)
class Text:
    """A paragraph.

    Attributes:
        kind: "plain", "lead" or "small".
    """

    text: str
    kind: str = "plain"


@dataclass(frozen=True)
class Bullets:
    """A list of sentences."""

    lines: Sequence[str]


@dataclass(frozen=True)
class Grid:
    """A table of short words.

    Attributes:
        figures: Numbers of the columns that hold figures.
    """

    headings: Sequence[str]
    rows: Sequence[Sequence[str]]
    figures: Sequence[int] = ()


Block = Heading | Text | Bullets | Grid


def markdown(blocks: Sequence[Block]) -> str:
    """The guide as Markdown; whatever could be markup in a name is written out."""
    return "\n\n".join(_markdown_of(block) for block in blocks) + "\n"


def _markdown_of(block: Block) -> str:
    if isinstance(block, Heading):
        return f"{'#' * block.level} {escaped(block.text)}"
    if isinstance(block, Text):
        return escaped(block.text)
    if isinstance(block, Bullets):
        return "\n".join(f"- {escaped(line)}" for line in block.lines)
    figures = set(block.figures)
    lines = [
        block.headings,
        ["---:" if n in figures else "---" for n in range(len(block.headings))],
    ]
    rows = [" | ".join(escaped(each) for each in row) for row in (block.headings, *block.rows)]
    rows.insert(1, " | ".join(lines[1]))
    return "\n".join(f"| {row} |" for row in rows)


def escaped(text: str) -> str:
    """A text that Markdown shows as it stands, on one line.

    >>> escaped("a*b | <c>")
    'a\\\\*b \\\\| \\\\<c\\\\>'
    """
    return " ".join(_MARKUP.sub(r"\\\1", text).split())
