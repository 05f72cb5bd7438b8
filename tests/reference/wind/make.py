"""Makes the figures that wind and heel are checked against.

    python3 -m venv venv && venv/bin/pip install --no-deps -r requirements.txt
    venv/bin/python make.py

Triangles come from three-dimensional rotations (scipy), statistics from
pandas and numpy over the samples laid out every ten milliseconds. Nothing
here is shared with the code under test.
"""

import csv
import importlib.util
import pathlib

import numpy as np
import pandas as pd
from scipy.spatial.transform import Rotation

HERE = pathlib.Path(__file__).parent
KNOT = 1852 / 3600


def write(name, header, rows):
    with open(HERE / name, "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(header)
        out.writerows(rows)


def triangles():
    """Air and boat first, then what a unit fixed to the mast feels."""
    dice = np.random.default_rng(20260325)
    rows = []
    for n in range(240):
        tws = dice.uniform(3, 45)
        twa = dice.uniform(-180, 180) if n >= 8 else (n - 4) * 45 + 0.5
        heading = dice.uniform(0, 360)
        stw = dice.uniform(2.6, 11)
        heel = dice.uniform(-35, 35) if n % 3 else 0.0
        pitch = dice.uniform(-6, 6) if n % 2 else 0.0
        k = dice.uniform(4, 14) if n % 4 else 0.0
        leeway = np.clip(k * heel / stw**2, -15, 15)
        current = dice.uniform(0, 3)
        set_to = dice.uniform(0, 360)
        # North-east-down, knots; the air's velocity, not where it is from.
        unit = lambda d: np.array([np.cos(np.radians(d)), np.sin(np.radians(d)), 0])
        air = -tws * unit(heading + twa)
        boat = stw / np.cos(np.radians(leeway)) * unit(heading + leeway)
        turn = Rotation.from_euler("ZYX", [heading, pitch, heel], degrees=True)
        felt = turn.inv().apply(air - boat)
        aws = np.hypot(felt[0], felt[1])
        awa = np.degrees(np.arctan2(-felt[1], -felt[0]))
        ground = boat + current * unit(set_to)
        over_ground = air + current * unit(set_to)
        rows.append(
            [
                repr(float(v))
                for v in (
                    awa, aws, heel, pitch, k, stw, heading,
                    np.hypot(ground[0], ground[1]),
                    np.degrees(np.arctan2(ground[1], ground[0])) % 360,
                    tws, twa, (heading + twa) % 360,
                    np.hypot(over_ground[0], over_ground[1]),
                    np.degrees(np.arctan2(-over_ground[1], -over_ground[0])) % 360,
                )
            ]
        )
    write(
        "triangle.csv",
        "awa aws heel pitch k stw heading sog cog tws twa twd gws gwd".split(),
        rows,
    )


def series():
    """A gusty half-hour at uneven times, and its statistics by pandas."""
    dice = np.random.default_rng(7)
    gaps = dice.choice([100, 200, 370, 1000, 1010, 2500], size=1500, p=[0.3, 0.2, 0.1, 0.25, 0.1, 0.05])
    times = np.cumsum(gaps)
    # Two silences longer than any sample may stand.
    times[500:] += 9_000
    times[1000:] += 47_000
    walk, angle = 0.0, 0.0
    speed, twa = [], []
    for n in range(len(times)):
        keep = np.exp(-gaps[n] / 8000)
        walk = keep * walk + np.sqrt(1 - keep**2) * dice.normal()
        angle = keep * angle + np.sqrt(1 - keep**2) * dice.normal()
        speed.append(round(18 + n / 300 + 2.4 * walk, 1))
        twa.append(round(-172 + 9 * angle))
    statistics("series", times, speed, twa)


def mast():
    """A real wind: ten-minute means of a measuring mast, 80 m up, out of the
    demonstration data of the package brightwind (MIT licence). Each value
    stands here for a second or so, as only the arithmetic is tried."""
    package = importlib.util.find_spec("brightwind").submodule_search_locations[0]
    path = pathlib.Path(package) / "demo_datasets/campbell_scientific_demo_data.csv"
    real = pd.read_csv(path, skiprows=[0, 2, 3], encoding="utf-8-sig").iloc[4000:5400]
    real = real[["Spd80mN", "Dir78mS"]].astype(float).dropna()
    gaps = np.random.default_rng(3).choice([250, 990, 1000, 1740], size=len(real))
    speed = [round(v / KNOT, 2) for v in real.Spd80mN]
    turned = [round((d + 180) % 360 - 180, 1) for d in real.Dir78mS]
    statistics("mast", np.cumsum(gaps), speed, turned)


def statistics(name, times, speed, twa):
    write(f"{name}.csv", ["ms", "tws", "twa"], zip(times, speed, twa))

    hold = 3_000
    end = int(times[-1]) // 1000 * 1000
    index = pd.to_timedelta(np.arange(0, end, 10), unit="ms")
    at = pd.to_timedelta(times, unit="ms")
    frame = pd.DataFrame({"tws": speed, "twa": twa}, index=at)
    laid = frame.reindex(index, method="ffill", tolerance=pd.Timedelta(hold - 1, "ms"))
    laid["sin"] = np.sin(np.radians(laid.twa))
    laid["cos"] = np.cos(np.radians(laid.twa))
    grid = laid.tws.notna().astype(float)

    # A second's sum and cover, then windows of whole seconds over them.
    second = pd.DataFrame(
        {
            "sum": laid.tws.fillna(0).resample("1s").sum(),
            "n": grid.resample("1s").sum(),
        }
    )
    three = second.rolling(3).sum()
    gusts = (three["sum"] / three["n"]).where(three["n"] >= 200)
    rows = []
    for upto in range(60, end // 1000 + 1, 37):
        row = [upto]
        for span in (60, 120, 600):
            part = laid.iloc[max(0, (upto - span) * 100) : upto * 100]
            row.append(part.tws.mean())
            row.append(part.tws.std(ddof=0))
            row.append(part.tws.notna().sum() / (span * 100))
        ten = laid.iloc[max(0, (upto - 600) * 100) : upto * 100]
        row.append(gusts.iloc[max(0, upto - 600) + 2 : upto].max())
        row.append(np.degrees(np.arctan2(ten["sin"].sum(), ten["cos"].sum())))
        row.append(np.hypot(ten["sin"].mean(), ten["cos"].mean()))
        rows.append([repr(float(v)) if isinstance(v, float) else v for v in row])
    header = ["upto"]
    for span in (60, 120, 600):
        header += [f"mean_{span}", f"deviation_{span}", f"share_{span}"]
    write(f"{name}_expected.csv", header + ["gust_600", "twa_600", "length_600"], rows)


def trends():
    """Slopes of an hour's minutes by numpy."""
    dice = np.random.default_rng(11)
    rows = []
    for n in range(12):
        slope = dice.uniform(-8, 8)
        minutes = np.round(20 + slope * np.arange(60) / 60 + dice.normal(size=60), 3)
        fit = np.polynomial.Polynomial.fit(np.arange(60) / 60, minutes, 1).convert()
        rows.append([repr(float(fit.coef[1]))] + [repr(float(m)) for m in minutes])
    write("trend.csv", ["slope"] + [f"m{n}" for n in range(60)], rows)


if __name__ == "__main__":
    triangles()
    series()
    mast()
    trends()
