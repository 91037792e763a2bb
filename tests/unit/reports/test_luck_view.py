"""The page of a route's luck: what is known of it, and no table of nothing."""

from __future__ import annotations

from typing import Any

from reports.decision_data import AskedAnswer, LuckPage
from reports.luck_view import luck_view

STEP = {
    "step": "strike", "outcome": "struck bell", "tries": 31, "seen": 2, "stated": 1 / 30,
    "posterior": {"mean": 0.04, "low_95": 0.01, "high_95": 0.1},
    "surprise": 0.277, "surprise_corrected": 1.0,
}  # fmt: skip


def page(**answer: Any) -> LuckPage:
    luck = {
        "route": "bell", "money": "shell", "tries": 31, "begun": 1, "finished": 1, "spent": 11.4,
        "expected": 11.4, "luckier_than": 0.5, "mean_cost": {"stated": 12.0, "learned": 12.0},
        "steps": [STEP], "comparisons": 4, "reasons": ["It costs just as much."], "cautions": [],
        **answer,
    }  # fmt: skip
    return LuckPage(AskedAnswer(luck, "makeworth ledger --luck bell"), ())


def test_the_plain_surprise_stands_beside_the_corrected_one():
    [table] = next(part for part in luck_view(page()).parts if part.name == "steps").tables
    shown = dict(zip([column.heading for column in table.columns], table.rows[0], strict=True))
    assert shown["so strange by chance"] == 0.277
    assert shown["corrected for 4 comparisons"] == 1.0


def test_luck_that_cannot_be_told_is_not_headlined():
    view = luck_view(page(expected=None, luckier_than=None, steps=[], comparisons=0))
    assert view.headline == "How lucky this was cannot be told."
    assert not any(part.tables for part in view.parts)
