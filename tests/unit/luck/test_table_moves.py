"""What a log says of pieces: where they began, where they stand, what was spent, by hand."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from advisor.book.attempts import Attempt
from advisor.decide.luck import chance_dearer, weigh_luck
from advisor.decide.table_moves import trace_moves
from advisor.routes.cost import route_cost
from advisor.routes.from_stage import CostFromStage
from advisor.routes.read import read_route
from advisor.routes.total_law import CostDistribution

LANTERN = """
[route]
makes = "lantern"
[[step]]
name = "take"
from = "table"
uses = { frame = 1 }
to = "bare"
[[step]]
name = "etch"
from = "bare"
uses = { salt = 1 }
[step.outcomes]
marked = "20 %"
table = "rest"
[[step]]
name = "seal"
from = "marked"
uses = { flux = 1 }
[step.outcomes]
lantern = "50 %"
table = "rest"
[market]
marked = "marked frame"
"""
FRAME, SALT, FLUX = 2.0, 3.0, 10.0
MARKED = (FRAME + SALT) / 0.2  # five tries on average
WHOLE = 2 * (MARKED + FLUX)


@pytest.fixture
def ahead(tmp_path):
    file = tmp_path / "lantern.toml"
    file.write_text(LANTERN)
    cost = route_cost(
        "lantern",
        routes={"lantern": read_route(file)},
        buy={"frame": FRAME, "salt": SALT, "flux": FLUX, "marked frame": 40.0},
        sell={"marked frame": 20.0},
        money="shell",
    )
    assert cost.mean == pytest.approx(WHOLE)
    return CostFromStage(cost)


def came(step, outcome, tries=1, *, stage=None, session=None):
    return Attempt(
        0,
        "lantern",
        step=step,
        stage=stage,
        outcome=outcome,
        reached=outcome,
        tries=tries,
        session=session,
    )


def market(action, stage, reached, session=1):
    return Attempt(0, "lantern", action=action, stage=stage, reached=reached, session=session)


def trace(ahead, *log, sessions=None):
    return trace_moves(ahead.model, log, sessions=sessions or {})


def by_name(ahead, counts):
    return {ahead.model.stages[stage]: n for stage, n in counts.items() if n}


def test_certain_steps_nobody_logs_count_as_taken(ahead):
    moves = trace(ahead, came("etch", "table", 4), came("etch", "marked"), came("seal", "lantern"))
    luck = weigh_luck(moves, ahead)
    assert by_name(ahead, moves.begun) == {"table": 1}
    assert by_name(ahead, moves.standing) == {"lantern": 1}
    assert luck.spent == pytest.approx(5 * (FRAME + SALT) + FLUX)
    assert luck.expected == pytest.approx(WHOLE)
    assert (luck.begun, luck.finished) == (1, 1)


def test_logging_the_certain_steps_too_changes_nothing(ahead):
    log = [came("etch", "table", 4), came("etch", "marked"), came("seal", "lantern")]
    told = trace(ahead, came("take", "bare", 5), *log)
    assert told.outcomes == trace(ahead, *log).outcomes


def test_half_a_log_is_measured_by_half_the_way(ahead):
    """Only the etching is logged: three marked frames for 12 tries where 15 are usual."""
    luck = weigh_luck(trace(ahead, came("etch", "table", 9), came("etch", "marked", 3)), ahead)
    assert luck.spent == pytest.approx(12 * (FRAME + SALT))
    assert luck.expected == pytest.approx(3 * MARKED)
    assert (luck.begun, luck.finished) == (3, 0)


def test_what_was_begun_in_the_middle_is_measured_from_there(ahead):
    moves = trace(ahead, came("seal", "table"), came("seal", "lantern", 2))
    assert by_name(ahead, moves.begun) == {"marked": 3}
    assert by_name(ahead, moves.standing) == {"lantern": 2, "table": 1}
    assert weigh_luck(moves, ahead).expected == pytest.approx(3 * (WHOLE - MARKED) - WHOLE)


def test_a_run_of_failures_is_a_piece_still_at_the_start(ahead):
    luck = weigh_luck(trace(ahead, came("etch", "table", 30)), ahead)
    assert (luck.begun, luck.finished) == (1, 0)
    assert luck.expected == pytest.approx(0)
    assert 0 < luck.luckier_than < 0.1


def test_nothing_done_is_one_half(ahead):
    luck = weigh_luck(trace(ahead, sessions={1: "table"}), ahead)
    assert (luck.spent, luck.expected) == (0, 0)
    assert luck.luckier_than == pytest.approx(0.5)


def test_followed_pieces_buy_in_sell_out_and_are_moved(ahead):
    log = [
        market("buy in", "table", "marked"),
        market("sell out", "marked", "table"),
        market("moved", "table", "marked"),
        came("seal", "lantern", stage="marked", session=1),
    ]
    moves = trace(ahead, *log, sessions={1: "table"})
    luck = weigh_luck(moves, ahead)
    assert luck.spent == pytest.approx(40 - 20 + FLUX)
    assert by_name(ahead, moves.begun) == {"table": 1, "marked": 1}
    assert by_name(ahead, moves.standing) == {"table": 1, "lantern": 1}


def test_what_fits_nowhere_is_told_and_not_counted(ahead):
    moves = trace(ahead, came("fuse", "lantern", 3), came("etch", "marked"))
    assert moves.unplaced == Counter({"step 'fuse' that came to 'lantern'": 3})
    assert moves.spent(ahead.cost.outcome_costs) == pytest.approx(FRAME + SALT)


def test_two_dice_against_one_by_counting():
    """P(X1 + X2 - Y > 5) + half of P(= 5) for three dice, all 216 throws counted."""
    die = CostDistribution(1.0, 1.0, np.full(6, 1 / 6), 3.5, (35 / 12) ** 0.5)
    throws = [a + b - c for a in range(1, 7) for b in range(1, 7) for c in range(1, 7)]
    wanted = (sum(t > 5 for t in throws) + sum(t == 5 for t in throws) / 2) / 216
    assert chance_dearer([die.n_fold(2)], [die], by=5.0) == pytest.approx(wanted, abs=1e-9)


def test_laws_of_different_width_add_up():
    """Two uniform laws on lattices that do not fit: their sum's middle is the middle."""
    fine = CostDistribution(0.0, 0.3, np.full(11, 1 / 11), 1.5, 0.95)
    coarse = CostDistribution(2.0, 0.7, np.full(5, 0.2), 3.4, 0.99)
    assert chance_dearer([fine, coarse], [], by=1.5 + 3.4) == pytest.approx(0.5, abs=0.02)
    assert chance_dearer([fine, coarse], [coarse, fine], by=0.0) == pytest.approx(0.5, abs=1e-9)
