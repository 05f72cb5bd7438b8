"""Writes `tests/data/outlook-reference.csv`: what Rust must agree with to 1e-9.

    reference_table.py

Odds by `tables.py` from `firmware/core/src/outlook/fitted.rs` on invented
series: wandering ones of 15-, 10- and 1-minute means with gaps, and a cold start.
"""

from __future__ import annotations

import numpy as np

import features
from fit_outlook import FITTED, ROOT
from tables import Tables, between

ASKED = ((16.0, 11.0), (20.0, 20.0), (24.0, 50.0), (20.0, 0.5))
OUT = ROOT / "tests/data/outlook-reference.csv"


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
    quarter = 16 + 4 * np.sin(np.arange(120) / 9) + rng.normal(0, 1.2, 120)
    return [("ten", np.round(ten, 3), 600), ("one", np.round(one, 3), 60),
            ("cold", np.round(cold, 3), 60), ("quarter", np.round(quarter, 3), 900)]


def main():
    tables = Tables(FITTED)
    lines = ["series,at_s,interval_s,mean_kn,"
             + ",".join(f"odds_{limit:.0f}kn_{h * 60:.0f}s" for limit, h in ASKED)]
    for name, wind, step_s in series():
        table = features.rows(wind, step_s)
        is_full = features.is_full(wind, step_s)
        odds = []
        for limit, minutes in ASKED:
            z = between(tables.log_odds(table, limit, step_s), minutes)
            passed = is_full & (table[:, 0] >= limit)
            odds.append(np.where(passed, 1.0, 1 / (1 + np.exp(-z))))
        for i in np.flatnonzero(np.isfinite(wind)):
            cells = [f"{one[i]:.12f}" for one in odds]
            lines.append(f"{name},{i * step_s},{step_s},{wind[i]:.3f}," + ",".join(cells))
    OUT.write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
