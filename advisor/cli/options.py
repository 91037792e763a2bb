"""Options that many commands share, with one wording."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer

from advisor.errors import WrongUse

if TYPE_CHECKING:
    from advisor.money import DecimalMark

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
    from advisor.cli.screen import say_beside

    say_beside(sentence, mark="note: ")


def one_of(text: str | None, words: tuple[str, ...], *, option: str) -> str | None:
    """An option that takes one of a few words."""
    if text is not None and text not in words:
        raise WrongUse(f"{option} {text!r} is none of {', '.join(words)}")
    return text


def read_decimal_option(text: str | None) -> DecimalMark | None:
    """What --decimal says."""
    told = one_of(text, ("comma", "point"), option="--decimal")
    return "comma" if told == "comma" else "point" if told == "point" else None


def read_side_option(text: str | None) -> str | None:
    """What --side says: ask, bid or deal, in any of the words that files are read by."""
    from importers.side_words import SIDE_WORDS, SIDES

    if text is None:
        return None
    side = SIDES.get(" ".join(text.lower().split()))
    if side is None:
        words = "; ".join(f"{each}: {', '.join(SIDE_WORDS[each][1:])}" for each in SIDE_WORDS)
        raise WrongUse(f"--side {text!r} is none of ask, bid, deal", right=f"or {words}")
    return side
