import math

import numpy as np
import pytest

from advisor.levels.paths import PathLaw, normal_quantile


def law(*, start=0.0, start_sd=0.0, drift=0.0, day_sd=0.1, days=40, far=1.0):
    return PathLaw(
        part_log=np.array([start]),
        part_sd=np.array([start_sd]),
        part_weight=np.ones(1),
        drift=np.full(days, drift),
        day_sd=np.full(days, day_sd),
        far=np.full(days + 1, far),
        quote_sd=0.05,
    )


def test_quantiles_of_one_story_are_normal():
    path = law(start=1.0, start_sd=0.2, drift=0.01, day_sd=0.1)
    sd = math.sqrt(0.2**2 + 9 * 0.1**2)
    assert path.log_quantile(0.9, 9) == pytest.approx(1.09 + sd * 1.2815515655)
    assert path.log_sd(9) == pytest.approx(sd)
    with_noise = math.hypot(sd, 0.05)
    assert path.log_quantile(0.1, 9, of_quote=True) == pytest.approx(
        1.09 - with_noise * 1.2815515655
    )


def test_far_widens_the_95_interval_and_leaves_the_80_interval():
    plain, heavy = law(), law(far=1.5)
    assert heavy.log_quantile(0.9, 4) == pytest.approx(plain.log_quantile(0.9, 4))
    assert heavy.log_quantile(0.975, 4) == pytest.approx(1.5 * plain.log_quantile(0.975, 4))
    assert heavy.log_quantile(0.5, 4) == 0.0


def test_quantiles_of_two_stories_are_those_of_the_mixture():
    path = PathLaw(
        part_log=np.array([0.0, -0.8]),
        part_sd=np.array([0.05, 0.1]),
        part_weight=np.array([0.7, 0.3]),
        drift=np.zeros(3),
        day_sd=np.full(3, 0.02),
        far=np.ones(4),
        quote_sd=0.05,
    )
    rng = np.random.default_rng(1)
    story = rng.random(400_000) < 0.3
    drawn = np.where(story, -0.8, 0.0) + np.where(story, 0.1, 0.05) * rng.normal(size=400_000)
    chances = (0.025, 0.1, 0.25, 0.5, 0.9)
    assert path.log_quantiles(chances, 0) == pytest.approx(np.quantile(drawn, chances), abs=0.01)
    assert path.start_sd == pytest.approx(drawn.std(), rel=0.01)


def test_chance_below_one_day_is_closed_form():
    # looked at today (surely above) and tomorrow: the normal law
    path = law(day_sd=0.1)
    for bar in (-0.05, -0.1, -0.25):
        expected = 0.5 * math.erfc(-bar / 0.1 / math.sqrt(2))
        assert path.chance_below(math.exp(bar), 1) == pytest.approx(expected, abs=2e-3)


def test_chance_below_against_reflection():
    # Siegmund (1985), Sequential Analysis, section X.2; Broadie, Glasserman & Kou (1997): a walk
    # looked at once a day crosses as Brownian motion does a bar 0.5826 day sd further off
    path = law(day_sd=0.05)
    for days in (10, 40):
        for bar in (-0.1, -0.3):
            away = (bar - 0.5826 * 0.05) / (0.05 * math.sqrt(days))
            reflected = math.erfc(-away / math.sqrt(2))
            assert path.chance_below(math.exp(bar), days) == pytest.approx(reflected, abs=8e-3)


def test_chance_below_when_already_below_and_when_never():
    assert law().chance_below(1.01, 3) == 1.0
    assert law().chance_below(0.0, 3) == 0.0
    assert law(day_sd=0.0).chance_below(0.99, 3) == 0.0
    assert law(day_sd=0.0, drift=-0.02).chance_below(0.95, 3) == 1.0


def test_chance_below_grows_with_price_and_days():
    path = law(start_sd=0.05)
    by_price = [path.chance_below(price, 7) for price in (0.6, 0.8, 0.9, 1.0, 1.2)]
    by_days = [path.chance_below(0.8, days) for days in (1, 3, 7, 30)]
    assert by_price == sorted(by_price)
    assert by_days == sorted(by_days)


def test_a_moved_law_is_the_law_of_a_price_at_a_distance():
    path = law(start=1.0, start_sd=0.1)
    net = path.moved(math.log(0.95), extra_sd=0.05)
    assert net.start_log == pytest.approx(1.0 + math.log(0.95))
    assert net.start_sd == pytest.approx(math.hypot(0.1, 0.05))
    assert normal_quantile(0.975) == pytest.approx(1.959963985)
