#!/usr/bin/env python3
"""Knees of noisy two-segment curves by two general libraries: PyPI `pwlf` (continuous piecewise linear
least squares) and PyPI `ruptures` (optimal change point search, continuous linear cost).

Writes knees.csv: the parameters of each curve, so that a test can make the very same samples, and the
knee in degrees as each library finds it. `--check` computes again and compares.

A curve: the torque runs level, then rises in a straight line from the knee to the target; uniform
noise from a linear congruential generator. One sample every 0.06 degrees; the libraries see means over
whole degrees of the last 300 degrees before the knee and of all that follows.
"""
import csv
import pathlib
import sys
import warnings

import numpy as np
import pwlf
import ruptures

FILE = pathlib.Path(__file__).with_name("knees.csv")
HEADER = ["seed", "running_nm", "target_nm", "knee_deg", "elastic_deg", "noise_nm", "pwlf_deg", "ruptures_deg"]
STEP_DEG = 0.06
TOLERANCE_DEG = 0.2  # the search of pwlf is random


def noise(seed, count, size_nm):
    state, out = seed, np.empty(count)
    for i in range(count):
        state = (state * 1664525 + 1013904223) % 2**32
        out[i] = (state >> 8) / 2**24 - 0.5
    return out * size_nm * 12**0.5


def curve(case):
    seed, running, target, knee, elastic, size = case
    count = round((knee + elastic) / STEP_DEG)
    angle = STEP_DEG * np.arange(1, count + 1)
    rise = (target - running) / elastic * np.maximum(angle - knee, 0.0)
    return angle, running + rise + noise(seed, count, size)


def knees(case):
    angle, torque = curve(case)
    keep = angle > case[3] - 300.0
    degree = np.floor(angle[keep]).astype(int)
    degree -= degree.min()
    x = np.bincount(degree, angle[keep]) / np.bincount(degree)
    y = np.bincount(degree, torque[keep]) / np.bincount(degree)
    fit = pwlf.PiecewiseLinFit(x, y, seed=1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        by_pwlf = fit.fit(2)[1]
    signal = y.reshape(-1, 1)
    index = ruptures.Dynp(model="clinear", min_size=3, jump=1).fit(signal).predict(n_bkps=1)[0]
    return by_pwlf, x[index - 1]


def rows():
    rng = np.random.default_rng(7)
    for seed in range(1, 13):
        case = (
            seed,
            round(float(rng.uniform(0.2, 1.5)), 3),
            round(float(rng.uniform(20, 60)), 2),
            round(float(rng.uniform(700, 1500)), 1),
            round(float(np.exp(rng.uniform(np.log(30), np.log(300)))), 1),
            round(float(np.exp(rng.uniform(np.log(0.03), np.log(0.3)))), 3),
        )
        yield [*case, *(round(float(k), 2) for k in knees(case))]


def main():
    fresh = list(rows())
    if "--check" in sys.argv:
        with FILE.open() as file:
            kept = [[float(v) for v in row] for row in list(csv.reader(file))[1:]]
        same = len(kept) == len(fresh) and np.allclose(kept, fresh, rtol=0, atol=TOLERANCE_DEG)
        print("knees.csv agrees" if same else "knees.csv differs from what the libraries find now")
        sys.exit(0 if same else 1)
    with FILE.open("w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(HEADER)
        writer.writerows(fresh)


main()
