"""The same route if a step had other odds, or were not there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from advisor.errors import BadInput, WrongUse
from advisor.names import did_you_mean, name_key
from advisor.routes.odds import CHANCE, REST, SPELLINGS, UNSTATED, WEIGHT, Odds, text_chance
from advisor.routes.route import Outcome, Route, Step

DRAWING = {"redraw", "add", "choose"}
"""Effects that draw from a pool."""
CERTAIN = {"place", "clear"}
"""Effects without luck."""


def change_odds(routes: Mapping[str, Route], typed: str) -> dict[str, Route]:
    """Every route with a step's odds as typed: "etch = 3 %", of its first written outcome.

    The step's other outcomes share what is left as they did. Logged tries of the
    step are left out: the odds are as said.

    Args:
        routes: By name.
        typed: STEP=ODDS; the odds in any spelling of a route file.
    Raises: WrongUse: not STEP=ODDS. BadInput: no such step, odds that cannot be
        read, or a step whose odds vary by rung or were never stated.
    """
    name, sign, text = typed.rpartition("=")
    odds = text_chance(text)
    if not sign or not name.strip():
        raise WrongUse(f"--odds {typed!r} names no step", right='write --odds "etch=3 %"')
    if odds is None or not 0 <= odds <= 1:
        raise BadInput(
            f"the odds {text.strip()!r} cannot be read", step=name.strip(), right=SPELLINGS
        )
    known = _known_step(routes, name)
    return {
        each: replace(
            route,
            steps=tuple(
                _with_first_odds(step, odds) if name_key(step.name) == known else step
                for step in route.steps
            ),
        )
        for each, route in routes.items()
    }


def leave_out(routes: Mapping[str, Route], step: str) -> dict[str, Route]:
    """Every route without a step; routes that have no other step are left out whole.

    Raises: BadInput: no such step.
    """
    known = _known_step(routes, step)
    kept = {
        name: tuple(each for each in route.steps if name_key(each.name) != known)
        for name, route in routes.items()
    }
    return {name: replace(routes[name], steps=steps) for name, steps in kept.items() if steps}


def is_rung_of(written: str, name: str) -> bool:
    """Whether a step's name is a written name, or one of the rungs that it stands for.

    >>> is_rung_of("polish {n}", "Polish 3"), is_rung_of("etch", "etch twice")
    (True, False)
    """
    import re

    pattern = re.sub(r"\\\{.*?\\\}", r"-?\\d+", re.escape(name_key(written)))
    return re.fullmatch(pattern, name_key(name)) is not None


def _known_step(routes: Mapping[str, Route], name: str) -> str:
    steps = {name_key(step.name): step.name for route in routes.values() for step in route.steps}
    key = name_key(name)
    if key not in steps:
        right = did_you_mean(name, steps.values()) or "a step's name as in the route file"
        raise BadInput("no route has this step", step=name.strip(), right=right)
    return key


def _with_first_odds(step: Step, odds: Fraction) -> Step:
    first, *others = step.outcomes
    if not others and (verbs := {*(step.effect or ()), *(first.effect or ())} - CERTAIN):
        drawn = "the weights of the pool: change those" if verbs & DRAWING else "its effect"
        raise BadInput(
            "this step is written with one outcome, its effect",
            step=step.name,
            right=f"the odds of what then comes follow from {drawn}",
        )
    if not others:
        raise BadInput("this step has one outcome only", step=step.name, right="it is certain")
    shares = _shares(step)
    left = sum(shares[1:], Fraction(0))
    changed = [
        odds,
        *(
            (1 - odds) * (share / left if left else Fraction(1, len(others)))
            for share in shares[1:]
        ),
    ]
    outcomes = (first, *others)
    return replace(
        step,
        outcomes=tuple(
            replace(outcome, odds=Odds(CHANCE, chance, None, outcome.odds.line))
            for outcome, chance in zip(outcomes, changed, strict=True)
        ),
    )


def _shares(step: Step) -> list[Fraction]:
    """The stated odds of each outcome."""
    for outcome in step.outcomes:
        if not isinstance(outcome.odds.value, Fraction) or outcome.odds.kind == UNSTATED:
            raise BadInput(
                "the odds of this step vary by rung or were never stated",
                step=step.name,
                right="change them in the route file",
            )
    values = [_value(outcome) for outcome in step.outcomes]
    total = sum(values, Fraction(0))
    if any(outcome.odds.kind == WEIGHT for outcome in step.outcomes):
        return [value / total for value in values]
    return [
        1 - total if outcome.odds.kind == REST else value
        for outcome, value in zip(step.outcomes, values, strict=True)
    ]


def _value(outcome: Outcome) -> Fraction:
    value = outcome.odds.value
    return value if isinstance(value, Fraction) else Fraction(0)
