"""Reads wind series (CSV, also gzipped) onto a regular grid.

Columns: `unix_s`, `speed_ms` or `speed_kn`, and, where there is one, `gust_ms`.
The data directory is given as an argument and is no part of this repository.
"""

from __future__ import annotations

import collections
import csv
import gzip
import pathlib
from dataclasses import dataclass

import numpy as np

KN_PER_MS = 1.943844
# Name of a water: how its file begins. One recorder of each wind: the farm's
# other masts stand in the same wind as this one.
WATERS = {
    "slope buoy": "atlantic-slope-buoy-spring",
    "shelf buoy": "atlantic-shelf-buoy-cp01",
    "plains tower": "plains-tower",
    "inland hill": "inland-hill",
    "lighthouse": "chesapeake-lighthouse",
    "estuary": "gulf-estuary",
    "foothills": "foothills-mast",
    "montana": "plains-mast-montana",
    "breeze mast": "inland-mast-breeze",
    "farm": "mast-farm-r80711",
}


@dataclass
class Water:
    """A series on its grid; not a number where nothing is known."""

    name: str
    step_s: int
    start_s: int
    wind: np.ndarray
    gust: np.ndarray

    @property
    def days(self) -> float:
        return len(self.wind) * self.step_s / 86400


def read(directory: pathlib.Path, name: str) -> Water:
    """The series of a water by its name."""
    path = next(pathlib.Path(directory).glob(WATERS[name] + "*"))
    return read_file(path, name)


def read_file(path: pathlib.Path, name: str) -> Water:
    """A series from a file."""
    path = pathlib.Path(path)
    opened = gzip.open(path, "rt") if path.suffix == ".gz" else open(path)
    at, wind, gust = [], [], []
    with opened as lines:
        for row in csv.DictReader(lines):
            at.append(int(float(row["unix_s"])))
            wind.append(knots(row, "speed"))
            gust.append(knots(row, "gust"))
    steps = collections.Counter(b - a for a, b in zip(at, at[1:]))
    step = steps.most_common(1)[0][0]
    phase = collections.Counter(a % step for a in at).most_common(1)[0][0]
    start = (at[0] - phase) // step * step + phase
    place = np.round((np.array(at) - start) / step).astype(int)
    grid = [np.full((at[-1] - start) // step + 2, np.nan) for _ in range(2)]
    grid[0][place], grid[1][place] = wind, gust
    return Water(name, step, start, *grid)


def knots(row: dict, what: str) -> float:
    """A speed of a row in knots."""
    if row.get(what + "_ms"):
        return float(row[what + "_ms"]) * KN_PER_MS
    return float(row.get(what + "_kn") or "nan")
