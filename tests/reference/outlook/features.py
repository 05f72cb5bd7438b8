"""What the outlook looks at, for a whole series at once.

The same numbers as `firmware/core/src/outlook/history.rs`, written here a second
time so that the two can be held against each other.

Time is cut into 1-minute *slots*; a summary longer than a minute fills several
slots with its mean. A *block* is the mean of the ten slots that end at a slot.
`now` is the newest block, of as many slots as there are; older blocks count from
five known slots on.

A row is in the unit of the series. Before the model sees it at a limit L,

* levels and spreads are divided by L,
* a difference is divided by L where it is a rise, by `now` where it is a fall.

All of these only ever raise the odds. So the odds rise when a constant is added
to all wind (falls shrink against `now`), when all wind is scaled up, and when L
is lowered: by construction, not by fit.
"""

from __future__ import annotations

import numba
import numpy as np

DAY = 1440
BLOCK = 10
BLOCK_KNOWN = 5
# Minutes looked back on.
MEANS = np.array([1, 2, 3, 5, 10, 20, 30, 60, 120, 180, 360, 720, 1440])
MAXIMA = np.array([5, 10, 20, 30, 60, 120, 180, 360, 1440])
LAGS = np.array([5, 10, 20, 30, 60])
MINIMA = np.array([10, 30, 60, 180, 360])
OVER_MEANS = np.array([10, 20, 30, 60, 180])
SPREADS = np.array([5, 10, 30, 60])
BLOCK_SPREADS = np.array([60, 180, 720])
STEPS = np.array([60, 360])

NAMES = (["now"] + [f"mean{w}" for w in MEANS] + [f"max{w}" for w in MAXIMA]
         + [f"rise{w}" for w in LAGS] + [f"over_min{w}" for w in MINIMA]
         + [f"last_over{w}" for w in OVER_MEANS] + ["three_over_now", "one_over_now"]
         + [f"sd{w}" for w in SPREADS] + [f"block_sd{w}" for w in BLOCK_SPREADS]
         + [f"step{w}" for w in STEPS] + ["known"])
LEVELS = 1 + len(MEANS) + len(MAXIMA)
CHANGES = len(LAGS) + len(MINIMA) + len(OVER_MEANS) + 2
WIDTH = len(NAMES)


@numba.njit(cache=True)
def running(slots, start):
    """The block that ends at each slot, or not a number."""
    out = np.full(len(slots), np.nan)
    for i in range(len(slots)):
        total, known = 0.0, 0
        for j in range(i, max(start[i], i - BLOCK + 1) - 1, -1):
            if not np.isnan(slots[j]):
                total += slots[j]
                known += 1
        if known >= BLOCK_KNOWN:
            out[i] = total / known
    return out


@numba.njit(cache=True)
def one_row(slots, blocks, i, start, out):
    """Fills a row for slot i, looking back to slot `start`."""
    total, known = 0.0, 0
    for j in range(i, max(start, i - BLOCK + 1) - 1, -1):
        if not np.isnan(slots[j]):
            total += slots[j]
            known += 1
    now = total / known
    means = np.full(len(MEANS), now)
    sd = np.zeros(len(SPREADS))
    block_sd = np.zeros(len(BLOCK_SPREADS))
    steps = np.zeros(len(STEPS))
    high = np.full(len(MAXIMA), now)
    low = np.full(len(MINIMA), now)
    total, known, square, seconds, used = 0.0, 0, 0.0, 0.0, 0
    off, off_square, off_known = 0.0, 0.0, 0
    step_total, step_known = 0.0, 0
    before = np.nan
    highest, lowest = now, now
    im = isd = ib = ist = ih = il = 0
    for age in range(DAY):
        j = i - age
        if j >= start:
            if not np.isnan(slots[j]):
                x = slots[j] - now
                total += x
                square += x * x
                known += 1
            b = blocks[j]
            if not np.isnan(b):
                if b > highest:
                    highest = b
                if b < lowest:
                    lowest = b
            if age % BLOCK == 0:
                if age == 0:
                    b = now
                if not np.isnan(b):
                    off += now - b
                    off_square += (now - b) * (now - b)
                    off_known += 1
                if not (np.isnan(b) or np.isnan(before)):
                    step_total += abs(b - before)
                    step_known += 1
                before = b
        back = age + 1
        if im < len(MEANS) and back == MEANS[im]:
            means[im] = now + total / known if known > 0 else now
            im += 1
        if isd < len(SPREADS) and back == SPREADS[isd]:
            if known >= 2:
                sd[isd] = np.sqrt(max((square - total * total / known) / (known - 1), 0.0))
            isd += 1
        if ih < len(MAXIMA) and back == MAXIMA[ih]:
            high[ih] = highest
            ih += 1
        if il < len(MINIMA) and back == MINIMA[il]:
            low[il] = lowest
            il += 1
        if ib < len(BLOCK_SPREADS) and back == BLOCK_SPREADS[ib]:
            if off_known >= 2:
                block_sd[ib] = np.sqrt(max((off_square - off * off / off_known)
                                           / (off_known - 1), 0.0))
            ib += 1
        if ist < len(STEPS) and back == STEPS[ist]:
            steps[ist] = step_total / step_known if step_known > 0 else 0.0
            ist += 1
    c = 0
    out[c] = now
    c += 1
    for part in (means, high):
        for v in part:
            out[c] = v
            c += 1
    for w in LAGS:
        j = i - w
        then = blocks[j] if j >= start else np.nan
        out[c] = 0.0 if np.isnan(then) else now - then
        c += 1
    for v in low:
        out[c] = now - v
        c += 1
    for w in OVER_MEANS:
        k = 0
        while MEANS[k] != w:
            k += 1
        out[c] = means[3] - means[k]
        c += 1
    out[c] = means[2] - now
    out[c + 1] = means[0] - now
    c += 2
    for part in (sd, block_sd, steps):
        for v in part:
            out[c] = v
            c += 1
    out[c] = known


@numba.njit(cache=True)
def all_rows(slots, blocks, start, every, out):
    for r in range(out.shape[0]):
        i = (r + 1) * every - 1
        if not np.isnan(slots[i]):
            one_row(slots, blocks, i, start[i], out[r])


def rows(wind, step_s, start=None):
    """One row of `WIDTH` numbers per sample (not a number: gap). `start` is the
    sample at which each sample's history begins; without it, the series' own."""
    every = step_s // 60
    if start is None:
        start = np.zeros(len(wind), np.int64)
    slots = np.repeat(wind.astype(np.float32).astype(float), every)
    first = np.repeat(start * every, every)
    out = np.full((len(wind), WIDTH), np.nan)
    all_rows(slots, running(slots, first), first, every, out)
    return out


def is_full(wind, step_s):
    """Whether five of the ten minutes that end with each sample are known."""
    slots = np.repeat(wind, step_s // 60)
    blocks = running(slots, np.zeros(len(slots), np.int64))
    return np.isfinite(blocks[step_s // 60 - 1::step_s // 60])


def at_limit(table, limit):
    """The rows as the model sees them at a limit (a number, or one a row)."""
    limit = np.broadcast_to(np.asarray(limit, float), len(table))[:, None]
    x = table / limit
    changes = slice(LEVELS, LEVELS + CHANGES)
    change = table[:, changes]
    x[:, changes] = np.where(change < 0, change / table[:, :1], change / limit)
    x[:, -1] = table[:, -1]
    return x
