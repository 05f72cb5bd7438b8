"""What counts as warned in time and as idle, for a series on its grid.

* Judged wind: the running mean of ten minutes (seven of ten known); a series of
  a coarser step as it is.
* Crossing: the judged wind is at or over L, after 30 min known and all under L,
  and is there for at least half of the 30 min that follow.
* Warned in time: a call stood at the call time T before the crossing. Crossings
  for which that moment lies within 30 min after a moment over L are left out:
  any alarm that lingers stands there.
* Idle: minutes with a call, under L, without a crossing within T + 60 min.
* Neither: minutes within 30 min after a moment over L, and those after which
  less than three quarters of T + 60 min are known.
"""

from __future__ import annotations

import numpy as np

IDLE_MIN = (5, 10, 15, 30, 60, 120)
CALL_TIMES_MIN = (10, 20, 40)
LIMITS_KN = (12.0, 16.0, 20.0, 24.0, 28.0)


def judged(wind: np.ndarray, step_s: int) -> np.ndarray:
    """The wind that must cross."""
    n = 600 // step_s
    if n <= 1:
        return wind
    known = np.isfinite(wind)
    total = np.concatenate([[0.0], np.cumsum(np.where(known, wind, 0.0))])
    count = np.concatenate([[0], np.cumsum(known)])
    out = np.full(len(wind), np.nan)
    count = count[n:] - count[:-n]
    mean = (total[n:] - total[:-n]) / np.maximum(count, 1)
    out[n - 1:] = np.where(count >= 0.7 * n, mean, np.nan)
    return out


def crossings(judged: np.ndarray, limit: float, step_s: int) -> np.ndarray:
    """Places of the crossings."""
    n = 1800 // step_s
    over = np.where(np.isnan(judged), False, judged >= limit)
    under = np.concatenate([[0], np.cumsum(judged < limit)])
    above = np.concatenate([[0], np.cumsum(over)])
    at = np.flatnonzero(over)
    at = at[(at >= n) & (at + n <= len(judged))]
    return at[(under[at] - under[at - n] == n) & (above[at + n] - above[at] >= -(-n // 2))]


def hovers(judged: np.ndarray, limit: float, step_s: int) -> np.ndarray:
    """Moments over a limit and the 30 min after them."""
    over = np.where(np.isnan(judged), False, judged >= limit)
    count = np.concatenate([[0], np.cumsum(over)])
    at = np.arange(len(judged))
    return count[at + 1] - count[np.maximum(0, at - 1800 // step_s)] > 0


def known_ahead(judged: np.ndarray, n: int) -> np.ndarray:
    """Share known of the n samples after each."""
    count = np.concatenate([[0], np.cumsum(np.isfinite(judged))])
    at = np.arange(len(judged))
    return (count[np.minimum(at + 1 + n, len(judged))] - count[at + 1]) / n


class Cell:
    """One limit and call time on a series: which samples count as what."""

    def __init__(self, wind: np.ndarray, limit: float, call_time_min: float, step_s: int):
        self.limit, self.step_s = limit, step_s
        self.n = max(1, round(call_time_min * 60 / step_s))
        self.wind = wind
        self.events = crossings(wind, limit, step_s)
        hour = 3600 // step_s
        warned = np.zeros(len(wind), bool)
        for event in self.events:
            warned[max(0, event - self.n - hour):event] = True
        neither = hovers(wind, limit, step_s)
        unknown = known_ahead(wind, self.n + hour) < 0.75
        self.can_idle = ~warned & ~neither & ~unknown & (wind < limit)
        moments = self.events - self.n
        self.moments = moments[moments >= 0]
        self.moments = self.moments[~neither[self.moments]]

    def parts(self, score: np.ndarray, places=None):
        """Scores at the call times, scores that would idle, known days.
        `places` says how often each sample counts (weeks drawn anew)."""
        idle = self.can_idle & np.isfinite(score)
        if places is None:
            known = np.isfinite(self.wind).sum()
            return score[self.moments], score[idle], known * self.step_s / 86400
        at = np.flatnonzero(idle)
        known = (np.isfinite(self.wind) * places).sum()
        return (np.repeat(score[self.moments], places[self.moments]),
                np.repeat(score[at], places[at]), known * self.step_s / 86400)


def share_warned(parts, step_s: int) -> np.ndarray:
    """Share warned at `IDLE_MIN` minutes a day, all cells with one setting."""
    warned = np.sort(np.concatenate([part[0] for part in parts]))
    idle = np.sort(np.concatenate([part[1] for part in parts]))
    days = sum(part[2] for part in parts)
    if len(warned) == 0:
        return np.full(len(IDLE_MIN), np.nan)
    settings = np.unique(np.concatenate([warned[np.isfinite(warned)], idle]))[::-1]
    share = (len(warned) - np.searchsorted(warned, settings)) / len(warned)
    minutes = (len(idle) - np.searchsorted(idle, settings)) * step_s / 60 / days
    return np.interp(IDLE_MIN, minutes, share)
