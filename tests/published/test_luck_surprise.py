"""How surprising a log is, against outside sources.

MC11: the dice of Newton and Pepys: chance of at least k sixes with 6 k dice, k = 1, 2, 3:
0.6651, 0.6187, 0.5973 (Schell, American Statistician 14(4), 1960, 27-30; Blitzstein & Hwang,
Introduction to Probability, example 1.4.21). De Mere's bets: 1 - (5/6)^4 = 0.5177,
1 - (35/36)^24 = 0.4914, 1 - (35/36)^25 = 0.5055 (any text). A first six takes 6 throws on
average, sd 5.4772, median 4.

Exact two-sided test: scipy.stats.binomtest; the corrected ones: statsmodels multipletests,
method "holm".

Posterior mean of 1/p: for p ~ Beta(a, b) it is (a + b - 1) / (a - 1), a closed form.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from advisor.decide.luck import chance_dearer
from advisor.decide.surprise import correct_for_many, two_sided_chance
from advisor.routes.cost import route_cost
from advisor.routes.from_stage import CostFromStage
from advisor.routes.read import read_route
from advisor.routes.total_law import CostDistribution


def six(tmp_path, odds="1/6", tries=None, trust=50.0):
    file = tmp_path / "six.toml"
    file.write_text(
        '[route]\nmakes = "a six"\n[[step]]\nname = "throw"\nfrom = "no six"\n'
        f'uses = {{ die = 1 }}\n[step.outcomes]\n"a six" = "{odds}"\n"no six" = "rest"\n'
    )
    routes = {"six": read_route(file)}
    logged = {} if tries is None else {"six": tries}
    return route_cost(
        "six", routes=routes, buy={"die": 1.0}, sell={}, money="shell", trust=trust, tries=logged
    )


def at_least(law: CostDistribution, bound: float) -> float:
    """P(X >= bound), from the chance of being dearer than half below."""
    return chance_dearer([law], [], by=bound - 0.5)


@pytest.mark.parametrize(("count", "chance"), [(1, 0.6651), (2, 0.6187), (3, 0.5973)])
def test_mc11_dice_of_newton_and_pepys(tmp_path, count, chance):
    """k sixes within 6 k throws: k pieces made for at most 6 k dice."""
    law = CostFromStage(six(tmp_path)).law(0).n_fold(count)
    assert 1 - chance_dearer([law], [], by=6 * count + 0.5) == pytest.approx(chance, abs=6e-5)


@pytest.mark.parametrize(
    ("odds", "throws", "chance"),
    [("1/6", 4, 0.5177), ("1/36", 24, 0.4914), ("1/36", 25, 0.5055)],
)
def test_mc11_de_mere(tmp_path, odds, throws, chance):
    law = CostFromStage(six(tmp_path, odds)).law(0)
    assert 1 - at_least(law, throws + 1) == pytest.approx(chance, abs=6e-5)


def test_mc11_geometric_mean_sd_median(tmp_path):
    ahead = CostFromStage(six(tmp_path))
    law = ahead.law(0)
    assert (ahead.mean(0), law.sd, law.quantile(0.5)) == pytest.approx((6, 5.4772, 4), abs=6e-5)


@pytest.mark.parametrize("odds", [0.01, 0.025, 0.3, 0.5, 0.76, 1.0, 0.0])
@pytest.mark.parametrize("tries", [0, 1, 7, 40, 441])
def test_exact_test_agrees_with_scipy(odds, tries):
    for seen in {0, tries // 40, tries // 3, tries}:
        wanted = 1.0 if tries == 0 else stats.binomtest(seen, tries, odds).pvalue
        assert two_sided_chance(seen, tries, odds=odds) == pytest.approx(wanted, abs=1e-12)


def test_many_comparisons_agree_with_statsmodels():
    from statsmodels.stats.multitest import multipletests

    random = np.random.default_rng(5)
    for size in (1, 2, 3, 10, 40):
        chances = (random.random(size) ** 3).tolist()
        wanted = multipletests(chances, method="holm")[1]
        assert correct_for_many(chances) == pytest.approx(wanted.tolist())


def test_holm_1979_seldom_cries_wolf():
    """With all odds as stated, at most one set of comparisons in twenty is told as surprising."""
    random = np.random.default_rng(8)
    told = 0
    for _ in range(400):
        chances = [
            two_sided_chance(int(random.binomial(60, odds)), 60, odds=odds)
            for odds in (0.02, 0.1, 0.4, 0.75)
        ]
        told += min(correct_for_many(chances)) < 0.05
    assert told / 400 <= 0.05 + 2 * (0.05 * 0.95 / 400) ** 0.5


@pytest.mark.parametrize(("came", "failed"), [(3, 117), (0, 39), (10, 30)])
def test_mean_cost_by_learned_odds_is_the_closed_form(tmp_path, came, failed):
    """Stated 1/6 with trust 50, and the log: a = 50/6 + came, b = 50 * 5/6 + failed."""
    cost = six(tmp_path, tries={("throw", "a six"): came, ("throw", "no six"): failed})
    a, b = 50 / 6 + came, 50 * 5 / 6 + failed
    assert cost.mean == pytest.approx((a + b - 1) / (a - 1), rel=1e-9)
