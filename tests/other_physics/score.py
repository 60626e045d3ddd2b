"""Replays runs with the binary and holds what it says to the truth."""

import json
import os
import subprocess

import numpy as np

import faults

DEG = np.pi / 180
ORDINARY = {"breakaway", "thread_free"}  # said of sound bolts, too
SPARE_S = 0.05  # an alarm this much before the onset counts as at it: the onset is a matter of taste


def replay(binary, folder, names, jobs=1):
    """Reports by run name."""
    reports = {}
    for k in range(0, len(names), 100):
        part = [os.path.join(folder, n + ".csv") for n in names[k:k + 100]]
        got = subprocess.run([binary, "replay", "--json", "--jobs", str(jobs)] + part, capture_output=True, text=True)
        if got.returncode not in (0, 1):
            print(got.stderr[:2000])
        for line in got.stdout.splitlines():
            report = json.loads(line)
            reports[report["run"]] = report
    return reports


def judge(truth, report):
    """One row of figures for a run."""
    kind, onset = truth["kind"], truth["onset_s"]
    if kind == "missing_part":  # it shows where snug is overdue
        due = (truth["stated"]["turns"] + truth["stated"]["turns_tol"]) * 360
        late = np.flatnonzero(np.array(truth["trace"]["bolt_deg"]) >= due)
        onset = truth["named_s"] = truth["trace"]["time_s"][late[0]] if len(late) else onset
    alarms = report["alarms"]
    trace = truth["trace"]
    drive = lambda s: float(np.interp(s, trace["time_s"], trace["drive_deg"]))
    row = {"name": truth["name"], "kind": kind, "source": truth["source"], "verdict": report["verdict"],
           "reasons": report["reasons"], "alarms": [(a["kind"], round(a["time_s"], 3), a["stops"]) for a in alarms]}
    if "sound" in kind:
        row["false_stop"] = [a["kind"] for a in alarms if a["stops"]]
        row["notes"] = [a["kind"] for a in alarms if not a["stops"] and a["kind"] not in ORDINARY]
    else:
        right, near = faults.NAMES[kind]
        after = [a for a in alarms if a["time_s"] >= onset - SPARE_S]
        row["before"] = [a["kind"] for a in alarms if a["stops"] and a["time_s"] < onset - SPARE_S]
        named = [a for a in alarms if a["kind"] in right]
        row["right"] = bool(named)
        row["near"] = bool([a for a in alarms if a["kind"] in near])
        row["any"] = bool([a for a in after if a["kind"] not in ORDINARY])
        row["stopped"] = bool([a for a in after if a["stops"]])
        row["accepted"] = report["verdict"] == "accepted"
        since = truth["named_s"] if named else onset
        first = named or [a for a in after if a["kind"] not in ORDINARY]
        row["delay_deg"] = drive(first[0]["time_s"]) - drive(since) if first else None
        row["delay_s"] = first[0]["time_s"] - since if first else None
        # `right` is at any time of the run; this is whether the first thing said was right.
        row["first"] = next((a["kind"] for a in after if a["kind"] not in ORDINARY), None)
        row["first_right"] = row["first"] in right
    if not truth["undo"] and truth["final_torque_nm"] and kind in ("sound", "under_torque", "over_torque"):
        if report["final_torque_nm"] is not None:
            error = report["final_torque_nm"] - truth["final_torque_nm"]
            row["torque_error"] = error / truth["target_nm"]
            row["torque_inside"] = abs(error) <= 1.96 * report["final_torque_u_nm"]
            row["torque_u"] = report["final_torque_u_nm"] / truth["target_nm"]
        else:
            row["torque_error"] = None
    if kind == "sound" and truth["snug_deg"] is not None:
        said = report["snug_angle_rad"]
        row["snug_error"] = said / DEG - truth["snug_deg"] if said is not None else None
        row["elastic_error"] = None if said is None else (
            abs(report["final_angle_rad"]) / DEG - said / DEG - (truth["final_bolt_deg"] - truth["snug_deg"]))
        row["seeks"], row["ratchet"] = truth["seeks"], truth["ratchet"]
        row["angle_error"] = abs(report["final_angle_rad"]) / DEG - truth["final_bolt_deg"]
    return row
