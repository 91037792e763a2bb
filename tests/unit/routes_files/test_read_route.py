"""A route file, all of it, read as written."""

from __future__ import annotations

from fractions import Fraction

from advisor.routes.amounts import ByRung, ItemAmount
from advisor.routes.route import MarketStage

STORM_LANTERN = """
[route]
makes  = "storm lantern"
start  = "empty table"
about  = "Set two marks on one frame, then seal it."

[[step]]
name = "take a frame"
from = "empty table"
uses = { "lantern frame" = 1 }
to   = "bare frame"

[[step]]
name = "etch"
from = "bare frame"
uses = { "etching salt" = 3, "binding wax" = 1.5 }
fee  = "2 shell"
minutes = 0.5
[step.outcomes]
"marked frame" = "1 in 40"
"empty table"  = "rest"

[[step]]
name = "seal"
from = "marked frame"
uses = { "clear flux" = 2 }
fee = 1
[step.outcomes]
"storm lantern" = { odds = "40 %", uses = { "lens setting" = 1 }, minutes = 3, fee = "1/2 crown" }
"marked frame"  = { odds = 0.35 }
"empty table"   = { odds = "rest", gives = { "scrap glass" = 2 } }

[market]
"marked frame" = "marked lantern frame"
"""


def test_the_whole_file(route_of):
    route = route_of(STORM_LANTERN, "storm-lantern")
    assert (route.name, route.makes, route.start) == (
        "storm-lantern",
        "storm lantern",
        "empty table",
    )
    assert route.finish == "storm lantern"
    assert route.about.startswith("Set two marks")
    assert route.pool is None
    assert [step.name for step in route.steps] == ["take a frame", "etch", "seal"]
    assert [step.start for step in route.steps] == ["empty table", "bare frame", "marked frame"]
    assert route.market == (MarketStage("marked frame", "marked lantern frame", 34),)


def test_quantities_and_fees_are_exact_and_have_lines(route_of):
    etch = route_of(STORM_LANTERN).steps[1]
    assert etch.line == 13
    assert etch.uses == (
        ItemAmount("etching salt", Fraction(3), 16),
        ItemAmount("binding wax", Fraction(3, 2), 16),
        ItemAmount("shell", Fraction(2), 17),
    )
    assert etch.minutes == Fraction(1, 2)


def test_outcomes_carry_what_only_they_use_and_give(route_of):
    seal = route_of(STORM_LANTERN).steps[2]
    assert seal.uses[1] == ItemAmount(None, Fraction(1), 27)
    made, kept, lost = seal.outcomes
    assert [each.stage for each in seal.outcomes] == [
        "storm lantern",
        "marked frame",
        "empty table",
    ]
    assert made.odds.value == Fraction(2, 5)
    assert made.uses == (
        ItemAmount("lens setting", Fraction(1), 29),
        ItemAmount("crown", Fraction(1, 2), 29),
    )
    assert made.minutes == 3
    assert kept.odds.value == Fraction(7, 20)
    assert lost.odds.kind == "rest"
    assert lost.gives == (ItemAmount("scrap glass", Fraction(2), 31),)


def test_start_is_the_first_stage_and_finish_may_be_named(route_of):
    route = route_of(
        '[route]\nmakes = "a"\nfinish = "done"\n[[step]]\nname = "s"\nfrom = "bare"\nto = "done"\n'
    )
    assert (route.start, route.finish) == ("bare", "done")


def test_a_run_of_stages_starts_at_its_first_value(steps_of):
    route = steps_of(
        '[[step]]\nname = "s {n}"\nvary = { n = "3..5" }\nfrom = "e {n}"\nto = "e {n+1}"\n'
    )
    assert route.start == "e 3"


def test_numbers_given_by_rung(steps_of):
    route = steps_of(
        """
[[step]]
name = "s {n}"
vary = { n = [1, 4], m = "0..1" }
from = "e {n} {m}"
uses = { salt = { by = "n", values = [0, 2.5] } }
fee = { by = "n", values = ["2 shell", "1 crown"] }
minutes = { by = "n-m", values = { 0 = 1, 1 = 2, 3 = 1, 4 = 1 } }
to = "storm lantern"
"""
    )
    step = route.steps[0]
    assert step.vary == {"n": (1, 4), "m": range(2)}
    salt, shell, crown = step.uses
    assert salt.amount == ByRung(("n",), (Fraction(0), Fraction(5, 2)), 8)
    assert (shell.item, shell.amount.values) == ("shell", (2, 0))
    assert (crown.item, crown.amount.values) == ("crown", (0, 1))
    assert step.minutes.names == ("n", "m")
    assert step.minutes.values == {0: 1, 1: 2, 3: 1, 4: 1}


def test_settings_of_a_pool_are_kept_as_written(route_of):
    route = route_of(
        """
[route]
makes = "storm lantern"
pool = "lantern"
base = "lantern frame"
item_level = 60
[finish]
all = ["flame:2"]
[[step]]
name = "take a frame"
from = "empty table"
put = []
[[step]]
name = "wash"
when = {}
effect = { redraw = "all" }
[[grade]]
item = "plain"
all = ["flame:3"]
"""
    )
    assert route.pool.pool == "lantern"
    assert (route.pool.base, route.pool.item_level) == ("lantern frame", 60)
    assert route.pool.finish.values == {"all": ["flame:2"]}
    assert route.pool.grades[0].values == {"item": "plain", "all": ["flame:3"]}
    assert route.pool.grades[0].line() == 17
    assert route.steps[0].put == []
    assert route.steps[1].when == {}
    assert route.steps[1].effect == {"redraw": "all"}
