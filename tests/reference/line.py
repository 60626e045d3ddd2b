#!/usr/bin/env python3
"""Slopes and their standard errors by a general statistics library (scipy.stats.linregress).

Writes line.csv: case, x, y, slope, standard error of the slope, residual standard deviation.
`--check` computes again and compares with the committed file.
"""
import csv
import pathlib
import sys

import numpy as np
from scipy import stats

FILE = pathlib.Path(__file__).with_name("line.csv")


def rows():
    rng = np.random.default_rng(20)
    for case in range(12):
        n = int(rng.integers(5, 64))
        start = rng.uniform(0, 60)
        # Angles in rad by half degrees, torques in N·m; single precision, as the crate reads them.
        x = np.float32(start + 0.0087 * np.arange(n))
        y = np.float32(rng.uniform(-5, 40) * (x - start) + rng.normal(0, rng.uniform(0.01, 1), n))
        fit = stats.linregress(x.astype(float), y.astype(float))
        rest = y - (fit.slope * x.astype(float) + fit.intercept)
        deviation = np.sqrt(np.sum(rest**2) / (n - 2))
        for a, b in zip(x, y):
            yield [case, f"{a:.9g}", f"{b:.9g}"] + [f"{v:.9g}" for v in (fit.slope, fit.stderr, deviation)]


def main():
    fresh = [[str(v) for v in row] for row in rows()]
    if "--check" in sys.argv:
        with FILE.open() as file:
            kept = list(csv.reader(file))[1:]
        same = len(kept) == len(fresh) and all(
            np.allclose(np.float64(a), np.float64(b), rtol=1e-6) for a, b in zip(kept, fresh)
        )
        print("line.csv agrees" if same else "line.csv differs from what scipy computes now")
        sys.exit(0 if same else 1)
    with FILE.open("w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["case", "x", "y", "slope", "slope_u", "deviation"])
        writer.writerows(fresh)


main()
