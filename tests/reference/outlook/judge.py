"""Judges the fitted odds: share warned against idle, Brier skill, deciles.

    .venv/bin/python judge.py [--series FILE.csv[.gz] ...]

Without `--series` it judges 2015 of each turbine of the farm (the fit read 2014
only) and the 1-minute tower week of PyPI `act-atmos==0.7.2` if given as a CSV.
Beside the odds stand the fixed pre-alarm in both forms and a plain logistic on
gap, trends, spread and call time, fitted on 2014 as the odds were. Bounds are
5th and 95th percentile of 200 resamplings of whole weeks (of days, for series
under 60 days). "pooled" counts all crossings alike, "cells" averages the shares
of the cells; idle is per 24 h and cell in both.
"""

from __future__ import annotations

import argparse

import numpy as np
from sklearn.linear_model import LogisticRegression
from sklearn.preprocessing import StandardScaler

import farm
from features import NAMES, features
from model import Tables
from trial_reference import (CALL_TIMES_S, IDLE_LEVELS, LIMITS_KN, Cell, any_within,
                             crossings, load_csv, share_at)

LOGISTIC = ["rise10m", "rise30m", "over_mean1h", "over_mean3h", "over_mean24h",
            "sd1h", "sd3h"]


class Logistic:
    """The reference: gap, trends, spread and time, one sum."""

    def __init__(self, level_q, trend_q, seed=5):
        rng = np.random.default_rng(seed)
        self.columns = [NAMES.index(name) for name in LOGISTIC]
        xs, ys = [], []
        for t, wind in farm.turbines().values():
            wind = wind[t < farm.YEAR_2015]
            table = features(wind, farm.DT, level_q, trend_q)
            for limit in LIMITS_KN:
                flag = np.zeros(len(wind), bool)
                flag[crossings(wind, limit, farm.DT)] = True
                ok = (wind < limit) & (wind > 0.3 * limit) & ~np.isnan(table[:, 0])
                ok &= rng.random(len(wind)) < 0.5
                for call_time in CALL_TIMES_S:
                    xs.append(self.inputs(table[ok], limit, call_time))
                    ys.append(any_within(flag, call_time // farm.DT + 1)[ok])
        self.scale = StandardScaler().fit(np.vstack(xs))
        self.model = LogisticRegression(max_iter=300).fit(
            self.scale.transform(np.vstack(xs)), np.concatenate(ys))

    def inputs(self, table, limit, call_time):
        gap = 1 - table[:, 0] / limit
        log_t = np.full(len(table), np.log(call_time / 600))
        return np.column_stack([gap, gap ** 2, table[:, self.columns] / limit, log_t,
                                log_t * gap])

    def score(self, table, limit, call_time):
        out = np.full(len(table), np.nan)
        ok = ~np.isnan(table[:, 0])
        x = self.scale.transform(self.inputs(table[ok], limit, call_time))
        out[ok] = self.model.decision_function(x)
        return out


class Judged:
    """One series: its cells, and each contender's scores for them."""

    def __init__(self, t, wind, dt, keep, tables, logistic):
        self.t, self.dt, self.keep = t, dt, keep
        self.days = np.count_nonzero(keep & ~np.isnan(wind)) * dt / 86400
        table = features(wind, dt, tables.level_q, tables.trend_q)
        self.cells, self.odds = [], []
        self.scores = {name: [] for name in ("fraction", "knots", "logistic", "odds")}
        for limit in LIMITS_KN:
            flag = np.zeros(len(wind), bool)
            flag[crossings(wind, limit, dt)] = True
            for call_time in CALL_TIMES_S:
                cell = Cell(wind, limit, call_time, dt, keep)
                self.cells.append(cell)
                p = tables.odds(table, wind, limit, (call_time + dt) / 60)
                self.scores["odds"].append(p)
                self.scores["fraction"].append(wind / limit)
                self.scores["knots"].append(wind - limit)
                self.scores["logistic"].append(logistic.score(table, limit, call_time))
                ahead = any_within(flag, call_time // dt + 1)
                ok = keep & (wind < limit) & ~np.isnan(p)
                ok[len(wind) - call_time // dt - 1 - 1800 // dt:] = False
                self.odds.append((t[ok], p[ok], ahead[ok]))

    def parts(self, name, chosen=None, block=None):
        """Cells as `share_at` wants them, of the chosen blocks of time."""
        out = []
        for cell, score in zip(self.cells, self.scores[name]):
            warned, _ = cell.scores(score)
            idle = np.flatnonzero(cell.idle & ~np.isnan(score))
            if chosen is None:
                out.append((warned, score[idle], cell.days, self.dt))
                continue
            of_cross = (self.t[cell.cross] - self.t[0]) // block
            of_idle = (self.t[idle] - self.t[0]) // block
            take = lambda of, n: np.repeat(np.arange(len(of)), chosen[of])
            out.append((warned[take(of_cross, 0)], score[idle][take(of_idle, 0)],
                        cell.days, self.dt))
        return out


def cell_mean(parts, levels=IDLE_LEVELS):
    """Mean over the cells of their shares, at the one setting of each level."""
    idle = np.sort(np.concatenate([p[1] for p in parts]))[::-1]
    out = []
    for level in levels:
        k = int(level * 60 / parts[0][3] * len(parts) * parts[0][2])
        at = idle[min(k, len(idle) - 1)]
        out.append(np.mean([(p[0] > at).mean() for p in parts if len(p[0])]))
    return np.array(out)


def setting_at(parts, levels=IDLE_LEVELS):
    idle = np.sort(np.concatenate([p[1] for p in parts]))[::-1]
    return [idle[min(int(v * 60 / parts[0][3] * len(parts) * parts[0][2]),
                     len(idle) - 1)] for v in levels]


def row(label, values):
    print(f"  {label:<22}" + " ".join(f"{v:5.3f}" for v in values))


def bounds(judged, name, rng, rounds):
    block = (7 if judged.days > 60 else 1) * 86400
    of = (judged.t[judged.keep] - judged.t[0]) // block
    ids = np.unique(of)
    got = []
    for _ in range(rounds):
        chosen = np.zeros(of.max() + 1, int)
        np.add.at(chosen, rng.choice(ids, len(ids)), 1)
        got.append(share_at(judged.parts(name, chosen, block)))
    return np.percentile(got, [5, 95], axis=0)


def reliability(judged_list):
    t = np.concatenate([o[0] for j in judged_list for o in j.odds])
    p = np.concatenate([o[1] for j in judged_list for o in j.odds])
    y = np.concatenate([o[2] for j in judged_list for o in j.odds]).astype(float)
    print("  odds against outcome (wind under the limit; outcome: a crossing)")
    for k in range(10):
        sel = np.minimum((p * 10).astype(int), 9) == k
        if sel.any():
            print(f"    {k / 10:.1f}-{k / 10 + .1:.1f} said {p[sel].mean():.3f} came "
                  f"{y[sel].mean():.3f} samples {sel.sum()} days "
                  f"{len(np.unique(t[sel] // 86400))}")
    edges = np.quantile(p[p > 0.005], np.linspace(0, 1, 11))
    worst = max(abs(p[s].mean() - y[s].mean()) for s in
                ((p > a) & (p <= b) for a, b in zip(edges, edges[1:])) if s.any())
    print(f"    tenths by rank of odds over 0.005: worst difference {worst:.3f}")
    # Climatology of each cell is its own base rate on the judged series.
    brier = climate = 0.0
    for j in judged_list:
        for _, p, y in j.odds:
            brier += np.sum((p - y) ** 2)
            climate += np.sum((y.mean() - y) ** 2)
    print(f"    Brier skill against each cell's own base rate {1 - brier / climate:.3f}")


def report(label, judged, rng, rounds=200):
    n = sum(len(c.cross) for c in judged.cells)
    single = sum(len(c.cross) for c in judged.cells) // len(CALL_TIMES_S)
    print(f"{label}: {judged.days:.0f} days, {single} crossings, {n} judged")
    row("idle min/24 h", IDLE_LEVELS)
    for name in judged.scores:
        row(name + " pooled", share_at(judged.parts(name)))
    low, high = bounds(judged, "odds", rng, rounds)
    row("odds 5th percentile", low)
    row("odds 95th percentile", high)
    for name in judged.scores:
        row(name + " cells", cell_mean(judged.parts(name)))
    row("setting of the odds", setting_at(judged.parts("odds")))
    reliability([judged])


def main():
    args = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    args.add_argument("--series", nargs="*", default=[])
    args.add_argument("--rounds", type=int, default=100)
    args = args.parse_args()
    tables = Tables()
    logistic = Logistic(tables.level_q, tables.trend_q)
    rng = np.random.default_rng(1)
    for path in args.series:
        t, wind, dt = load_csv(path)
        report(path.rsplit("/", 1)[-1], Judged(
            t, wind, dt, np.ones(len(wind), bool), tables, logistic), rng, args.rounds)
    if args.series:
        return
    every = []
    for name, (t, wind) in farm.turbines().items():
        judged = Judged(t, wind, farm.DT, t >= farm.YEAR_2015, tables, logistic)
        report(name + " 2015", judged, rng, args.rounds)
        every.append(judged)
    print("mean of the turbines")
    row("idle min/24 h", IDLE_LEVELS)
    for name in every[0].scores:
        row(name + " pooled", np.mean([share_at(j.parts(name)) for j in every], 0))
    for name in every[0].scores:
        row(name + " cells", np.mean([cell_mean(j.parts(name)) for j in every], 0))
    reliability(every)


if __name__ == "__main__":
    main()
