"""Judges fits on the waters that they had not seen.

    judge.py DATA FITS [WATER ...]

FITS holds one file a water, by `fit_outlook.py DATA --without WATER --out
FITS/WATER.rs` (blanks as underscores). Prints, at 5 to 120 idle minutes a day, the
share warned in time by the best fixed pre-alarm (of its two forms) and by the odds, all limits and call times with one setting; the
difference with bounds (5th and 95th percentile over 60 drawings of weeks anew, of
days on a series under 60 days); calls raised per crossing at 15 idle minutes; and how
far the odds are from what came.

A call is judged idle when no crossing follows within the call time and 60 min; so the
odds asked for are those of passing within that, as far as the outlook sees.
"""

from __future__ import annotations

import argparse
import pathlib

import numpy as np

import features
import waters
from definitions import (CALL_TIMES_MIN, IDLE_MIN, LIMITS_KN, Cell, crossings, judged,
                         share_warned)
from fit_outlook import minutes_to_passing
from tables import HORIZON_MIN, Tables, between

IDLE_REACH_MIN = 60.0
ROUNDS = 60
# Under this share of a limit nothing is asked for: no alarm is set there.
FAR = 0.4
FAR_LOG_ODDS = -20.0
RELIABILITY_MIN = (10.0, 20.0, 40.0)
BINS = np.array([0.0, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7])


class Seen:
    """A water, its rows and its odds by a fit."""

    def __init__(self, water: waters.Water, fit: Tables):
        self.water, self.fit = water, fit
        self.wind = judged(water.wind, water.step_s)
        self.table = features.rows(water.wind, water.step_s)
        self.odds = {}

    def log_odds(self, limit: float) -> np.ndarray:
        """At each knot; far under the limit a figure that stands for nothing."""
        if limit not in self.odds:
            near = self.table[:, 0] > FAR * limit
            rows = np.where(near[:, None], self.table, np.nan)
            z = self.fit.log_odds(rows, limit, self.water.step_s)
            far = np.isfinite(self.table[:, 0]) & ~near
            z[far] = FAR_LOG_ODDS
            self.odds[limit] = z
        return self.odds[limit]

    def score(self, limit: float, cell: Cell) -> np.ndarray:
        minutes = cell.n * self.water.step_s / 60 + IDLE_REACH_MIN
        z = between(self.log_odds(limit), min(minutes, HORIZON_MIN[-1]))
        return np.where(np.isfinite(z), z, -np.inf)


def contenders(seen: Seen):
    """Cells and scores by contender."""
    cells, scores = [], {"fraction": [], "knots": [], "odds": []}
    wind = seen.wind
    for limit in LIMITS_KN:
        if not len(crossings(wind, limit, seen.water.step_s)):
            continue
        known = np.isfinite(wind)
        fixed = {"fraction": wind / limit, "knots": wind - limit}
        for call_time in CALL_TIMES_MIN:
            cell = Cell(wind, limit, call_time, seen.water.step_s)
            cells.append(cell)
            for name, score in fixed.items():
                scores[name].append(np.where(known, score, -np.inf))
            scores["odds"].append(seen.score(limit, cell))
    return cells, scores


class Drawn:
    """The parts of a contender by week, to be drawn anew."""

    def __init__(self, cells, scores, block, known_days):
        self.known_days, self.cells = known_days, []
        for cell, score in zip(cells, scores):
            idle = np.flatnonzero(cell.can_idle & np.isfinite(score))
            # Settings that idle more than 300 min a day are of no interest.
            keep = int(300 / 1440 * known_days.sum() * 86400 / cell.step_s) + 1
            if len(idle) > keep:
                idle = idle[np.argpartition(score[idle], -keep)[-keep:]]
            self.cells.append((score[cell.moments], block[cell.moments], score[idle],
                               block[idle]))

    def share(self, counts, step_s):
        days = (self.known_days * counts).sum()
        parts = [(np.repeat(w, counts[wb]), np.repeat(i, counts[ib]), days)
                 for w, wb, i, ib in self.cells]
        return share_warned(parts, step_s)


def raised_per_crossing(seen, cells, scores, idle_min):
    """Calls raised from none over crossings, at the setting of so many idle
    minutes: let go one log-odds lower, or 30 min after the wind was over."""
    idle = np.sort(np.concatenate([s[c.can_idle & np.isfinite(s)]
                                   for c, s in zip(cells, scores)]))
    days = sum(np.isfinite(c.wind).sum() * c.step_s / 86400 for c in cells)
    at = len(idle) - int(idle_min * days * 60 / cells[0].step_s)
    setting = idle[max(at, 0)]
    raised = events = 0
    for cell, score in zip(cells, scores):
        stands, over_at, linger = False, -10**9, 1800 // cell.step_s
        over = np.where(np.isnan(cell.wind), False, cell.wind >= cell.limit)
        high, low = score >= setting, score >= setting - 1.0
        for i in np.flatnonzero(low | over | np.roll(low, 1) | np.roll(over, linger + 1)):
            if over[i]:
                over_at = i
            now = high[i] or over[i] or (stands and (low[i] or i - over_at <= linger))
            raised += now and not stands
            stands = now
        events += len(cell.events)
    return raised / events


def reliability(seen: Seen):
    """Odds said, share that came, and moments, by bins of odds up to 0.7."""
    said, came = [], []
    step = seen.water.step_s / 60
    for limit in LIMITS_KN:
        if not (seen.wind >= limit).any():
            continue
        minutes = minutes_to_passing(seen.wind, limit, seen.water.step_s)
        z = seen.log_odds(limit)
        ok = (seen.wind < limit) & np.isfinite(z[:, 0]) & (seen.table[:, 0] > FAR * limit)
        ok[len(ok) - int(RELIABILITY_MIN[-1] / step):] = False
        for h in RELIABILITY_MIN:
            h = max(1, round(h / step)) * step
            said.append(1 / (1 + np.exp(-between(z, h)[ok])))
            came.append(minutes[ok] <= h)
    said, came = np.concatenate(said), np.concatenate(came)
    place = np.digitize(said, BINS) - 1
    rows = [(said[place == k].mean(), came[place == k].mean(), (place == k).sum())
            for k in range(len(BINS) - 1) if (place == k).sum() >= 200]
    return rows


def row(label, values, form="{:.3f}"):
    print(f"  {label:26s}" + " ".join(form.format(v) for v in values), flush=True)


def report(name: str, data: pathlib.Path, fit: pathlib.Path):
    water = waters.read(data, name)
    seen = Seen(water, Tables(fit))
    cells, scores = contenders(seen)
    step = water.step_s
    days = 7 if water.days >= 60 else 1
    block = np.arange(len(seen.wind)) * step // (days * 86400)
    known = np.bincount(block, np.isfinite(seen.wind)) * step / 86400
    drawn = {k: Drawn(cells, v, block, known) for k, v in scores.items()}
    ones = np.ones(len(known), int)
    share = {k: d.share(ones, step) for k, d in drawn.items()}
    best = np.maximum(share["fraction"], share["knots"])
    count = sum(len(cell.moments) for cell in cells)
    print(f"{name}: {count} crossings to be warned of in {len(cells)} cells")
    for key in ("fraction", "knots"):
        row("fixed, " + key, share[key])
    row("odds", share["odds"])
    row("odds less best fixed", share["odds"] - best, "{:+.3f}")
    rng = np.random.default_rng(1)
    draws = []
    for _ in range(ROUNDS):
        counts = np.bincount(rng.integers(0, len(known), len(known)), minlength=len(known))
        other = {k: drawn[k].share(counts, step) for k in ("fraction", "knots", "odds")}
        draws.append(other["odds"] - np.maximum(other["fraction"], other["knots"]))
    low, high = np.nanpercentile(draws, [5, 95], axis=0)
    row("  5th percentile", low, "{:+.3f}")
    row("  95th percentile", high, "{:+.3f}")
    raised = [raised_per_crossing(seen, cells, scores[k], 15) for k in ("odds", "knots")]
    print(f"  raised per crossing at 15 idle min: odds {raised[0]:.2f}, knots {raised[1]:.2f}")
    print("  said/came: " + " ".join(f"{s:.2f}/{c:.2f}" for s, c, _ in reliability(seen)))


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("data", type=pathlib.Path)
    asked.add_argument("fits", type=pathlib.Path)
    asked.add_argument("waters", nargs="*")
    asked = asked.parse_args()
    print(f"{'at idle minutes a day':28s}" + " ".join(f"{i:5d}" for i in IDLE_MIN))
    for name in waters.WATERS:
        fit = asked.fits / (name.replace(" ", "_") + ".rs")
        if fit.exists() and (not asked.waters or name in asked.waters):
            report(name, asked.data, fit)


if __name__ == "__main__":
    main()
