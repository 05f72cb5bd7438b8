"""Fits the plain persistence odds of `firmware/core/src/moment/persistence.rs`.

    python persistence.py SERIES.csv.gz [SERIES.csv.gz ..]

Series of one-minute means: `unix_s,speed_ms,..`, gaps left out. Asked is
whether the greatest two-minute mean of the next hours passes a limit, knowing
only the ten-minute mean now. The formula is a wind whose logarithm wanders:

    odds = erfc(ln(limit / now) / (sqrt(2) * a * hours ** b))

Printed are a and b by least squares (Brier score), that score beside the one of
the plain share of passings, and told against happened in bands.
"""
import gzip
import math
import sys

import numpy as np

HOURS = [0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12]
RATIOS = [1.1, 1.2, 1.3, 1.45, 1.6, 1.8, 2.1, 2.5]
LEAST_KN = 8.0
KN = 1.943844


def read(path):
    rows = np.genfromtxt(gzip.open(path, "rt"), delimiter=",", skip_header=1, usecols=(0, 1))
    first = int(rows[0, 0])
    wind = np.full((int(rows[-1, 0]) - first) // 60 + 1, np.nan)
    wind[((rows[:, 0] - first) // 60).astype(int)] = rows[:, 1] * KN
    return wind


def cases(wind):
    """Every twenty minutes: (hours, ln ratio, passed)."""
    pair = (wind[1:] + wind[:-1]) / 2
    out = []
    for at in range(10, len(wind) - 12 * 60, 20):
        now = np.nanmean(wind[at - 10:at]) if np.isfinite(wind[at - 10:at]).sum() > 7 else np.nan
        ahead = pair[at:at + 12 * 60]
        if not now >= LEAST_KN or np.isfinite(ahead).mean() < 0.9:
            continue
        most = np.fmax.accumulate(ahead)
        for hours in HOURS:
            greatest = most[int(hours * 60) - 1]
            out.extend((hours, math.log(r), greatest >= now * r) for r in RATIOS)
    return np.array(out, float)


def odds(table, a, b):
    erfc = np.vectorize(math.erfc)
    return erfc(table[:, 1] / (math.sqrt(2) * a * table[:, 0] ** b))


def main():
    table = np.vstack([cases(read(path)) for path in sys.argv[1:]])
    thin = table[:: max(1, len(table) // 40000)]
    brier = lambda a, b, t: float(np.mean((odds(t, a, b) - t[:, 2]) ** 2))
    best = min((brier(a, b, thin), a, b)
               for a in np.arange(0.08, 0.4, 0.01) for b in np.arange(0.2, 0.7, 0.02))
    _, a, b = best
    plain = table[:, 2].mean()
    print(f"{len(table)} cases: a = {a:.2f}, b = {b:.2f}, Brier {brier(a, b, table):.4f}, "
          f"plain share {plain * (1 - plain):.4f}")
    told = odds(table, a, b)
    for low in np.arange(0, 1, 0.1):
        band = (told >= low) & (told < low + 0.1)
        if band.any():
            print(f"told {told[band].mean():.2f} happened {table[band, 2].mean():.2f} of {band.sum()}")


main()
