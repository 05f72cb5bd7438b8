"""Fits the outlook's odds on 2014 and writes `firmware/core/src/outlook/fitted.rs`.

    python -m venv .venv && .venv/bin/pip install -r requirements.txt
    .venv/bin/python fit_outlook.py

What is fitted: a small forest of trees, raised step by step (boosting), that
maps how the wind stands to the limit (features.py, all divided by the limit)
and the look-ahead to the log-odds that the limit is passed for good; then one
monotone curve that makes these odds calibrated, fitted on predictions for
months that the trees had not seen; then the likely band of the wind ahead.

On what: 10-minute means of the farm's four turbines in 2014, at many limits so
that no single level is learnt; the same with long outages cut in, for the hours
after switching on; and a finer series made from them, for 1-minute summaries.
2015 is never read here. The fit has a fixed seed, yet another number of threads
may move the last digits.
"""

from __future__ import annotations

import lightgbm
import numpy as np
from scipy.optimize import minimize
from scipy.signal import lfilter

import farm
from features import (DAMPING_S, MONOTONE, NAMES, damped_trend, features)
from model import FITTED, Tables
from trial_reference import any_within, windows

SEED = 7
LIMITS_KN = np.array([12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26,
                      28, 30, 32], float)
HORIZON_MIN = (5, 10, 20, 30, 50, 70, 100)
TREES = 130
LEAVES = 15
# The filter follows the wind over about an hour. Likelihood alone would make it
# a random walk (it puts nine tenths of a 10-minute step into the level), which
# shows the crew no trend at all; these are chosen, not fitted.
LEVEL_Q = 3.0
TREND_Q = 0.3
# Scatter of 1-minute means inside 10 minutes, against the level: from memory,
# over open water and open land; drawn anew for every 12 h.
SCATTER_MEDIAN = 0.045
SCATTER_LOG_SD = 0.45
SCATTER_MEMORY = 0.55
BAND_MIN = (10, 20, 30, 60, 90)


def finer(wind: np.ndarray, rng) -> np.ndarray:
    """An invented 1-minute series whose 10-minute means are `wind`."""
    n = len(wind)
    known = ~np.isnan(wind)
    filled = np.interp(np.arange(n), np.flatnonzero(known), wind[known])
    minute = np.arange(n * 10)
    base = np.interp(minute, np.arange(n) * 10 + 4.5, filled)
    knots = np.arange(0, n * 10 + 720, 720)
    scatter = np.exp(np.interp(minute, knots, rng.normal(
        np.log(SCATTER_MEDIAN), SCATTER_LOG_SD, len(knots))))
    gain = np.sqrt(1 - SCATTER_MEMORY ** 2)
    noise = lfilter([gain], [1, -SCATTER_MEMORY], rng.normal(size=n * 10))
    blocks = (base * (1 + scatter * noise)).reshape(-1, 10)
    blocks += (filled - blocks.mean(1))[:, None]
    blocks[~known] = np.nan
    return np.maximum(blocks.ravel(), 0.0)


def outages(wind: np.ndarray, rng) -> np.ndarray:
    """The series seen by someone who keeps switching on: 24 h dark, 1-23 h on."""
    wind = wind.copy()
    day, i = 86400 // farm.DT, 0
    while i < len(wind):
        wind[i:i + day] = np.nan
        i += day + int(rng.integers(1, 24) * 3600 // farm.DT)
    return wind


def passed(wind: np.ndarray, limit: float, dt: int) -> np.ndarray:
    """Moments at which the limit is passed for good after 30 min under it.

    On a finer series it is the mean of the ten minutes from the moment on that
    must pass: single minutes over the limit neither count nor stand in the way.
    """
    if dt < farm.DT:
        n = farm.DT // dt
        total = np.concatenate([[0.0], np.cumsum(np.nan_to_num(wind))])
        known = np.concatenate([[0], np.cumsum(~np.isnan(wind))])
        i = np.arange(len(wind))
        j = np.minimum(i + n, len(wind))
        count = known[j] - known[i]
        wind = np.where(2 * count >= n, (total[j] - total[i])
                        / np.maximum(count, 1), np.nan)
    good, before = windows(wind, limit, dt)
    return good & before


class Sample:
    """Rows for the fit, with outcome, weight and the month's number."""

    def __init__(self):
        self.x, self.y, self.weight, self.month = [], [], [], []

    def add(self, wind, dt, horizons, limits, share, weight, rng):
        table = features(wind, dt, LEVEL_Q, TREND_Q)
        month = (np.arange(len(wind)) * dt // (30 * 86400)).astype(np.int16)
        for limit in limits:
            event = passed(wind, limit, dt)
            r = wind / limit
            # Most samples far under the limit say the same: take few, weigh more.
            p = share * np.select([r > 0.75, r > 0.55, r > 0.3], [1.0, 0.25, 0.03], 0.0)
            for h in horizons:
                steps = h * 60 // dt
                ok = (r < 1) & (rng.random(len(wind)) < p) & ~np.isnan(table[:, 0])
                ok[len(wind) - steps - 7200 // dt:] = False
                x = np.column_stack([table[ok] / limit, np.full(ok.sum(), float(h))])
                # Rounding of a mean of ten equal minutes is not a scatter.
                x[np.abs(x) < 1e-7] = 0.0
                self.x.append(x.astype(np.float32))
                self.y.append(any_within(event, steps)[ok])
                self.weight.append(weight / p[ok])
                self.month.append(month[ok])

    def joined(self):
        return (np.vstack(self.x), np.concatenate(self.y),
                np.concatenate(self.weight), np.concatenate(self.month))


def gather(series, rng):
    sample = Sample()
    for wind in series:
        sample.add(wind, 600, HORIZON_MIN[1:], LIMITS_KN, 0.15, 1.0, rng)
        sample.add(outages(wind, rng), 600, (20, 30, 50), LIMITS_KN, 0.05, 0.15, rng)
        fine = finer(wind, rng)
        limits = LIMITS_KN[::2] + rng.uniform(0, 1)
        sample.add(fine, 60, HORIZON_MIN, limits, 0.015, 0.1, rng)
    return sample.joined()


def boost(x, y, weight):
    settings = dict(objective="binary", num_leaves=LEAVES, learning_rate=0.07,
                    min_data_in_leaf=120, max_bin=127, bagging_fraction=0.7, bagging_freq=1,
                    feature_fraction=0.5, lambda_l2=10, num_threads=1, verbose=-1,
                    seed=3, deterministic=True, monotone_constraints=MONOTONE,
                    monotone_constraints_method="intermediate")
    return lightgbm.train(settings, lightgbm.Dataset(x, y, weight=weight), TREES)


def unseen(x, y, weight, month):
    """Raw log-odds of each row by trees that had not seen its month."""
    raw = np.empty(len(y))
    for fold in range(3):
        out = month % 3 == fold
        model = boost(x[~out], y[~out], weight[~out])
        raw[out] = model.predict(x[out], raw_score=True)
    return raw


def calibrate(raw, y, weight):
    """Knots of a rising curve from raw to calibrated log-odds (least log loss)."""
    knots = np.array([-8.0, -6.0, -5.0, -4.0, -3.0, -2.0, -1.2, -0.5, 0.2, 1.0])
    weight = weight / weight.sum()

    def curve(p):
        return p[0] + np.concatenate([[0.0], np.cumsum(p[1:])])

    def loss(p):
        z = np.interp(raw, knots, curve(p)) + 0.5 * np.minimum(raw - knots[0], 0) \
            + 0.5 * np.maximum(raw - knots[-1], 0)
        value = np.sum(weight * (np.logaddexp(0, z) - y * z))
        # Where few rows speak, stay near the straight line.
        return value + 1e-7 * np.sum((p[1:] - np.diff(knots)) ** 2)

    start = np.concatenate([[knots[0]], np.diff(knots)])
    bounds = [(None, None)] + [(0.2 * d, None) for d in np.diff(knots)]
    best = minimize(loss, start, method="L-BFGS-B", bounds=bounds)
    return knots, curve(best.x)


def scale_of(wind, dt):
    """The filter's level, trend and running scale, as aboard."""
    level, trend, f = damped_trend(wind, dt, LEVEL_Q, TREND_Q, DAMPING_S)
    reach, keep = DAMPING_S / 3600 * (1 - np.exp(-dt / DAMPING_S)), np.exp(-dt / SCALE_S)
    scale = np.full(len(wind), np.nan)
    now = np.nan
    for i in range(1, len(wind)):
        v = wind[i] - (level[i - 1] + reach * trend[i - 1])
        if not np.isnan(v):
            new = v * v / f[i]
            now = new if np.isnan(now) else keep * now + (1 - keep) * new
        scale[i] = now
    return level, trend, np.sqrt(scale)


SCALE_S = 10800.0


def band(series):
    """Tenth, middle and ninetieth percentile of what came, in scales from the filter."""
    low, middle, high = [], [], []
    parts = [(wind, *scale_of(wind, 600.0)) for wind in series]
    for minutes in BAND_MIN:
        k = minutes // 10
        reach = DAMPING_S / 3600 * (1 - np.exp(-minutes * 60 / DAMPING_S))
        z = np.concatenate([
            ((wind[k:] - (level + reach * trend)[:-k]) / scale[:-k])[wind[:-k] > 10]
            for wind, level, trend, scale in parts])
        z = z[np.isfinite(z)]
        low.append(np.quantile(z, 0.1))
        middle.append(np.quantile(z, 0.5))
        high.append(np.quantile(z, 0.9))
    return low, middle, high


def write(model, calibration, bands):
    root, feature, threshold, left, right, leaf = [], [], [], [], [], []
    for tree in model.dump_model()["tree_info"]:
        root.append(len(feature))
        nodes, leaves = [], []
        if "split_index" not in tree["tree_structure"]:
            raise SystemExit("a tree without a split")

        def walk(node):
            if "split_index" in node:
                nodes.append(node)
                walk(node["left_child"])
                walk(node["right_child"])
            else:
                leaves.append(node)

        walk(tree["tree_structure"])
        place = {n["split_index"]: i for i, n in enumerate(nodes)}
        leaf_place = {n["leaf_index"]: i for i, n in enumerate(leaves)}

        def child(node):
            return (place[node["split_index"]] if "split_index" in node
                    else -1 - leaf_place[node["leaf_index"]])

        for n in nodes:
            assert n["decision_type"] == "<="
            feature.append(n["split_feature"])
            threshold.append(n["threshold"])
            left.append(child(n["left_child"]))
            right.append(child(n["right_child"]))
        leaf.extend(n["leaf_value"] for n in leaves)

    lines = []

    def array(doc, name, kind, values, form):
        lines.append(f"/// {doc}")
        lines.append(f"pub(super) const {name}: [{kind}; {len(values)}] = [")
        row = ""
        for v in values:
            text = form(v) + ","
            if len(row) + len(text) > 90:
                lines.append("    " + row.rstrip())
                row = ""
            row += text + " "
        lines.append("    " + row.rstrip())
        lines.append("];")

    def f32(v):
        return np.format_float_positional(np.float32(v), unique=True, trim="0")

    def split(v):
        # A split at nothing would turn on rounding: a millionth of the limit.
        return f32(np.copysign(max(abs(v), 1e-6), v))

    def f64(v):
        return f"{v:.6f}"

    def whole(v):
        return str(int(v))

    array("Look-aheads, minutes, between which log-odds are joined by lines.",
          "HORIZON_MIN", "f64", HORIZON_MIN, lambda v: f"{v:.1f}")
    array("Calibration: log-odds as the trees give them.",
          "CALIBRATION_RAW", "f64", calibration[0], f64)
    array("Calibration: what they were worth on months the trees had not seen.",
          "CALIBRATION_LOG_ODDS", "f64", calibration[1], f64)
    array("Look-aheads, minutes, of the likely band.", "BAND_MIN", "f64", BAND_MIN,
          lambda v: f"{v:.1f}")
    array("Tenth percentile of the wind ahead, in scales from the filter's forecast.",
          "BAND_LOW", "f64", bands[0], f64)
    array("Its middle.", "BAND_MIDDLE", "f64", bands[1], f64)
    array("Its ninetieth percentile.", "BAND_HIGH", "f64", bands[2], f64)
    lines.append("/// Growth of the level's variance per hour, in scatters of a 10-minute mean.")
    lines.append(f"pub(super) const LEVEL_Q: f64 = {LEVEL_Q};")
    lines.append("/// Growth of the trend's variance per hour, the same unit per hour squared.")
    lines.append(f"pub(super) const TREND_Q: f64 = {TREND_Q};")
    lines.append("/// Seconds in which a trend fades to 1/e.")
    lines.append(f"pub(super) const DAMPING_S: f64 = {DAMPING_S};")
    lines.append("/// Seconds over which the filter's scale is averaged.")
    lines.append(f"pub(super) const SCALE_S: f64 = {SCALE_S};")
    array("First node of each tree.", "ROOT", "u16", root, whole)
    array("What a node looks at: a column of the features, the horizon last.",
          "FEATURE", "u8", feature, whole)
    array("A node goes left at or under this.", "THRESHOLD", "f32", threshold, split)
    array("Left child: a node of the tree, or -1 - leaf.", "LEFT", "i8", left, whole)
    array("Right child: a node of the tree, or -1 - leaf.", "RIGHT", "i8", right, whole)
    array("Log-odds of the leaves, tree after tree.", "LEAF", "f32", leaf, f32)
    head = [
        "//! Fitted numbers of the outlook. Generated, do not edit:",
        "//! `python tests/reference/outlook/fit_outlook.py`.",
        "//!",
        f"//! On: PyPI `{farm.PACKAGE}`, `{farm.INSIDE}`, four turbines, 2014 only",
        "//! (La Haute Borne open data, ENGIE, Etalab Open Licence 2.0), and invented",
        "//! 1-minute series with the same 10-minute means.",
        f"//! {len(root)} trees, {len(feature)} nodes; columns: "
        ]
    words, row = ", ".join(NAMES).split(" "), "//!"
    for word in words:
        if len(row) + 1 + len(word) > 80:
            head.append(row)
            row = "//!"
        row += " " + word
    head += [row + ".", ""]
    FITTED.write_text("\n".join(head + lines) + "\n")


def main():
    rng = np.random.default_rng(SEED)
    series = [wind[t < farm.YEAR_2015] for t, wind in farm.turbines().values()]
    x, y, weight, month = gather(series, rng)
    print("rows", x.shape, "passed", y.mean().round(4), flush=True)
    calibration = calibrate(unseen(x, y, weight, month), y, weight)
    print("calibration", *np.round(calibration, 3), flush=True)
    model = boost(x, y, weight)
    write(model, calibration, band(series))
    tables = Tables()
    some = x[:: max(1, len(x) // 20000)].astype(float)
    worst = np.abs(tables.raw(some) - model.predict(some, raw_score=True)).max()
    print("written", FITTED.name, "largest difference to the fit", worst)


if __name__ == "__main__":
    main()
