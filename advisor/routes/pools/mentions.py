"""What a route, or a question, does with affixes: wants, draws, places and takes them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from advisor.routes.pools.effects import Add, Choose, Clear, Effect, Join, Place, Redraw, Remove

DrawUse = tuple[str, str | None]
"""A set and the kind drawn (None: any)."""


@dataclass(frozen=True)
class Mentions:
    """What a route (or a question) does with affixes.

    Attributes:
        wanted: Affixes told apart by a want, `when`, grade or finish.
        entries: The affixes of each wanted entry; those that are in the same entries
            serve alike.
        named: Affixes mentioned by their own name.
        appearing: Affixes that may come onto a piece without being drawn.
        placed: Affixes that some step places.
        draws: Every draw, by set and kind.
        draws_onto_others: Those that leave other affixes of the kind on the piece.
        takes: Kinds (None: any) of which a step takes some affixes and leaves others.
    """

    wanted: frozenset[int] = frozenset()
    named: frozenset[int] = frozenset()
    appearing: frozenset[int] = frozenset()
    placed: frozenset[int] = frozenset()
    draws: frozenset[DrawUse] = frozenset()
    draws_onto_others: frozenset[DrawUse] = frozenset()
    takes: frozenset[str | None] = frozenset()
    entries: frozenset[frozenset[int]] = frozenset()

    def with_effects(self, effects: Iterable[Effect]) -> Mentions:
        """The same with what these effects mention, draw and bring."""
        wanted, named = set(self.wanted), set(self.named)
        appearing, placed = set(self.appearing), set(self.placed)
        draws, onto_others = set(self.draws), set(self.draws_onto_others)
        takes = set(self.takes)
        for effect in effects:
            if isinstance(effect, Remove):
                takes.add(effect.kind)
            elif isinstance(effect, Join | Clear):
                takes.add(None)
            if isinstance(effect, Join):
                named |= set(effect.affixes)
                appearing |= set(effect.affixes)
            elif isinstance(effect, Place):
                named.add(effect.affix)
                placed.add(effect.affix)
            elif isinstance(effect, Redraw):
                draws.add((effect.set, effect.kind))
            elif isinstance(effect, Add | Choose):
                draws.add((effect.set, effect.kind))
                onto_others.add((effect.set, effect.kind))
            elif isinstance(effect, Clear) and effect.affix is not None:
                named.add(effect.affix)
        return Mentions(
            wanted=frozenset(wanted),
            named=frozenset(named),
            appearing=frozenset(appearing),
            placed=frozenset(placed),
            draws=frozenset(draws),
            draws_onto_others=frozenset(onto_others),
            takes=frozenset(takes),
            entries=self.entries,
        )

    @property
    def mentioned(self) -> frozenset[int]:
        """Affixes that must be told apart."""
        return self.wanted | self.named | self.appearing | self.placed
