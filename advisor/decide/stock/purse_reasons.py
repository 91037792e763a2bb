"""How far a purse reaches, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.figures import amount, percent


def purse_reasons(
    *,
    budget: float,
    money: str,
    started: Sequence[tuple[str, int]],
    asked: int,
    paid: float,
    chance_started: float,
    chance_all: float,
    lacking: float,
    enough_80: float,
) -> list[str]:
    """What to start, what to spend and keep, and what the purse cannot cover.

    Args:
        started: Route and pieces each, in the order of making.
        asked: Pieces asked for in all.
        lacking: Money lacking on average to finish all that was asked for.
        enough_80: Money that is enough for all of it in 8 of 10 cases.
    """
    count = sum(pieces for _, pieces in started)
    what = ", then ".join(f"{pieces} by {route}" for route, pieces in started)
    begin = "all" if count == asked else f"{count} of the {asked} pieces"
    said = [
        f"With {amount(budget)} {money} start {begin}: {what}. The purse lasts for that with a "
        f"chance of {percent(chance_started)}."
    ]
    kept = max(budget - paid, 0.0)
    said.append(
        f"Of the purse {amount(paid)} {money} are best spent today; keep {amount(kept)} for fees, "
        "services and what will be missing later."
    )
    if chance_all < 1:
        many = "the piece" if asked == 1 else f"all {asked} pieces"
        said.append(
            f"For {many} the purse lasts with a chance of {percent(chance_all)}; it is short by "
            f"{amount(lacking)} {money} on average, and {amount(enough_80)} would be enough in "
            "8 of 10 cases."
        )
    return said


def purse_cautions(chance_started: float, *, started: int) -> list[str]:
    """Where even what is started is likely not to be finished."""
    if chance_started >= 0.5:
        return []
    first = "the first piece" if started == 1 else "what is started"
    return [
        f"More often than not the purse does not see {first} through: what is spent until then is "
        "lost but for what can be sold again."
    ]
