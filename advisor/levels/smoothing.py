"""The level of every track at once: a local level filter that knows strays and jumps.

Source: Durbin & Koopman, Time Series Analysis by State Space Methods, 2nd ed.,
chapter 2 (local level, exact diffuse start).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from advisor.levels.series import Floats
from advisor.levels.stories import STORIES, Parts, keep_stories, open_stories, weigh_ways
from advisor.levels.track_model import Trace, TrackNoise, echo_chance
from advisor.levels.tracks import TrackTable

_TRACED = ("mean", "var", "ahead", "stray")


@dataclass(frozen=True, eq=False)
class Smoothed(Trace):
    """What the filter knows after each row, and at the end.

    Attributes:
        ahead: (T, n), log level expected just before the observation; in the first row
            the observation itself.
        part_mean, part_var, part_weight: (STORIES, n), the stories after the last row.
        log_likelihood: (n,), of every row but the first.
    """

    ahead: Floats
    part_mean: Floats
    part_var: Floats
    part_weight: Floats
    log_likelihood: Floats


def filter_tracks(table: TrackTable, noise: TrackNoise) -> Smoothed:
    """Run the filter over every track of a table, row by row."""
    blocks = table.blocks()
    done = [_filter_block(table.columns(block), noise.columns(block)) for block in blocks]
    if len(done) == 1:
        return done[0]
    if not done:
        return _filter_block(table, noise)
    return Smoothed(
        **{
            field.name: np.concatenate([getattr(each, field.name) for each in done], axis=-1)
            for field in fields(Smoothed)
        }
    )


def _filter_block(table: TrackTable, noise: TrackNoise) -> Smoothed:
    rows, n = table.log_price.shape
    trace = {name: np.zeros((rows, n)) for name in _TRACED}
    parts = Parts(np.zeros((STORIES, n)), np.ones((STORIES, n)), np.zeros((STORIES, n)))
    log_likelihood = np.zeros(n)
    gaps, stray_chance = table.gap_days, table.stray_chance(noise.stray_share)
    jumps, echoes = noise.jump_chance(table), echo_chance(table)
    for k in range(int((table.reach > 0).sum())):
        live = slice(0, int(table.reach[k]))
        y, share = table.log_price[k, live], stray_chance[k, live]
        plain_var = noise.noise_var[live] * table.noise_scale[k, live]
        if k == 0:
            after = open_stories(y, plain_var, stray_share=share)
            trace["ahead"][k, live], trace["stray"][k, live] = y, share
        else:
            before = parts.of(live)
            gathered = noise.step_var[live] * gaps[k, live] + table.restart_var[k, live]
            ahead = Parts(before.mean + table.drift[k, live], before.var + gathered, before.weight)
            step = weigh_ways(
                ahead,
                y,
                plain_var=plain_var,
                stray_share=share,
                echo=echoes[k, live] * trace["stray"][k - 1, live],
                before=table.log_price[k - 1, live],
                jump_chance=jumps[k, live],
            )
            after = keep_stories(step.ways)
            log_likelihood[live] += np.log(step.total)
            trace["ahead"][k, live] = (ahead.weight * ahead.mean).sum(axis=0)
            trace["stray"][k, live] = step.stray
        parts.put(live, after)
        trace["mean"][k, live], trace["var"][k, live] = after.mixed()
    return Smoothed(
        **trace,
        part_mean=parts.mean,
        part_var=parts.var,
        part_weight=parts.weight,
        log_likelihood=log_likelihood,
    )
