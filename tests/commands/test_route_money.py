"""`makeworth route`: money laid out, own time, loops that earn: closed forms through the command."""

from __future__ import annotations

import pytest
from scipy import stats

LAMP = """
[route]
makes = "lamp"
start = "table"
[[step]]
name = "gamble"
from = "table"
uses = { wax = 1 }
fee = 1
minutes = 6
[step.outcomes]
lamp = 0.25
table = { odds = "rest", gives = { scrap = 1 } }
"""

PRICES = [f"--price={each}" for each in ("wax=3", "scrap=2", "lamp=50")]


@pytest.fixture
def ask(workspace, makeworth):
    (workspace / "routes" / "lamp.toml").write_text(LAMP)

    def run(*words):
        found = makeworth("route", "lamp", *PRICES, *words, cwd=workspace)
        assert found.code == 0, found.err
        return found.json if "--json" in words else " ".join(found.out.split())

    return run


@pytest.mark.parametrize(("budget", "tries"), [("12", 3), ("13", 3), ("20", 5), ("3.9", 0)])
def test_for_sale_the_purse_pays_before_anything_is_sold(ask, budget, tries):
    """A try lays out 4, whatever comes back: 12 lasts where one of 3 tries succeeds."""
    within = ask("--for", "sale", "--budget", budget, "--json")["within"]
    assert set(within) >= {"budget", "chance"}
    assert within["chance"] == pytest.approx(1 - 0.75**tries, abs=1e-8)


def test_the_purse_for_several_pieces(ask):
    """20 pays 5 tries; three successes by then: a negative binomial number of failures."""
    within = ask("--for", "sale", "--budget", "20", "--pieces", "3", "--json")["within"]
    assert within["chance"] == pytest.approx(stats.nbinom.cdf(2, 3, 0.25), abs=1e-8)
    assert "the purse lasts" in ask("--for", "sale", "--budget", "20")
