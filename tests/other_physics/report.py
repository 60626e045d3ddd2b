"""Figures of judged runs as Markdown."""

from collections import Counter

import numpy as np

import faults

HEAD = ["kind", "n", "named at any time", "named first", "near", "anything after onset", "stop after onset", "stop before onset",
        "accepted (silent)", "delay deg median / 95 %", "first said"]


def _part(k, n):
    return f"{k}/{n}" if n < 30 else f"{k}/{n} ({100 * k / n:.1f} %)"


def _spread(values, unit):
    v = np.abs([x for x in values if x is not None])
    if len(v) == 0:
        return "none"
    return f"median {np.median(v):.2f}{unit}, 95 % {np.percentile(v, 95):.2f}{unit}, most {v.max():.2f}{unit}"


def _names(title, rows, say):
    """A line that lists runs, each with what `say` tells of it."""
    return f"{title}: " + (", ".join(f"`{r['name']}` ({say(r)})" for r in rows) or "none")


def _source(rows, source, tighten):
    at = [r for r in rows if r["source"] == source]
    stops = sum(bool(r["false_stop"]) for r in at)
    accepted = sum(r["verdict"] == "accepted" for r in at)
    line = f"- {source}: {len(at)} runs, {stops} false stops, {accepted} accepted"
    if not tighten:
        return line
    known = [r for r in at if r.get("torque_error") is not None]
    if known:
        rms = np.sqrt(np.mean([r["torque_error"] ** 2 for r in known]))
        inside = sum(r["torque_inside"] for r in known)
        line += f"; torque RMS {100 * rms:.2f} %, inside 95 % interval {inside}/{len(known)}"
    line += f"; snug {_spread([r.get('snug_error') for r in at], '°')}"
    line += f"; angle from snug to end {_spread([r.get('elastic_error') for r in at], '°')}"
    return line + f"; no snug {sum(r.get('snug_error') is None for r in at)}"


def _sound(rows, kind):
    part = [r for r in rows if r["kind"] == kind]
    if not part:
        return []
    stops = [r for r in part if r["false_stop"]]
    notes = Counter(n for r in part for n in set(r["notes"]))
    reasons = Counter(w for r in part if r["verdict"] != "accepted" for w in r["reasons"])
    out = [f"## {kind}: {len(part)} runs", "", f"- False stops: {_part(len(stops), len(part))}"]
    out += [f"  - `{r['name']}` ({r['source']}): {', '.join(r['false_stop'])}" for r in stops]
    out += [f"- Verdicts: {dict(Counter(r['verdict'] for r in part))}",
            f"- Other notes, runs with each: {dict(notes)}",
            f"- Reasons of what was not accepted: {dict(reasons)}"]
    out += [_source(part, source, kind == "sound") for source in sorted({r["source"] for r in part})]
    return out + [""]


def _torque(rows):
    known = [r for r in rows if r.get("torque_error") is not None]
    if not known:
        return []
    near = [r for r in known if abs(r["torque_error"]) <= 0.2]
    off = [r for r in near if not r["torque_inside"]]
    gross = [r for r in known if abs(r["torque_error"]) > 0.2]
    low = sum(r["torque_error"] < 0 for r in off)
    untold = sum("torque_error" in r and r["torque_error"] is None for r in rows)
    return [
        f"Final torque: inside the 95 % interval {_part(len(near) - len(off), len(known))}; "
        f"outside {low} low, {len(off) - low} high; error {_spread([100 * r['torque_error'] for r in near], ' %')}; "
        f"none told {untold}",
        _names("Outside", off[:20], lambda r: f"{r['source']}, {100 * r['torque_error']:+.1f} %, u {100 * r['torque_u']:.1f} %"),
        _names("Off by more than a fifth of the target", gross, lambda r: ", ".join(r.get("notes", []))),
        "",
    ]


def _strokes(sound):
    out = []
    for word, ratchet in (("lifted off between strokes", False), ("with a ratchet", True)):
        part = [r for r in sound if r.get("ratchet") == ratchet and "spindle" not in r["source"]]
        if part:
            late = sum("late_snug" in r["notes"] for r in part)
            out.append(f"Strokes {word}: {len(part)} runs, false late_snug {late}, accepted "
                       f"{sum(r['verdict'] == 'accepted' for r in part)}; "
                       f"bolt angle off {_spread([r['angle_error'] for r in part], '°')}")
    return out + [""]


def _fault_row(kind, part):
    delay = [r["delay_deg"] for r in part if r["delay_deg"] is not None]
    first = ", ".join(f"{k} {v}" for k, v in Counter(r["first"] for r in part).most_common(5))
    count = lambda key: sum(bool(r[key]) for r in part)
    cells = [kind, len(part), count("right"), count("first_right"), sum(r["near"] and not r["right"] for r in part), count("any"),
             count("stopped"), count("before"),
             f"{count('accepted')} ({sum(r['accepted'] and not r['any'] for r in part)})",
             f"{np.median(delay):.1f} / {np.percentile(delay, 95):.1f}" if delay else "-", first]
    return "| " + " | ".join(str(c) for c in cells) + " |"


def markdown(rows, title):
    """The whole report."""
    out = [f"# {title}", ""]
    sound = [r for r in rows if "sound" in r["kind"]]
    faulty = [r for r in rows if "sound" not in r["kind"]]
    out += _sound(sound, "sound") + _sound(sound, "undo_sound") + _torque(rows) + _strokes(sound)
    if faulty:
        n = len(faulty)
        out += ["## Faulty runs", "", "| " + " | ".join(HEAD) + " |", "|---" * len(HEAD) + "|"]
        for kind in faults.NAMES:
            part = [r for r in faulty if r["kind"] == kind]
            if part:
                out.append(_fault_row(kind, part))
        before = [r for r in faulty if r["before"]]
        accepted = [r for r in faulty if r["accepted"]]
        unnamed = [r for r in faulty if not r["right"]]
        out += ["", f"All: named at any time {_part(n - len(unnamed), n)}, named first "
                f"{_part(sum(r['first_right'] for r in faulty), n)}, accepted {_part(len(accepted), n)}, "
                f"stops before onset {_part(len(before), n)}", "",
                _names("Stops before onset", before, lambda r: f"{r['source']}: {'+'.join(r['before'])}"), "",
                _names("Accepted", accepted, lambda r: r["source"] + ("" if r["any"] else ", silent")), "",
                _names("Not named at any time", unnamed, lambda r: f"{r['source']}: {r['first']}, {r['verdict']}")]
    return "\n".join(out) + "\n"
