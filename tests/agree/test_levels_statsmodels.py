"""Two roads to one level: our vectorised filter and statsmodels; our path law and simulation."""

import math

import numpy as np
import pytest

from advisor.errors import CannotAnswer
from advisor.levels.fit import fit_local_level, smooth_local_level
from advisor.levels.market import level_market
from advisor.levels.paths import PathLaw
from advisor.levels.series import ItemSettings, MarketSettings, make_series
from advisor.levels.smoothing import filter_tracks
from advisor.levels.track_model import TrackNoise
from advisor.levels.tracks import tabulate_tracks

DAY = 86_400_000_000


def irregular(seed, n=80):
    rng = np.random.default_rng(seed)
    at_us = np.cumsum(rng.integers(DAY // 5, 3 * DAY, n))
    days = (at_us - at_us[0]) / DAY
    steps = rng.normal(0, 0.03 * np.sqrt(np.diff(days, prepend=0.0)))
    return at_us, days, 1.0 + np.cumsum(steps) + rng.normal(0, 0.05, n), rng.uniform(0.5, 2.0, n)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_filter_without_strays_and_jumps_is_the_kalman_filter(seed):
    at_us, days, log_price, scale = irregular(seed)
    theirs = smooth_local_level(days, log_price, noise_scale=scale, noise_sd=0.05, step_sd=0.03)
    table = tabulate_tracks(
        np.zeros(len(days), dtype=np.int64),
        at_us,
        log_price=log_price,
        noise_scale=scale,
        stray_share=np.zeros(len(days)),
    )
    numbers = (0.05**2, 0.03**2, 0.0, 0.0)
    ours = filter_tracks(table, TrackNoise(*(np.array([number]) for number in numbers)))
    assert ours.mean[-1, 0] == pytest.approx(theirs.log_level, abs=1e-8)
    assert math.sqrt(ours.var[-1, 0]) == pytest.approx(theirs.log_sd, abs=1e-8)
    # the exact diffuse likelihood counts the first look as half of -log(2 pi)
    first = -0.5 * math.log(2 * math.pi)
    assert ours.log_likelihood[0] + first == pytest.approx(theirs.log_likelihood, abs=1e-6)


def test_many_tracks_at_once_are_each_track_alone():
    tracks = [irregular(seed, n) for seed, n in ((1, 40), (2, 7), (3, 40), (4, 1))]
    table = tabulate_tracks(
        np.repeat(np.arange(4), [len(t[0]) for t in tracks]),
        np.concatenate([t[0] for t in tracks]),
        log_price=np.concatenate([t[2] for t in tracks]),
        noise_scale=np.concatenate([t[3] for t in tracks]),
        stray_share=np.zeros(sum(len(t[0]) for t in tracks)),
    )

    def noise(n):
        return TrackNoise(*(np.full(n, each) for each in (0.05**2, 0.03**2, 0.01, 0.05)))

    together = filter_tracks(table, noise(4))
    for column, track in enumerate(table.track):
        at_us, _, log_price, scale = tracks[track]
        alone = filter_tracks(
            tabulate_tracks(
                np.zeros(len(at_us), dtype=np.int64),
                at_us,
                log_price=log_price,
                noise_scale=scale,
                stray_share=np.zeros(len(at_us)),
            ),
            noise(1),
        )
        assert together.part_mean[:, column] == pytest.approx(alone.part_mean[:, 0], abs=1e-12)
        assert together.part_weight[:, column] == pytest.approx(alone.part_weight[:, 0])


def family_market(items=6, n=150):
    rng = np.random.default_rng(5)
    series = {}
    for k in range(items):
        logs = np.cumsum(rng.normal(0, 0.03, n)) + rng.normal(0, 0.05, n)
        series[f"frame {k}"] = make_series(
            f"frame {k}", np.exp(logs), at_us=np.arange(n) * DAY, money="shell", first_id=1000 * k
        )
    settings = MarketSettings("shell", items={name: ItemSettings("frames") for name in series})
    return level_market(series, settings=settings, as_of_us=(n - 1) * DAY)


def test_levels_agree_with_maximum_likelihood_fits():
    market = family_market()
    for item in market.items:
        if item == "shell":
            continue
        looks = market.items.looks(item)
        fit = fit_local_level(looks)
        # one item's own fit is noisier than ours, which leans on the family
        assert abs(math.log(looks.noise_sd / fit.noise_sd)) < 0.25
        assert abs(math.log(looks.step_sd / fit.step_sd)) < 0.6
        level = math.log(market.items[item].ask.level)
        assert abs(level - fit.log_level) < 0.5 * fit.log_sd


def test_too_few_looks_to_fit():
    series = make_series("frame", [2.4, 2.5], at_us=[0, DAY], money="shell")
    market = level_market({"frame": series}, settings=MarketSettings("shell"), as_of_us=DAY)
    with pytest.raises(CannotAnswer, match="too few"):
        fit_local_level(market.items.looks("frame"))
    assert market.items.looks("shell") is None


def test_chance_below_against_simulation():
    rng = np.random.default_rng(9)
    days, paths = 14, 200_000
    law = PathLaw(
        part_log=np.array([0.0, -0.3]),
        part_sd=np.array([0.05, 0.08]),
        part_weight=np.array([0.8, 0.2]),
        drift=np.linspace(-0.03, 0.03, days),
        day_sd=np.linspace(0.03, 0.08, days),
        far=np.ones(days + 1),
        quote_sd=0.0,
    )
    rival = rng.random(paths) < 0.2
    start = np.where(rival, -0.3, 0.0) + np.where(rival, 0.08, 0.05) * rng.normal(size=paths)
    walk = np.cumsum(law.drift + law.day_sd * rng.normal(size=(paths, days)), axis=1)
    lowest = np.minimum.accumulate(np.column_stack([start, start[:, None] + walk]), axis=1)
    for price in (0.6, 0.8, 0.95):
        for ahead in (0, 1, 5, 14):
            simulated = np.mean(lowest[:, ahead] <= math.log(price))
            assert law.chance_below(price, ahead) == pytest.approx(simulated, abs=6e-3)
