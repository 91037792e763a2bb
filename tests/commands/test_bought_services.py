"""A service bought from others as a step: paid per try, on success, partly; or done oneself."""

from __future__ import annotations

import pytest


def route_file(step):
    return f"""
[route]
makes = "moth lantern"
start = "bare lantern"

[[step]]
name = "have the lens set"
from = "bare lantern"
minutes = 1
{step}
"""


PER_TRY = """
uses = { "lens setting" = 1 }
[step.outcomes]
"moth lantern" = "50 %"
"bare lantern" = "rest"
"""
ON_SUCCESS = """
[step.outcomes]
"moth lantern" = { odds = "50 %", uses = { "lens setting" = 1 } }
"bare lantern" = "rest"
"""
PARTLY = """
[step.outcomes]
"moth lantern" = { odds = "50 %", uses = { "lens setting" = 1 } }
"bare lantern" = { odds = "rest", uses = { "lens setting" = 0.5 } }
"""
FEE = """
fee = "40 shell"
[step.outcomes]
"moth lantern" = "50 %"
"bare lantern" = { odds = "rest", gives = { shell = 30 } }
"""
ONESELF = """
[[step]]
name = "set it yourself"
from = "bare lantern"
uses = { "lens blank" = 1 }
[step.outcomes]
"moth lantern" = "25 %"
"bare lantern" = "rest"
"""
SETTER = """
[route]
makes = "lens setting"
start = "customer's lantern"

[[step]]
name = "set"
from = "customer's lantern"
uses = { "lens blank" = 1 }
minutes = 2
[step.outcomes]
"lens setting" = "20 %"
"customer's lantern" = "rest"
"""
PRICES = ("--price", "lens setting=40", "--price", "lens blank=14")


@pytest.fixture
def ask(workspace, makeworth):
    def run(step, *words, prices=PRICES):
        (workspace / "routes" / "moth.toml").write_text(route_file(step))
        run = makeworth("route", "moth", *prices, *words, cwd=workspace)
        assert run.code == 0, run.err
        return run

    return run


@pytest.mark.parametrize(
    ("step", "mean", "sd"),
    [
        (PER_TRY, 80, 40 * 2**0.5),
        (ON_SUCCESS, 40, 0),
        (PARTLY, 60, 20 * 2**0.5),
        (FEE, 50, 200**0.5),
    ],
    ids=["per try", "on success", "half in vain", "fee, three quarters back"],
)
def test_cost_by_hand(ask, step, mean, sd):
    """Success in half the tries: two tries on average, of which one in vain, and the number
    in vain has variance 2 (geometric law)."""
    answer = ask(step, "--json", prices=PRICES[:2]).json
    assert answer["cost"]["mean"] == pytest.approx(mean)
    assert answer["cost"]["sd"] == pytest.approx(sd, abs=1e-6)


def test_against_doing_it_oneself(ask):
    """Oneself: four tries of 14, 56. Having it set per try costs 40 and then, in half the
    cases, 56 again: 68, 12 more. Paid on success only, 40 beats 56."""
    answer = ask(PER_TRY + ONESELF, "--json").json
    assert answer["cost"]["mean"] == pytest.approx(56)
    assert answer["choices"]["bare lantern"]["step"] == "set it yourself"
    other = answer["other_ways"]
    assert [each["step"] for each in other] == ["have the lens set"]
    assert other[0]["cost_to_go"] == pytest.approx(68)
    assert other[0]["more"] == pytest.approx(12)
    bought = ask(ON_SUCCESS + ONESELF, "--json").json
    assert bought["choices"]["bare lantern"]["step"] == "have the lens set"
    assert bought["other_ways"][0]["more"] == pytest.approx(14 + 0.75 * 40 - 40)
    out = ask(PER_TRY + ONESELF).out
    assert "have the lens set" in out.split("could do")[1]
    assert max(map(len, out.splitlines())) <= 80


def test_against_ones_own_route_for_it(ask, workspace):
    """A route of one's own makes the service in five tries of 14, 70: buying at 40 is taken;
    at 90, doing it oneself."""
    (workspace / "routes" / "setter.toml").write_text(SETTER)
    answer = ask(ON_SUCCESS, "--json").json
    row = answer["made_or_bought"][0]
    assert (row["item"], row["route"], row["takes"]) == ("lens setting", "setter", "buy")
    assert (row["bought"], row["made"]) == (pytest.approx(40), pytest.approx(70))
    # the least number of tries that is enough in 95 of 100 cases: 1 - 0.8^14 = 0.956
    assert row["made_bad_night"] == pytest.approx(14 * 14)
    dear = ("--price", "lens setting=90", "--price", "lens blank=14")
    own = ask(ON_SUCCESS, "--json", prices=dear).json
    assert own["made_or_bought"][0]["takes"] == "make"
    assert own["cost"]["mean"] == pytest.approx(70)
    assert "made yourself, or bought" in ask(ON_SUCCESS, prices=dear).out


def test_make_or_buy_tells_of_the_service_too(workspace, makeworth):
    """Bought at 40, or five tries of 14 oneself."""
    (workspace / "routes" / "setter.toml").write_text(SETTER)
    (workspace / "routes" / "moth.toml").write_text(route_file(ON_SUCCESS))
    run = makeworth("advise", "craft", "moth lantern", *PRICES, "--json", cwd=workspace)
    assert run.code == 0, run.err
    assert run.json["made_or_bought"][0]["made"] == pytest.approx(70)
    said = [each for each in run.json["reasons"] if each.startswith("lens setting is bought: 40 ")]
    assert len(said) == 1
    assert "70 on average by setter" in said[0]


def test_others_below_my_floor(workspace, makeworth):
    """The floor of my own service is 70; others do it for 40, and a route needs it: buy it."""
    (workspace / "routes" / "setter.toml").write_text(SETTER)
    (workspace / "routes" / "moth.toml").write_text(route_file(ON_SUCCESS))
    run = makeworth("advise", "service", "setter", *PRICES, "--json", cwd=workspace)
    assert run.json["verdict"] == "buy the service"
