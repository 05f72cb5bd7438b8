"""Writes `tests/data/outlook-reference.csv`: what Rust must agree with to 1e-6.

    .venv/bin/python reference_table.py

Level and trend come from statsmodels' Kalman filter given the matrices of
`firmware/core/src/outlook/filter.rs`, not from our own code; the odds from
`model.py`. The series are invented: a wandering one of 10-minute means with
gaps, one of 1-minute means, and a short cold start.
"""

from __future__ import annotations

import numpy as np
from statsmodels.tsa.statespace.kalman_filter import KalmanFilter

from features import DAMPING_S, damped_trend, features
from model import FITTED, Tables

ASKED = ((16.0, 11.0), (20.0, 20.0), (24.0, 50.0))
OUT = FITTED.parents[4] / "tests/data/outlook-reference.csv"


def by_statsmodels(wind, dt, level_q, trend_q):
    """Filtered level and trend, started on the first sample."""
    hours = dt / 3600.0
    fade = np.exp(-dt / DAMPING_S)
    reach = DAMPING_S / 3600.0 * (1 - fade)
    kalman = KalmanFilter(k_endog=1, k_states=2)
    kalman["design"] = np.array([[1.0, 0.0]])
    kalman["transition"] = np.array([[1.0, reach], [0.0, fade]])
    kalman["selection"] = np.eye(2)
    kalman["state_cov"] = np.diag([level_q * hours, trend_q * hours])
    kalman["obs_cov"] = np.array([[600.0 / dt]])
    # State after the first sample, moved on to the second.
    start = np.array([wind[0], 0.0])
    p = np.diag([600.0 / dt, trend_q * DAMPING_S / 3600.0 / 2.0])
    f = kalman["transition"]
    kalman.initialize_known(f @ start, f @ p @ f.T + kalman["state_cov"])
    kalman.bind(wind[1:].copy())
    result = kalman.filter()
    return np.column_stack([start, result.filtered_state]).T


def series():
    rng = np.random.default_rng(20)
    ten = 17 + np.cumsum(rng.normal(0, 0.9, 200)) * 0.7
    ten = np.clip(ten + 4 * np.sin(np.arange(200) / 25), 3, 30)
    ten[40:43] = np.nan
    ten[90] = np.nan
    ten[120:150] = np.nan
    one = 15 + 5 * np.sin(np.arange(240) / 70) + rng.normal(0, 0.9, 240)
    one[100:104] = np.nan
    one[180:200] = np.nan
    cold = np.linspace(11, 15.5, 16) + rng.normal(0, 0.5, 16)
    return [("ten", np.round(ten, 3), 600), ("one", np.round(one, 3), 60),
            ("cold", np.round(cold, 3), 60)]


def main():
    tables = Tables()
    lines = ["series,at_s,interval_s,mean_kn,level_kn,trend_kn_per_hour,"
             + ",".join(f"odds_{limit:.0f}kn_{h * 60:.0f}s" for limit, h in ASKED)]
    for name, wind, dt in series():
        state = by_statsmodels(wind, dt, tables.level_q, tables.trend_q)
        level, trend, _ = damped_trend(wind, float(dt), tables.level_q, tables.trend_q,
                                       DAMPING_S)
        print(name, "filter against statsmodels",
              np.abs(np.column_stack([level, trend]) - state).max())
        table = features(wind, dt, tables.level_q, tables.trend_q)
        odds = [tables.odds(table, wind, limit, h) for limit, h in ASKED]
        for i in np.flatnonzero(~np.isnan(wind)):
            cells = [f"{state[i, 0]:.9f}", f"{state[i, 1]:.9f}"]
            cells += ["" if np.isnan(o[i]) else f"{o[i]:.9f}" for o in odds]
            lines.append(f"{name},{i * dt},{dt},{wind[i]:.3f}," + ",".join(cells))
    OUT.write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
