"""Screening against the ground truth of the sample prices: what was planted is found, and why.

The faults were planted by the generator of the sample, which knows nothing of
screening: sample_prices/planted_faults.py and, made by it, expected.json.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from advisor.tasks.demonstrating import LAST_DAY, make_demo
from advisor.tasks.pricing import read_pricing

SAMPLE = Path(__file__).parents[2] / "sample_prices"
FILES = ("spring-fair.csv", "autumn-fair.csv")
REASONS = {
    "wrong digit": "wrong digit",
    "bait": "bait",
    "price fixing": "planted",
    "money mix-up": "wrong money",
    "stale ladder": "stale",
}


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """Why each quote of the two large files was screened, by (file, line); None if not."""
    made = make_demo(tmp_path_factory.mktemp("fen") / "demo")
    market = read_pricing(made.workspace, as_of=LAST_DAY).market
    why = {}
    for item in market.items:
        why |= market.items[item].screened
    lines = {}
    with made.workspace.open_book(read_only=True) as store:
        for name in FILES:
            rows = store.connection.execute(
                """SELECT quotes.id FROM quotes JOIN batches ON batches.id = batch_id
                   WHERE file LIKE ? ORDER BY quotes.id""",
                (f"%{name}",),
            )
            # no line of these files is left out or known already: the n-th quote is line n + 1
            lines |= {(f"inbox/{name}", k): why.get(i) for k, (i,) in enumerate(rows, start=2)}
    return lines


@pytest.fixture(scope="module")
def planted():
    truth = json.loads((SAMPLE / "expected.json").read_text(encoding="utf-8"))
    faults = {(each["file"], each["line"]): each["kind"] for each in truth["planted"]}
    return {
        place: kind for place, kind in faults.items() if place[0].removeprefix("inbox/") in FILES
    }


def test_every_planted_fault_is_marked(found, planted):
    assert len(planted) > 150
    assert [place for place in planted if found[place] is None] == []


@pytest.mark.parametrize("kind", REASONS)
def test_nearly_every_fault_is_marked_for_the_right_reason(found, planted, kind):
    reasons = [found[place] for place in planted if planted[place] == kind]
    assert reasons.count(REASONS[kind]) >= 0.9 * len(reasons)


def test_hardly_an_honest_quote_is_marked(found, planted):
    honest = [reason for place, reason in found.items() if place not in planted]
    marked = [reason for reason in honest if reason is not None]
    assert len(marked) < 0.004 * len(honest)
