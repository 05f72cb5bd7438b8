"""What the setting costs: the figure and the call, simulated on a 1-minute series.

    call_rules.py DATA FIT.rs WATER [SETTING ...]

A small copy of the call's rules, for choosing the setting: a call is raised when
soonest is down to the need (work 10 min, or the change of 6 min and the lead of 10),
let go when it would be above that one log-odds lower and the wind has not been over
for half an hour, or when the wind has stayed under 0.8 of the limit for ten minutes.
The figure rises at most 2 and falls at most 4 minutes a minute, and is let go at once
where that would hold back a call. The real machine is in `firmware/core/src/call`.
"""

from __future__ import annotations

import argparse
import json
import pathlib

import numpy as np

import waters
from definitions import crossings, hovers
from fit_outlook import minutes_to_passing
from judge import Seen
from tables import HORIZON_MIN, Tables

LIMITS_KN = (12.0, 16.0, 20.0, 24.0)
WORK_MIN, CHANGE_MIN, LEAD_MIN = 10.0, 6.0, 10.0
NEED_MIN = max(WORK_MIN, CHANGE_MIN + LEAD_MIN)
RISE, FALL = 2.0, 4.0
LET_GO = 1.0
LINGER_MIN, QUIET_MIN, QUIET_SHARE = 30, 10, 0.8
# Once beyond the outlook the figure is back only under this.
BEYOND_MIN, BACK_MIN = 90.0, 80.0


def soonest(log_odds: np.ndarray, setting: float) -> np.ndarray:
    """Minutes at which the curve comes to log-odds; endless beyond the outlook."""
    out = np.full(len(log_odds), np.inf)
    at = (log_odds < setting).sum(1)
    first = at == 0
    out[first] = HORIZON_MIN[0] * np.exp(np.minimum(0, setting - log_odds[first, 0]))
    log_t = np.log(HORIZON_MIN)
    for j in range(1, len(HORIZON_MIN)):
        m = at == j
        rise = np.maximum(log_odds[m, j] - log_odds[m, j - 1], 1e-9)
        part = (setting - log_odds[m, j - 1]) / rise
        out[m] = np.exp(log_t[j - 1] + part * (log_t[j] - log_t[j - 1]))
    out[~np.isfinite(log_odds[:, 0])] = np.nan
    return out


def sail(wind, limit, log_odds, setting):
    """Figure shown (not a number: none) and whether a call stands, by minute."""
    at = np.log(setting / (1 - setting))
    raise_at = np.where(wind >= limit, 0.0, soonest(log_odds, at))
    keep_at = np.where(wind >= limit, 0.0, soonest(log_odds, at - LET_GO))
    shown, stands = np.full(len(wind), np.nan), np.zeros(len(wind), bool)
    figure, over_at, quiet, beyond, stood = np.nan, -10**9, 0, False, False
    for i, raw in enumerate(np.minimum(raise_at, BEYOND_MIN)):
        if np.isnan(raw):
            figure, stood = np.nan, False
            continue
        if wind[i] >= limit:
            over_at = i
        quiet = quiet + 1 if wind[i] < QUIET_SHARE * limit else 0
        if np.isnan(figure) or (not stood and raw <= NEED_MIN < figure):
            figure = raw
        figure = min(max(raw, figure - FALL), figure + RISE)
        beyond = figure >= (BACK_MIN if beyond else BEYOND_MIN)
        shown[i] = np.nan if beyond else figure
        keep = keep_at[i] <= NEED_MIN or i - over_at <= LINGER_MIN
        stood = raw <= NEED_MIN or (stood and keep and quiet < QUIET_MIN)
        stands[i] = stood
    return shown, stands


class Account:
    """Sums over limits."""

    def __init__(self):
        self.early, self.lead, self.shown = [], [], {40: [], 20: [], 10: []}
        self.jumps = self.shown_h = self.raised = self.events = self.days = 0
        self.idle_min = self.needless = 0

    def add(self, wind, limit, shown, stands):
        events = crossings(wind, limit, 60)
        events = events[events >= 60]
        told = (wind < limit) & (shown <= 60)
        told[-70:] = False
        self.early += list((minutes_to_passing(wind, limit, 60) < shown)[told])
        self.shown_h += told.sum() / 60
        a, b, under = shown[1:], shown[:-1], wind[1:] < limit
        both = np.isfinite(a) & np.isfinite(b) & (np.fmin(a, b) <= 60) & under
        leap = np.abs(a - b) > np.maximum(5, 0.25 * np.fmin(a, b))
        self.jumps += (leap & both).sum() + ((np.isfinite(a) != np.isfinite(b)) & under).sum()
        near = np.zeros(len(wind), bool)
        for event in events:
            near[max(0, event - int(WORK_MIN) - 60):event] = True
            for minutes, values in self.shown.items():
                values.append(shown[event - minutes])
            since = event
            while since > 0 and stands[since - 1]:
                since -= 1
            self.lead.append(event - since)
        known = np.isfinite(wind)
        self.idle_min += (stands & (wind < limit) & ~near & ~hovers(wind, limit, 60)).sum()
        self.days += known.sum() / 1440
        self.events += len(events)
        edges = np.flatnonzero(np.diff(np.concatenate([[0], stands, [0]])))
        for first, last in zip(edges[::2], edges[1::2]):
            self.raised += 1
            self.needless += not (near[first:last].any() or (wind[first:last] >= limit).any())

    def line(self):
        lead = np.array(self.lead)
        median = lambda values: round(float(np.nanmedian(values)), 1)
        return {"early": round(float(np.mean(self.early)), 3),
                "jumps_per_h": round(self.jumps / self.shown_h, 2),
                "crossings": self.events,
                "raised_per_crossing": round(self.raised / self.events, 2),
                **{f"shown_at_{m}": median(v) for m, v in self.shown.items()},
                "lead_median": median(lead), "lead_lt_2": round(float((lead < 2).mean()), 3),
                "idle_min_a_day": round(self.idle_min / self.days, 1),
                "needless_a_day": round(self.needless / self.days, 2)}


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("data", type=pathlib.Path)
    asked.add_argument("fit", type=pathlib.Path)
    asked.add_argument("water", choices=list(waters.WATERS))
    asked.add_argument("settings", nargs="*", type=float, default=[0.1, 0.14, 0.16])
    asked = asked.parse_args()
    seen = Seen(waters.read(asked.data, asked.water), Tables(asked.fit))
    for setting in asked.settings:
        account = Account()
        for limit in LIMITS_KN:
            account.add(seen.wind, limit,
                        *sail(seen.wind, limit, seen.log_odds(limit), setting))
        print(setting, json.dumps(account.line()), flush=True)


if __name__ == "__main__":
    main()
