"""Which piece to begin with a purse, against the exact laws of both orders of making."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import stats

ROUTE = """
[route]
makes = "{piece}"
start = "table"
[[step]]
name = "etch"
from = "table"
uses = {{ "lantern frame" = 1 }}
fee = "{fee} shell"
[step.outcomes]
"{piece}" = {odds}
"table" = "rest"
"""
ODDS = {"storm": 0.1, "marsh": 0.25}
FEES = {"storm": 1, "marsh": 3}


def law(name, most=400):
    """Chance that one piece costs exactly so much: a frame at 2 and the fee each try."""
    pmf = np.zeros(most)
    tries = np.arange(1, (most - 1) // (2 + FEES[name]) + 1)
    pmf[tries * (2 + FEES[name])] = ODDS[name] * (1 - ODDS[name]) ** (tries - 1)
    return pmf


def play(order, *, worth, budget):
    """Mean of what is finished and left, and the chance of each piece, by summing all costs."""
    so_far, chances, mean = np.eye(1, 400).ravel(), [], 0.0
    for name in order:
        so_far = np.convolve(so_far, law(name))[:400]
        within = so_far[: budget + 1]
        chances.append(float(within.sum()))
        mean += worth[name] * chances[-1]
    return mean + float(within @ (budget - np.arange(budget + 1))), chances


@pytest.fixture
def two_routes(workspace):
    for name, odds in ODDS.items():
        text = ROUTE.format(piece=f"{name} lantern", odds=odds, fee=FEES[name])
        (workspace / "routes" / f"{name}.toml").write_text(text)
    return workspace


@pytest.mark.parametrize(
    ("worth", "budget"),
    [
        ({"storm": 60, "marsh": 30}, 40),
        ({"storm": 200, "marsh": 30}, 60),
        ({"storm": 45, "marsh": 90}, 60),
        ({"storm": 60, "marsh": 60}, 90),
    ],
)
def test_the_better_order_is_found_and_its_chances_are_right(two_routes, makeworth, worth, budget):
    run = makeworth(
        *("advise", "stock", "storm", "--also", "marsh=2", "--json", "--as-of", "2026-10-01"),
        *("--budget", budget, "--price", "lantern frame=2"),
        *(word for name in worth for word in ("--price", f"{name} lantern={worth[name]}")),
        cwd=two_routes,
    )
    assert run.code == 0, run.err
    purse = run.json["budget"]
    orders = [("storm", "marsh", "marsh"), ("marsh", "marsh", "storm")]
    means = {order: play(order, worth=worth, budget=budget)[0] for order in orders}
    found = tuple(each["route"] for each in purse["parts"])
    assert means[found] == max(means.values())
    chances = play(found, worth=worth, budget=budget)[1]
    # played evenings: within three standard errors of 2000
    for part, chance in zip(purse["parts"], chances, strict=True):
        assert part["chance"] == pytest.approx(chance, abs=0.04)
    begun = sum(itertools.takewhile(bool, [chance >= 0.5 for chance in chances]))
    if all(abs(chance - 0.5) > 0.04 for chance in chances):
        assert sum(each["pieces"] for each in purse["start"]) == max(1, begun)
    assert purse["spent"] <= budget


def test_a_part_that_is_made_too_is_played_with_it(workspace, makeworth):
    """The exact law of the cost, found on a lattice by another road, says the same."""
    text = ROUTE.format(piece="marked frame", odds=0.2, fee=1)
    (workspace / "routes" / "marked.toml").write_text(text)
    outer = ROUTE.format(piece="storm lantern", odds=0.5, fee=4)
    (workspace / "routes" / "sealed.toml").write_text(
        outer.replace("lantern frame", "marked frame")
    )
    fixed = ("--price", "lantern frame=2", "--as-of", "2026-10-01", "--json", "--budget", "40")
    for pieces in (1, 2):
        words = ("sealed", "--pieces", pieces, *fixed)
        said = makeworth("advise", "stock", *words, cwd=workspace)
        assert said.code == 0, said.err
        exact = makeworth("route", *words, cwd=workspace).json["within"]["chance"]
        assert said.json["budget"]["chance_all"] == pytest.approx(exact, abs=0.035)


def test_of_many_pieces_as_many_are_started_as_the_purse_likely_sees(two_routes, makeworth):
    """3 a try, 600 in all: 200 tries; the most pieces that take so many or fewer half the time."""
    run = makeworth(
        *("advise", "stock", "storm", "--pieces", "40", "--budget", "600", "--json"),
        *("--price", "lantern frame=2", "--as-of", "2026-10-01"),
        cwd=two_routes,
    )
    assert run.code == 0, run.err
    (start,) = run.json["budget"]["start"]
    # tries beyond the pieces follow a negative binomial law
    likely = [k for k in range(1, 41) if stats.nbinom.cdf(200 - k, k, ODDS["storm"]) >= 0.5]
    assert start["pieces"] == pytest.approx(max(likely), abs=1)
    for part in run.json["budget"]["parts"]:
        exact = stats.nbinom.cdf(200 - part["pieces"], part["pieces"], ODDS["storm"])
        assert part["chance"] == pytest.approx(exact, abs=0.05)
