"""What the outlook looks at, for a whole series at once.

The same numbers as `firmware/core/src/outlook/history.rs` and `filter.rs`,
written here a second time so that the two can be held against each other.

Time is cut into 1-minute slots; a summary longer than a minute fills several
slots with its mean. A *block* is the mean of ten consecutive slots (at least
five of them known); block k is the one that ended 10*k minutes ago. So a series
of 10-minute means and one of 1-minute means give the same kind of numbers; what
only the finer one has (the last minute, the scatter inside a block) is zero or
equal to the block in the coarser one.

Every number is in the unit of the series. `LEVELS` of them move with the series
when a constant is added to all of it; the others do not move at all. The model
divides each by the limit, so nothing in it knows of knots or of a place.
"""

from __future__ import annotations

import numba
import numpy as np

LEVEL_NAMES = ["block", "max30m", "max1h", "max3h", "max6h", "max24h",
               "minute_max10m", "minute_max30m"]
CHANGE_NAMES = ["rise10m", "rise20m", "rise30m", "rise1h",
                "over_mean30m", "over_mean1h", "over_mean2h", "over_mean3h",
                "over_mean6h", "over_mean12h", "over_mean24h",
                "over_min1h", "over_min6h",
                "sd30m", "sd1h", "sd3h", "sd12h",
                "step1h", "step6h",
                "minute", "three_minutes", "scatter",
                "trend", "over_level"]
NAMES = LEVEL_NAMES + CHANGE_NAMES + ["horizon"]
LEVELS = len(LEVEL_NAMES)
WIDTH = len(LEVEL_NAMES) + len(CHANGE_NAMES)
# Raised by a rise of the whole wind, or by a longer look ahead: never lowers.
MONOTONE = [1] * LEVELS + [0] * len(CHANGE_NAMES) + [1]

DAY = 1440
BLOCK = 10
BLOCK_KNOWN = 5
MAX_BLOCKS = np.array([3, 6, 18, 36, 144])
RISE_BLOCKS = np.array([1, 2, 3, 6])
MEAN_BLOCKS = np.array([3, 6, 12, 18, 36, 72, 144])
MIN_BLOCKS = np.array([6, 36])
SD_BLOCKS = np.array([3, 6, 18, 72])
STEP_BLOCKS = np.array([6, 36])

# The filter, in units of the scatter of one 10-minute mean. See filter.py.
DAMPING_S = 5400.0


@numba.njit(cache=True)
def rolling_block(slots):
    out = np.full(len(slots), np.nan)
    for i in range(len(slots)):
        total, known = 0.0, 0
        for j in range(max(0, i - BLOCK + 1), i + 1):
            if not np.isnan(slots[j]):
                total += slots[j]
                known += 1
        if known >= BLOCK_KNOWN:
            out[i] = total / known
    return out


@numba.njit(cache=True)
def rows(slots, blocks, trend, level, every, out):
    """Fills one row per summary; a row without a current block stays NaN."""
    b = np.empty(144)
    for r in range(out.shape[0]):
        i = (r + 1) * every - 1
        if np.isnan(blocks[i]) or np.isnan(slots[i]):
            continue
        for k in range(144):
            j = i - BLOCK * k
            b[k] = blocks[j] if j >= 0 else np.nan
        b0 = b[0]
        c = 0
        out[r, c] = b0
        c += 1
        for n in MAX_BLOCKS:
            best = b0
            for k in range(n):
                if b[k] > best:
                    best = b[k]
            out[r, c] = best
            c += 1
        for n in (10, 30):
            best = slots[i]
            for j in range(max(0, i - n + 1), i + 1):
                if slots[j] > best:
                    best = slots[j]
            out[r, c] = best
            c += 1
        for n in RISE_BLOCKS:
            out[r, c] = 0.0 if np.isnan(b[n]) else b0 - b[n]
            c += 1
        for n in MEAN_BLOCKS:
            total, known = 0.0, 0
            for k in range(n):
                if not np.isnan(b[k]):
                    total += b0 - b[k]
                    known += 1
            out[r, c] = total / known
            c += 1
        for n in MIN_BLOCKS:
            low = b0
            for k in range(n):
                if b[k] < low:
                    low = b[k]
            out[r, c] = b0 - low
            c += 1
        for n in SD_BLOCKS:
            total, square, known = 0.0, 0.0, 0
            for k in range(n):
                if not np.isnan(b[k]):
                    x = b0 - b[k]
                    total += x
                    square += x * x
                    known += 1
            var = 0.0
            if known >= 2:
                var = (square - total * total / known) / (known - 1)
            out[r, c] = np.sqrt(max(var, 0.0))
            c += 1
        for n in STEP_BLOCKS:
            total, known = 0.0, 0
            for k in range(n):
                if not (np.isnan(b[k]) or np.isnan(b[k + 1])):
                    total += abs(b[k] - b[k + 1])
                    known += 1
            out[r, c] = total / known if known > 0 else 0.0
            c += 1
        out[r, c] = slots[i] - b0
        c += 1
        total, known = 0.0, 0
        for j in range(max(0, i - 2), i + 1):
            if not np.isnan(slots[j]):
                total += slots[j] - b0
                known += 1
        out[r, c] = total / known
        c += 1
        total, known = 0.0, 0
        for j in range(max(0, i - 29), i + 1):
            blk = b[(i - j) // BLOCK]
            if not (np.isnan(slots[j]) or np.isnan(blk)):
                x = slots[j] - blk
                total += x * x
                known += 1
        out[r, c] = np.sqrt(total / known) if known > 0 else 0.0
        c += 1
        out[r, c] = trend[r]
        c += 1
        out[r, c] = b0 - level[r]


@numba.njit(cache=True)
def damped_trend(wind, dt, level_q, trend_q, tau):
    """The filter over a regular series; see filter.rs for the equations.

    Returns level, trend per hour, and variance of the next sample's
    innovation in units of scale (NaN until the first sample).
    """
    n = len(wind)
    level_out = np.full(n, np.nan)
    trend_out = np.full(n, np.nan)
    f_out = np.full(n, np.nan)
    started = False
    lev, tre, p00, p01, p11 = 0.0, 0.0, 0.0, 0.0, 0.0
    hours = dt / 3600.0
    phi = np.exp(-dt / tau)
    reach = tau / 3600.0 * (1.0 - phi)
    noise = 600.0 / dt
    for i in range(n):
        if started:
            lev = lev + reach * tre
            tre = phi * tre
            q00 = p00 + 2.0 * reach * p01 + reach * reach * p11 + level_q * hours
            q01 = phi * (p01 + reach * p11)
            q11 = phi * phi * p11 + trend_q * hours
            p00, p01, p11 = q00, q01, q11
            f_out[i] = p00 + noise
            if not np.isnan(wind[i]):
                v = wind[i] - lev
                f = p00 + noise
                k0, k1 = p00 / f, p01 / f
                lev += k0 * v
                tre += k1 * v
                p11 = p11 - k1 * p01
                p01 = p01 - k0 * p01
                p00 = p00 - k0 * p00
        elif not np.isnan(wind[i]):
            started = True
            lev, tre = wind[i], 0.0
            p00, p01 = noise, 0.0
            p11 = trend_q * tau / 3600.0 / 2.0
        if started:
            level_out[i] = lev
            trend_out[i] = tre
    return level_out, trend_out, f_out


def features(wind: np.ndarray, dt: int, level_q: float, trend_q: float) -> np.ndarray:
    """One row of `WIDTH` numbers per sample of a regular series (NaN: gap)."""
    assert dt % 60 == 0, "a whole number of minutes"
    every = dt // 60
    slots = np.repeat(wind.astype(float), every)
    level, trend, _ = damped_trend(wind.astype(float), float(dt), level_q, trend_q,
                                   DAMPING_S)
    out = np.full((len(wind), WIDTH), np.nan)
    rows(slots, rolling_block(slots), trend, level, every, out)
    return out
