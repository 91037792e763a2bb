"""What rounding leaves of two equal sums is no difference: it is neither said nor decided by."""

from __future__ import annotations

import pytest

from advisor.decide.evening.evening_reasons import EveningStory, LeftOut, evening_reasons
from advisor.decide.service.winning import GoingRate
from advisor.figures import difference
from advisor.tasks.service_work import less_supplies

TENTHS = 0.1 + 0.1 + 0.1  # in binary a little more than 0.3


@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e9])
def test_a_difference_is_what_rounding_cannot_make(scale):
    assert TENTHS > 0.3
    assert difference(TENTHS * scale, 0.3 * scale) == 0
    assert difference(0.31 * scale, 0.3 * scale) == pytest.approx(0.01 * scale)
    assert difference(0.0, 1e-12) == -1e-12  # small is not rounded where it is all there is
    assert difference(1.0 + 1e-8, 1.0) > 0


@pytest.mark.parametrize(
    ("money", "minutes", "lacks"),
    [(TENTHS, 60 * TENTHS, None), (0.4, 6.0, "0.1 more than there is"), (0.1, 19.0, "1 more than")],
)
def test_what_an_evening_lacks_is_more_than_rounding(money, minutes, lacks):
    story = EveningStory(
        money="shell", hours=0.3, budget=0.3, planned=(), minutes=0, spent=0, profit=0,
        chance_time=None, chance_purse=None, worth_of_hour=0, worth_of_purse=0, within=7,
        services=False, caution=0.0, left_out=LeftOut("bell", 5.0, minutes=minutes, money=money),
    )  # fmt: skip
    said = " ".join(evening_reasons(story))
    assert ("it needs" in said) == (lacks is not None)
    assert lacks is None or lacks in said


def test_work_is_worth_nothing_where_the_supplies_cost_what_is_asked():
    assert less_supplies(GoingRate(TENTHS, 0.01, 0.2), 0.3) is None
    rest = less_supplies(GoingRate(0.5, 0.01, 0.2), 0.3)
    assert rest is not None
    assert rest.level == pytest.approx(0.2)
