"""A guide as two files, HTML and Markdown, each whole or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from advisor.errors import BadInput
from reports.guide_blocks import Block, Bullets, Grid, Heading, Text, markdown
from reports.guide_data import Guide
from reports.guide_words import write_out
from reports.page_names import page_name
from reports.write import put_file


@dataclass(frozen=True)
class GuideWritten:
    """What became of a guide's files.

    Attributes:
        page, text: The HTML and the Markdown file.
        written: Those of the two that are new or changed.
    """

    page: Path
    text: Path
    written: tuple[Path, ...]


def write_guide(folder: Path, guide: Guide) -> GuideWritten:
    """Write a guide; the page holds all it needs, so that it can be handed on alone.

    Raises: BadInput: the folder cannot be written to.
    """
    blocks = write_out(guide)
    page = folder / page_name("guide", guide.cost["route"])
    text = page.with_suffix(".md")
    contents = {page: render_guide(blocks, guide), text: markdown(blocks)}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        written = tuple(path for path, said in contents.items() if put_file(path, said.encode()))
    except OSError as fault:
        raise BadInput(
            f"the guide cannot be written ({fault.strerror or fault})",
            right="name a folder that can be written to",
            file=fault.filename or folder,
        ) from fault
    return GuideWritten(page, text, written)


def render_guide(blocks: Sequence[Block], guide: Guide) -> str:
    """The guide as one HTML page without a script."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    templates = Environment(
        loader=PackageLoader("reports", "look"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    kinds = {Heading: "heading", Text: "text", Bullets: "bullets", Grid: "grid"}
    return templates.get_template("guide.html.j2").render(
        blocks=[(kinds[type(block)], block) for block in blocks],
        title=f"How to make: {guide.cost['makes']}",
        style=files("reports.look").joinpath("guide.css").read_text(encoding="utf-8"),
    )
