"""Fits the outlook's odds and writes `firmware/core/src/outlook/fitted.rs`.

    fit_outlook.py DATA                      all waters: what goes aboard
    fit_outlook.py DATA --without "farm"     all but one, to be judged on it
    fit_outlook.py DATA --out FILE.rs        writes elsewhere

What is fitted: small trees, raised step by step (boosting), that map a row of
`features.py` at a limit and a look-ahead to the log-odds that the running mean
of ten minutes reaches the limit within it. Every column but the minutes known
may only raise the odds.

On what: moments under the limit, for limits every 6 %; minutes weigh ten times
as much as samples of a coarser step. Half of the moments look back on a
history cut short at random (a minute to a day). Invented builds (`builds.py`) are one
more water. Moments within half an hour
after one over the limit are neither warned nor idle in the judgement, but the
crew sees a figure there too: they count a third. Seeds are fixed; another
number of threads may move the last digits.
"""

from __future__ import annotations

import argparse
import pathlib

import lightgbm
import numpy as np

import builds
import features
import waters
from definitions import hovers, judged, known_ahead
from tables import HORIZON_MIN, write

ROOT = pathlib.Path(__file__).resolve().parents[3]
FITTED = ROOT / "firmware/core/src/outlook/fitted.rs"
SEED = 7
LIMITS_KN = 5.0 * 1.06 ** np.arange(36)
COARSE_MIN = np.array([10, 20, 30, 40, 60, 90], float)
TREES = 150
LEAVES = 15
# A minute counts as much as ten minutes of a coarser series.
FINE_WEIGHT = 10.0
HOVERING_WEIGHT = 0.3
# The invented builds count so many times a water of minutes: README.md.
BUILDS_WEIGHT = 2.0
# Share of the moments taken, by wind over limit; their weight makes up for it.
NEAR = (0.85, 0.75, 0.55, 0.35)
# Three times as many rows fit no better (tried on the slope buoy).
SHARE_FINE = (0.25, 0.2, 0.08, 0.015)
SHARE_COARSE = (0.06, 0.05, 0.02, 0.003)


def minutes_to_passing(wind: np.ndarray, limit: float, step_s: int) -> np.ndarray:
    """Minutes until the judged wind is at or over the limit next; endless if never."""
    over = np.flatnonzero(np.where(np.isnan(wind), -1.0, wind) >= limit)
    at = np.arange(len(wind))
    next_over = np.searchsorted(over, at, side="right")
    out = np.full(len(wind), np.inf)
    found = next_over < len(over)
    out[found] = (over[next_over[found]] - at[found]) * step_s / 60
    return out


def cut_starts(count: int, step_s: int, rng) -> np.ndarray:
    """Starts of histories that last a minute to a day, evenly by logarithm."""
    start = np.zeros(count, np.int64)
    at = 0
    while at < count:
        length = int(np.exp(rng.uniform(0, np.log(features.DAY))) * 60 // step_s) + 1
        start[at:at + length] = at
        at += length
    return start


def sample(water: waters.Water, rng):
    """Rows for the fit with outcome and weight."""
    wind = judged(water.wind, water.step_s)
    step = water.step_s / 60
    is_fine = step <= 1
    tables = [features.rows(water.wind, water.step_s),
              features.rows(water.wind, water.step_s,
                            cut_starts(len(wind), water.step_s, rng))]
    horizons = HORIZON_MIN
    if not is_fine:
        horizons = np.unique(np.maximum(1, np.round(COARSE_MIN / step)) * step)
    ahead = {h: known_ahead(wind, int(h / step)) for h in horizons}
    x, y, weight = [], [], []
    for limit in LIMITS_KN:
        if not (wind >= limit).any():
            break
        minutes = minutes_to_passing(wind, limit, water.step_s)
        near = wind / limit
        share = np.select([near > bound for bound in NEAR],
                          SHARE_FINE if is_fine else SHARE_COARSE, 0.0)
        hovering = hovers(wind, limit, water.step_s)
        for table in tables:
            take = (rng.random(len(wind)) < share / len(tables)) & (near < 1)
            at = np.flatnonzero(take & np.isfinite(table[:, 0]))
            h = rng.choice(horizons, len(at))
            passed = minutes[at] <= h
            known = np.array([ahead[one][place] for one, place in zip(h, at)])
            keep = passed | (known >= 0.75)
            at, h, passed = at[keep], h[keep], passed[keep]
            rows = features.at_limit(table[at], limit)
            x.append(np.column_stack([rows, h]).astype(np.float32))
            y.append(passed)
            weight.append((FINE_WEIGHT if is_fine else 1.0) / share[at]
                          * np.where(hovering[at], HOVERING_WEIGHT, 1.0))
    return np.vstack(x), np.concatenate(y), np.concatenate(weight)


def boost(x, y, weight):
    """The trees."""
    settings = dict(objective="binary", num_leaves=LEAVES, learning_rate=0.07,
                    min_data_in_leaf=200, max_bin=127, bagging_fraction=0.6, bagging_freq=1,
                    feature_fraction=0.5, lambda_l2=10, num_threads=2, verbose=-1,
                    seed=3, deterministic=True, force_row_wise=True,
                    monotone_constraints=[1] * (features.WIDTH - 1) + [0, 1],
                    monotone_constraints_method="intermediate")
    return lightgbm.train(settings, lightgbm.Dataset(x, y, weight=weight), TREES)


def fit(directory: pathlib.Path, names):
    """The trees on some waters."""
    parts = [sample(waters.read(directory, name), dice(name)) for name in names]
    parts.append(sample_builds())
    return boost(*[np.concatenate([part[i] for part in parts]) for i in range(3)])


def dice(name: str):
    """A water's own chance, whatever others are in the fit."""
    return np.random.default_rng([SEED, list(waters.WATERS).index(name)])


def sample_builds():
    """The rows of the invented builds."""
    x, passed, weight = sample(builds.water(), np.random.default_rng(SEED))
    return x, passed, weight * BUILDS_WEIGHT


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("data", type=pathlib.Path)
    asked.add_argument("--without", default=None, choices=list(waters.WATERS))
    asked.add_argument("--out", type=pathlib.Path, default=FITTED)
    asked = asked.parse_args()
    names = [name for name in waters.WATERS if name != asked.without]
    trees = fit(asked.data, names)
    write(asked.out, trees, names + [builds.NAME], asked.without)


if __name__ == "__main__":
    main()
