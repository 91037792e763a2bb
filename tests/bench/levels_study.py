"""How good the levels and forecasts are: our way against the usual ones, on the same quotes.

    python tests/bench/levels_study.py [--seeds 6] [--save]

Markets are invented with a known true price (five kinds), or real series. Each
method sees the quotes up to a day and says where the level is and quantiles of
one honest quote some days ahead. Prints tables in Markdown; --save writes them
between the marks of advisor/levels/STUDY.md.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from levels_markets import REGIMES, START_US, invent_market, real_series
from levels_rivals import RIVALS, Opinion

from advisor.levels.market import level_market
from advisor.levels.series import ItemSettings, MarketSettings, make_series
from advisor.quotes import MICROSECONDS_A_DAY

OURS = "Makeworth"
METHODS = (*RIVALS, OURS)
ORIGINS = (30, 45, 60, 75, 90, 105, 119)
HORIZONS = (1, 3, 7, 14)
CHANCES = (0.05, 0.25, 0.5, 0.8, 0.9, 0.95, 0.99)
BOUNDS = ((0.1, 0.9), (0.025, 0.975))
FIRST_SEED = 101
"""Nothing was tuned on markets of these seeds."""

STUDY = Path(__file__).parents[2] / "advisor" / "levels" / "STUDY.md"
BEGIN, END = "<!-- tables: made by tests/bench/levels_study.py -->", "<!-- end of tables -->"


class Scores:
    """Errors, losses and hits by (group, method)."""

    def __init__(self) -> None:
        self.level_error = defaultdict(list)
        self.ahead_error = defaultdict(list)
        self.loss = defaultdict(list)
        self.inside = defaultdict(list)
        self.width = defaultdict(list)
        self.level_inside = defaultdict(list)

    def add_level(self, key, log_level: float, truth: float) -> None:
        self.level_error[key].append(abs(log_level - truth))

    def add_ahead(self, key, opinion: Opinion, ahead: int, seen: float) -> None:
        points = np.array([opinion.quantile(chance, ahead) for chance in CHANCES])
        chances = np.array(CHANCES)
        self.loss[key].append(
            np.mean(np.maximum(chances * (seen - points), (chances - 1) * (seen - points)))
        )
        self.ahead_error[key].append(abs(opinion.quantile(0.5, ahead) - seen))
        hits, widths = [], []
        for low, high in BOUNDS:
            ends = opinion.quantile(low, ahead), opinion.quantile(high, ahead)
            hits.append(ends[0] <= seen <= ends[1])
            widths.append(ends[1] - ends[0])
        self.inside[key].append(hits)
        self.width[key].append(widths)


def our_opinion(levels) -> Opinion:
    path = levels.ask_path
    return Opinion(
        path.start_log, lambda chance, days: path.log_quantile(chance, days, of_quote=True)
    )


def study_invented(seeds: range, items: int, scores: Scores) -> None:
    for regime in REGIMES:
        for seed in seeds:
            market = invent_market(regime, items, seed=seed)
            rng = np.random.default_rng([seed, 99])
            for origin in ORIGINS:
                _score_day(regime, market, origin=origin, rng=rng, scores=scores)


def _score_day(regime, market, *, origin: int, rng, scores: Scores) -> None:
    now_us = START_US + origin * MICROSECONDS_A_DAY
    series = {name: item.series for name, item in market.items()}
    settings = MarketSettings("shell", items={name: ItemSettings(regime) for name in series})
    ours = level_market(series, settings=settings, as_of_us=now_us)
    for name, item in market.items():
        known = item.series.at_us <= now_us
        if known.sum() < 3:
            continue
        days = (item.series.at_us[known] - START_US) / MICROSECONDS_A_DAY
        logs = np.log(item.series.price[known])
        opinions = {method: rival(days, logs) for method, rival in RIVALS.items()}
        levels = ours.items[name]
        opinions[OURS] = our_opinion(levels)
        seen = {h: item.true_log[origin + h] + rng.normal(0, item.quote_sd) for h in HORIZONS}
        for method, opinion in opinions.items():
            scores.add_level((regime, method), opinion.log_level, item.true_log[origin])
            for h in HORIZONS:
                scores.add_ahead((regime, method), opinion, h, seen[h])
        for h in (0, *HORIZONS):
            ends = [levels.ask_path.log_quantiles(bound, h) for bound in BOUNDS]
            truth = item.true_log[origin + h]
            scores.level_inside[regime].append([low <= truth <= high for low, high in ends])


def study_real(scores: Scores, origins: int = 12) -> None:
    for name, values in real_series().items():
        at_us = START_US + np.arange(len(values)) * MICROSECONDS_A_DAY
        series = {name: make_series(name, values, at_us=at_us, money="shell")}
        logs = np.log(values)
        last = len(values) - 8
        for origin in np.linspace(max(last // 3, 15), last, origins).astype(int):
            ours = level_market(
                series, settings=MarketSettings("shell"), as_of_us=int(at_us[origin])
            )
            days = np.arange(origin + 1.0)
            opinions = {m: rival(days, logs[: origin + 1]) for m, rival in RIVALS.items()}
            opinions[OURS] = our_opinion(ours.items[name])
            for method, opinion in opinions.items():
                for h in (1, 3, 7):
                    scores.add_ahead((name, method), opinion, h, logs[origin + h])


def write_tables(invented: Scores, real: Scores) -> str:
    lines = ["Median error of the level now (against the true price), in per cent:", ""]
    lines += _table(REGIMES, lambda r, m: 100 * np.median(invented.level_error[r, m]), "{:.2f}")
    lines += ["", "Median error 1 to 14 days ahead (against one honest quote), in per cent:", ""]
    lines += _table(REGIMES, lambda r, m: 100 * np.median(invented.ahead_error[r, m]), "{:.2f}")
    lines += ["", "Pinball loss 1 to 14 days ahead, mean over the seven quantiles, times 1000:", ""]
    lines += _table(REGIMES, lambda r, m: 1000 * np.mean(invented.loss[r, m]), "{:.2f}")
    lines += ["", "Honest quotes 1 to 14 days ahead inside the 80 % / 95 % interval, per cent:", ""]
    lines += _table(REGIMES, lambda r, m: _percent(invented.inside[r, m]), "{}", best=None)
    lines += ["", "Median width of those intervals, log scale:", ""]
    lines += _table(
        REGIMES,
        lambda r, m: "{:.2f} / {:.2f}".format(*np.median(invented.width[r, m], axis=0)),
        "{}",
        best=None,
    )
    lines += [
        "",
        "True price, now to 14 days ahead, inside our 80 % / 95 % interval of the level, per cent:",
        "",
    ]
    lines += ["| " + " | ".join((*REGIMES, "all")) + " |", "|" + " --- |" * (len(REGIMES) + 1)]
    every = [hit for regime in REGIMES for hit in invented.level_inside[regime]]
    lines += [
        "| "
        + " | ".join(
            _percent(hits) for hits in (*(invented.level_inside[r] for r in REGIMES), every)
        )
        + " |"
    ]
    names = list(dict.fromkeys(name for name, _ in real.loss))
    lines += ["", "Real series, pinball loss 1, 3 and 7 steps ahead, times 1000:", ""]
    lines += _table(names, lambda r, m: 1000 * np.mean(real.loss[r, m]), "{:.2f}")
    lines += [
        "",
        "Real series, inside the 80 % / 95 % interval, all series together, per cent:",
        "",
    ]
    lines += ["| " + " | ".join(METHODS) + " |", "|" + " --- |" * len(METHODS)]
    lines += [
        "| "
        + " | ".join(_percent([h for n in names for h in real.inside[n, m]]) for m in METHODS)
        + " |"
    ]
    return "\n".join(lines)


def _percent(hits) -> str:
    return "{:.0f} / {:.0f}".format(*(100 * np.mean(hits, axis=0)))


def _table(rows, cell, form: str, best="least") -> list[str]:
    lines = ["| | " + " | ".join(METHODS) + " |", "| --- |" + " --- |" * len(METHODS)]
    for row in rows:
        values = [cell(row, method) for method in METHODS]
        texts = [form.format(value) for value in values]
        if best:
            least = int(np.argmin(values))
            texts[least] = f"**{texts[least]}**"
        lines.append(f"| {row} | " + " | ".join(texts) + " |")
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=6)
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED)
    parser.add_argument("--items", type=int, default=10)
    parser.add_argument("--save", action="store_true")
    chosen = parser.parse_args()
    invented, real = Scores(), Scores()
    seeds = range(chosen.first_seed, chosen.first_seed + chosen.seeds)
    study_invented(seeds, chosen.items, invented)
    study_real(real)
    tables = write_tables(invented, real)
    print(tables)
    if chosen.save:
        text = STUDY.read_text(encoding="utf-8")
        head, rest = text.split(BEGIN)
        STUDY.write_text(
            f"{head}{BEGIN}\n\n{tables}\n\n{END}{rest.split(END)[1]}", encoding="utf-8"
        )


if __name__ == "__main__":
    main()
