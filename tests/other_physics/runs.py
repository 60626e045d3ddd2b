"""Which runs a pass holds, and making them (cached: same seed, same bytes)."""

import json
import os
import zlib

import numpy as np

import arms
import faults
import jobs
import record

VERSION = 12  # raise when any physics changes: cached runs are then made anew


def plan(count, seed, kinds=None, per_fault=None):
    """Names of runs with their kind and source: half sound (a sixth of them undone), half faulty."""
    rng = np.random.default_rng([seed, 77])
    names = list(jobs.SOURCES)
    share = np.array(list(jobs.SOURCES.values()))
    rows = []
    sound = count // 2
    every = list(faults.NAMES)
    per = per_fault or max(1, round((count - sound) / len(every)))
    for i in range(sound):
        kind = "undo_sound" if i % 6 == 5 else "sound"
        rows.append((f"{kind}-{i:03d}", kind, str(rng.choice(names, p=share))))
    for kind in every:
        for i in range(per):
            p = share.copy()
            if kind in faults.ARM_ONLY:
                p[names.index("spindle")] = 0
            if kind in ("side_load", "tool_lifting"):
                p[names.index("slim+spindle")] *= 0.5
            rows.append((f"{kind}-{i:03d}", kind, str(rng.choice(names, p=p / p.sum()))))
    if kinds:
        rows = [r for r in rows if r[1] in kinds]
    return rows


def make(row, seed, folder, redraw=12):
    """Makes one run if it is not there. Runs whose fault never shows are drawn again."""
    name, kind, source = row
    truth_path = os.path.join(folder, name + ".truth.json")
    if os.path.exists(truth_path):
        with open(truth_path) as file:
            return json.load(file)
    for attempt in range(redraw):
        rng = np.random.default_rng([seed, zlib.crc32(name.encode()), attempt, VERSION])
        undo = kind.startswith("undo_")
        plain = kind in ("prevailing_dead", "prevailing_high", "not_started", "false_snug", "cross_thread")
        job = jobs.draw(rng, kind, source, undo, soft_locking=0.0 if plain else None)
        if "sound" not in kind:
            getattr(faults, kind)(job, rng)
        truth = record.run(job, rng, name, folder)
        truth["attempt"] = attempt
        if kind == "sound":  # an operator who missed the window made no sound run
            window = job.target * (job.stated["tolerance"] / 100 - 0.015)
            truth["finished"] = truth["finished"] and abs(truth["final_torque_nm"] - job.target) < window
        if kind == "galling" and truth["onset_s"] is not None:  # reached the target before it had galled to speak of
            turned = truth["final_bolt_deg"] - truth["onset_deg"]
            truth["onset_s"] = truth["onset_s"] if turned > 0.1 * truth["elastic_deg"] + 3 else None
        if kind == "over_angle" and truth["stated"]["elastic"] < 15:  # nobody states a joint that stiff
            truth["onset_s"] = None
        if kind == "yield_near" and truth["end_slope_part"] > 0.5:  # stopped before it had yielded to speak of
            truth["onset_s"] = None
        good = truth["finished"] and ("sound" in kind or truth["onset_s"] is not None)
        if good or attempt == redraw - 1:
            truth["usable"] = bool(good)
            with open(truth_path, "w") as file:
                json.dump(truth, file)
            return truth


def folder_of(base, seed):
    folder = os.path.join(base, f"v{VERSION}-seed{seed}")
    os.makedirs(folder, exist_ok=True)
    for name, build in arms.ARMS.items():
        path = os.path.join(folder, name + ".urdf")
        if not os.path.exists(path):
            with open(path, "w") as file:
                file.write(arms.urdf(build()))
    return folder
