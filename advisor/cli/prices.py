"""`makeworth prices`: what things cost now, how sure that is, and ahead."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, Any, cast

import typer

from advisor.cli.options import AsOfOption, JsonOption, WorkspaceOption, new_app, warn, write_json
from advisor.errors import WrongUse

if TYPE_CHECKING:
    from advisor.tasks.pricing import Pricing
    from advisor.tasks.second_opinions import SecondOpinion

app = new_app()


@app.command()
def prices(
    items: Annotated[
        list[str] | None, typer.Argument(metavar="[ITEM]...", help="Items; default all.")
    ] = None,
    *,
    quotes: Annotated[
        bool, typer.Option("--quotes", help="Every quote of one item, and why it was screened.")
    ] = False,
    ladder: Annotated[
        bool, typer.Option("--ladder", help="The asks that stand, and what N units cost.")
    ] = False,
    second_opinion: Annotated[
        bool,
        typer.Option(
            "--second-opinion", help="Beside each ITEM's ask, a plain model fitted by statsmodels."
        ),
    ] = False,
    days: Annotated[
        str, typer.Option("--days", metavar="N,N", help="Days ahead of the forecast.")
    ] = "1,3,7,14",
    keep: Annotated[
        list[int] | None,
        typer.Option("--keep", metavar="ID", help="Believe this quote whatever the screen says."),
    ] = None,
    drop: Annotated[
        list[int] | None,
        typer.Option("--drop", metavar="ID", help="Never believe this quote."),
    ] = None,
    unrule: Annotated[
        list[int] | None,
        typer.Option("--unrule", metavar="ID", help="Take a --keep or --drop back."),
    ] = None,
    as_of: AsOfOption = None,
    workspace: WorkspaceOption = None,
    as_json: JsonOption = False,
) -> None:
    """What things cost now (ask), bring at once (bid) and bring in time (sale)."""
    from advisor.tasks.pricing import read_pricing
    from advisor.tasks.quote_list import rule_quotes
    from advisor.tasks.workspace import open_workspace

    place = open_workspace(workspace)
    ahead = _read_days(days)
    if quotes and len(items or ()) != 1:
        raise WrongUse("--quotes shows the quotes of one item", right="name one ITEM")
    if second_opinion and (quotes or not items):
        raise WrongUse("--second-opinion is given on the items named", right="name an ITEM")
    _refuse_two_words(keep or [], drop or [], unrule or [])
    rule_quotes(place, keep=keep or [], drop=drop or [], lift=unrule or [])
    _tell_rulings(keep or [], drop or [], unrule or [])
    pricing = read_pricing(place, as_of=as_of, days=ahead, items=items or None)
    for caution in pricing.market.cautions:
        warn(caution)
    if quotes and items:
        from advisor.tasks.quote_list import list_quotes

        rows = list_quotes(place, pricing, item=items[0])
        if as_json:
            write_json({"quotes": rows, "cautions": list(pricing.market.cautions)})
        else:
            _show_quotes(rows, pricing, item=items[0])
        return
    opinions: dict[str, SecondOpinion] = {}
    without: list[str] = []
    if second_opinion:
        from advisor.tasks.second_opinions import ask_second_opinions

        opinions, without = ask_second_opinions(pricing, list(pricing.market.items))
        for sentence in without:
            warn(sentence)
    if as_json:
        write_json(_prices_json(pricing, opinions if second_opinion else None, without=without))
    else:
        _show_prices(pricing, opinions, one_by_one=bool(items), ladder=ladder)


def _prices_json(
    pricing: Pricing, opinions: Mapping[str, SecondOpinion] | None, *, without: Sequence[str]
) -> dict[str, object]:
    from advisor.levels.market import prices_json
    from advisor.tasks.second_opinions import second_opinion_json
    from advisor.tasks.told_nulls import tell_null_prices

    answer = prices_json(pricing.market)
    rows = cast("list[dict[str, Any]]", answer["items"])
    answer["cautions"] = [*pricing.market.cautions, *without, *tell_null_prices(rows)]
    if opinions is not None:
        for row in rows:
            opinion = opinions.get(row["item"])
            row["second_opinion"] = None if opinion is None else second_opinion_json(opinion)
    return answer


def _refuse_two_words(keep: list[int], drop: list[int], unrule: list[int]) -> None:
    ruled = [*set(keep), *set(drop), *set(unrule)]
    twice = [quote for quote in ruled if ruled.count(quote) > 1]
    if twice:
        raise WrongUse(
            f"quote {min(twice)} has two of --keep, --drop and --unrule", right="choose one"
        )


def _tell_rulings(keep: list[int], drop: list[int], unrule: list[int]) -> None:
    for word, ruled in (("kept", keep), ("dropped", drop)):
        for quote in ruled:
            warn(
                f"quote {quote} is {word} from now on, whatever the screening says; "
                f"take that back: makeworth prices --unrule {quote}"
            )
    for quote in unrule:
        warn(f"quote {quote} is no longer kept or dropped by your word: the screening judges it")


def _read_days(text: str) -> tuple[int, ...]:
    try:
        ahead = tuple(int(part) for part in text.split(","))
    except ValueError:
        raise WrongUse(f"--days {text!r} is no list of days", right="write --days 1,3,7") from None
    if not ahead or min(ahead) < 1 or max(ahead) > 366:
        raise WrongUse(f"--days {text!r} is out of range", right="days are from 1 to 366")
    return tuple(sorted(set(ahead)))


def _show_prices(
    pricing: Pricing, opinions: Mapping[str, SecondOpinion], *, one_by_one: bool, ladder: bool
) -> None:
    from advisor.cli.price_views import (
        show_item,
        show_nothing_known,
        show_overview,
        show_second_opinion,
    )
    from advisor.cli.screen import show

    names = list(pricing.market.items)
    if not names or all(pricing.market.items[name].quotes == 0 for name in names):
        show_nothing_known(pricing)
    elif one_by_one or ladder:
        for number, name in enumerate(names):
            if number:
                show()
            show_item(pricing, name, ladder_only=ladder)
            if name in opinions:
                show_second_opinion(opinions[name])
    else:
        show_overview(pricing)


def _show_quotes(rows: Sequence[dict[str, Any]], pricing: Pricing, *, item: str) -> None:
    from advisor.cli.price_views import show_nothing_known, show_quotes

    if rows:
        show_quotes(rows, money=pricing.market.money, zone=pricing.settings.timezone)
    else:
        show_nothing_known(pricing, item=pricing.name(item))
