"""Items that other routes make, against sums and convolutions done by hand."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.errors import CannotAnswer, RouteFault
from advisor.routes.cost import route_cost

HEADS = '[route]\nmakes = "{}"\n'


def sure(uses: str, makes: str, more: str = "") -> str:
    return (
        HEADS.format(makes)
        + f'[[step]]\nname = "make"\nfrom = "table"\nuses = {{ {uses} }}\nto = "{makes}"\n{more}'
    )


def tries(uses: str, makes: str, odds: str, more: str = "") -> str:
    return (
        HEADS.format(makes)
        + f'[[step]]\nname = "try"\nfrom = "table"\nuses = {{ {uses} }}\n{more}'
        + f'[step.outcomes]\n"{makes}" = "{odds}"\ntable = "rest"\n'
    )


@pytest.fixture
def ask(route_of):
    """The cost of the first of some routes, given as texts by name."""

    def price(texts: dict[str, str], buy: dict[str, float], **question):
        routes = {name: route_of(text, name) for name, text in texts.items()}
        question = {"sell": {}, "money": "shell"} | question
        return route_cost(next(iter(texts)), routes=routes, buy=buy, **question)

    return price


def test_the_cheaper_of_buying_and_making(ask):
    texts = {"lamp": sure("part = 2, wax = 1", "lamp"), "part": tries("wax = 1", "part", "25 %")}
    made = ask(texts, {"wax": 3, "part": 20})
    assert made.mean == pytest.approx(2 * 12 + 3)
    assert made.made["part"].unit_cost == pytest.approx(12)
    assert (made.made["part"].route, made.made["part"].mean) == ("part", 2)
    assert list(made.use) == ["wax"]
    assert made.use["wax"].mean == pytest.approx(2 * 4 + 1)
    bought = ask(texts, {"wax": 3, "part": 11})
    assert bought.mean == pytest.approx(2 * 11 + 3)
    assert bought.made == {}
    assert {item: use.mean for item, use in bought.use.items()} == {"part": 2, "wax": 1}


def test_what_is_made_brings_its_own_luck(ask):
    """Two parts, each a geometric number of tries at 3 shells, and 5 shells on top."""
    texts = {
        "lamp": sure("part = 2", "lamp", "fee = 5\n"),
        "part": tries("wax = 1", "part", "1 in 4"),
    }
    law = ask(texts, {"wax": 3}).law
    one = 0.25 * 0.75 ** np.arange(0, 400)
    two = np.convolve(one, one)
    for number in range(60):
        cost = 5 + 3 * (number + 2)
        assert law.chance_within(cost) == pytest.approx(two[: number + 1].sum(), abs=1e-9)
    assert law.sd == pytest.approx(3 * (2 * 0.75) ** 0.5 / 0.25, rel=1e-12)


def test_units_of_supplies_carry_that_luck_too(ask):
    texts = {"lamp": sure("part = 2, wax = 1", "lamp"), "part": tries("wax = 1", "part", "1 in 4")}
    use = ask(texts, {"wax": 3}).use["wax"]
    assert use.mean == pytest.approx(9)
    assert use.law.sd == pytest.approx((2 * 0.75) ** 0.5 / 0.25, rel=1e-12)
    assert use.law.chance_within(3) == pytest.approx(1 / 16, abs=1e-9)


def test_minutes_of_making_count(ask):
    texts = {
        "lamp": sure("part = 2", "lamp", "minutes = 10\n"),
        "part": tries("wax = 1", "part", "1 in 4", "minutes = 2\n"),
    }
    assert ask(texts, {"wax": 3}).minutes.mean == pytest.approx(10 + 2 * 4 * 2)


def test_three_routes_deep(ask):
    texts = {
        "lamp": tries("part = 1", "lamp", "1 in 2"),
        "part": tries("chip = 3", "part", "1 in 4"),
        "chip": tries("wax = 1", "chip", "1 in 5"),
    }
    cost = ask(texts, {"wax": 1})
    assert cost.mean == pytest.approx(2 * 4 * 3 * 5)
    chip = (1 - 0.2) / 0.2**2
    part = 4 * 3 * chip + (1 - 0.25) / 0.25**2 * (3 * 5) ** 2
    lamp = 2 * part + (1 - 0.5) / 0.5**2 * (4 * 15) ** 2
    assert cost.law.sd == pytest.approx(lamp**0.5, rel=1e-10)


def test_the_cheapest_of_several_routes_makes_it(ask):
    texts = {
        "lamp": sure("part = 1", "lamp"),
        "slow": tries("wax = 1", "part", "1 in 9"),
        "quick": tries("wax = 2", "part", "1 in 3"),
    }
    cost = ask(texts, {"wax": 1})
    assert (cost.mean, cost.made["part"].route) == (pytest.approx(6), "quick")


def test_buying_in_is_buying_even_where_making_is_cheaper(ask):
    texts = {
        "lamp": sure("part = 1", "lamp", '[market]\ntable = "part"\n'),
        "part": tries("wax = 1", "part", "1 in 3"),
    }
    cost = ask(texts, {"wax": 1, "part": 50})
    assert cost.mean == pytest.approx(3)
    assert cost.choices["table"].action == "step"


CIRCLE = {
    "main": sure("b = 1", "lamp"),
    "way of a": sure("b = 1, wax = 1", "a"),
    "way of b": sure("a = 1, wax = 1", "b"),
}


@pytest.mark.parametrize(
    ("buy", "unit_cost", "made"),
    [
        ({"wax": 1, "a": 10}, 11, {"b"}),
        ({"wax": 1, "a": 10, "b": 5}, 5, set()),
        ({"wax": 1, "b": 5}, 5, set()),
        ({"wax": 1, "a": 3, "b": 5}, 4, {"b"}),
    ],
)
def test_a_circle_is_entered_where_something_can_be_bought(ask, buy, unit_cost, made):
    cost = ask(CIRCLE, buy)
    assert cost.mean == pytest.approx(unit_cost)
    assert set(cost.made) == made


def test_a_circle_where_nothing_can_be_bought_is_refused_by_name(ask):
    with pytest.raises(RouteFault) as caught:
        ask(CIRCLE, {"wax": 1})
    for name in ("way of a", "way of b", "'b'"):
        assert name in str(caught.value)


def test_a_circle_that_earns_without_limit_is_refused_by_name(ask):
    texts = CIRCLE | {"way of a": sure("b = 1", "a", "gives = { scrap = 3 }\n")}
    with pytest.raises(RouteFault, match=r"way of a, way of b.*earn without limit"):
        ask(texts, {"wax": 1, "a": 10, "b": 10}, sell={"scrap": 1})


def test_two_routes_that_now_and_then_need_each_other(ask):
    """a = 4 + b/2 and b = 1 + a/4, so a = 36/7 and b = 16/7."""
    now_and_then = (
        HEADS + '[[step]]\nname = "make"\nfrom = "table"\nfee = {}\n[step.outcomes]\n'
        '"{}" = {{ odds = {} }}\nworn = {{ odds = "rest", uses = {{ {} = 1 }} }}\n'
        '[[step]]\nname = "mend"\nfrom = "worn"\nto = "{}"\n'
    )
    texts = {
        "main": sure("a = 1, b = 1", "lamp"),
        "way of a": now_and_then.format("a", 4, "a", 0.5, "b", "a"),
        "way of b": now_and_then.format("b", 1, "b", 0.75, "a", "b"),
    }
    cost = ask(texts, {"a": 100, "b": 100})
    assert cost.mean == pytest.approx(36 / 7 + 16 / 7, rel=1e-12)
    assert {item: made.unit_cost for item, made in cost.made.items()} == {
        "a": pytest.approx(36 / 7),
        "b": pytest.approx(16 / 7),
    }
    assert any("luck of making" in each for each in cost.cautions)


def test_a_route_that_uses_its_own_piece(ask):
    """Half the time the lamp on the table is mended from another lamp: c = 2 + c/2."""
    text = (
        HEADS.format("lamp") + '[[step]]\nname = "make"\nfrom = "table"\nfee = 2\n[step.outcomes]\n'
        'lamp = 0.5\nworn = "rest"\n'
        '[[step]]\nname = "mend"\nfrom = "worn"\nuses = { lamp = 1 }\nto = "lamp"\n'
    )
    assert ask({"lamp": text}, {}).mean == pytest.approx(4)
    assert ask({"lamp": text}, {"lamp": 9}).mean == pytest.approx(4)
    assert ask({"lamp": text}, {"lamp": 3}).mean == pytest.approx(2 + 3 / 2)


def test_items_without_a_price_are_all_named_at_once(ask):
    texts = {
        "lamp": sure("part = 2, wax = 1, salt = 1", "lamp"),
        "part": tries("glass = 1, wax = 1", "part", "25 %"),
    }
    with pytest.raises(CannotAnswer) as caught:
        ask(texts, {"lamp": 3})
    for item in ("'wax'", "'salt'", "'glass'"):
        assert item in str(caught.value)
    assert "'part'" not in str(caught.value)
    assert caught.value.right == "quote each of them"


def test_a_route_that_lacks_a_price_is_left_out_where_buying_will_do(ask):
    texts = {"lamp": sure("part = 2", "lamp"), "part": tries("glass = 1", "part", "25 %")}
    cost = ask(texts, {"part": 7})
    assert cost.mean == pytest.approx(14)
    assert any("route 'part' is left out" in e and "'glass'" in e for e in cost.cautions)


def test_a_faulty_route_is_left_out_where_buying_will_do(ask):
    texts = {
        "lamp": sure("part = 2", "lamp"),
        "part": HEADS.format("part")
        + '[[step]]\nname = "try"\nfrom = "table"\n[step.outcomes]\npart = 0.5\ntable = 0.4\n',
    }
    cost = ask(texts, {"part": 7})
    assert cost.mean == pytest.approx(14)
    assert any("the odds sum to 0.9" in each for each in cost.cautions)
    with pytest.raises(CannotAnswer, match=r"no buying price for 'part'.*sum to 0\.9"):
        ask(texts, {})


def test_a_route_without_a_mean_does_not_make_for_others(ask):
    texts = {
        "lamp": sure("part = 2", "lamp"),
        "part": HEADS.format("part")
        + '[[step]]\nname = "try"\nfrom = "table"\nuses = { wax = 1 }\n[step.outcomes]\n'
        'part = { seen = [0, 9] }\ntable = "rest"\n',
    }
    assert ask(texts, {"part": 700, "wax": 1}).mean == pytest.approx(1400)
    with pytest.raises(CannotAnswer, match="no mean cost exists"):
        ask(texts, {"wax": 1})


def test_making_with_a_mean_but_no_spread_has_quantiles(ask):
    """One success in twenty tries: tries are Beta(2, 20)-geometric, median 9."""
    texts = {
        "lamp": sure("part = 1, wax = 1", "lamp"),
        "part": HEADS.format("part")
        + '[[step]]\nname = "try"\nfrom = "table"\nuses = { wax = 1 }\n[step.outcomes]\n'
        'part = { seen = [1, 20] }\ntable = "rest"\n',
    }
    cost = ask(texts, {"wax": 1})
    assert cost.mean == pytest.approx(21 + 1)
    assert cost.law.sd == np.inf
    assert any("no standard deviation exists" in each for each in cost.cautions)
    assert cost.law.quantile(0.5) == pytest.approx(9 + 1, abs=1)


def test_unsure_odds_of_what_is_made_are_unsure_costs(ask):
    """Two parts, each tried until it works at p ~ Beta(9, 53): the mean cost is 2 / p."""
    texts = {
        "lamp": sure("part = 2", "lamp"),
        "part": HEADS.format("part")
        + '[[step]]\nname = "try"\nfrom = "table"\nuses = { wax = 1 }\n[step.outcomes]\n'
        'part = { seen = [8, 60] }\ntable = "rest"\n',
    }
    a, b = 9, 53
    mean, square = (a + b - 1) / (a - 1), (a + b - 1) * (a + b - 2) / ((a - 1) * (a - 2))
    assert ask(texts, {"wax": 1}).odds_sd == pytest.approx(2 * (square - mean**2) ** 0.5, rel=1e-9)
