"""Rungs: names and numbers of like stages, against the same written out by hand."""

from __future__ import annotations

import pytest

from advisor.errors import RouteFault
from advisor.routes.build import build_stages
from advisor.routes.vary import Rungs, fill_braces

HARDEN = """
[route]
makes = "edge 10"
[[step]]
name = "harden {n}"
vary = { n = "0..9" }
from = "edge {n}"
uses = { "etching salt" = { by = "n", values = [1, 1, 2, 2, 3, 3, 4, 4, 5, 5] } }
[step.outcomes]
"edge {n+1}" = { by = "n", values = ["90 %", "80 %", "70 %", "60 %", "50 %",
                                     "40 %", "30 %", "20 %", "10 %", "5 %"] }
"edge {n-1:0..}" = { odds = "5 %" }
"edge 0" = "rest"
"""


def written_out() -> str:
    text = '[route]\nmakes = "edge 10"\n'
    odds = [90, 80, 70, 60, 50, 40, 30, 20, 10, 5]
    for n in range(10):
        text += (
            f'[[step]]\nname = "harden {n}"\nfrom = "edge {n}"\n'
            f'uses = {{ "etching salt" = {n // 2 + 1} }}\n[step.outcomes]\n'
        )
        landing: dict[int, int] = {}
        for stage, share in ((n + 1, odds[n]), (max(n - 1, 0), 5), (0, 95 - odds[n])):
            landing[stage] = landing.get(stage, 0) + share
        text += "".join(f'"edge {stage}" = "{share} %"\n' for stage, share in landing.items())
    return text


def summary(model) -> dict:
    """What leads where with which odds and use, by name."""
    found: dict = {}
    used = model.uses.toarray()
    for row, action in enumerate(model.outcome_action):
        step = model.steps[model.action_step[action]]
        key = (
            model.stages[model.action_stage[action]],
            step,
            model.stages[model.outcome_stage[row]],
        )
        odds, use = found.get(key, (0.0, tuple(used[row])))
        found[key] = (round(odds + model.odds[row], 12), use)
    return found


def test_rungs_are_the_same_as_steps_written_out(route_of):
    rungs = build_stages(route_of(HARDEN), goal="keep", money="shell")
    steps = build_stages(route_of(written_out()), goal="keep", money="shell")
    assert summary(rungs) == summary(steps)
    assert rungs.stages == [f"edge {n}" for n in range(11)]
    assert set(rungs.stages) == set(steps.stages)


def test_two_names_give_every_pair_and_differences_pick_values(steps_of):
    route = steps_of(
        """
[[step]]
name = "lift {a} {b}"
vary = { a = "1..2", b = [0, 3] }
from = "lamp {a} by {b}"
minutes = { by = "a-b", values = { 1 = 10, -2 = 20, 2 = 30, -1 = 40 } }
to = "storm lantern"
""",
        '[route]\nmakes = "storm lantern"\nstart = "lamp 1 by 0"\n',
    )
    model = build_stages(route, goal="keep", money="shell")
    minutes = {model.stages[s]: m for s, m in zip(model.action_stage, model.minutes, strict=True)}
    assert minutes == {
        "lamp 1 by 0": 10,
        "lamp 1 by 3": 20,
        "lamp 2 by 0": 30,
        "lamp 2 by 3": 40,
    }


@pytest.mark.parametrize(
    ("text", "filled"),
    [
        ("edge {n}", "edge 4"),
        ("edge {n+1}", "edge 5"),
        ("edge { n - 9 }", "edge -5"),
        ("edge {n-9:0..}", "edge 0"),
        ("edge {n+9:0..10}", "edge 10"),
        ("edge {n+9:..7}", "edge 7"),
        ("{n}{n}x{n}", "44x4"),
        ("plain", "plain"),
    ],
)
def test_braces(steps_of, text, filled):
    table = steps_of('[[step]]\nname = "s"\nfrom = "t"\nto = "storm lantern"\n').steps[0].table
    assert fill_braces(text, Rungs({"n": (3, 4)}), table, row=1) == filled


STEP = '[[step]]\nname = "s {{n}}"\nvary = {{ n = "0..1" }}\nfrom = "e {{n}}"\n{}\n'


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ('to = "e {m}"', r"has \{m\}, which does not vary; names that vary are n"),
        ('to = "e {n"', "has braces that cannot be read"),
        ('to = "e {n*2}"', "has braces that cannot be read"),
        ('to = "e {n:5..2}"', "is clamped from 5 to 2"),
        ('to = "storm lantern"\nuses = { "salt {k}" = 1 }', r"has \{k\}, which does not vary"),
        (
            'to = "storm lantern"\nminutes = { by = "n", values = [1, 2, 3] }',
            "`values` has 3 entries; n has 2 values, so 2 are needed",
        ),
        (
            'to = "storm lantern"\nminutes = { by = "m", values = [1, 2] }',
            "`by` names 'm', which does not vary",
        ),
        (
            'to = "storm lantern"\nminutes = { by = "n-n", values = { 1 = 3 } }',
            "no entry for the difference 0; n-n runs from 0 to 0",
        ),
        (
            'to = "storm lantern"\nminutes = { by = "n-n", values = {} }',
            "no entry for the difference 0",
        ),
        ('to = "e {n+1}"', "leads to 'e 2', which no step leaves"),
        ('to = "e {n-1}"', "leads to 'e -1', which no step leaves"),
    ],
)
def test_faults_of_rungs(steps_of, lines, said):
    with pytest.raises(RouteFault, match=said) as caught:
        build_stages(steps_of(STEP.format(lines)), goal="keep", money="shell")
    assert caught.value.line is not None
    assert caught.value.step in ("s {n}", "s 0", "s 1")


def test_a_name_left_over_in_braces_without_vary(steps_of):
    with pytest.raises(RouteFault, match=r"the step has no `vary`: write vary = \{ n"):
        steps_of('[[step]]\nname = "s"\nfrom = "e {n}"\nto = "storm lantern"\n')


@pytest.mark.parametrize(
    ("vary", "count"),
    [
        ('{ n = "0..5000000" }', "5,000,001 stages"),
        ('{ n = "0..9999", m = "0..999" }', "10,000,000"),
    ],
)
def test_more_than_five_million_stages_are_refused_with_the_count(steps_of, vary, count):
    text = (
        f'[[step]]\nname = "s {{n}}"\nvary = {vary}\nfrom = "e {{n}}{{m}}"\nto = "storm lantern"\n'
    )
    if "m" not in vary:
        text = text.replace("{m}", "")
    with pytest.raises(RouteFault, match=f"`vary` makes {count}"):
        build_stages(
            steps_of(text, '[route]\nmakes = "x"\nstart = "e 0"\n'), goal="keep", money="m"
        )


def test_names_of_items_and_steps_vary_too(steps_of):
    route = steps_of(
        '[[step]]\nname = "s {n}"\nvary = { n = "1..2" }\nfrom = "e {n}"\n'
        'uses = { "mark {n}" = 2 }\nto = "storm lantern"\n'
    )
    model = build_stages(route, goal="keep", money="shell")
    assert list(model.items) == ["mark 1", "mark 2"]
    assert model.uses.toarray().tolist() == [[2, 0], [0, 2]]
    assert list(model.steps) == ["s 1", "s 2"]
