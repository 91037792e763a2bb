"""Every command, where it lives and what it answers: one table.

The help text and the lazy loading are both made from it, so that `--help`
needs no library at all and a command loads only its own module.
"""

from __future__ import annotations

from typing import NamedTuple


class Command(NamedTuple):
    """Where a command lives and what it answers."""

    module: str
    answers: str


COMMANDS: dict[str, Command] = {
    "demo": Command("advisor.cli.demo", "the whole job on the sample prices, in a new folder"),
    "start": Command("advisor.cli.start", "a new workspace with settings and a worked route"),
    "quote": Command("advisor.cli.quote", "take down prices seen: one, many, or pasted lines"),
    "import": Command("advisor.cli.import_files", "take in prices from files; check or undo"),
    "export": Command("advisor.cli.export", "the whole book as files that import gives back"),
    "prices": Command("advisor.cli.prices", "what things cost now, how sure that is, and ahead"),
    "pool": Command("advisor.cli.pool", "what can be drawn onto a base, and how likely"),
    "route": Command("advisor.cli.route", "what a route costs, uses and needs, and its best way"),
    "advise": Command("advisor.cli.advise", "make or buy, stock, service, sell, an evening"),
    "follow": Command("advisor.cli.follow", "at the table: the best step now, what came of it"),
    "log": Command("advisor.cli.log", "what happened: tries, purchases, sales, orders; undo"),
    "ledger": Command("advisor.cli.ledger", "stock at cost, spent, earned, won; was it luck"),
    "replay": Command("advisor.cli.replay", "what following the advice would have made"),
    "report": Command("advisor.cli.report", "pages that open offline; a guide to hand to others"),
    "watch": Command("advisor.cli.watch", "takes in inbox/, keeps pages fresh, sends alerts"),
}


def help_text() -> str:
    """The text of `makeworth --help`, at most 80 columns wide."""
    rows = "\n".join(f"  {name:<8} {command.answers}" for name, command in COMMANDS.items())
    return f"""Usage: makeworth [-w DIR] COMMAND ...

Make or buy? By which route, at today's prices and with what risk?

Commands:
{rows}

Options:
  -w, --workspace DIR  the workspace; else MAKEWORTH_WORKSPACE, else the
                       nearest folder above with a makeworth.toml
  --version            the version, and exit
  --help               this text, and exit; COMMAND --help tells more

Try first:  makeworth demo
"""
