"""Reads the fitted tables back from the Rust file and works the odds from them.

So the odds in the reference table, the figures in `judge.py` and the odds
aboard come from one set of numbers.
"""

from __future__ import annotations

import pathlib
import re

import numba
import numpy as np

FITTED = (pathlib.Path(__file__).resolve().parents[3]
          / "firmware/core/src/outlook/fitted.rs")


class Tables:
    """The constants of `fitted.rs` by name."""

    def __init__(self, path: pathlib.Path = FITTED):
        text = path.read_text()
        for name, kind, body in re.findall(
                r"const (\w+): ([^=]+) = (\[[^;]*\]|[^;\[]+);", text):
            numbers = [float(x) for x in re.findall(r"[-+.\w]+", body)]
            array = "[" in kind
            setattr(self, name.lower(), np.array(numbers) if array else numbers[0])
        f32 = np.float32
        self.threshold = self.threshold.astype(f32).astype(float)
        self.leaf = self.leaf.astype(f32).astype(float)
        for name in ("root", "feature", "left", "right"):
            setattr(self, name, getattr(self, name).astype(np.int64))

    def raw(self, x: np.ndarray) -> np.ndarray:
        """Forest sum for rows already divided by the limit, horizon last."""
        return _raw(np.ascontiguousarray(x, float), self.root, self.feature,
                    self.threshold, self.left, self.right, self.leaf)

    def calibrated(self, raw: np.ndarray) -> np.ndarray:
        """Raw log-odds to calibrated log-odds: lines between knots."""
        k, v = self.calibration_raw, self.calibration_log_odds
        mid = np.interp(raw, k, v)
        low = v[0] + (raw - k[0]) * (v[1] - v[0]) / (k[1] - k[0])
        high = v[-1] + (raw - k[-1]) * (v[-1] - v[-2]) / (k[-1] - k[-2])
        return np.where(raw < k[0], low, np.where(raw > k[-1], high, mid))

    def odds(self, features: np.ndarray, latest: np.ndarray, limit: float,
             horizon_min: float) -> np.ndarray:
        """Odds per row; NaN where the row has no current block."""
        out = np.full(len(features), np.nan)
        ok = ~np.isnan(features[:, 0])
        x = features[ok] / limit
        knots = self.horizon_min
        h = min(horizon_min, knots[-1])

        def at(minutes):
            return self.calibrated(
                self.raw(np.column_stack([x, np.full(len(x), minutes)])))

        if h <= knots[0]:
            z = at(knots[0]) + np.log(h / knots[0])
        else:
            j = int(np.searchsorted(knots, h))
            z = at(knots[j])
            if knots[j] != h:
                z0 = at(knots[j - 1])
                z = z0 + (z - z0) * (h - knots[j - 1]) / (knots[j] - knots[j - 1])
        p = 1.0 / (1.0 + np.exp(-z))
        past = (features[ok, 0] >= limit) & (latest[ok] >= limit)
        out[ok] = np.where(past, 1.0, p)
        return out


@numba.njit(cache=True)
def _raw(x, root, feature, threshold, left, right, leaf):
    out = np.zeros(len(x))
    for r in range(len(x)):
        total = 0.0
        for t in range(len(root)):
            base = root[t]
            node = 0
            while node >= 0:
                n = base + node
                node = left[n] if x[r, feature[n]] <= threshold[n] else right[n]
            total += leaf[base + t + (-1 - node)]
        out[r] = total
    return out
