"""Simulated seasons with known odds: what is said of luck and odds is true as often as it says."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.book.attempts import Attempt, add_attempts, read_tries
from advisor.book.store import open_store
from advisor.decide.luck import weigh_luck
from advisor.decide.step_luck import judge_steps
from advisor.decide.table_moves import trace_moves
from advisor.routes.cost import route_cost
from advisor.routes.from_stage import CostFromStage
from advisor.routes.read import read_route

HEAD = '[route]\nmakes = "lamp"\nstart = "table"\n'


def route_of(tmp_path, *odds):
    """Every step leads to the next bench or back to the table."""
    stages = ["table", *(f"bench {n}" for n in range(1, len(odds))), "lamp"]
    text = HEAD + "".join(
        f'[[step]]\nname = "step {n}"\nfrom = "{stages[n]}"\nuses = {{ frame = {n + 1} }}\n'
        f'[step.outcomes]\n"{stages[n + 1]}" = {each}\n"{stages[0]}" = "rest"\n'
        for n, each in enumerate(odds)
    )
    file = tmp_path / "lamp.toml"
    file.write_text(text)
    return read_route(file)


def covered(rows, truth):
    """How many of the first outcomes' intervals hold the true odds."""
    firsts = [each for each in rows if each.outcome != "table"]
    return sum(each.low_95 <= truth[each.step] <= each.high_95 for each in firsts), len(firsts)


def test_odds_drawn_as_the_prior_says_are_covered_as_often_as_said(tmp_path):
    """Stated 30 % with trust 20: then p ~ Beta(1 + 6, 1 + 14), and 95 % is 95 %."""
    route = route_of(tmp_path, '"30 %"')
    random = np.random.default_rng(71)
    held = 0
    for _ in range(1500):
        odds = random.beta(7, 15)
        came = int(random.binomial(60, odds))
        tries = {("step 0", "lamp"): came, ("step 0", "table"): 60 - came}
        rows, _ = judge_steps(route, tries, trust=20)
        held += sum(each.low_95 <= odds <= each.high_95 for each in rows if each.outcome == "lamp")
    assert 0.93 <= held / 1500 <= 0.97


def test_a_season_through_the_book_covers_odds_that_nobody_states(tmp_path):
    """Thirty steps of known odds, each tried 250 times in each of forty seasons."""
    random = np.random.default_rng(12)
    truth = {f"step {n}": float(odds) for n, odds in enumerate(random.uniform(0.05, 0.9, 30))}
    route = route_of(tmp_path, *["{ seen = [0, 0] }"] * 30)
    held = asked = 0
    with open_store(tmp_path / "book.db", create=True) as store:
        for season in range(40):
            for step, odds in truth.items():
                came = int(random.binomial(250, odds))
                stage = "lamp" if step == "step 29" else f"bench {int(step[5:]) + 1}"
                counts = ((stage, came), ("table", 250 - came))
                log = [
                    Attempt(season, f"lamp {season}", step=step, outcome=outcome, tries=count)
                    for outcome, count in counts
                    if count
                ]
                add_attempts(store, log)
        known = read_tries(store, until_us=10**9)
    for logged in known.values():
        tries = {pair: sum(counts.values()) for pair, counts in logged.items()}
        rows, _ = judge_steps(route, tries, trust=50)
        own = covered(rows, truth)
        held, asked = held + own[0], asked + own[1]
    assert asked == 40 * 30
    assert 0.93 <= held / asked <= 0.97


def run_pieces(random, count, odds=(0.2, 0.6)):
    """Attempts of making so many lamps by two steps, at the stated odds."""
    log, stages = [], ["table", "bench 1", "lamp"]
    for _ in range(count):
        at = 0
        while at < 2:
            on = at + 1 if random.random() < odds[at] else 0
            log.append(
                Attempt(
                    0,
                    "lamp",
                    step=f"step {at}",
                    stage=stages[at],
                    outcome=stages[on],
                    reached=stages[on],
                )
            )
            at = on
    return log


@pytest.mark.parametrize("pieces", [1, 5])
def test_luckier_than_is_uniform_over_many_logs(tmp_path, pieces):
    """The place of a cost in its own law: mean 1/2, and a tenth of logs in each tenth."""
    route = route_of(tmp_path, '"20 %"', '"60 %"')
    cost = route_cost("lamp", routes={"lamp": route}, buy={"frame": 1.0}, sell={}, money="shell")
    ahead, random = CostFromStage(cost), np.random.default_rng(pieces)
    places, gains = [], []
    for _ in range(400):
        moves = trace_moves(ahead.model, run_pieces(random, pieces), sessions={})
        luck = weigh_luck(moves, ahead)
        places.append(luck.luckier_than)
        gains.append(luck.spent - luck.expected)
        assert luck.finished == pieces
    assert np.mean(places) == pytest.approx(0.5, abs=0.05)
    assert np.mean(np.array(places) < 0.2) == pytest.approx(0.2, abs=0.06)
    spread = cost.law.sd * pieces**0.5
    assert np.mean(gains) == pytest.approx(0, abs=3 * spread / 400**0.5)


def test_expected_is_what_getting_so_far_costs_wherever_one_stops(tmp_path):
    """Logs cut off after nine attempts: spent less expected is 0 on average (optional stopping)."""
    route = route_of(tmp_path, '"20 %"', '"60 %"')
    cost = route_cost("lamp", routes={"lamp": route}, buy={"frame": 1.0}, sell={}, money="shell")
    ahead, random = CostFromStage(cost), np.random.default_rng(3)
    gains = []
    for _ in range(600):
        log = run_pieces(random, 9)[:9]
        luck = weigh_luck(trace_moves(ahead.model, log, sessions={}), ahead)
        gains.append(luck.spent - luck.expected)
    assert np.mean(gains) == pytest.approx(0, abs=3 * np.std(gains) / 600**0.5)
