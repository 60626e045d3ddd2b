"""Replays runs with the binary and holds what it says to the truth."""

import json
import os
import subprocess
from collections import Counter, defaultdict

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
        row["first"] = next((a["kind"] for a in after if a["kind"] not in ORDINARY), None)
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


def _percent(k, n):
    return f"{k}/{n}" if n < 30 else f"{k}/{n} ({100 * k / n:.1f} %)"


def _quantiles(values, unit):
    v = np.abs([x for x in values if x is not None])
    if len(v) == 0:
        return "none"
    return f"median {np.median(v):.2f}{unit}, 95 % {np.percentile(v, 95):.2f}{unit}, most {v.max():.2f}{unit}"


def report(rows, title):
    """The figures as Markdown."""
    out = [f"# {title}", ""]
    sound = [r for r in rows if "sound" in r["kind"]]
    faulty = [r for r in rows if "sound" not in r["kind"]]
    if sound:
        for kind in ("sound", "undo_sound"):
            part = [r for r in sound if r["kind"] == kind]
            if not part:
                continue
            stops = [r for r in part if r["false_stop"]]
            out += [f"## {kind}: {len(part)} runs", ""]
            out.append(f"- False stops: {_percent(len(stops), len(part))}")
            for r in stops:
                out.append(f"  - `{r['name']}` ({r['source']}): {', '.join(r['false_stop'])}")
            out.append(f"- Verdicts: {dict(Counter(r['verdict'] for r in part))}")
            out.append(f"- Other notes, runs with each: {dict(Counter(n for r in part for n in set(r['notes'])))}")
            worst = Counter(w for r in part if r["verdict"] != "accepted" for w in r["reasons"])
            out.append(f"- Reasons of what was not accepted: {dict(worst)}")
            for source in sorted({r["source"] for r in part}):
                at = [r for r in part if r["source"] == source]
                line = f"- {source}: {len(at)} runs, {sum(bool(r['false_stop']) for r in at)} false stops, "
                line += f"{sum(r['verdict'] == 'accepted' for r in at)} accepted"
                if kind == "sound":
                    known = [r for r in at if r.get("torque_error") is not None]
                    if known:
                        rms = np.sqrt(np.mean([r["torque_error"] ** 2 for r in known]))
                        line += f"; torque RMS {100 * rms:.2f} %, inside 95 % interval {sum(r['torque_inside'] for r in known)}/{len(known)}"
                    line += f"; snug {_quantiles([r.get('snug_error') for r in at], '°')}"
                    line += f"; angle from snug to end {_quantiles([r.get('elastic_error') for r in at], '°')}"
                    line += f", no snug {sum(r.get('snug_error') is None for r in at)}"
                out.append(line)
            out.append("")
        off = [r for r in rows if r.get("torque_inside") is False]
        known = [r for r in rows if r.get("torque_error") is not None]
        if known:
            out.append(f"Torque of all complete runs: inside the 95 % interval {_percent(len(known) - len(off), len(known))}; "
                       f"error {_quantiles([100 * r['torque_error'] for r in known], ' %')}; "
                       f"none told {sum('torque_error' in r and r['torque_error'] is None for r in rows)}")
            out.append("Outside: " + ", ".join(f"`{r['name']}` ({r['source']}, {100 * r['torque_error']:+.1f} %, u {100 * r['torque_u']:.1f} %)" for r in off[:20]))
            out.append("")
        far = sorted([r for r in sound if r.get("snug_error") is not None and abs(r["snug_error"]) > 15], key=lambda r: -abs(r["snug_error"]))
        out.append("Snug off by more than 15°: " + ", ".join(f"`{r['name']}` ({r['source']}, {r['snug_error']:+.0f}°)" for r in far[:20]))
        out.append("")
    if faulty:
        out += ["## Faulty runs", "", "| kind | n | named | near | anything said after onset | stopped after onset | stop before onset | accepted (silent) | delay deg median / 95 % | first said |", "|---|---|---|---|---|---|---|---|---|---|"]
        for kind in faults.NAMES:
            part = [r for r in faulty if r["kind"] == kind]
            if not part:
                continue
            n = len(part)
            delay = [r["delay_deg"] for r in part if r["delay_deg"] is not None]
            shown = f"{np.median(delay):.1f} / {np.percentile(delay, 95):.1f}" if delay else "-"
            first = ", ".join(f"{k} {v}" for k, v in Counter(r["first"] for r in part).most_common(5))
            count = lambda key: sum(bool(r[key]) for r in part)
            silent = sum(r["accepted"] and not r["any"] for r in part)
            out.append(f"| {kind} | {n} | {count('right')} | {sum(r['near'] and not r['right'] for r in part)} | {count('any')} | {count('stopped')} | {count('before')} | {count('accepted')} ({silent}) | {shown} | {first} |")
        out += ["", f"All: named {_percent(sum(r['right'] for r in faulty), len(faulty))}, accepted {_percent(sum(r['accepted'] for r in faulty), len(faulty))}, "
                f"stops before onset {_percent(sum(bool(r['before']) for r in faulty), len(faulty))}", ""]
        out.append("Stops before onset: " + ", ".join(f"`{r['name']}` ({r['source']}: {'+'.join(r['before'])})" for r in faulty if r["before"]))
        out.append("")
        out.append("Accepted: " + ", ".join(f"`{r['name']}` ({r['source']}{'' if r['any'] else ', silent'})" for r in faulty if r["accepted"]))
        out.append("")
        out.append("Not named: " + ", ".join(f"`{r['name']}` ({r['source']}: {r['first']}, {r['verdict']})" for r in faulty if not r["right"]))
    return "\n".join(out) + "\n"
