"""A second opinion on one item: the plain local level model, fitted by statsmodels.

The same model as in `smoothing` without strays and jumps: normal noise, normal
steps, irregular times, exact diffuse start. Strays are left out beforehand.
Use it for the few items an answer hangs on; it takes some milliseconds each
and a second to import.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from advisor.errors import CannotAnswer
from advisor.levels.item_levels import PriceLevel, SideLooks
from advisor.levels.paths import normal_quantile
from advisor.levels.series import Floats

_FAR = normal_quantile(0.975)
_FEWEST_LOOKS = 4
STRAY = 0.5
"""Looks that are strays with this chance are left out."""


@dataclass(frozen=True, slots=True)
class LocalLevelFit:
    """A fitted local level model.

    Attributes:
        log_level, log_sd: The level after the last look, and how unsure it is, log scale.
        noise_sd: How far a plain look lies from the level.
        step_sd: How far the level wanders in a day.
        log_likelihood: At the fit; the first look only starts it.
    """

    log_level: float
    log_sd: float
    noise_sd: float
    step_sd: float
    log_likelihood: float

    def price_after(self, days: float) -> PriceLevel:
        """The price so many days after the last look, with no look since."""
        log_sd = math.hypot(self.log_sd, self.step_sd * math.sqrt(days))
        level = math.exp(self.log_level)
        low, high = (math.exp(self.log_level + at * log_sd) for at in (-_FAR, _FAR))
        return PriceLevel(level, level * log_sd, low, high, log_sd)


def fit_local_level(looks: SideLooks) -> LocalLevelFit:
    """Fit noise and step by maximum likelihood to the looks that are no strays.

    Raises: CannotAnswer: fewer than four looks are left.
    Source: Durbin & Koopman, Time Series Analysis by State Space Methods, 2nd ed.,
        sections 2.10 (likelihood) and 5.2 (exact diffuse start).
    """
    sound = looks.stray < STRAY
    if sound.sum() < _FEWEST_LOOKS:
        raise CannotAnswer(
            f"its looks are too few to fit a model to: {int(sound.sum())}",
            right=f"at least {_FEWEST_LOOKS} are needed",
        )
    model = _local_level_model(
        looks.log_price[sound], looks.days[sound], noise_scale=looks.noise_scale[sound]
    )
    start = np.log([max(looks.noise_sd, 1e-4) ** 2, max(looks.step_sd, 1e-4) ** 2])
    result = model.fit(start, disp=0, method="lbfgs", maxiter=200)
    return _read_fit(result)


def smooth_local_level(
    days: Floats, log_price: Floats, *, noise_scale: Floats, noise_sd: float, step_sd: float
) -> LocalLevelFit:
    """The same model at given spreads, without fitting."""
    model = _local_level_model(log_price, days, noise_scale=noise_scale)
    return _read_fit(model.filter(np.log([noise_sd**2, step_sd**2])))


def _read_fit(result: Any) -> LocalLevelFit:
    noise_sd, step_sd = np.sqrt(np.exp(result.params))
    return LocalLevelFit(
        log_level=float(result.filtered_state[0, -1]),
        log_sd=float(np.sqrt(result.filtered_state_cov[0, 0, -1])),
        noise_sd=float(noise_sd),
        step_sd=float(step_sd),
        log_likelihood=float(result.llf),
    )


def _local_level_model(log_price: Floats, days: Floats, *, noise_scale: Floats) -> Any:
    """A statsmodels state-space model with a step variance for each gap between looks."""
    from statsmodels.tsa.statespace.mlemodel import MLEModel

    class LocalLevel(MLEModel):  # type: ignore[misc]
        def __init__(self) -> None:
            super().__init__(log_price, k_states=1, initialization="diffuse")
            self["design"] = np.ones((1, 1, 1))
            self["transition"] = np.ones((1, 1, 1))
            self["selection"] = np.ones((1, 1, 1))

        @property
        def param_names(self) -> list[str]:
            return ["log noise variance", "log step variance"]

        @property
        def start_params(self) -> Floats:
            return np.log([0.05**2, 0.03**2])

        def update(self, params: Floats, **kwargs: Any) -> None:
            params = super().update(params, **kwargs)
            noise_var, step_var = np.exp(params)
            gaps = np.append(np.diff(days), 1.0)
            self["obs_cov"] = (noise_var * noise_scale)[None, None, :]
            self["state_cov"] = (step_var * gaps)[None, None, :]

    return LocalLevel()
