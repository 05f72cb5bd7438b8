"""Fits the plain logistic on 2014 and writes it as Rust.

    .venv/bin/python fit_plain.py

* `firmware/core/src/outlook/untrended.rs`: the odds of a level of which nothing
  else is known, for a wind read off by hand: gap and look-ahead alone.

On the farm's four turbines in 2014, as the outlook; 2015 is never read.
"""

from __future__ import annotations

import pathlib

import numpy as np
from sklearn.linear_model import LogisticRegression

import farm
from features import DAMPING_S
from fit_outlook import LIMITS_KN, passed
from trial_reference import any_within

ROOT = pathlib.Path(__file__).resolve().parents[3]
UNTRENDED = ROOT / "firmware/core/src/outlook/untrended.rs"
HORIZON_MIN = (10, 20, 30, 50, 70, 100)
# Farther off than this says nothing of near the limit, where it is asked.
LEAST_RATIO = 0.4


def untrended() -> np.ndarray:
    """Intercept, gap, gap squared, log of minutes, their product."""
    xs, ys = [], []
    for t, wind in farm.turbines().values():
        wind = wind[t < farm.YEAR_2015]
        for limit in LIMITS_KN:
            event = passed(wind, limit, farm.DT)
            ok = (wind < limit) & (wind > LEAST_RATIO * limit)
            gap = (1 - wind / limit)[ok]
            for minutes in HORIZON_MIN:
                log_t = np.full(len(gap), np.log(minutes / 10))
                xs.append(np.column_stack([gap, gap ** 2, log_t, log_t * gap]))
                ys.append(any_within(event, minutes * 60 // farm.DT)[ok])
    x, y = np.vstack(xs), np.concatenate(ys)
    model = LogisticRegression(C=1e6, max_iter=1000).fit(x, y)
    a, g, gg, h, hg = np.concatenate([model.intercept_, model.coef_[0]])
    # Seamanship: nearer the limit or more time is never less likely.
    at = np.linspace(0, 1 - LEAST_RATIO, 100)
    for minutes in (5, *HORIZON_MIN):
        assert (g + 2 * gg * at + hg * np.log(minutes / 10) < 0).all(), "not monotone"
    assert (h + hg * at > 0).all(), "not monotone"
    for minutes in HORIZON_MIN:
        sel = np.isclose(x[:, 2], np.log(minutes / 10))
        for low in (0.4, 0.3, 0.2, 0.1, 0.05, 0.0):
            s = sel & (x[:, 0] >= low) & (x[:, 0] < low + 0.05)
            said = 1 / (1 + np.exp(-(x[s] @ model.coef_[0] + model.intercept_[0])))
            print(f"{minutes} min, gap {low:.2f}: said {said.mean():.4f} came {y[s].mean():.4f}")
    return np.array([a, g, gg, h, hg])


def write(path: pathlib.Path, words: list[str], doc: str, name: str, kind: str, numbers):
    rows = "".join(f"    {v:.6f},\n" for v in numbers)
    path.write_text("\n".join([
        *(f"//! {line}".rstrip() for line in words), "//!",
        f"//! On: PyPI `{farm.PACKAGE}`, `{farm.INSIDE}`,",
        "//! four turbines, 2014 only (La Haute Borne open data, ENGIE, Etalab Open",
        "//! Licence 2.0).", "",
        f"/// {doc}", f"pub({kind}) const {name}: [f64; {len(numbers)}] = [\n{rows}];\n"]))


def main():
    write(UNTRENDED,
          ["Fitted numbers of a level without trend. Generated, do not edit:",
           "`python tests/reference/outlook/fit_plain.py`."],
          "Log-odds: intercept, gap, gap squared, log of minutes over 10, its product\n"
          "/// with the gap. The gap is 1 less level over limit.",
          "LOG_ODDS", "super", untrended())


if __name__ == "__main__":
    main()
