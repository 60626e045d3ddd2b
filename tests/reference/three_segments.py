"""Snug angles of measured tightening runs from a general three-segment fit (PyPI `pwlf`).

    python3 three_segments.py            write three_segments.csv beside this file
    python3 three_segments.py --check    fit again and compare with it; exit 1 on a difference

The measured runs lie at ../../../shared/data/tightening_ok_runs.csv.gz, or in the folder that
BOLTING_SHARED_DATA names; they are not part of this repository. They are 7 tightening runs of
thread-forming screws, all good: West, Deuse, dataset collection from industrial screw driving
experiments, arXiv 2505.11925 (2025), CC BY 4.0; changed: JSON to CSV, half of the runs.

What is fitted: raw torque over angle by a continuous function of three straight segments, least
squares, both knees free. Knee 2, where the last two segments meet, is the snug angle.
- Only samples at which the tool turns forward count: the angle exceeds every angle before it. While
  the tool stands between its steps the torque falls to 0 and comes back at the same angle, which
  says nothing of the joint. Nothing else is smoothed or held at a maximum.
- Only the steps that run the screw down and seat it count ("Thread", "Pre-tightening"; to 1.1 N·m).
  Finding the thread comes before. The last step starts anew with a dip, and in four runs the joint
  gives way in it (the slope halves): a third segment that had to cover it would meet the second 20
  to 40 degrees before the torque visibly rises.
- Torques are averaged over whole degrees first: samples are even in time, so that a slow stretch
  would otherwise count many times over.
Plots of all seven runs were looked at: knee 2 lies where the torque leaves the level of the rundown.
"""

import csv
import gzip
import os
import pathlib
import sys

import numpy as np
import pwlf

HERE = pathlib.Path(__file__).parent
TABLE = HERE / "three_segments.csv"
DATA = pathlib.Path(os.environ.get("BOLTING_SHARED_DATA", HERE / "../../../shared/data"))
RUNS = DATA / "tightening_ok_runs.csv.gz"
STEPS = ("Thread", "Pre-tightening")
SEED = 1  # of the search for the knees
HEADER = ["run_id", "knee1_deg", "knee2_deg", "slope1", "slope2", "slope3", "rms_nm"]  # N·m/deg
TOLERANCE_DEG = 0.5  # the search is random; tests allow 10


def read():
    runs = {}
    with gzip.open(RUNS, "rt") as file:
        for row in csv.DictReader(file):
            point = row["step"], float(row["angle_deg"]), float(row["torque_nm"])
            runs.setdefault(row["run_id"], []).append(point)
    return runs


def rundown(points):
    """Angle and torque, one mean per whole degree, of the forward samples in STEPS."""
    sums = {}
    furthest = -np.inf
    for step, angle, torque in points:
        if angle > furthest and step in STEPS:
            total = sums.setdefault(int(angle), np.zeros(3))
            total += (angle, torque, 1.0)
        furthest = max(furthest, angle)
    means = np.array([total[:2] / total[2] for total in sums.values()])
    return means[:, 0], means[:, 1]


def rows():
    for run_id, points in read().items():
        angle, torque = rundown(points)
        fit = pwlf.PiecewiseLinFit(angle, torque, seed=SEED)
        knees = fit.fit(3)
        rms = np.sqrt(np.mean((fit.predict(angle) - torque) ** 2))
        slopes = [f"{slope:.5f}" for slope in fit.slopes]
        yield [run_id, f"{knees[1]:.2f}", f"{knees[2]:.2f}", *slopes, f"{rms:.4f}"]


def check():
    with TABLE.open(newline="") as file:
        kept = {row["run_id"]: row for row in csv.DictReader(file)}
    made = {row[0]: dict(zip(HEADER, row)) for row in rows()}
    if kept.keys() != made.keys():
        sys.exit(f"{TABLE.name} is of other runs")
    for run_id, row in made.items():
        off = abs(float(row["knee2_deg"]) - float(kept[run_id]["knee2_deg"]))
        if off > TOLERANCE_DEG:
            sys.exit(f"run {run_id}: knee 2 is off by {off:.2f} degrees")
    print(f"{len(made)} runs agree with {TABLE.name}")


def write():
    with TABLE.open("w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(HEADER)
        out.writerows(rows())


if __name__ == "__main__":
    check() if "--check" in sys.argv[1:] else write()
