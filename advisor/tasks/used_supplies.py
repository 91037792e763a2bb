"""What logged attempts used up and gave back, by the route files as they are now.

A certain step that was not logged by hand, but without which a logged one could not
have been taken, counts as taken: one takes a frame, then etches it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from advisor.book.attempts import Attempt
from advisor.names import name_key
from advisor.routes.amounts import Amount, ItemAmount
from advisor.routes.learned import find_steps
from advisor.routes.pools.piece_stages import BARE
from advisor.routes.route import Route, Step
from advisor.routes.vary import Rungs, fill_braces

Sums = dict[str | None, Fraction]


@dataclass(frozen=True)
class Used:
    """What an attempt did to supplies, all tries together.

    Attributes:
        uses, gives: Units by item as the file spells it; None is the workspace money.
        made: Finished pieces.
        sold_as: The half-made piece that was sold.
        given_up: The piece was put away.
    """

    uses: Mapping[str | None, Fraction]
    gives: Mapping[str | None, Fraction]
    made: int = 0
    sold_as: str | None = None
    given_up: bool = False
    minutes: float = 0.0


class RouteSupplies:
    """Reads the attempts of one route, in the order of time."""

    def __init__(self, route: Route) -> None:
        self.route = route
        self._market = {name_key(each.stage): each.item for each in route.market}
        self._rows: dict[str, tuple[Step, int] | None] = {}
        self._on_table: Counter[str] = Counter()
        self._leading = self._certain_steps()

    def used(self, attempt: Attempt) -> Used | None:
        """What an attempt used; None where the route has no such step any more."""
        if attempt.action == "step":
            return self._by_step(attempt)
        if attempt.action == "buy in":
            item = self._market.get(name_key(attempt.reached or ""))
            return None if item is None else Used({item: Fraction(1)}, {})
        if attempt.action == "sell out":
            stage = name_key(attempt.stage or "")
            sold_as = None if self._is_done(stage) else self._market.get(stage)
            return Used({}, {}, sold_as=sold_as)
        return Used({}, {}, given_up=attempt.action == "stop")

    def _is_done(self, stage: str) -> bool:
        """Whether the piece is made there; a piece of a pool may be several grades at once."""
        finish = name_key(self.route.finish)
        return stage == finish or (
            self.route.pool is not None and stage.startswith(f"{finish}, also ")
        )

    def _by_step(self, attempt: Attempt) -> Used | None:
        found = self._find(attempt.step or "")
        if found is None:
            return None
        step, row = found
        uses: Sums = defaultdict(Fraction)
        gives: Sums = defaultdict(Fraction)
        minutes = self._add(step, row, attempt.outcome, attempt.tries, (uses, gives))
        if attempt.session is None:
            minutes += self._add_certain_steps(attempt, uses, gives)
        is_made = self._is_done(name_key(attempt.reached or ""))
        return Used(
            dict(uses),
            dict(gives),
            made=attempt.tries if is_made else 0,
            minutes=minutes if attempt.minutes is None else attempt.minutes,
        )

    def _find(self, name: str) -> tuple[Step, int] | None:
        key = name_key(name)
        if key not in self._rows:
            places = find_steps(self.route, [key]).get(key, [])
            number, row = places[0] if places else (0, 0)
            self._rows[key] = (self.route.steps[number], row) if places else None
        return self._rows[key]

    def _add(
        self,
        step: Step,
        row: int,
        outcome: str | None,
        times: int,
        into: tuple[Sums, Sums],
    ) -> float:
        """Add what a step used, so many times; gives the minutes it took."""
        rungs = Rungs(step.vary)
        came = [each for each in step.outcomes if _is_named(step, each.stage, row, outcome)]
        if not came and len(step.outcomes) == 1:
            came = list(step.outcomes)
        for sums, own in zip(into, ("uses", "gives"), strict=True):
            listed: list[ItemAmount] = [*getattr(step, own)]
            for each in came[:1]:
                listed += getattr(each, own)
            for amount in listed:
                item = None if amount.item is None else _fill(step, amount.item, row)
                sums[item] += _at(amount.amount, rungs, step, row) * times
        took = _at(step.minutes, rungs, step, row)
        took += sum(_at(each.minutes, rungs, step, row) for each in came[:1])
        return float(took) * times

    def _certain_steps(self) -> dict[str, tuple[Step, str]]:
        """Stage -> the one certain step that leads to it, and where that is taken."""
        leading: dict[str, list[tuple[Step, str]]] = defaultdict(list)
        for step in self.route.steps:
            if len(step.outcomes) == 1 and step.start is not None and not step.vary:
                leading[name_key(_leads_to(step))].append((step, name_key(step.start)))
        return {stage: steps[0] for stage, steps in leading.items() if len(steps) == 1}

    def _add_certain_steps(self, attempt: Attempt, uses: Sums, gives: Sums) -> float:
        """Move the pieces on the table; add the certain steps that must have been taken."""
        if attempt.stage is None or attempt.reached is None:
            return 0.0
        stage, reached = name_key(attempt.stage), name_key(attempt.reached)
        wanted = 1 if stage == reached else attempt.tries
        minutes = self._supply(stage, wanted, uses, gives)
        if stage != reached:
            self._on_table[stage] -= attempt.tries
            self._on_table[reached] += attempt.tries
        return minutes

    def _supply(self, stage: str, wanted: int, uses: Sums, gives: Sums) -> float:
        """See to it that so many pieces stand at a stage."""
        minutes = 0.0
        start, seen = name_key(self.route.start), set()
        lacking = max(0, wanted - self._on_table[stage])
        self._on_table[stage] += lacking
        while lacking and stage != start and stage not in seen and stage in self._leading:
            seen.add(stage)
            step, stage = self._leading[stage]
            minutes += self._add(step, 0, None, lacking, (uses, gives))
            there = min(lacking, max(0, self._on_table[stage])) if stage != start else 0
            self._on_table[stage] -= there
            lacking -= there
        return minutes


def _leads_to(step: Step) -> str:
    """Where a certain step leads; for one that puts a piece of a pool, what that is called."""
    if step.put is None or len(step.put) > 1:
        return step.outcomes[0].stage
    return str(step.put[0]) if step.put else BARE


def _is_named(step: Step, stage: str, row: int, outcome: str | None) -> bool:
    return outcome is not None and name_key(_fill(step, stage, row)) == name_key(outcome)


def _fill(step: Step, text: str, row: int) -> str:
    if "{" not in text:
        return text
    return " ".join(fill_braces(text, Rungs(step.vary), step.table, row=row).split())


def _at(amount: Amount, rungs: Rungs, step: Step, row: int) -> Fraction:
    if isinstance(amount, Fraction):
        return amount
    values, which = rungs.amounts(amount, step.table)
    return values[int(which[row])]
