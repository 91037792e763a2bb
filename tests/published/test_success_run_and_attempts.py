"""How many attempts until it works: published figures, met by a route of one step.

MC12, success-run theorem: Wilks, Determination of sample sizes for setting tolerance
limits, Annals of Mathematical Statistics 12 (1941) 91-96; the attempts needed for at
least one success with given confidence, 59 and 29 for 95 % at chances of 5 % and 10 %,
as reliability handbooks print them (from memory).

MC11, attempts: a geometric wait at 1/6 has mean 6, sd 5.4772 and median 4; de Mere's
1 - (5/6)^4 = 0.5177, 1 - (35/36)^24 = 0.4914 and 1 - (35/36)^25 = 0.5055 (Feller, An
Introduction to Probability Theory, vol. 1; any text).

At 2 % one needs 50 tries on average, so about 50 bases are bought: common practice,
no source; the shares of runs that need more than N are 0.98^N, the chance of N failures.
"""

from __future__ import annotations

import pytest

from advisor.routes.cost import route_cost
from advisor.routes.read import read_route


@pytest.fixture
def attempts_at(tmp_path):
    """The cost of trying until it works, a base at 1 shell each."""

    def price(odds: str):
        path = tmp_path / "try.toml"
        path.write_text(
            '[route]\nmakes = "lamp"\n[[step]]\nname = "try"\nfrom = "table"\n'
            f'uses = {{ base = 1 }}\n[step.outcomes]\nlamp = "{odds}"\ntable = "rest"\n'
        )
        routes = {"try": read_route(path)}
        return route_cost("try", routes=routes, buy={"base": 1.0}, sell={}, money="shell")

    return price


@pytest.mark.parametrize(
    ("confidence", "odds", "attempts"),
    [
        (0.95, "5 %", 59),
        (0.95, "10 %", 29),
        (0.90, "10 %", 22),
        (0.99, "1 %", 459),
        (0.90, "1 in 100", 230),
    ],
)
def test_success_run(attempts_at, confidence, odds, attempts):
    law = attempts_at(odds).law
    assert law.quantile(confidence) == attempts
    assert law.chance_within(attempts - 1) < confidence <= law.chance_within(attempts)


def test_waiting_for_a_six(attempts_at):
    law = attempts_at("1 in 6").law
    assert law.mean == pytest.approx(6, rel=1e-12)
    assert law.sd == pytest.approx(5.4772, abs=6e-5)
    assert law.quantile(0.5) == 4


@pytest.mark.parametrize(
    ("odds", "tries", "chance"), [("1/6", 4, 0.5177), ("1/36", 24, 0.4914), ("1/36", 25, 0.5055)]
)
def test_de_mere(attempts_at, odds, tries, chance):
    assert attempts_at(odds).law.chance_within(tries) == pytest.approx(chance, abs=6e-5)


def test_one_in_fifty_takes_fifty_bases(attempts_at):
    cost = attempts_at("2 %")
    assert cost.mean == pytest.approx(50, rel=1e-12)
    assert cost.use["base"].mean == pytest.approx(50, rel=1e-12)
    for tries in (50, 100, 200):
        beyond = 1 - cost.use["base"].law.chance_within(tries)
        assert beyond == pytest.approx(0.98**tries, abs=1e-9)
