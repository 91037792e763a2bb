"""Published examples of smoothing, run through our filter and the references we compare with.

Our local level filter becomes simple exponential smoothing with constant alpha
once its gain is steady (Muth 1960): with noise variance 1 and step variance
alpha^2 / (1 - alpha), and a first look that already has the steady variance alpha.
Holt's method is no part of our levels; statsmodels is held to the books there,
since the study in tests/bench compares with its exponential smoothing.
"""

import numpy as np
import pytest
from scipy.optimize import minimize, minimize_scalar

from advisor.levels.fit import fit_local_level
from advisor.levels.item_levels import SideLooks
from advisor.levels.paths import PathLaw
from advisor.levels.smoothing import Smoothed, filter_tracks
from advisor.levels.track_model import TrackNoise
from advisor.levels.tracks import tabulate_tracks
from advisor.quotes import MICROSECONDS_A_DAY

# fmt: off
SHORT = [
    71, 70, 69, 68, 64, 65, 72, 78, 75, 75, 75, 70,
]
# fmt: on
# fmt: off
TREND = [
    6.4, 5.6, 7.8, 8.8, 11.0, 11.6, 16.7, 15.3, 21.6, 22.4,
]
# fmt: on
# fmt: off
QUARTERS = [
    362, 385, 432, 341, 382, 409, 498, 387, 473, 513, 582, 474, 544, 582, 681, 557, 628,
    707, 773, 592, 627, 725, 854, 661,
]
# fmt: on
# fmt: off
ALGERIA_EXPORTS = [
    39.043173, 46.244557, 19.793873, 24.684682, 25.084059, 22.603944, 25.986198, 23.434417,
    23.135635, 23.788777, 22.072733, 18.442519, 20.449562, 25.503663, 38.749044, 33.688936,
    33.054584, 30.586567, 25.535837, 31.1483, 34.338461, 34.587251, 30.924856, 27.941806,
    25.710016, 23.583933, 12.854757, 14.272475, 15.507868, 18.639263, 23.443685, 29.117822,
    25.319594, 21.783877, 22.530725, 26.194776, 29.760448, 30.906311, 22.578354, 28.150116,
    42.069718, 36.689305, 35.504533, 38.248829, 40.053226, 47.205193, 48.810688, 47.068164,
    47.973345, 35.371651, 38.444548, 38.786954, 36.890548, 33.209898, 30.219117, 23.171778,
    20.860011, 22.638887,
]
# fmt: on
# fmt: off
AUSTRALIANS_MILLIONS = [
    10.276477, 10.483, 10.742, 10.95, 11.167, 11.388, 11.651, 11.799, 12.009, 12.263,
    12.507, 12.937, 13.177, 13.38, 13.723, 13.893, 14.033, 14.192, 14.358, 14.514, 14.692,
    14.927, 15.178, 15.369, 15.544, 15.758, 16.0184, 16.2639, 16.5322, 16.8144, 17.0651,
    17.284, 17.495, 17.667, 17.855, 18.072, 18.311, 18.517, 18.711, 18.926, 19.153, 19.413,
    19.6514, 19.8954, 20.1274, 20.3948, 20.6979, 20.8276, 21.2492, 21.6917, 22.03175,
    22.340024, 22.742475, 23.145901, 23.504138, 23.850784, 24.210809, 24.598933,
]
# fmt: on
# fmt: off
SAUDI_OIL = [
    445.3641, 453.195, 454.4096, 422.3789, 456.0371, 440.3866, 425.1944, 486.2052, 500.4291,
    521.2759, 508.9476, 488.8889, 509.8706, 456.7229, 473.8166, 525.9509, 549.8338, 542.3405,
]
# fmt: on
# fmt: off
AIR_PASSENGERS = [
    17.5534, 21.8601, 23.8866, 26.9293, 26.8885, 28.8314, 30.0751, 30.9535, 30.1857,
    31.5797, 32.577569, 33.477398, 39.021581, 41.386432, 41.596552, 44.657324, 46.951775,
    48.728837, 51.488427, 50.026967, 60.640913, 63.36031, 66.355274, 68.197955, 68.123238,
    69.779345, 72.597701,
]
# fmt: on
# fmt: off
BEER_TRAIN = [
    443, 410, 420, 532, 433, 421, 410, 512, 449, 381, 423, 531, 426, 408, 416, 520, 409,
    398, 398, 507, 432, 398, 406, 526, 428, 397, 403, 517, 435, 383, 424, 521, 421, 402,
    414, 500, 451, 380, 416, 492, 428, 408, 406, 506, 435, 380, 421, 490, 435, 390, 412,
    454, 416, 403, 408, 482, 438, 386, 405, 491, 427, 383, 394, 473,
]
# fmt: on
# fmt: off
BEER_TEST = [
    420, 390, 410, 488, 415, 398, 419, 488, 414, 374,
]
# fmt: on


def smooth(values, alpha, *, first_level=None) -> Smoothed:
    """Simple exponential smoothing by our filter; starts at the first value or a given level."""
    y = np.array(values if first_level is None else [first_level, *values], dtype=float)
    table = tabulate_tracks(
        np.zeros(len(y), dtype=np.int64),
        np.arange(len(y)) * MICROSECONDS_A_DAY,
        log_price=y,
        noise_scale=np.array([alpha] + [1.0] * (len(y) - 1)),
        stray_share=np.zeros(len(y)),
    )
    numbers = (1.0, alpha**2 / (1.0 - alpha), 0.0, 0.0)
    return filter_tracks(table, TrackNoise(*(np.array([number]) for number in numbers)))


def square_errors(values, alpha, *, first_level=None) -> np.ndarray:
    """Squared one-step errors: of all values but the first, or of all after a given level."""
    y = np.array(values if first_level is not None else values[1:], dtype=float)
    return (y - smooth(values, alpha, first_level=first_level).ahead[1:, 0]) ** 2


def holt(values, alpha, beta, *, level, trend):
    """statsmodels' ETS(A,A,N) at fixed numbers."""
    from statsmodels.tsa.exponential_smoothing.ets import ETSModel

    model = ETSModel(np.array(values, dtype=float), error="add", trend="add")
    return model.smooth(np.array([alpha, beta, level, trend]))


def test_nist_single_smoothing():
    # NIST/SEMATECH e-Handbook, 6.4.3.1: alpha 0.1, S_2 = y_1; the page prints two decimals
    printed = [71, 70.9, 70.71, 70.44, 69.8, 69.32, 69.58, 70.43, 70.88, 71.29, 71.67]
    assert smooth(SHORT, 0.1).mean[:11, 0] == pytest.approx(printed, abs=0.006)
    # MSE 19.0; the page's SSE 208.94 sums rounded errors and is not tested
    assert square_errors(SHORT, 0.1).mean() == pytest.approx(19.0, abs=0.05)


def test_nist_bootstrapped_forecasts():
    # NIST/SEMATECH e-Handbook, 6.4.3.2: past the end the last observation, 70, is held
    held = SHORT + [70] * 4
    assert smooth(held, 0.1).mean[11:16, 0] == pytest.approx(
        [71.5, 71.35, 71.21, 71.09, 70.98], abs=0.006
    )


def test_nist_single_smoothing_lags_a_trend():
    # NIST/SEMATECH e-Handbook, 6.4.3.2, trend example: alpha 0.3
    printed = [6.4, 6.2, 6.7, 7.3, 8.4, 9.4, 11.6, 12.7, 15.4]
    assert smooth(TREND, 0.3).mean[:9, 0] == pytest.approx(printed, abs=0.06)


def test_nist_double_smoothing():
    # NIST/SEMATECH e-Handbook, 6.4.3.4: alpha 0.3623, gamma 1, S_1 = 6.4, b_1 = 0.8
    fit = holt(TREND[1:], 0.3623, 0.3623, level=6.4, trend=0.8)
    levels = [6.4, *fit.level]
    assert levels == pytest.approx(
        [6.4, 6.6, 7.2, 8.1, 9.8, 11.5, 14.5, 16.7, 19.9, 22.8], abs=0.06
    )
    one_step = [7.2, 6.8, 7.8, 9.1, 11.4, 13.2, 17.4, 18.9, 23.1]
    assert list(fit.fittedvalues) == pytest.approx(one_step, abs=0.06)
    assert list(fit.forecast(5)) == pytest.approx([25.8, 28.7, 31.7, 34.6, 37.6], abs=0.06)


def test_nist_least_square_constants():
    # NIST/SEMATECH e-Handbook, 6.4.3.4: single alpha 0.977, forecast 22.4. The page prints
    # 8.8867 as its MSE; that is the value at alpha = 1
    best = minimize_scalar(
        lambda alpha: square_errors(TREND, alpha).mean(), bounds=(0.01, 0.9999), method="bounded"
    )
    assert best.x == pytest.approx(0.977, abs=0.0006)
    assert smooth(TREND, best.x).mean[-1, 0] == pytest.approx(22.4, abs=0.06)
    assert square_errors(TREND, 1 - 1e-9).mean() == pytest.approx(8.8867, abs=6e-5)

    def double_loss(constants):
        alpha, gamma = constants
        fit = holt(TREND[1:], alpha, alpha * gamma, level=6.4, trend=0.8)
        return float(np.mean((np.array(TREND[1:]) - fit.fittedvalues) ** 2))

    double = minimize(double_loss, [0.4, 0.9], bounds=[(0.01, 0.99), (0.01, 1.0)])
    assert double.x == pytest.approx([0.3623, 1.0], abs=1e-3)


def test_nist_quarterly_example():
    # NIST/SEMATECH e-Handbook, 6.4.3.5-6.4.3.6: least MSE of single smoothing 6906
    best = minimize_scalar(
        lambda alpha: square_errors(QUARTERS, alpha).mean(),
        bounds=(0.01, 0.9999),
        method="bounded",
    )
    assert best.fun == pytest.approx(6906, abs=0.6)
    # the page's start values, by the additive start of statsmodels' rules written out
    years = np.array(QUARTERS, dtype=float).reshape(6, 4)
    assert years.mean(axis=1) == pytest.approx([380, 419, 510.5, 591, 675, 716.75])
    assert np.mean((years[1] - years[0]) / 4) == pytest.approx(9.75)


def likeliest_smoothing(values):
    """alpha and first level with the least sum of squares."""
    best = minimize(
        lambda x: square_errors(values, x[0], first_level=x[1]).sum(),
        [0.8, values[0]],
        method="Nelder-Mead",
        bounds=[(0.01, 0.9999), (None, None)],
        options={"xatol": 1e-7, "fatol": 1e-9},
    )
    return *best.x, best.fun


def test_algerian_exports():
    # Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 3rd ed., 8.1
    alpha, level, loss = likeliest_smoothing(ALGERIA_EXPORTS)
    n = len(ALGERIA_EXPORTS)
    assert alpha == pytest.approx(0.8399875, abs=0.0005)
    assert level == pytest.approx(39.539, abs=0.005)
    assert loss / (n - 2) == pytest.approx(35.6301, abs=1e-4)
    aic = n * np.log(loss) + 2 * 3
    assert aic == pytest.approx(446.7154, abs=2e-4)
    assert aic + 2 * 3 * 4 / (n - 4) == pytest.approx(447.1599, abs=2e-4)
    assert aic + 3 * (np.log(n) - 2) == pytest.approx(452.8968, abs=2e-4)


def test_saudi_oil():
    # Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 2nd ed., 7.1
    alpha, level, loss = likeliest_smoothing(SAUDI_OIL)
    n = len(SAUDI_OIL)
    assert alpha == pytest.approx(0.8339, abs=0.0005)
    assert level == pytest.approx(446.5868, abs=0.03)
    assert np.sqrt(loss / (n - 2)) == pytest.approx(29.8282, abs=2e-4)
    assert n * np.log(loss) + 6 == pytest.approx(178.143, abs=2e-4)
    end = smooth(SAUDI_OIL, alpha, first_level=level).mean[-1, 0]
    assert end == pytest.approx(542.68, abs=0.02)


def test_australian_population():
    # Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 3rd ed., 8.2, ETS(A,A,N)
    fit = holt(AUSTRALIANS_MILLIONS, 0.9999, 0.3266366, level=10.05414, trend=0.2224818)
    loss = float(np.sum((np.array(AUSTRALIANS_MILLIONS) - fit.fittedvalues) ** 2))
    n = len(AUSTRALIANS_MILLIONS)
    assert n * np.log(loss) + 2 * 5 == pytest.approx(-76.98569, abs=2e-5)
    assert loss / (n - 4) == pytest.approx(0.0041, abs=6e-5)


def test_air_passengers():
    # Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 2nd ed., 7.2
    fit = holt(AIR_PASSENGERS, 0.8302, 0.0001, level=15.5715, trend=2.1017)
    loss = float(np.sum((np.array(AIR_PASSENGERS) - fit.fittedvalues) ** 2))
    n = len(AIR_PASSENGERS)
    assert np.sqrt(loss / (n - 4)) == pytest.approx(2.3645, abs=2e-4)
    assert n * np.log(loss) + 2 * 5 == pytest.approx(141.1291, abs=6e-4)


def test_beer_forecast_errors():
    # Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 2nd ed., 3.4: RMSE, MAE,
    # MAPE and MASE of the naive method, here our filter with a gain of all but 1
    naive = smooth(BEER_TRAIN, 1 - 1e-9).mean[-1, 0]
    errors = np.array(BEER_TEST) - naive
    train = np.array(BEER_TRAIN, dtype=float)
    scale = np.mean(np.abs(train[4:] - train[:-4]))
    figures = [
        np.sqrt(np.mean(errors**2)),
        np.mean(np.abs(errors)),
        100 * np.mean(np.abs(errors) / BEER_TEST),
        np.mean(np.abs(errors)) / scale,
    ]
    assert figures == pytest.approx([62.69, 57.4, 14.18, 4.01], abs=0.006)


def test_naive_prediction_intervals():
    # Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 2nd ed., 3.5: last value
    # and root mean square of the first differences; columns Lo80, Hi80, Lo95, Hi95
    law = PathLaw(
        part_log=np.array([531.478271]),
        part_sd=np.zeros(1),
        part_weight=np.ones(1),
        drift=np.zeros(3),
        day_sd=np.full(3, 6.208147916441806),
        far=np.ones(4),
        quote_sd=0.0,
    )
    printed = [
        [523.5222, 539.4343, 519.3105, 543.646],
        [520.2267, 542.7298, 514.2705, 548.6861],
        [517.698, 545.2586, 510.4031, 552.5534],
    ]
    for day, row in enumerate(printed, start=1):
        assert law.log_quantiles((0.1, 0.9, 0.025, 0.975), day) == pytest.approx(row, abs=1e-4)


def test_nile_variances():
    # Durbin & Koopman, Time Series Analysis by State Space Methods, 2nd ed., 2.10.3, Table 2.1:
    # local level by maximum likelihood, exact diffuse start
    from statsmodels.datasets import nile

    flow = nile.load_pandas().data["volume"].to_numpy()
    looks = SideLooks(
        at_us=np.arange(100) * 86_400_000_000,
        days=np.arange(100.0),
        log_price=flow,
        noise_scale=np.ones(100),
        stray=np.zeros(100),
        level=flow,
        level_var=np.ones(100),
        noise_sd=100.0,
        step_sd=50.0,
    )
    fit = fit_local_level(looks)
    assert fit.noise_sd**2 == pytest.approx(15099, abs=1.0)
    assert fit.step_sd**2 == pytest.approx(1469.1, abs=0.2)
    assert (fit.step_sd / fit.noise_sd) ** 2 == pytest.approx(0.0973, abs=6e-5)


def test_steady_gain_is_the_smoothing_constant():
    # Muth (1960), JASA 55:299-306; Harvey, Forecasting, Structural Time Series Models and the
    # Kalman Filter (1989), ch. 4: at the Nile's variances the gain settles at 0.26705
    table = tabulate_tracks(
        np.zeros(60, dtype=np.int64),
        np.arange(60) * MICROSECONDS_A_DAY,
        log_price=np.zeros(60),
        noise_scale=np.ones(60),
        stray_share=np.zeros(60),
    )
    noise = TrackNoise(*(np.array([number]) for number in (15099.0, 1469.1, 0.0, 0.0)))
    assert filter_tracks(table, noise).var[-1, 0] / 15099 == pytest.approx(0.2670480126, abs=1e-6)
