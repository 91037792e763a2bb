"""The exact law of what the chosen way costs, luck and all.

The law is read off its generating function at the roots of unity, each value of
which is one solution of the chain's linear equations (`elimination`). How far
the lattice must reach is known beforehand from exponential moments, so what
lies beyond is bounded; amounts that fit no lattice are split between two cells
so that every mean stays, and the spread this adds is reported. Mean and
standard deviation come from the chain's own equations, not from the lattice.

Source: Abate & Whitt, The Fourier-series method for inverting transforms of
probability distributions, Queueing Systems 10 (1992) 5-88; tail bound: Chernoff,
Annals of Mathematical Statistics 23 (1952) 493-507.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import ceil, hypot

import numpy as np

from advisor.errors import CannotAnswer
from advisor.routes.chain import Chain, follow_choices
from advisor.routes.inversion import TotalProblem, invert_onto_lattice
from advisor.routes.lattice import find_common_step
from advisor.routes.lumping import lump_stages
from advisor.routes.made_items import MadeItems
from advisor.routes.reach import Reach, find_reach
from advisor.routes.solve import BestChoices
from advisor.routes.stages import StageModel
from advisor.routes.total_law import CostDistribution

__all__ = ["CostDistribution", "cost_distribution"]

CELLS_THAT_FIT = 2**17
MOST_CELLS = 2**15
FEWEST_CELLS = 2**12
WORK_AT_MOST = 9e6
OFF = 1e-3


def cost_distribution(
    model: StageModel,
    choices: BestChoices,
    outcome_costs: np.ndarray,
    *,
    made: Mapping[int, CostDistribution] | None = None,
) -> CostDistribution:
    """The law of a total from the start to the end of one run of the chosen way.

    Args:
        model: The route.
        choices: What is done at each stage.
        outcome_costs: What each outcome adds, shape (k,): money, or minutes, or
            units of one item.
        made: For items that are made rather than bought: the law of what one unit
            costs. Each unit used is then one independent draw; `outcome_costs` counts
            it at the law's mean, and only the luck around that mean is added here. A
            part of a unit is that part of one draw.
    Raises: CannotAnswer: So many steps that rounding hides how the total is spread.
    """
    chain = follow_choices(model, choices.actions)
    if not len(chain.stages):
        return CostDistribution.certain(0.0)
    if made:
        draws = {item: law for item, law in made.items() if law.sd > 0.0}
        units = {item: model.uses[:, [item]].toarray().ravel() for item in draws}
        return _find_law(chain, outcome_costs, MadeItems(draws, units))
    return _find_law(chain, outcome_costs, MadeItems({}, {}))


def _find_law(chain: Chain, amounts: np.ndarray, made: MadeItems) -> CostDistribution:
    moments = chain.moments(amounts, made.own_variance(len(amounts)))
    # Amounts that cancel leave a mean of 0 and a spread of rounding alone.
    size = 0.0 if made.laws else float(np.abs(amounts[chain.outcomes]).max(initial=0.0))
    if moments.sd <= 1e-9 * max(abs(moments.mean), size):
        return CostDistribution.certain(moments.mean)
    problem = _gather_problem(chain, amounts, made)
    reach = find_reach(problem, moments)
    step = _choose_step(problem, reach)
    law = invert_onto_lattice(
        problem, step, low=reach.low, high=reach.high, mass_left=reach.mass_left
    )
    spread = hypot(moments.sd, law.rounding_sd)
    if abs(law.mean - moments.mean) > OFF * spread or abs(law.sd - spread) > OFF * spread:
        raise CannotAnswer("the way takes too many steps for the law of its cost to be told")
    return replace(law, mean=moments.mean, sd=moments.sd)


def _gather_problem(chain: Chain, amounts: np.ndarray, made: MadeItems) -> TotalProblem:
    columns = [amounts[chain.outcomes]]
    columns += [made.units[item][chain.outcomes] for item in made.laws]
    kinds, kind = np.unique(np.column_stack(columns), axis=0, return_inverse=True)
    kind = kind.ravel()
    return TotalProblem(
        chain=lump_stages(chain.source, chain.target, kind, chain.odds, chain.start),
        amounts=kinds[:, 0],
        units=kinds[:, 1:],
        counts=np.bincount(kind, weights=chain.visits[chain.source] * chain.odds),
        ahead=np.append(chain.sum_to_go(amounts), 0.0),
        laws=tuple(made.laws.values()),
    )


def _choose_step(problem: TotalProblem, reach: Reach) -> float:
    """The lattice step: one that fits every amount, else fine enough for the work it makes."""
    width = reach.high - reach.low
    fitting = find_common_step(problem.lattice_amounts())
    if fitting is not None:
        cells = width / fitting
        if cells <= FEWEST_CELLS or (
            cells <= CELLS_THAT_FIT and cells * reach.work <= 4 * WORK_AT_MOST
        ):
            return fitting
    step = width / min(max(WORK_AT_MOST / reach.work, FEWEST_CELLS), MOST_CELLS)
    heaviest = float(np.abs(problem.amounts)[np.argmax(problem.counts * np.abs(problem.amounts))])
    return heaviest / ceil(heaviest / step) if heaviest >= 4 * step else step
