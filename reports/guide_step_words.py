"""One step of a guide in words: what it uses, how likely what is, what to do then."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.figures import amount
from reports.guide_blocks import Block, Bullets, Grid, Heading, Text
from reports.guide_data import GuideOutcome, GuideStep, Then, Units

ROWS_SHOWN = 40


def step_blocks(step: GuideStep) -> list[Block]:
    """A heading, what it takes, and what may come of it."""
    heading = Heading(3, f"{step.number}. {_capital(_name(step))}")
    if step.kind != "step":
        return [heading, Text(_market_words(step))]
    if len(step.places) > 1:
        return [heading, Text(_taking(step)), _rung_grid(step), Bullets(_rung_ends(step))]
    certain = len(step.outcomes) == 1 and step.outcomes[0].odds[0] > 1 - 1e-9
    if certain or not step.outcomes:
        return [heading, Text(f"{_taking(step)} {_certain_words(step)}")]
    return [heading, Text(_taking(step)), _outcome_grid(step)]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _name(step: GuideStep) -> str:
    return {"buy in": f"buy {step.name}", "sell out": f"sell it as {step.name}"}.get(
        step.kind, step.name
    )


def _market_words(step: GuideStep) -> str:
    price = amount(step.price)
    then = step.outcomes[0].then[0]
    onward = "" if then is None else f": {then_words(then)}"
    reached = step.outcomes[0].reached
    if step.kind == "buy in":
        where = f"At {listed(step.places)}: "
        return f"{where}one costs {price}. {_capital(reached)} is then on the table{onward}."
    times = f" It comes to this {amount(step.times, digits=2)} times on average."
    return (
        f"At {listed(step.places)}: it brings {price} after the fee, more than going on is "
        f"worth. Then {_fresh(reached)}{onward}.{times}"
    )


def _fresh(reached: str) -> str:
    return "the evening ends" if reached == "the end" else f"begin anew at {reached}"


def _taking(step: GuideStep) -> str:
    """Where it is taken, what it uses, how long it takes, how often."""
    said = []
    if step.when is not None:
        said.append(f"On {step.when}.")
    elif len(step.places) == 1:
        said.append(f"At {step.places[0]}.")
    uses = units_words(step.uses)
    minutes = _range(step.minutes)
    if uses:
        said.append(f"Uses {uses}{f'; {minutes} minutes' if minutes else ''}.")
    elif minutes:
        said.append(f"Uses nothing; {minutes} minutes.")
    if step.times > 1.05:
        said.append(f"Taken {amount(step.times, digits=3)} times on average.")
    if step.effect:
        said.append(f"{_capital(step.effect)}.")
    return " ".join(said)


def _certain_words(step: GuideStep) -> str:
    if not step.outcomes:
        return ""
    outcome = step.outcomes[0]
    then = outcome.then[0]
    extra = _extra_words(outcome, 0)
    onward = "" if then is None else f": {then_words(then, own=step.number)}"
    lead = "It always works" if not step.effect else "Then"
    table = f"; {outcome.reached} is then on the table" if not step.effect else ""
    return f"{lead}{table}{extra}{onward}.".replace("Then:", "Then")


def _outcome_grid(step: GuideStep) -> Grid:
    rows = []
    for outcome in step.outcomes:
        then = outcome.then[0] if outcome.then else None
        rows.append(
            (
                _chance(outcome.odds[0]),
                f"{outcome.reached}{_extra_words(outcome, 0)}",
                "" if then is None else then_words(then, own=step.number),
            )
        )
    return Grid(("chance", "comes to", "what to do then"), rows, figures=(0,))


def _extra_words(outcome: GuideOutcome, place: int) -> str:
    """What is used or comes back only with this outcome."""
    said = ""
    used, back = _at(outcome.uses, place), _at(outcome.gives, place)
    if used:
        said += f", using {used}"
    if back:
        said += f", {back} back"
    return said


def _at(units: Sequence[Units], place: int) -> str:
    return listed(
        [f"{amount(each.units[place])} {each.item}" for each in units if each.units[place]]
    )


def _rung_grid(step: GuideStep) -> Grid:
    """Like steps in one table: a row for each place."""
    varied = [each for each in step.uses if len(set(each.units)) > 1]
    headings = (
        "at",
        *(each.item for each in varied),
        *(outcome.reached for outcome in step.outcomes),
    )
    rows = [
        (
            place,
            *(amount(each.units[at]) for each in varied),
            *(_chance(outcome.odds[at]) for outcome in step.outcomes),
        )
        for at, place in enumerate(step.places[:ROWS_SHOWN])
    ]
    return Grid(headings, rows, figures=range(1, len(headings)))


def _rung_ends(step: GuideStep) -> list[str]:
    """What to do with each outcome, said once where it is everywhere the same."""
    said = []
    for outcome in step.outcomes:
        words: dict[str, list[str]] = {}
        for at, then in enumerate(outcome.then):
            if then is not None:
                same = then.number == step.number
                doing = "go on likewise" if same else then_words(then)
                words.setdefault(doing, []).append(step.places[at])
        usual = max(words, key=lambda each: len(words[each])) if words else ""
        others = [f"from {listed(where)}, {each}" for each, where in words.items() if each != usual]
        said.append(f"{outcome.reached}: {'; '.join([usual, *others])}.")
    more = len(step.places) - ROWS_SHOWN
    return [*said, f"{more} more places are not shown."] if more > 0 else said


def then_words(then: Then, *, own: int | None = None) -> str:
    """What to do next."""
    if then.kind == "step":
        if own is not None and then.number == own:
            return "do it again"
        return then.name if then.number is None else f"go on with step {then.number}, {then.name}"
    number = "" if then.number is None else f" (step {then.number})"
    return {
        "buy in": f"buy {then.name}{number}",
        "sell out": f"sell it as {then.name}{number}",
        "look": "look what is on it, and see below",
        "done": "it is made",
        "either": "stop here, or go on",
    }.get(then.kind, "the evening ends")


def units_words(units: Sequence[Units]) -> str:
    """ "3 etching salt, 1 binding wax and a fee of 0.5 shell"."""
    said = [
        f"{'a fee of ' if each.is_money else ''}{_range(each.units)} {each.item}" for each in units
    ]
    return listed(said)


def _range(numbers: Sequence[float]) -> str:
    low, high = min(numbers, default=0.0), max(numbers, default=0.0)
    if high <= 0:
        return ""
    return amount(low) if low == high else f"{amount(low)} to {amount(high)}"


def listed(words: Sequence[str]) -> str:
    """Words with commas and an and.

    >>> listed(["wax", "salt", "a fee"])
    'wax, salt and a fee'
    """
    if len(words) < 2:
        return words[0] if words else ""
    return f"{', '.join(words[:-1])} and {words[-1]}"


def _chance(odds: float) -> str:
    return "–" if odds <= 0 else f"{100 * odds:.3g} %"
