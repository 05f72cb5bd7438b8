"""Writes what the hindcast in Rust must agree with: `tests/data/hindcast/`.

    ../outlook/.venv/bin/python make.py

Two invented series, ten-minute and one-minute, each with gaps, and beside them
what `../outlook/trial_reference.py` makes of them: crossings of every cell, and
share warned at each idle level for the fixed pre-alarm in both forms, for the
logistic reference and for the odds of `../outlook/model.py`.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "outlook"))

from features import NAMES, features  # noqa: E402
from model import Tables  # noqa: E402
from trial_reference import IDLE_LEVELS, Cell, share_at, to_grid  # noqa: E402

FITTED = HERE.parents[2] / "firmware/hindcast/src/logistic_fitted.rs"
LOGISTIC = ["rise10m", "rise30m", "over_mean1h", "over_mean3h", "over_mean24h",
            "sd1h", "sd3h"]
OUT = HERE.parents[1] / "data/hindcast"
LIMITS_KN = (14.0, 18.0, 22.0)
CALL_TIMES_S = (600, 1200, 2400)
START_S = 1_700_000_400


def wander(rng, count, dt, noise, swing_h):
    """A wind that comes and goes, in knots."""
    hours = np.arange(count) * dt / 3600.0
    drift = np.cumsum(rng.normal(0, 0.28 * np.sqrt(dt / 600.0), count))
    swing = 4.5 * np.sin(hours / swing_h) + 2.5 * np.sin(hours / 7.7 + 1.0)
    # Held near its middle, so that limits are crossed again and again.
    drift -= np.convolve(drift, np.ones(201) / 201, mode="same")
    return np.clip(14.5 + swing + drift + rng.normal(0, noise, count), 0.0, 40.0)


def series():
    rng = np.random.default_rng(7)
    ten = wander(rng, 14 * 144, 600, 0.7, 3.1)
    ten[300:304] = np.nan
    ten[900] = np.nan
    # Under a day: past that the firmware forgets all, the reference's filter does not.
    ten[1400:1530] = np.nan
    one = wander(rng, 30 * 60, 60, 0.25, 0.6)
    one[700:703] = np.nan
    one[1000:1060] = np.nan
    return [("ten-minutes", ten, 600), ("one-minute", one, 60)]


def logistic(table, limit, call_time):
    """The reference's odds with the weights that the hindcast carries."""
    body = FITTED.read_text().split("= [")[1].split("];")[0]
    weights = np.array([float(v) for v in body.replace(",", " ").split()])
    gap = 1 - table[:, 0] / limit
    log_t = np.full(len(table), np.log(call_time / 600))
    columns = [NAMES.index(name) for name in LOGISTIC]
    x = np.column_stack([np.ones(len(gap)), gap, gap ** 2, table[:, columns] / limit,
                         log_t, log_t * gap])
    return 1 / (1 + np.exp(-(x @ weights)))


def judge(wind, dt):
    tables = Tables()
    table = features(wind, dt, tables.level_q, tables.trend_q)
    cells, parts = [], {"fixed_fraction": [], "fixed_knots": [], "logistic": [], "odds": []}
    for limit in LIMITS_KN:
        for call_time in CALL_TIMES_S:
            cell = Cell(wind, limit, call_time, dt)
            odds = tables.odds(table, wind, limit, (call_time + dt) / 60)
            scores = {"fixed_fraction": wind / limit, "fixed_knots": wind - limit,
                      "logistic": logistic(table, limit, call_time), "odds": odds}
            for name, score in scores.items():
                warned, idle = cell.scores(score)
                parts[name].append((warned, idle, cell.days, dt))
            cells.append({
                "limit_kn": limit, "call_time_s": call_time,
                "crossings_unix_s": [START_S + int(k) * dt for k in cell.cross],
                "idle_slots": int(cell.idle.sum()),
                "odds_sum": float(np.nansum(odds)),
                "odds_known": int(np.count_nonzero(~np.isnan(odds))),
            })
    shares = {name: [float(v) for v in share_at(part)] for name, part in parts.items()}
    return {"cells": cells, "levels": IDLE_LEVELS, "share_warned": shares}


def main():
    OUT.mkdir(exist_ok=True)
    for name, wind, dt in series():
        wind = np.round(wind, 2)
        heard = np.flatnonzero(~np.isnan(wind))
        times = START_S + heard * dt
        lines = ["unix_s,speed_kn"]
        lines += [f"{t},{v:.2f}" for t, v in zip(times, wind[heard])]
        (OUT / f"{name}.csv").write_text("\n".join(lines) + "\n")
        _, laid, found = to_grid(times, wind[heard])
        assert found == dt
        expected = judge(laid, dt)
        print(name, expected["share_warned"],
              sum(len(c["crossings_unix_s"]) for c in expected["cells"]), "judged")
        (OUT / f"{name}.json").write_text(json.dumps(expected, indent=1) + "\n")


if __name__ == "__main__":
    main()
