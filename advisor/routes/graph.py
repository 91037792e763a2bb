"""Can this route be solved at all? Questions asked of the graph before any number.

Three faults make a route's least cost meaningless, and each is refused by the
names of its stages and steps: a stage from which nothing ever ends, steps that
could be repeated for ever at no cost, and (found while solving) a loop that
earns without limit. A set of stages with, at each, actions that cannot leave
the set is an end component; the last two faults are end components.

Source: de Alfaro, Formal Verification of Probabilistic Systems (Stanford, 1997),
section 3.3, for end components and their computation; Bertsekas & Tsitsiklis,
Mathematics of Operations Research 16 (1991) 580-595, for why they matter here.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NoReturn

import numpy as np
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components

from advisor.errors import EarningLoop, RouteFault
from advisor.routes.actions import ActionTable, tabulate_actions
from advisor.routes.stages import ACTION_WORDS, SELL_OUT, STEP, StageModel

NAMES_AT_MOST = 5


def check_route(model: StageModel, outcome_costs: np.ndarray | None = None) -> None:
    """Refuse a route that cannot be solved, naming stages and steps.

    Loops that earn without limit depend on more than the graph: `best_choices`
    refuses those.

    Args:
        model: The route.
        outcome_costs: Cost of each outcome, shape (k,); without it free loops are not looked for.
    Raises: RouteFault: A stage from which the end cannot be reached, or a loop at no cost.
    """
    table = tabulate_actions(model)
    reached = find_reachable_stages(table, model.start)
    refuse_dead_ends(model, table, reached)
    if outcome_costs is not None:
        refuse_free_loops(model, table, reached, outcome_costs)


def find_reachable_stages(table: ActionTable, start: int) -> np.ndarray:
    """bool, shape (n,): stages some choice may lead to from the start; ends only if it is one."""
    reached = np.zeros(table.stage_count, dtype=bool)
    reached[breadth_first_order(_join_stages(table), start, return_predecessors=False)] = True
    return reached


def find_way_out(table: ActionTable) -> np.ndarray:
    """The next stage on a shortest way to an end, shape (n,); n: ends at once; -1: no way."""
    count = table.stage_count
    stages = _join_stages(table).tocoo()
    ending = np.unique(table.stage[table.ending_odds > 0])
    backward = coo_array(
        (
            np.ones(len(stages.row) + len(ending)),
            (
                np.concatenate((stages.col, np.full(len(ending), count))),
                np.concatenate((stages.row, ending)),
            ),
        ),
        shape=(count + 1, count + 1),
    ).tocsr()
    _, following = breadth_first_order(backward, count)
    return np.where(following[:count] < 0, -1, following[:count])


def refuse_dead_ends(model: StageModel, table: ActionTable, reached: np.ndarray) -> None:
    """Refuse a stage, reachable from the start, from which no choice reaches an end.

    Raises: RouteFault: Names the first such stage in reading order and counts the rest.
    """
    if not table.has_actions[model.start]:
        if not model.done[model.start]:
            raise RouteFault("no step starts here", stage=model.stages[model.start])
        return
    stuck = np.flatnonzero(reached & table.has_actions & (find_way_out(table) < 0))
    stuck = np.union1d(stuck, _find_unfinished_ends(model, table, reached))
    if len(stuck):
        more = f" (and from {len(stuck) - 1} more)" if len(stuck) > 1 else ""
        raise RouteFault(
            f"the piece cannot be reached from here{more}, whatever one chooses",
            stage=model.stages[stuck[0]],
            right="add a step that leads on to the piece, or back to a stage from which it is made",
        )


def refuse_free_loops(
    model: StageModel, table: ActionTable, reached: np.ndarray, outcome_costs: np.ndarray
) -> None:
    """Refuse steps that could be repeated for ever, never ending and never costing anything.

    Raises: RouteFault: Names the stages and steps of the first such loop.
    """
    costly = (outcome_costs != 0) & (table.odds > 0)
    has_cost = np.bincount(model.outcome_action, weights=costly, minlength=len(model.action_stage))
    free = (has_cost == 0) & reached[model.action_stage]
    component, inside = find_end_components(table, free & (table.ending_odds == 0))
    if not inside.any():
        return
    loop = np.flatnonzero(inside)
    loop = loop[component[table.stage[loop]] == component[table.stage[loop[0]]]]
    raise RouteFault(
        f"{describe_loop(model, loop)} could be repeated for ever at no cost",
        step=_name_action(model, loop[0]),
        stage=model.stages[table.stage[loop[0]]],
        right="give it what it uses, a fee or the minutes it takes, or leave it out",
    )


def refuse_earning_loop(
    model: StageModel, actions: np.ndarray, *, visits: np.ndarray, earned: float
) -> NoReturn:
    """Refuse a loop that earns without limit.

    Args:
        model: The route.
        actions: The actions that make the loop.
        visits: How often each is taken in one round, on average.
        earned: By one round, > 0.
    Raises: EarningLoop: Always; names the stages and steps of the loop.
    """
    kinds = model.action_kind[actions]
    sales = kinds == SELL_OUT
    steps = actions[kinds == STEP]
    sold = _items_given(model, actions[sales])
    named = steps[0] if len(steps) else actions[0]
    fault = EarningLoop(
        f"{describe_loop(model, actions)} earns without limit"
        f" ({earned / float(visits.sum()):.6g} each time on average), so no cost is least",
        item=sold[0] if sold and not len(steps) else None,
        step=_name_action(model, named) if len(steps) else None,
        stage=model.stages[model.action_stage[named]],
        right=(
            f"check the prices of {_list_names(sold)}; advise craft answers with that sale left "
            "out, advise sell and advise evening tell what it is worth"
            if sold
            else "check the prices and what the steps give back, or sell that instead"
        ),
    )
    fault.sold = sold
    fault.gain = earned / float(visits[sales].sum() if sold else visits.sum())
    raise fault


def _items_given(model: StageModel, actions: np.ndarray) -> tuple[str, ...]:
    """Names of the items that come in by these actions."""
    rows = np.flatnonzero(np.isin(model.outcome_action, actions))
    items = np.unique(model.gives[rows].tocoo().col)
    return tuple(model.items[item] for item in items.tolist())


def find_end_components(table: ActionTable, allowed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The largest end components that can be made of some actions.

    Args:
        table: All actions.
        allowed: bool, shape (m,): actions to use; none of them may end the evening.
    Returns: A component number per stage, shape (n,), and which actions stay inside, bool,
        shape (m,); a stage is in a component if it has such an action.
    """
    inside = allowed.copy()
    while True:
        steps = table.moves[np.flatnonzero(inside)].tocoo()
        action, onto = np.flatnonzero(inside)[steps.row], steps.col
        joined = coo_array(
            (np.ones(len(action)), (table.stage[action], onto)),
            shape=(table.stage_count, table.stage_count),
        )
        _, component = connected_components(joined.tocsr(), connection="strong")
        leaving = action[component[table.stage[action]] != component[onto]]
        if not len(leaving):
            return component, inside
        inside[leaving] = False


def describe_loop(model: StageModel, actions: np.ndarray) -> str:
    """A loop in words: its steps and its stages, the first few of each."""
    steps = _list_names(dict.fromkeys(_name_action(model, action) for action in actions))
    stages = dict.fromkeys(model.stages[model.action_stage[action]] for action in actions)
    return f"the loop of {steps} at {_list_names(stages)}"


def _name_action(model: StageModel, action: int) -> str:
    kind = int(model.action_kind[action])
    return model.steps[model.action_step[action]] if kind == STEP else ACTION_WORDS[kind]


def _list_names(names: Iterable[str]) -> str:
    quoted = [repr(name) for name in names]
    more = len(quoted) - NAMES_AT_MOST
    return ", ".join(quoted[:NAMES_AT_MOST]) + (f" and {more} more" if more > 0 else "")


def _find_unfinished_ends(model: StageModel, table: ActionTable, reached: np.ndarray) -> np.ndarray:
    """Stages where nothing can be done though the piece is not made, led to from a reached one."""
    if bool(np.all(table.has_actions | model.done)):
        return np.zeros(0, dtype=int)
    taken = (table.odds > 0) & (model.outcome_stage >= 0)
    taken &= reached[model.action_stage[model.outcome_action]]
    targets = np.unique(model.outcome_stage[taken])
    return np.asarray(targets[~table.has_actions[targets] & ~model.done[targets]])


def _join_stages(table: ActionTable) -> csr_array:
    """Which stage may follow which in one action, shape (n, n)."""
    pointers = table.moves.indptr[table.first]
    return csr_array(
        (np.ones(table.moves.nnz), table.moves.indices, pointers),
        shape=(table.stage_count, table.stage_count),
    )
