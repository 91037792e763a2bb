"""Odds from tries: what counts as what, and which tries cannot be used."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.routes.build import build_stages
from advisor.routes.learned import learn_odds
from advisor.routes.posterior import OddsPosterior, learn_posterior


def step_text(first: str, second: str = '"rest"', more: str = "") -> str:
    return (
        f'[[step]]\nname = "try"\nfrom = "t"\n[step.outcomes]\nlamp = {first}\nt = {second}\n{more}'
    )


def learn(steps_of, first, second='"rest"', *, trust=50.0, tries=None, more=""):
    route = steps_of(step_text(first, second, more), '[route]\nmakes = "lamp"\n')
    return learn_odds(route, trust=trust, tries=tries)


def test_without_tries_stated_odds_are_exact(steps_of):
    learned = learn(steps_of, '"1 in 40"')
    assert learned.odds[0].ravel().tolist() == [0.025, 0.975]
    assert learned.unsure == ()


@pytest.mark.parametrize("first", ['{ odds = "1 in 40", seen = [0, 0] }'])
def test_no_tries_at_all_are_no_tries(steps_of, first):
    assert learn(steps_of, first).unsure == ()


def test_stated_odds_count_as_so_many_tries(steps_of):
    """Prior mean p and size 50 (Gelman et al., Bayesian Data Analysis, 2.4), then s of n."""
    stated = learn(steps_of, '{ odds = "4 %", seen = [3, 120] }').unsure[0].posterior
    assert stated.alphas == pytest.approx((2 + 3, 48 + 117))
    seen = learn(steps_of, "{ seen = [5, 170] }").unsure[0].posterior
    assert seen.alphas == (6.0, 166.0)


def test_one_try_of_each_kind_is_added_while_there_are_fewer_than_two(steps_of):
    few = learn(steps_of, '{ odds = "2 %", seen = [0, 30] }').unsure[0].posterior
    assert few.alphas == pytest.approx((1 + 1, 49 + 30 + 1))
    assert few.single_odds() == pytest.approx([1 / 80, 79 / 80])
    enough = learn(steps_of, '{ odds = "2 %", seen = [1, 30] }').unsure[0].posterior
    assert enough.alphas == pytest.approx((1 + 1, 49 + 29))


def test_the_single_odds_pool_stated_and_seen_tries(steps_of):
    learned = learn(steps_of, '{ odds = "4 %", seen = [3, 120] }')
    assert learned.odds[0].ravel() == pytest.approx([5 / 170, 165 / 170])


def test_an_outcome_never_seen_and_not_stated_stays_possible(steps_of):
    """Laplace's rule of succession: 1 in 22 after 20 failures."""
    learned = learn(steps_of, "{ seen = [0, 20] }")
    assert learned.odds[0].ravel() == pytest.approx([1 / 22, 21 / 22])


def test_the_log_counts_like_the_file(steps_of):
    logged = learn(steps_of, '"4 %"', tries={("Try", "LAMP"): 3, ("try", "t"): 117})
    written = learn(steps_of, '{ odds = "4 %", seen = [3, 120] }')
    assert logged.unsure[0].posterior == written.unsure[0].posterior
    both = learn(steps_of, '{ odds = "4 %", seen = [3, 120] }', tries={("try", "t"): 10})
    assert both.unsure[0].posterior.alphas == pytest.approx((5.0, 175.0))


def test_weights_can_be_learned_too(steps_of):
    learned = learn(steps_of, "{ weight = 1, seen = [3, 120] }", "{ weight = 24 }")
    assert learned.unsure[0].posterior.alphas == pytest.approx((5.0, 165.0))


def test_outcomes_that_were_not_told_apart_keep_their_proportion(steps_of):
    """120 tries, 3 came to the lamp; of the 117 others the file does not say which."""
    route = steps_of(
        '[[step]]\nname = "try"\nfrom = "t"\n[step.outcomes]\n'
        'lamp = { odds = "4 %", seen = [3, 120] }\nu = "24 %"\nt = "rest"\n'
        '[[step]]\nname = "back"\nfrom = "u"\nto = "t"\n',
        '[route]\nmakes = "lamp"\n',
    )
    learned = learn_odds(route)
    (unsure,) = learned.unsure
    assert unsure.outcomes == ((0,), (1, 2))
    lamp, u, t = learned.odds[0].ravel()
    assert lamp == pytest.approx(5 / 170)
    assert u / t == pytest.approx(24 / 72)
    assert lamp + u + t == pytest.approx(1.0)


def test_what_is_stated_as_impossible_stays_so_until_seen(steps_of):
    assert learn(steps_of, "{ odds = 0, seen = [0, 9] }").unsure == ()
    seen = learn(steps_of, "{ odds = 0, seen = [1, 9] }").unsure[0]
    assert seen.posterior.alphas == pytest.approx((2.0, 59.0))


def test_rungs_learn_apart_from_the_log_and_together_from_the_file(route_of):
    text = (
        '[route]\nmakes = "edge 3"\n[[step]]\nname = "harden {n}"\nvary = { n = "0..2" }\n'
        'from = "edge {n}"\n[step.outcomes]\n"edge {n+1}" = { odds = 0.5, seen = [6, 10] }\n'
        '"edge 0" = "rest"\n'
    )
    shared = learn_odds(route_of(text))
    assert len(shared.unsure) == 1
    assert shared.odds[0][0] == pytest.approx([31 / 60] * 3)
    own = learn_odds(route_of(text), tries={("harden 1", "edge 2"): 5, ("harden 1", "edge 0"): 15})
    assert [each.only_this_name for each in own.unsure] == [False, True]
    assert own.odds[0][0] == pytest.approx([31 / 60, 36 / 80, 31 / 60])


def test_each_unsure_step_finds_its_own_outcomes(route_of):
    text = (
        '[route]\nmakes = "edge 2"\n[[step]]\nname = "harden {n}"\nvary = { n = "0..1" }\n'
        'from = "edge {n}"\n[step.outcomes]\n"edge {n+1}" = 0.5\n"edge 0" = "rest"\n'
    )
    route = route_of(text)
    learned = learn_odds(route, tries={("harden 1", "edge 2"): 5})
    model = build_stages(route, goal="keep", money="shell", odds=learned.odds)
    place = learned.unsure[0].find_outcomes(model)
    found = {
        (model.stages[model.action_stage[action]], model.stages[target]): int(each)
        for action, target, each in zip(
            model.outcome_action, model.outcome_stage, place, strict=True
        )
    }
    assert found == {
        ("edge 0", "edge 1"): -1,
        ("edge 0", "edge 0"): -1,
        ("edge 1", "edge 2"): 0,
        ("edge 1", "edge 0"): 1,
    }


@pytest.mark.parametrize(
    ("tries", "said"),
    [
        ({("polish", "lamp"): 2}, "tries of a step 'polish', which the route has not"),
        ({("try", "moon"): 2, ("try", "t"): 1}, "came to 'moon', which is no outcome of it"),
    ],
)
def test_tries_that_fit_nothing_are_told(steps_of, tries, said):
    (caution,) = learn(steps_of, '"4 %"', tries=tries).cautions
    assert said in caution


def test_tries_of_a_name_at_two_stages_are_told(steps_of):
    more = '[[step]]\nname = "try"\nfrom = "u"\nto = "t"\n[[step]]\nname="go"\nfrom="t"\nto="u"\n'
    learned = learn(steps_of, '"4 %"', tries={("try", "t"): 5}, more=more)
    assert learned.unsure == ()
    assert "cannot be told apart" in learned.cautions[0]


def test_a_certain_step_learns_nothing(steps_of):
    more = '[[step]]\nname="go"\nfrom="u"\nto="t"\n'
    assert learn(steps_of, '"4 %"', tries={("go", "t"): 5}, more=more).unsure == ()


def test_posterior_mean_and_single_odds():
    posterior = learn_posterior([0.1, 0.9], [2, 18], trust=10)
    assert posterior == OddsPosterior((3.0, 27.0))
    assert posterior.mean() == pytest.approx([3 / 30, 27 / 30])
    assert posterior.single_odds() == pytest.approx([3 / 30, 27 / 30])
    assert np.sum(learn_posterior(None, [0, 0, 0], trust=50).mean()) == pytest.approx(1.0)
