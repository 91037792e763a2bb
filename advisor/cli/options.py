"""Options that many commands share, with one wording."""

from __future__ import annotations

import json
import sys
from typing import Annotated, Any

import typer

WorkspaceOption = Annotated[
    str | None,
    typer.Option("--workspace", "-w", metavar="DIR", help="The workspace to use."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="The answer as JSON, for programs.")]
AsOfOption = Annotated[
    str | None,
    typer.Option("--as-of", metavar="DATE", help="Answer with what was known then."),
]
PriceOption = Annotated[
    list[str] | None,
    typer.Option(
        "--price",
        metavar="ITEM=PRICE",
        help="What if ITEM cost exactly this; may be given again.",
    ),
]
OddsOption = Annotated[
    list[str] | None,
    typer.Option(
        "--odds",
        metavar="STEP=ODDS",
        help='What if: "etch=3 %" for the step\'s first outcome; may be given again.',
    ),
]
WithoutOption = Annotated[
    list[str] | None,
    typer.Option(
        "--without", metavar="STEP", help="What if: a step were not there; may be given again."
    ),
]
StatedOddsOption = Annotated[
    bool,
    typer.Option("--stated-odds", help="Odds as the files state them; the log is left out."),
]
GoalOption = Annotated[
    str,
    typer.Option("--for", metavar="keep|sale", help="Hold the piece, or make it to sell."),
]


def new_app() -> typer.Typer:
    """An app in the house style: plain help, no shell completion."""
    return typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)


def write_json(answer: Any) -> None:
    """Print one JSON document; refuses NaN and Infinity, which no answer may hold."""
    sys.stdout.write(json.dumps(answer, ensure_ascii=False, allow_nan=False, indent=2) + "\n")


def warn(sentence: str) -> None:
    """Say something beside the answer, on stderr."""
    sys.stderr.write(f"note: {sentence}\n")
