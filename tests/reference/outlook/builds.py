"""Invented builds: a wind that rises steadily, beside the measured waters.

A steady rise of some knots an hour for an hour or two is rare in the measured
minutes, and a fit on them alone takes it for a swing that comes back. At sea it is
what a front or a breeze does, and what a crew asks to be told of. So one more water
is invented, of spells one after the other: steady wind, a rise, steady again, back.

The prior is honest: a rise ends at any moment with the same chance, so a limit that
is some knots ahead is passed as often as rises are that long, not always.
"""

from __future__ import annotations

import numpy as np
from scipy.signal import lfilter

from waters import Water

NAME = "invented builds"
SEED = 11
DAYS = 60
# Rises of 1 to 12 kn an hour, evenly by logarithm.
RATES_KN_H = (1.0, 12.0)
# Knots that a rise brings on the average; it ends at any moment alike.
MEAN_RISE_KN = 6.0
# From as little wind as this to as much.
BASES_KN = (5.0, 24.0)
# Steady before and after, minutes.
STEADY_MIN = (10.0, 300.0)
# Turbulence as the lead-time table has it: its share of the mean, and the seconds
# over which it forgets itself.
TURBULENCE = 0.08
FORGETS_S = 20.0


def means(rng) -> np.ndarray:
    """The mean wind by seconds."""
    parts, seconds = [], 0
    while seconds < DAYS * 86400:
        evenly = lambda low, high: np.exp(rng.uniform(np.log(low), np.log(high)))
        base, rate = evenly(*BASES_KN), evenly(*RATES_KN_H)
        rise = rng.exponential(MEAN_RISE_KN)
        before, after = (int(60 * evenly(*STEADY_MIN)) for _ in range(2))
        up = base + np.arange(0, rise, rate / 3600)
        spell = np.concatenate([np.full(before, base), up, np.full(after, up[-1])])
        if parts:
            # Eases to the next base within an hour.
            parts.append(np.linspace(parts[-1][-1], base, 3600))
        parts.append(spell)
        seconds = sum(map(len, parts))
    return np.concatenate(parts)


def water() -> Water:
    """The invented water, by minutes."""
    rng = np.random.default_rng(SEED)
    mean = means(rng)
    stays = np.exp(-1 / FORGETS_S)
    noise = lfilter([np.sqrt(1 - stays * stays)], [1, -stays], rng.standard_normal(len(mean)))
    wind = mean * (1 + TURBULENCE * noise)
    minutes = wind[:len(wind) // 60 * 60].reshape(-1, 60).mean(1)
    return Water(NAME, 60, 0, minutes, np.full(len(minutes), np.nan))
