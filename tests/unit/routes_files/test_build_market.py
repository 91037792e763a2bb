"""Stages, actions and outcomes of whole routes, and what the market adds."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.errors import RouteFault
from advisor.routes.build import build_stages
from advisor.routes.stages import ACTION_WORDS, END, StageModel

TWO_STEPS = """
[route]
makes = "lamp"
[[step]]
name = "take"
from = "table"
uses = { frame = 1 }
to = "bare"
[[step]]
name = "etch"
from = "bare"
uses = { wax = 2 }
fee = 3
minutes = 1
[step.outcomes]
lamp = { odds = "20 %", uses = { lens = 1 }, minutes = 4 }
bare = { odds = 0 }
table = { odds = "rest", gives = { scrap = 2, WAX = 1 } }
[market]
bare = "bare frame"
"""


def actions_of(model: StageModel) -> set[tuple]:
    """Every action as (stage, kind, step)."""
    return {
        (
            model.stages[stage],
            ACTION_WORDS[kind],
            model.steps[step] if step >= 0 else None,
        )
        for stage, kind, step in zip(
            model.action_stage, model.action_kind, model.action_step, strict=True
        )
    }


def outcomes_of(model: StageModel) -> set[tuple]:
    """Every outcome as (stage, kind, target, odds, minutes, uses, gives)."""
    uses, gives = model.uses.toarray(), model.gives.toarray()
    found = set()
    for row, action in enumerate(model.outcome_action):
        target = model.outcome_stage[row]
        found.add(
            (
                model.stages[model.action_stage[action]],
                ACTION_WORDS[model.action_kind[action]],
                "END" if target == END else model.stages[target],
                model.odds[row],
                model.minutes[row],
                tuple((i, u) for i, u in zip(model.items, uses[row], strict=True) if u),
                tuple((i, u) for i, u in zip(model.items, gives[row], strict=True) if u),
            )
        )
    return found


def build(route, **keywords) -> StageModel:
    return build_stages(route, money="shell", **({"goal": "keep"} | keywords))


def test_everything_to_keep(route_of):
    model = build(route_of(TWO_STEPS))
    assert model.stages == ["table", "bare", "lamp"]
    assert model.start == 0
    assert model.done.tolist() == [False, False, True]
    wax_and_fee = (("wax", 2.0), ("shell", 3.0))
    assert outcomes_of(model) == {
        ("table", "step", "bare", 1.0, 0.0, (("frame", 1.0),), ()),
        ("table", "buy in", "bare", 1.0, 0.0, (("bare frame", 1.0),), ()),
        ("bare", "step", "lamp", 0.2, 5.0, (*wax_and_fee, ("lens", 1.0)), ()),
        ("bare", "step", "table", 0.8, 1.0, wax_and_fee, (("wax", 1.0), ("scrap", 2.0))),
        ("bare", "sell out", "table", 1.0, 0.0, (), (("bare frame", 1.0),)),
    }


def test_everything_for_sale(route_of):
    actions = actions_of(build(route_of(TWO_STEPS), goal="sale"))
    assert actions == {
        ("table", "step", "take"),
        ("table", "buy in", None),
        ("table", "stop", None),
        ("bare", "step", "etch"),
        ("bare", "sell out", None),
        ("bare", "stop", None),
        ("lamp", "sell out", None),
        ("lamp", "stop", None),
    }


def test_what_is_sold_ends_the_evening(route_of):
    for stage, kind, target, *_, gives in outcomes_of(build(route_of(TWO_STEPS), goal="sale")):
        if kind in ("sell out", "stop"):
            assert target == "END"
        if (stage, kind) == ("lamp", "sell out"):
            assert gives == (("lamp", 1.0),)


def test_without_prices_the_market_offers_nothing(route_of):
    route = route_of(TWO_STEPS)
    kinds = {kind for _, kind, _ in actions_of(build(route, buyable=(), sellable=()))}
    assert kinds == {"step"}
    kinds = {kind for _, kind, _ in actions_of(build(route, buyable=("bare frame",), sellable=()))}
    assert kinds == {"step", "buy in"}
    sale = build(route, goal="sale", buyable=(), sellable=())
    assert {kind for _, kind, _ in actions_of(sale)} == {"step", "stop"}


def test_actions_and_outcomes_are_in_order(route_of):
    model = build(route_of(TWO_STEPS), goal="sale")
    assert np.all(np.diff(model.action_stage) >= 0)
    assert np.all(np.diff(model.outcome_action) >= 0)
    sums = np.bincount(model.outcome_action, weights=model.odds)
    assert sums == pytest.approx(np.ones(len(sums)), abs=1e-15)


def test_each_outcome_knows_where_it_is_written(route_of):
    model = build(route_of(TWO_STEPS))
    landed = {
        int(written): model.stages[target]
        for written, target in zip(model.outcome_written, model.outcome_stage, strict=True)
        if written >= 0
    }
    assert landed == {0: "bare", 1: "lamp", 3: "table"}


FAULTS = [
    # a stage named wrongly: steps, line, step, stage, said
    (
        '[[step]]\nname = "a"\nfrom = "table"\n[step.outcomes]\nlamp = 0.5\ntabel = 0.5\n',
        (8, "a", None),
        "leads to 'tabel', which no step leaves; did you mean \"table\"?",
    ),
    (
        '[[step]]\nname = "a"\nfrom = "table"\n[step.outcomes]\nlamp = 0.5\nheap = 0.5\n',
        (8, "a", None),
        "leads to 'heap', which no step leaves; write a step from it",
    ),
    (
        '[[step]]\nname = "a"\nfrom = "table"\nto = "lampp"\n',
        (6, "a", None),
        'did you mean "lamp"?',
    ),
    (
        '[[step]]\nname = "a"\nfrom = "table"\nto = "table"\n',
        (2, None, None),
        "no step leads to 'lamp', where the piece is made",
    ),
    (
        '[[step]]\nname = "a"\nfrom = "table"\nto = "lamp"\n'
        '[[step]]\nname = "b"\nfrom = "lamp"\nto = "table"\n',
        (9, "b", None),
        "leaves 'lamp', where the piece is made; no step may leave the finish",
    ),
    (
        '[[step]]\nname = "a"\nfrom = "table"\nto = "lamp"\n'
        '[[step]]\nname = "A"\nfrom = "Table"\nto = "lamp"\n',
        (8, "A", None),
        "already written in line 3",
    ),
    (
        '[[step]]\nname = "a"\nfrom = "table"\nto = "lamp"\n[market]\ntabel = "x"\n',
        (8, None, None),
        "[market] names the stage 'tabel', which no step knows; did you mean \"table\"?",
    ),
    (
        '[[step]]\nname = "a"\nfrom = "table"\nto = "lamp"\n[market]\ntable = "x"\nTable = "y"\n',
        (9, None, None),
        "[market] names the stage 'Table' twice",
    ),
    (
        '[[step]]\nname = "a"\nfrom = "table"\n[step.outcomes]\nlamp = 0.5\ntable = 0.4\n',
        (6, "a", None),
        "the odds sum to 0.9",
    ),
]


@pytest.mark.parametrize(("steps", "where", "said"), FAULTS)
def test_faults_between_steps(steps_of, steps, where, said):
    with pytest.raises(RouteFault) as caught:
        build(steps_of(steps, '[route]\nmakes = "lamp"\n'))
    fault = caught.value
    assert said in str(fault)
    assert (fault.line, fault.step, fault.stage) == where


def test_a_start_that_no_step_leaves(steps_of):
    with pytest.raises(
        RouteFault, match=r"no step leaves the start 'tabl'; did you mean"
    ) as caught:
        build(
            steps_of(
                '[[step]]\nname = "a"\nfrom = "table"\nto = "lamp"\n',
                '[route]\nmakes = "lamp"\nstart = "tabl"\n',
            )
        )
    assert caught.value.line == 3


def test_the_same_step_name_at_another_stage_is_fine(steps_of):
    route = steps_of(
        '[[step]]\nname = "a"\nfrom = "table"\nto = "bench"\n'
        '[[step]]\nname = "a"\nfrom = "bench"\nto = "lamp"\n',
        '[route]\nmakes = "lamp"\n',
    )
    assert list(build(route).steps) == ["a"]


def test_a_stage_only_the_market_knows_may_be_led_to(steps_of):
    route = steps_of(
        '[[step]]\nname = "a"\nfrom = "table"\n[step.outcomes]\nlamp = 0.5\ndull = 0.5\n'
        '[market]\ndull = "dull lamp"\n',
        '[route]\nmakes = "lamp"\n',
    )
    assert ("dull", "sell out", None) in actions_of(build(route))
