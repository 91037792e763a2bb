"""What one must know of the pool, in words: base, level, what excludes what."""

from __future__ import annotations

from advisor.figures import percent
from reports.guide_blocks import Block, Bullets, Grid, Heading, Text
from reports.guide_data import PoolAffix, PoolBase, PoolNotes
from reports.guide_step_words import listed


def pool_blocks(pool: PoolNotes) -> list[Block]:
    """The section on the pool."""
    blocks: list[Block] = [
        Heading(2, "What to know before you start"),
        Text(_start_words(pool)),
    ]
    if len(pool.bases) > 1 or pool.bases[0].why_not is not None:
        blocks.append(_base_grid(pool))
    blocks.append(_affix_grid(pool))
    lines = [f"{one} and {other} cannot be together: {why}." for one, other, why in pool.exclusions]
    lines += [f"A piece with {want} sells as {item}, as it is." for item, want in pool.grades]
    if lines:
        blocks.append(Bullets(lines))
    return blocks


def _start_words(pool: PoolNotes) -> str:
    base = pool.bases[0]
    traits = f" ({', '.join(base.traits)})" if base.traits else ""
    said = [
        f"Start from {base.item}{traits} of item level {pool.item_level}.",
        f"The piece is made when it carries {pool.wanted}.",
    ]
    if pool.not_drawn:
        said.append(f"No redraw brings {listed(pool.not_drawn)}: a step of its own does.")
    it = "That" if not pool.not_drawn else "The rest of it"
    if base.least_level is not None and base.least_level > 0:
        said.append(f"{it} can come from item level {base.least_level} on.")
    if base.best_tiers_from is not None and base.best_tiers_from > (base.least_level or 0):
        said.append(f"From {base.best_tiers_from} on the best tier of each can come.")
    if base.chance:
        said.append(
            f"One redraw of all gives {'it' if not pool.not_drawn else 'the rest of it'} with a "
            f"chance of {percent(base.chance)}, "
            f"1 in {1 / base.chance:,.0f}."
        )
    slots = listed([f"{count} {kind}" for kind, count in pool.slots])
    said.append(f"A piece holds at most {slots}, and never two of one group.")
    return " ".join(said)


def _base_grid(pool: PoolNotes) -> Grid:
    return Grid(
        ("base", "traits", "by one redraw", "from level", "best tiers from", ""),
        [_base_row(each) for each in pool.bases],
        figures=(2, 3, 4),
    )


def _base_row(base: PoolBase) -> tuple[str, ...]:
    levels = [
        "–" if each is None else str(each) for each in (base.least_level, base.best_tiers_from)
    ]
    note = "" if base.why_not is None else f"not here: {base.why_not}"
    return (base.item, ", ".join(base.traits) or "–", percent(base.chance), *levels, note)


def _affix_grid(pool: PoolNotes) -> Grid:
    return Grid(
        ("only one of a group", "affix", "tier", "kind", "from level", "only on", "by one redraw"),
        [_affix_row(each) for each in pool.affixes],
        figures=(2, 4, 6),
    )


def _affix_row(affix: PoolAffix) -> tuple[str, ...]:
    chance = percent(affix.chance) if affix.usable else "never here"
    return (
        affix.group,
        affix.name,
        str(affix.tier),
        affix.kind,
        str(affix.from_level),
        ", ".join(affix.needs) or "any",
        chance,
    )
