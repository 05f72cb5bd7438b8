"""The Rust file of fitted numbers: writes it, reads it back, works the odds.

So the reference table, the figures of `judge.py` and the odds aboard come from
one set of numbers.
"""

from __future__ import annotations

import pathlib
import re

import numba
import numpy as np

import features

HORIZON_MIN = np.array([1, 2, 3, 5, 7, 10, 14, 20, 28, 40, 60, 90], float)
# Rows of so many minutes are averaged; `AVERAGED` in the core.
AVERAGED = 4
# A split at nothing would turn on rounding: a millionth of the limit.
LEAST_SPLIT = 1e-6
# Raw log-odds of the trees and what they are worth, chosen on waters left out
# (README.md). Lines between, and on beyond the outer ones.
CALIBRATION = ((-8.0, 2.0), (-8.0, 2.0))


class Tables:
    """The constants of a fitted file by name."""

    def __init__(self, path: pathlib.Path):
        text = path.read_text()
        for name, kind, body in re.findall(
                r"const (\w+): ([^=]+) = (\[[^;]*\]|[^;\[]+);", text):
            numbers = [float(x) for x in re.findall(r"[-+.\w]+", body)]
            setattr(self, name.lower(),
                    np.array(numbers) if "[" in kind else numbers[0])
        for name in ("threshold", "leaf"):
            setattr(self, name, getattr(self, name).astype(np.float32).astype(float))
        for name in ("root", "feature", "left", "right"):
            setattr(self, name, getattr(self, name).astype(np.int64))

    def raw(self, table: np.ndarray, limit: float, knots=None) -> np.ndarray:
        """Sums of the trees at each knot, for rows in the unit of the wind."""
        knots = self.horizon_min if knots is None else np.asarray(knots, float)
        out = np.full((len(table), len(knots)), np.nan)
        ok = np.isfinite(table[:, 0])
        x = np.column_stack([features.at_limit(table[ok], limit), np.zeros(ok.sum())])
        out[ok] = _raw(x, knots, self.root, self.feature, self.threshold, self.left,
                       self.right, self.leaf)
        return out

    def calibrated(self, raw: np.ndarray) -> np.ndarray:
        """Raw log-odds to calibrated log-odds: lines between knots."""
        k, v = self.calibration_raw, self.calibration_log_odds
        low = v[0] + (raw - k[0]) * (v[1] - v[0]) / (k[1] - k[0])
        high = v[-1] + (raw - k[-1]) * (v[-1] - v[-2]) / (k[-1] - k[-2])
        return np.where(raw < k[0], low, np.where(raw > k[-1], high, np.interp(raw, k, v)))

    def log_odds(self, table: np.ndarray, limit: float, step_s: int) -> np.ndarray:
        """Calibrated log-odds at each knot, by the mean over the last rows."""
        raw = averaged(self.raw(table, limit), step_s)
        return self.calibrated(raw)


def averaged(raw: np.ndarray, step_s: int) -> np.ndarray:
    """The mean over the known rows of the last minutes."""
    if step_s >= AVERAGED * 60:
        return raw
    total, count = np.zeros_like(raw), np.zeros_like(raw)
    for age in range(AVERAGED):
        part = raw[:len(raw) - age]
        known = np.isfinite(part)
        total[age:] += np.where(known, part, 0.0)
        count[age:] += known
    return np.where(np.isfinite(raw), total / np.maximum(count, 1), np.nan)


def between(log_odds: np.ndarray, minutes: float, knots=HORIZON_MIN) -> np.ndarray:
    """Log-odds within so many minutes: straight over the logarithm of time."""
    if minutes <= knots[0]:
        return log_odds[:, 0] + np.log(minutes / knots[0])
    minutes = min(minutes, knots[-1])
    j = int(np.searchsorted(knots, minutes))
    part = np.log(minutes / knots[j - 1]) / np.log(knots[j] / knots[j - 1])
    return log_odds[:, j - 1] + (log_odds[:, j] - log_odds[:, j - 1]) * part


@numba.njit(cache=True)
def _raw(x, knots, root, feature, threshold, left, right, leaf):
    out = np.zeros((len(x), len(knots)))
    last = x.shape[1] - 1
    for r in range(len(x)):
        for h in range(len(knots)):
            x[r, last] = knots[h]
            total = 0.0
            for t in range(len(root)):
                base = root[t]
                node = 0
                while node >= 0:
                    n = base + node
                    node = left[n] if x[r, feature[n]] <= threshold[n] else right[n]
                total += leaf[base + t + (-1 - node)]
            out[r, h] = total
    return out


def flat(model):
    """The trees as arrays: roots, then by node and by leaf."""
    root, nodes_of, leaves_of = [], [], []
    for tree in model.dump_model()["tree_info"]:
        root.append(sum(map(len, nodes_of)))
        nodes, leaves = [], []

        def walk(node):
            if "split_index" not in node:
                leaves.append(node)
                return
            nodes.append(node)
            walk(node["left_child"])
            walk(node["right_child"])

        walk(tree["tree_structure"])
        nodes_of.append(nodes)
        leaves_of.append(leaves)
    feature, threshold, left, right, leaf = [], [], [], [], []
    for nodes, leaves in zip(nodes_of, leaves_of):
        place = {n["split_index"]: i for i, n in enumerate(nodes)}
        leaf_place = {n["leaf_index"]: i for i, n in enumerate(leaves)}

        def child(node):
            return (place[node["split_index"]] if "split_index" in node
                    else -1 - leaf_place[node["leaf_index"]])

        for n in nodes:
            assert n["decision_type"] == "<="
            feature.append(n["split_feature"])
            threshold.append(n["threshold"])
            left.append(child(n["left_child"]))
            right.append(child(n["right_child"]))
        leaf.extend(n["leaf_value"] for n in leaves)
    return root, feature, threshold, left, right, leaf


def f32(value: float) -> str:
    return np.format_float_positional(np.float32(value), unique=True, trim="0")


def split(value: float) -> str:
    return f32(np.copysign(max(abs(value), LEAST_SPLIT), value))


def array(doc: str, name: str, kind: str, values, form=lambda v: str(int(v))) -> list[str]:
    """A constant, laid out in lines of 90."""
    lines = [f"/// {doc}", f"pub(super) const {name}: [{kind}; {len(values)}] = ["]
    row = ""
    for value in values:
        text = form(value) + ","
        if len(row) + len(text) > 90:
            lines.append("    " + row.rstrip())
            row = ""
        row += text + " "
    return lines + ["    " + row.rstrip(), "];"]


def wrapped(text: str) -> list[str]:
    """As lines of a head comment."""
    lines, row = [], "//!"
    for word in text.split(" "):
        if len(row) + 1 + len(word) > 80:
            lines.append(row)
            row = "//!"
        row += " " + word
    return lines + [row]


def write(path: pathlib.Path, model, names, without):
    """Writes the fitted file."""
    root, feature, threshold, left, right, leaf = flat(model)
    command = "python tests/reference/outlook/fit_outlook.py DATA"
    if without:
        command += f' --without "{without}"'
    lines = ["//! Fitted numbers of the outlook. Generated, do not edit:",
             f"//! `{command}`.", "//!"]
    lines += wrapped(f"On {len(names)} waters: {', '.join(names)}. {len(root)} trees, "
                     f"{len(feature)} nodes; columns: {', '.join(features.NAMES)}, "
                     "look-ahead.")
    lines += ["", "/// Columns of the trees: a row's and the look-ahead.",
              f"pub(super) const COLUMNS: usize = {features.WIDTH + 1};"]
    lines += array("Look-aheads, minutes, between which log-odds are joined by lines.",
                   "HORIZON_MIN", "f64", HORIZON_MIN, lambda v: f"{v:.1f}")
    lines += array("Calibration: log-odds as the trees give them.", "CALIBRATION_RAW",
                   "f64", CALIBRATION[0], lambda v: f"{v:.6f}")
    lines += array("Calibration: what they were worth on waters left out.",
                   "CALIBRATION_LOG_ODDS", "f64", CALIBRATION[1], lambda v: f"{v:.6f}")
    lines += array("First node of each tree.", "ROOT", "u16", root)
    lines += array("What a node looks at: a column, the look-ahead last.", "FEATURE", "u8",
                   feature)
    lines += array("A node goes left at or under this.", "THRESHOLD", "f32", threshold, split)
    lines += array("Left child: a node of the tree, or -1 - leaf.", "LEFT", "i8", left)
    lines += array("Right child: a node of the tree, or -1 - leaf.", "RIGHT", "i8", right)
    lines += array("Log-odds of the leaves, tree after tree.", "LEAF", "f32", leaf, f32)
    path.write_text("\n".join(lines) + "\n")
