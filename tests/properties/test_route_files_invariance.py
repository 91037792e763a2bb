"""What must not change a route's cost: order, names, spellings, steps cut in two; and what must."""

from __future__ import annotations

import tempfile
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import RouteFault
from advisor.routes.cost import route_cost
from advisor.routes.cost_answer import RouteCost
from advisor.routes.read import read_route

STAGES = ["table", "bare frame", "marked frame", "lamp"]
ITEMS = ["wax", "salt", "flux"]
SHARES = (0.05, 0.5, 0.95)


@st.composite
def routes(draw):
    """Steps of a random route that can always go on: name, from, uses, minutes, outcomes."""
    steps = []
    for place, stage in enumerate(STAGES[:-1]):
        for number in range(draw(st.integers(1, 2))):
            others = [s for s in STAGES if s != STAGES[place + 1]]
            shares = draw(st.lists(st.integers(1, 9), min_size=0, max_size=2))
            targets = draw(st.permutations(others))[: len(shares)]
            outcomes = {STAGES[place + 1]: draw(st.integers(2, 9))}
            outcomes |= dict(zip(targets, shares, strict=True))
            total = sum(outcomes.values())
            steps.append(
                {
                    "name": f"step {place} {number}",
                    "from": stage,
                    "uses": {draw(st.sampled_from(ITEMS)): draw(st.integers(1, 5))},
                    "minutes": draw(st.integers(0, 5)),
                    "outcomes": {s: Fraction(w, total) for s, w in outcomes.items()},
                }
            )
    return steps


def shuffle(random, things) -> list:
    things = list(things)
    return random.sample(things, len(things))


PRICES = st.fixed_dictionaries({item: st.integers(1, 20).map(lambda p: p / 4) for item in ITEMS})


def spelled(odds: Fraction) -> str:
    return f'"{odds.numerator} in {odds.denominator}"'


def written(steps, *, makes="lamp", start="table", spell=spelled) -> str:
    text = f'[route]\nmakes = "{makes}"\nstart = "{start}"\n'
    for step in steps:
        uses = ", ".join(f'"{item}" = {units}' for item, units in step["uses"].items())
        text += (
            f'[[step]]\nname = "{step["name"]}"\nfrom = "{step["from"]}"\nuses = {{ {uses} }}\n'
            f"minutes = {step['minutes']}\n[step.outcomes]\n"
        )
        text += "".join(f'"{s}" = {spell(odds)}\n' for s, odds in step["outcomes"].items())
    return text


def price(text: str, prices: dict[str, float]) -> RouteCost:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lantern.toml"
        path.write_text(text)
        routes = {"lantern": read_route(path)}
    return route_cost("lantern", routes=routes, buy=prices, sell={}, money="shell")


def assert_same(one: RouteCost, other: RouteCost, factor: float = 1.0) -> None:
    assert other.mean == pytest.approx(factor * one.mean, rel=1e-9)
    assert other.law.sd == pytest.approx(factor * one.law.sd, rel=1e-6, abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(routes(), PRICES, st.randoms(use_true_random=False))
def test_the_order_of_steps_and_outcomes_does_not_matter(steps, prices, random):
    shuffled = [
        step
        | {"outcomes": dict(random.sample(list(step["outcomes"].items()), len(step["outcomes"])))}
        for step in random.sample(steps, len(steps))
    ]
    one, other = (price(written(each), prices) for each in (steps, shuffled))
    assert_same(one, other)
    assert [one.law.chance_within(q * one.mean) for q in SHARES] == pytest.approx(
        [other.law.chance_within(q * one.mean) for q in SHARES], abs=1e-7
    )


@settings(max_examples=25, deadline=None)
@given(routes(), PRICES)
def test_names_do_not_matter(steps, prices):
    stages = {stage: f"{9 - number} {stage[::-1]}" for number, stage in enumerate(STAGES)}
    renamed = [
        step
        | {
            "name": f"do {number}",
            "from": stages[step["from"]],
            "outcomes": {stages[s]: odds for s, odds in step["outcomes"].items()},
        }
        for number, step in enumerate(steps)
    ]
    text = written(renamed, makes=stages["lamp"], start=stages["table"])
    assert_same(price(written(steps), prices), price(text, prices))


@settings(max_examples=25, deadline=None)
@given(routes(), PRICES, st.sampled_from(["fraction", "weight", "decimal", "rest"]))
def test_the_spelling_of_odds_does_not_matter(steps, prices, spelling):
    def spell(odds: Fraction) -> str:
        if spelling == "weight":
            return f"{{ weight = {float(odds * 5040):.17g} }}"
        if spelling == "decimal":
            return f"{{ odds = {float(odds):.17g} }}"
        return f'"{odds}"' if odds.denominator > 1 else '"100 %"'

    text = written(steps, spell=spell)
    if spelling == "rest":
        lines = text.split("\n")
        starts = [n for n, line in enumerate(lines) if line.startswith("[[step]]")]
        ends = [*starts[1:], len(lines) - 1]
        for end in ends:
            lines[end - 1] = lines[end - 1].split(" = ")[0] + ' = "rest"'
        text = "\n".join(lines)
    assert_same(price(written(steps), prices), price(text, prices))


@settings(max_examples=25, deadline=None)
@given(routes(), PRICES, st.integers(0, 5))
def test_a_step_cut_in_two_changes_nothing(steps, prices, which):
    step = steps[which % len(steps)]
    ready = f"{step['from']}, ready for {step['name']}"
    first = step | {"name": "get ready", "outcomes": {ready: Fraction(1)}}
    second = step | {"from": ready, "uses": {"wax": 1}, "minutes": 0}
    whole = step | {"uses": step["uses"] | {"wax": step["uses"].get("wax", 0) + 1}}
    place = steps.index(step)
    one = price(written([*steps[:place], whole, *steps[place + 1 :]]), prices)
    other = price(written([*steps[:place], first, second, *steps[place + 1 :]]), prices)
    assert_same(one, other)
    assert other.minutes.mean == pytest.approx(one.minutes.mean, rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(routes(), PRICES, st.sampled_from([0.1, 3.0, 1000.0]))
def test_scaling_all_prices_scales_the_cost(steps, prices, factor):
    one = price(written(steps), prices)
    other = price(written(steps), {item: factor * p for item, p in prices.items()})
    assert_same(one, other, factor)
    assert {s: c.step for s, c in one.choices.items()} == {
        s: c.step for s, c in other.choices.items()
    }


@settings(max_examples=25, deadline=None)
@given(routes(), PRICES)
def test_money_is_conserved(steps, prices):
    cost = price(written(steps), prices)
    assert cost.mean == pytest.approx(sum(use.mean_cost for use in cost.use.values()), rel=1e-9)
    assert cost.lower <= cost.mean * (1 + 1e-9)
    assert cost.mean <= cost.upper * (1 + 1e-9)


@settings(max_examples=25, deadline=None)
@given(routes(), PRICES, st.integers(1, 9), st.integers(1, 12))
def test_one_more_choice_never_costs_more(steps, prices, units, part):
    more = {
        "name": "another way",
        "from": "table",
        "uses": {"wax": units},
        "minutes": 0,
        "outcomes": {"lamp": Fraction(part, 12), "table": 1 - Fraction(part, 12)},
    }
    if part == 12:
        more["outcomes"] = {"lamp": Fraction(1)}
    fewer = price(written(steps), prices)
    assert price(written([*steps, more]), prices).mean <= fewer.mean * (1 + 1e-9)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(0, 50), min_size=2, max_size=6), st.booleans())
def test_odds_that_do_not_sum_to_one_are_refused(parts, complete):
    """Odds in hundredths: accepted if and only if they sum to a hundred of them."""
    weights = [*parts[:-1], 100 - sum(parts[:-1])] if complete and sum(parts[:-1]) <= 100 else parts
    outcomes = {f"o{n}": Fraction(w, 100) for n, w in enumerate(weights)}
    total = sum(outcomes.values())
    step = {"name": "go", "from": "table", "uses": {"wax": 1}, "minutes": 0}
    first = step | {"outcomes": outcomes}
    goes_on = [step | {"from": stage, "outcomes": {"lamp": Fraction(1)}} for stage in outcomes]
    text = written([first, *goes_on])
    if total == 1:
        assert price(text, {"wax": 1.0}).mean == pytest.approx(2)
    else:
        with pytest.raises(RouteFault, match="the odds sum to"):
            price(text, {"wax": 1.0})
