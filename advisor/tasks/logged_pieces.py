"""What a step made of a piece of a pool, by the words for what is on the piece then."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.decide.table_moves import OutcomePlaces
from advisor.errors import BadInput
from advisor.names import did_you_mean, name_key
from advisor.routes.build import build_stages
from advisor.routes.drawn import Way
from advisor.routes.route import PIECE, Route
from advisor.tasks.table_choices import nearest_stages, outcome_name, written_outcomes

NAMES_SHOWN = 6
STAGE_OPTION = "--at-stage"


@dataclass(frozen=True)
class PlacedPiece:
    """One outcome of a step, and the pieces before and after it.

    Attributes:
        outcome: As the route's file has it: what counts for the odds.
        stage: What was on the table before.
        reached: What is on the table then.
        again: Whether the step can come to this from what it came to.
    """

    outcome: str | None
    stage: str
    reached: str
    again: bool


class PiecePlaces:
    """The stages of a route with a pool, as a log speaks of them.

    Args:
        route: A route with a pool.
        money: The item that fees without a money are in.
    """

    def __init__(self, route: Route, *, money: str) -> None:
        self.route = route
        self.model = build_stages(route, goal="keep", money=money)
        self._places = OutcomePlaces(self.model)
        self._written = written_outcomes(route)

    def place(
        self, step: str, typed: str, *, at_stage: str | None, before: str | None
    ) -> PlacedPiece:
        """Find out what was meant.

        Args:
            step: A step of the route.
            typed: What was on the table afterwards.
            at_stage: What was on the table when it was taken, as typed; None: nobody said.
            before: Where the attempt before this one came to; it is taken where it fits.
        Raises: BadInput: the step cannot come to it, or from several pieces, with no word
            which it was.
        """
        ways = self._ways_to(step, typed)
        origins = list(dict.fromkeys(self._places.origin(way) for way in ways))
        stage = self._stage(step, typed, ways, at_stage=at_stage, before=before)
        way = next(way for way in ways if self._places.origin(way) == stage)
        reached = int(self.model.outcome_stage[way[-1]])
        name = self.model.stages[reached]
        return PlacedPiece(
            outcome=outcome_name(self.model, way[0], name, self._written),
            stage=self.model.stages[stage],
            reached=name,
            again=reached in origins,
        )

    def sure_outcome(self, step: str) -> str | None:
        """What a step always comes to; None where chance or the piece before decides."""
        ends = {int(self.model.outcome_stage[way[-1]]) for way in self._places.ways_of(step)}
        return self.model.stages[ends.pop()] if len(ends) == 1 else None

    def _ways_to(self, step: str, typed: str) -> list[Way]:
        """The ways by which a step comes to what was typed."""
        ways, ends = self._places.ways_of(step), self.model.outcome_stage
        wanted = self._places.stages.get(name_key(typed))
        found = [way for way in ways if int(ends[way[-1]]) == wanted]
        if found:
            return found
        names = [
            self.model.stages[end] for end in dict.fromkeys(int(ends[way[-1]]) for way in ways)
        ]
        known = f"it comes to {_several(names)}; or say {PIECE}, if nobody saw what came"
        raise BadInput(
            f"{typed!r} is nothing it comes to",
            right=did_you_mean(typed, names) or known,
            step=step,
        )

    def _stage(
        self, step: str, typed: str, ways: list[Way], *, at_stage: str | None, before: str | None
    ) -> int:
        """Where the step was taken."""
        origins = list(dict.fromkeys(self._places.origin(way) for way in ways))
        if at_stage is not None:
            return self._named_stage(step, typed, at_stage, origins)
        last = self._places.stages.get(name_key(before or ""))
        if last in origins:
            return int(last)
        if len(origins) == 1 or (len({way[1:] for way in ways}) == 1 and len(ways[0]) > 1):
            return origins[0]  # a redraw that leaves nothing as it was: any piece will do
        names = [self.model.stages[each] for each in origins]
        raise BadInput(
            f"it comes to {typed!r} from several pieces",
            right=f'say which: {STAGE_OPTION} "{names[0]}" (in a file, a column stage); '
            f"it may be {_several(names)}",
            step=step,
        )

    def _named_stage(self, step: str, typed: str, at_stage: str, origins: list[int]) -> int:
        number = self._places.stages.get(name_key(at_stage))
        if number is None:
            near = nearest_stages(self.model, at_stage)
            right = did_you_mean(at_stage, near) or f"near are {_several(near)}"
            raise BadInput(f"route {self.route.name!r} has no stage {at_stage!r}", right=right)
        if number not in origins:
            names = [self.model.stages[each] for each in origins]
            raise BadInput(
                f"from {at_stage!r} it does not come to {typed!r}",
                right=f"it does from {_several(names)}",
                step=step,
            )
        return number


def _several(names: list[str]) -> str:
    more = ", ..." if len(names) > NAMES_SHOWN else ""
    return ", ".join(f'"{name}"' for name in names[:NAMES_SHOWN]) + more
