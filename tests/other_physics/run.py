"""Makes runs with other physics, replays them with the binary, prints the figures as Markdown.

    python tests/other_physics/run.py --bolting-host PATH --count 420 --seed 1
    python tests/other_physics/run.py --bolting-host PATH --seed 1 --kinds sound strip_fast
    python tests/other_physics/run.py --bolting-host PATH --seed 1 --keep strip_fast-003 --out look/
"""

import argparse
import json
import os
import shutil
import sys
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))

import report
import runs
import score


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--bolting-host", required=True, help="the binary to score")
    parser.add_argument("--count", type=int, default=420, help="runs, half of them sound (default 420)")
    parser.add_argument("--per-fault", type=int, help="runs of each fault instead of the count's share")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kinds", nargs="*", help="only these kinds, for instance sound strip_fast undo_sound")
    parser.add_argument("--cache", default="target/other-physics", help="folder for recordings")
    parser.add_argument("--keep", metavar="NAME", help="copy the files of this run to --out")
    parser.add_argument("--out", default=".", help="folder for --keep")
    parser.add_argument("--rows", help="write one JSON object a run to this file")
    parser.add_argument("--no-false-stop", action="store_true", help="fail if a sound bolt is stopped")
    parser.add_argument("--jobs", type=int, default=1, help="replays at a time")
    args = parser.parse_args()

    rows = runs.plan(args.count, args.seed, args.kinds, args.per_fault)
    if args.keep:
        rows = [row for row in runs.plan(args.count, args.seed, None, args.per_fault) if row[0] == args.keep]
        if not rows:
            sys.exit(f"no run is called {args.keep}: names are KIND-NNN, with this --count and --seed")
    folder = runs.folder_of(args.cache, args.seed)
    began = time.time()
    truths = [runs.make(row, args.seed, folder) for row in rows]
    made = time.time() - began
    reports = score.replay(args.bolting_host, folder, [row[0] for row in rows], args.jobs)
    if args.keep:
        os.makedirs(args.out, exist_ok=True)
        for end in (".csv", ".toml", ".truth.json"):
            shutil.copy(os.path.join(folder, args.keep + end), args.out)
        for arm in runs.arms.ARMS:
            shutil.copy(os.path.join(folder, arm + ".urdf"), args.out)
        print(json.dumps({k: v for k, v in truths[0].items() if k != "trace"}, indent=1))
        print(json.dumps(reports.get(args.keep), indent=1))
        return
    judged = []
    unusable = [t["name"] for t in truths if not t["usable"]]
    missing = [t["name"] for t in truths if t["name"] not in reports]
    for truth in truths:
        if truth["usable"] and truth["name"] in reports:
            judged.append(score.judge(truth, reports[truth["name"]]))
    print(report.markdown(judged, f"Other physics, seed {args.seed}, {len(judged)} runs"))
    print(f"Fault never showed (left out): {unusable}")
    print(f"No report from the binary: {missing}")
    print(f"Made in {made:.0f} s, replayed in {time.time() - began - made:.0f} s.", file=sys.stderr)
    stopped = [row["name"] for row in judged if row.get("false_stop")]
    if args.no_false_stop and stopped:
        sys.exit(f"sound bolts were stopped: {stopped}: look with --keep NAME --out DIR")
    if args.no_false_stop and not judged:
        sys.exit("no run was judged: give --count and --kinds that make some")
    if args.rows:
        with open(args.rows, "w") as file:
            for row in judged:
                file.write(json.dumps(row) + "\n")


if __name__ == "__main__":
    main()
