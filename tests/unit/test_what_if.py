"""Other odds and left-out steps, against the odds worked out by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from advisor.errors import BadInput, WrongUse
from advisor.routes.read import read_route
from advisor.routes.what_if import change_odds, leave_out

ROUTE = """
[route]
makes = "lamp"
start = "table"
[[step]]
name = "etch"
from = "table"
[step.outcomes]
"lamp" = "10 %"
"dull lamp" = "30 %"
"table" = "rest"
[[step]]
name = "warm"
from = "dull lamp"
[step.outcomes]
"lamp" = { weight = 1 }
"table" = { weight = 3 }
[[step]]
name = "scrape"
from = "dull lamp"
to = "table"
"""


@pytest.fixture
def routes(tmp_path):
    file = tmp_path / "lamp.toml"
    file.write_text(ROUTE)
    return {"lamp": read_route(file)}


def odds_of(routes, step):
    found = next(each for each in routes["lamp"].steps if each.name == step)
    return [outcome.odds.value for outcome in found.outcomes]


def test_others_share_what_is_left(routes):
    # 30 : 60 of the remaining 70 %
    changed = change_odds(routes, "Etch = 30 %")
    assert odds_of(changed, "etch") == [Fraction(3, 10), Fraction(7, 30), Fraction(14, 30)]


def test_weights_become_odds(routes):
    assert odds_of(change_odds(routes, "warm=1 in 2"), "warm") == [Fraction(1, 2)] * 2


def test_a_step_is_left_out(routes):
    assert [each.name for each in leave_out(routes, "warm")["lamp"].steps] == ["etch", "scrape"]


@pytest.mark.parametrize(
    ("typed", "fault"),
    [
        ("etch", WrongUse),
        ("=3 %", WrongUse),
        ("etch=often", BadInput),
        ("etch=130 %", BadInput),
        ("ecth=3 %", BadInput),
        ("scrape=3 %", BadInput),
    ],
)
def test_wrong_odds_are_refused(routes, typed, fault):
    with pytest.raises(fault):
        change_odds(routes, typed)


def test_unknown_step_asks_did_you_mean(routes):
    with pytest.raises(BadInput, match="no route has this step") as caught:
        leave_out(routes, "wram")
    assert 'did you mean "warm"?' in str(caught.value)
