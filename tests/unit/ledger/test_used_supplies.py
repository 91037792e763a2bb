"""What attempts used, by the route file."""

from __future__ import annotations

from fractions import Fraction

import pytest

from advisor.book.attempts import Attempt
from advisor.routes.read import read_route
from advisor.tasks.used_supplies import RouteSupplies

ROUTE = """
[route]
makes = "lamp"
start = "empty table"
[[step]]
name = "take"
from = "empty table"
to = "bare frame"
uses = { "frame" = 1 }
minutes = 0.2
[[step]]
name = "etch"
from = "bare frame"
uses = { "salt" = 3 }
fee = "2 shell"
minutes = 1
[step.outcomes]
"marked frame" = "1 in 4"
"bare frame" = "25 %"
"empty table" = { odds = "rest", gives = { "scrap" = 2 } }
[[step]]
name = "seal"
from = "marked frame"
[step.outcomes]
"lamp" = { odds = "50 %", uses = { "lens" = 1 } }
"empty table" = "rest"
[market]
"marked frame" = "marked lamp frame"
"""
RUNGS = """
[route]
makes = "bright lamp"
[[step]]
name = "polish {n}"
vary = { n = "0..2" }
from = "gloss {n}"
uses = { "wax" = { by = "n", values = [1, 2, 5] } }
[step.outcomes]
"gloss {n+1}" = "50 %"
"gloss 0" = "rest"
[[step]]
name = "set"
from = "gloss 3"
to = "bright lamp"
"""


@pytest.fixture
def supplies(tmp_path):
    (tmp_path / "glow.toml").write_text(ROUTE)
    return RouteSupplies(read_route(tmp_path / "glow.toml"))


def step(name, stage, outcome, tries=1, session=None, minutes=None):
    return Attempt(
        0, "glow", step=name, stage=stage, outcome=outcome, reached=outcome, tries=tries,
        session=session, minutes=minutes,
    )  # fmt: skip


def test_a_frame_is_taken_for_each_one_lost(supplies):
    used = supplies.used(step("etch", "bare frame", "empty table", 39))
    assert used.uses == {"frame": 39, "salt": 117, "shell": 78}
    assert used.gives == {"scrap": 78}
    assert used.minutes == pytest.approx(39 * 1.2)


def test_a_frame_that_stays_is_taken_once(supplies):
    assert supplies.used(step("etch", "bare frame", "bare frame", 9)).uses["frame"] == 1
    assert "frame" not in supplies.used(step("etch", "bare frame", "marked frame")).uses
    made = supplies.used(step("seal", "marked frame", "lamp"))
    assert (dict(made.uses), made.made) == ({"lens": 1}, 1)


def test_a_certain_step_that_was_logged_is_not_counted_twice(supplies):
    assert supplies.used(step("take", "empty table", "bare frame", 3)).uses == {"frame": 3}
    used = supplies.used(step("etch", "bare frame", "empty table", 4)).uses
    assert used["frame"] == 1


def test_a_followed_piece_logs_every_step_itself(supplies):
    assert "frame" not in supplies.used(step("etch", "bare frame", "empty table", session=1)).uses


def test_the_market(supplies):
    bought = Attempt(0, "glow", "buy in", reached="marked frame", session=1)
    assert supplies.used(bought).uses == {"marked lamp frame": 1}
    sold = Attempt(0, "glow", "sell out", stage="marked frame", session=1)
    assert supplies.used(sold).sold_as == "marked lamp frame"
    assert supplies.used(Attempt(0, "glow", "sell out", stage="lamp")).sold_as is None
    assert supplies.used(Attempt(0, "glow", "stop", stage="lamp")).given_up
    assert supplies.used(step("grind", "bare frame", "lamp")) is None


def test_minutes_as_logged_stand_for_the_routes(supplies):
    assert supplies.used(step("etch", "bare frame", "empty table", 4, minutes=30.0)).minutes == 30


def test_each_rung_uses_its_own(tmp_path):
    (tmp_path / "bright.toml").write_text(RUNGS)
    rungs = RouteSupplies(read_route(tmp_path / "bright.toml"))
    assert rungs.used(step("polish 2", "gloss 2", "gloss 3", 2)).uses == {"wax": Fraction(10)}
