"""What the page of one answer shows, in order; one template lays all of them out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reports.page_parts import Chart, Fact, Table


@dataclass(frozen=True)
class Part:
    """A stretch of a page: a heading, what stands under it.

    Attributes:
        name: Unique on its page, fit for an id.
    """

    name: str
    heading: str
    charts: Sequence[Chart] = ()
    tables: Sequence[Table] = ()


@dataclass(frozen=True)
class AnswerView:
    """The page of one answer.

    Attributes:
        title: What the page is of.
        trail: Pages on the way to it, as (kind, name).
        headline: What to do, a sentence.
        lead: The next sentence, or None.
        posts: Lines to put up in a market.
        parts: In the order to show them.
        command: The command line that gives the same answer.
        reasons_heading: What stands above the reasons.
    """

    title: str
    trail: Sequence[tuple[str, str]]
    headline: str
    lead: str | None
    facts: Sequence[Fact]
    parts: Sequence[Part]
    command: str
    posts: Sequence[str] = ()
    reasons: Sequence[str] = ()
    cautions: Sequence[str] = ()
    reasons_heading: str = "Why"

    @property
    def charts(self) -> tuple[Chart, ...]:
        """Every chart of the page."""
        return tuple(chart for part in self.parts for chart in part.charts)
