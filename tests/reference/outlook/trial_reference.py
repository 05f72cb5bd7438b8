"""Judges calls on a wind series by the project's trial definitions.

Independent of the Rust evaluator on purpose: it is what that one is checked
against. All of it is arithmetic on one regular series of judged wind.

Definitions, exactly as used here (times in seconds, `dt` the series' step):

* Grid: samples are laid on a regular grid `t0 + k*dt`; a slot without a sample
  is a gap (NaN). NaN compares false, so it is neither over nor under L.
* Crossing at k: wind[k] >= L; the n = ceil(1800/dt) samples before k all exist
  and are all < L; and of the n samples k, k+1 .. k+n-1 (the crossing itself is
  the first of them) at least half are >= L: count*2 >= n, so 2 of 3 at 10 min.
  A missing sample afterwards counts as not over.
* Warned in time: the call stood at sample k - T/dt. A sample that is missing
  there, or lies before the series, has no call.
* Idle: samples with a call, wind < L, and no crossing at any sample in
  (k, k + (T + 3600)/dt]. Each is worth dt. Samples whose look-ahead runs past
  the end of the series are left out of idle.
* Minutes per 24 h: idle minutes over the days for which a sample exists
  (samples * dt), averaged over cells.
* Pooled: crossings of all (L, T) together over one swept setting; idle is the
  mean over the cells.
* Score: a call stands where score >= setting, without hysteresis, so one sweep
  is one sort.
* Odds asked for: horizon T + dt.
* Passed for good within h (the event of the odds): some k' in (k, k + h/dt]
  with wind[k'] >= L and at least half of the n samples from k' on >= L. Unlike
  a crossing it does not ask for 30 min under L before, so it is a property of
  the wind ahead alone and can only become more likely when all wind is raised.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

KN_PER_MS = 3600.0 / 1852.0
LIMITS_KN = (16.0, 20.0, 24.0, 28.0, 32.0)
CALL_TIMES_S = (600, 1200, 2400)
IDLE_LEVELS = (15.0, 30.0, 45.0, 60.0, 90.0, 120.0)
SETTLE_S = 1800
IDLE_AFTER_S = 3600


def load_csv(path: str) -> tuple[np.ndarray, np.ndarray, int]:
    """Reads `unix_s,speed_ms|speed_kn,..` onto its regular grid, in knots."""
    frame = pd.read_csv(path)
    knots = (frame["speed_kn"] if "speed_kn" in frame
             else frame["speed_ms"] * KN_PER_MS)
    return to_grid(frame["unix_s"].to_numpy(np.int64), knots.to_numpy(float))


def to_grid(unix_s: np.ndarray, value: np.ndarray, dt: int | None = None
            ) -> tuple[np.ndarray, np.ndarray, int]:
    """Lays samples on a regular grid; gaps become NaN; the last wins."""
    if dt is None:
        dt = int(np.median(np.diff(unix_s)))
    slot = np.round((unix_s - unix_s[0]) / dt).astype(np.int64)
    out = np.full(slot.max() + 1, np.nan)
    out[slot] = value
    return unix_s[0] + dt * np.arange(len(out)), out, dt


def windows(wind: np.ndarray, limit: float, dt: int) -> tuple[np.ndarray, np.ndarray]:
    """For each k: over for good from k on; and 30 min all under before k."""
    n = -(-SETTLE_S // dt)
    over = (wind >= limit)
    under = (wind < limit)
    ahead = np.concatenate([np.cumsum(over), np.full(n, over.sum())])
    count = np.empty(len(wind), int)
    total = np.concatenate([[0], np.cumsum(over)])
    idx = np.arange(len(wind))
    count = total[np.minimum(idx + n, len(wind))] - total[idx]
    good = over & (2 * count >= n)
    under_total = np.concatenate([[0], np.cumsum(under)])
    before = np.zeros(len(wind), bool)
    before[n:] = (under_total[n:-1] - under_total[:-n - 1]) == n
    return good, before


def crossings(wind: np.ndarray, limit: float, dt: int) -> np.ndarray:
    """Indices of crossings."""
    good, before = windows(wind, limit, dt)
    return np.flatnonzero(good & before)


def any_within(flag: np.ndarray, steps: int) -> np.ndarray:
    """For each k whether flag holds anywhere in (k, k + steps]."""
    total = np.concatenate([[0], np.cumsum(flag)])
    idx = np.arange(len(flag))
    return total[np.minimum(idx + steps + 1, len(flag))] - total[idx + 1] > 0


class Cell:
    """One (limit, call time) on one series: who must be warned, what is idle."""

    def __init__(self, wind: np.ndarray, limit: float, call_time: int, dt: int,
                 keep: np.ndarray | None = None):
        cross = crossings(wind, limit, dt)
        flag = np.zeros(len(wind), bool)
        flag[cross] = True
        steps = (call_time + IDLE_AFTER_S) // dt
        idle = (wind < limit) & ~any_within(flag, steps)
        idle[len(wind) - steps:] = False
        if keep is not None:
            cross = cross[keep[cross]]
            idle &= keep
            self.days = np.count_nonzero(keep & ~np.isnan(wind)) * dt / 86400.0
        else:
            self.days = np.count_nonzero(~np.isnan(wind)) * dt / 86400.0
        self.limit, self.call_time, self.dt = limit, call_time, dt
        self.cross, self.idle = cross, idle
        self.at = cross - call_time // dt

    def scores(self, score: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Scores at the moments that matter: T before crossings, and idle."""
        at = np.where(self.at >= 0, self.at, 0)
        warned = np.where(self.at >= 0, score[at], -np.inf)
        warned = np.where(np.isnan(warned), -np.inf, warned)
        idle = score[self.idle]
        return warned, idle[~np.isnan(idle)]


def share_at(cells: list[tuple[np.ndarray, np.ndarray, float, int]],
             levels=IDLE_LEVELS) -> np.ndarray:
    """Share warned at each idle level (min per 24 h and cell), one setting.

    `cells` holds (scores at warnings, scores while idle, days, dt).
    The idle curve is interpolated linearly between settings.
    """
    warn = np.sort(np.concatenate([c[0] for c in cells]))
    idle = np.concatenate([c[1] for c in cells])
    minutes = np.concatenate([np.full(len(c[1]), c[3] / 60.0 / c[2] / len(cells))
                              for c in cells])
    order = np.argsort(-idle, kind="stable")
    idle, minutes = idle[order], np.cumsum(minutes[order])
    last = np.append(idle[1:] != idle[:-1], True)
    idle, minutes = idle[last], minutes[last]
    share = 1.0 - np.searchsorted(warn, idle, side="left") / max(len(warn), 1)
    return np.interp(levels, np.concatenate([[0.0], minutes]),
                     np.concatenate([[0.0], share]))


def fixed_fraction(wind: np.ndarray, limit: float) -> np.ndarray:
    """The fixed pre-alarm as a fraction of the limit."""
    return wind / limit


def fixed_knots(wind: np.ndarray, limit: float) -> np.ndarray:
    """The fixed pre-alarm as knots below the limit."""
    return wind - limit
