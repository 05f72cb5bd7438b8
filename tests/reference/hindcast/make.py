"""Writes what the hindcast in Rust must agree with: `tests/data/hindcast/`.

    python3 make.py        # needs numpy

Four invented series (one minute, steps of 64 to 66 s, ten minutes, a quarter of
an hour), each with gaps, and beside them, worked by plain loops from the words
of the definitions: crossings, those that an alarm could miss, idle slots, and
the share warned at each idle level for the fixed pre-alarm in both forms and
for odds that are a formula of the wind (`odds` here and in the test). Means and
scores are rounded, so that equal ones are equal in whatever order they came.
"""

import collections
import json
import math
from pathlib import Path

import numpy as np

OUT = Path(__file__).parents[2] / "data/hindcast"
LIMITS_KN = (14.0, 18.0, 22.0)
CALL_TIMES_S = (600, 1200, 2400)
LEVELS = (5, 10, 15, 30, 60, 120)
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
    for first, last in ((300, 304), (900, 901), (1400, 1530)):
        ten[first:last] = np.nan
    one = wander(rng, 30 * 60, 60, 0.25, 0.6)
    one[700:703] = np.nan
    one[1000:1060] = np.nan
    uneven = wander(rng, 30 * 60, 65, 0.25, 0.6)
    uneven[400:404] = np.nan
    quarter = wander(rng, 14 * 96, 900, 0.7, 3.1)
    quarter[500:503] = np.nan
    regular = lambda wind, dt: START_S + np.arange(len(wind)) * dt
    steps = rng.choice((64, 65, 65, 65, 66), len(uneven))
    return [("ten-minutes", ten, regular(ten, 600)), ("one-minute", one, regular(one, 60)),
            ("uneven", uneven, START_S + np.cumsum(steps)),
            ("quarter-hour", quarter, regular(quarter, 900))]


def laid(times, wind):
    """On the grid of the usual step and phase."""
    step = collections.Counter(b - a for a, b in zip(times, times[1:])).most_common(1)[0][0]
    phase = collections.Counter(t % step for t in times).most_common(1)[0][0]
    start = (times[0] - phase) // step * step + phase
    out = [math.nan] * ((times[-1] - start) // step + 2)
    for t, kn in zip(times, wind):
        out[round((t - start) / step)] = kn
    return step, start, out


def judged(wind, step):
    each = 600 // step
    if each <= 1:
        return wind
    out = []
    for k in range(len(wind)):
        known = [kn for kn in wind[max(0, k + 1 - each):k + 1] if kn == kn]
        whole = k + 1 >= each and len(known) >= 0.7 * each
        out.append(round(sum(known) / len(known), 9) if whole else math.nan)
    return out


def odds(slot, kn, limit):
    return round(1 / (1 + math.exp(-12 * (kn / limit - 1) - 0.8 * math.sin(0.37 * slot))), 6)


def cell(wind, said, limit, call_time, step):
    """Crossings, missable ones, and (slot, is idle) of every slot with odds."""
    count, settle, due = len(wind), 1800 // step, max(1, round(call_time / step))
    over = [kn >= limit for kn in wind]
    crossings = [k for k in range(settle, count - settle + 1)
                 if k < count and over[k] and all(kn < limit for kn in wind[k - settle:k])
                 and 2 * sum(over[k:k + settle]) >= settle]
    lingers = [any(over[max(0, k - settle):k + 1]) for k in range(count)]
    missable = [k for k in crossings if k >= due and not lingers[k - due]]
    ahead = due + 3600 // step
    idle = []
    for k in range(count):
        known = sum(kn == kn for kn in wind[k + 1:k + 1 + ahead])
        soon = any(k < c <= k + ahead for c in crossings)
        if (wind[k] < limit and not lingers[k] and not soon and known >= 0.75 * ahead):
            idle.append(k)
    days = sum(kn == kn for kn in wind) * step / 86400
    return crossings, missable, idle, due, days


def shares(parts, step):
    """At each level, straight between settings; every score is a setting."""
    warned = sum((w for w, _, _ in parts), [])
    idle = sum((i for _, i, _ in parts), [])
    days = sum(d for _, _, d in parts)
    xs, ys = [], []
    for setting in sorted({s for s in warned + idle if s > -math.inf}, reverse=True):
        xs.append(sum(s >= setting for s in idle) * step / 60 / days)
        ys.append(sum(s >= setting for s in warned) / len(warned))
    return [float(np.interp(level, xs, ys)) for level in LEVELS]


def judge(times, wind):
    step, start, raw = laid(times, wind)
    mean = judged(raw, step)
    cells, parts = [], {"fixed_fraction": [], "fixed_knots": [], "odds": []}
    for limit in LIMITS_KN:
        said = [odds(k, kn, limit) if kn == kn else math.nan for k, kn in enumerate(raw)]
        for call_time in CALL_TIMES_S:
            crossings, missable, idle, due, days = cell(mean, said, limit, call_time, step)
            cells.append({"limit_kn": limit, "call_time_s": call_time, "idle_slots": len(idle),
                          "crossings_unix_s": [start + k * step for k in crossings],
                          "missable": len(missable)})
            scores = {"fixed_fraction": lambda k: round(mean[k] / limit, 9),
                      "fixed_knots": lambda k: round(mean[k] - limit, 9), "odds": lambda k: said[k]}
            asked = lambda k, of: of(k) if said[k] == said[k] and of(k) == of(k) else -math.inf
            for name, of in scores.items():
                if crossings:
                    scored = [asked(k, of) for k in idle]
                    parts[name].append(([asked(k - due, of) for k in missable],
                                        [s for s in scored if s > -math.inf], days))
    found = {name: shares(part, step) for name, part in parts.items()}
    return {"step_s": step, "cells": cells, "share_warned": found}


def main():
    OUT.mkdir(exist_ok=True)
    for name, wind, times in series():
        wind = np.round(wind, 2)
        heard = np.flatnonzero(~np.isnan(wind))
        times, wind = [int(t) for t in times[heard]], [float(kn) for kn in wind[heard]]
        lines = ["unix_s,speed_kn"] + [f"{t},{kn:.2f}" for t, kn in zip(times, wind)]
        (OUT / f"{name}.csv").write_text("\n".join(lines) + "\n")
        expected = judge(times, wind)
        print(name, expected["step_s"], sum(c["missable"] for c in expected["cells"]), "judged",
              {k: [round(v, 3) for v in share] for k, share in expected["share_warned"].items()})
        (OUT / f"{name}.json").write_text(json.dumps(expected, indent=1) + "\n")


if __name__ == "__main__":
    main()
