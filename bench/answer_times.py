#!/usr/bin/env python3
"""Processor time of the commands that ask for many estimates, against an older build, with what the two answers differ by.

    bench/answer_times.py --older OLD/whorl --program build/src/app/whorl [--case CASE] [--only explain,band,...] [--best N]

One run prints every ratio that is a goal, with the accuracy beside it: commands on one case, then a row of a sweep on every shipped case in
both tiers and both models of drying. Processor time of the whole process, all its threads together, the best of N runs of either build in
turn: what else the machine does hardly matters, and the number of threads does not. The last column is a check only where the older build has the same equations: one from just before a change of how neighbours are
solved. Against 0.1.0, whose equations differ, it shows that difference, and the times alone count.
"""
import argparse
import itertools
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FITTED = "model.excess_draw,model.zero_shear_viscosity_factor,model.relaxation_time_factor"


def run(command):
    """Processor seconds of a command, and what it printed."""
    words = [str(word) for word in command]
    if "-o" in words:  # of an earlier run of it; files are not replaced unasked
        for name in (words[words.index("-o") + 1], words[words.index("-o") + 1] + "-metadata.json"):
            Path(name).unlink(missing_ok=True)
    with tempfile.TemporaryFile() as printed:
        process = subprocess.Popen(words, stdout=printed, stderr=subprocess.DEVNULL)
        _, status, usage = os.wait4(process.pid, 0)
        if os.waitstatus_to_exitcode(status) not in (0, 1):
            sys.exit("answer_times.py: failed: " + " ".join(words))
        printed.seek(0)
        return usage.ru_utime + usage.ru_stime, printed.read().decode()


def same_estimate(old, new):
    a, b = json.loads(old)["results"], json.loads(new)["results"]
    off = max((abs(b[k] / a[k] - 1.0), k) for k in a if k in b and a[k])
    return f"largest change of a result {100 * off[0]:.2g} % ({off[1]})"


def slopes(text):
    found = {}
    for row in json.loads(text)["elasticities"]["inputs"]:
        for output, slope in row.get("outputs", {}).items():
            found[row["key"], output] = slope
    return found


def same_slopes(old, new):
    """Of the diameter and the line speed, where both call them linear."""
    a, b = slopes(old), slopes(new)
    off = [(abs(b[k]["value"] - a[k]["value"]), k[0]) for k in a
           if k in b and k[1] in ("dry_diameter_um", "line_speed_m_s") and a[k]["linear"] and b[k]["linear"]]
    worst = max(off)
    return (f"largest change of {len(off)} elasticities {worst[0]:.1e} ({worst[1]}), "
            f"{sum(x[0] > 1e-4 for x in off)} above 1e-4")


def against_plain(program, case):
    """Of bands on two levels: how far from the same number of other samples, all in full, by the errors that both state."""
    def compare(_, new):
        plain = run([program, "estimate", case, "--uncertainty", "128", "--all-in-full", "--sample-seed", "2", "--json"])[1]
        a, b = json.loads(plain)["uncertainty"], json.loads(new)["uncertainty"]
        off = []
        for part in ("all", "measurement_and_property", "model_form"):
            for output, band in a[part]["bands"].items():
                there = b[part]["bands"].get(output)
                for q in ("median", "p05", "p95") if there else ():
                    error = (band[q + "_error"] ** 2 + there[q + "_error"] ** 2) ** 0.5 + 1e-9 * abs(band[q])
                    off.append(abs(there[q] - band[q]) / error if error else 0.0)
        off.sort()
        return (f"against 128 other samples all in full: of {len(off)} quantiles {100 * sum(x <= 2 for x in off) / len(off):.1f} % "
                f"within 2 of their joint error, {100 * sum(x <= 3 for x in off) / len(off):.1f} % within 3")
    return compare


def same_fit(old, new):
    a, b = json.loads(old), json.loads(new)
    off = [abs(q["z"] - p["z"]) / max(p["z_sd"], 1e-12) for p, q in zip(a["parameters"], b["parameters"])]
    return f"largest change of a fitted number {max(off):.1e} of its standard deviation"


def only_times(old, new):
    return ""


def same_tier(old, new):
    """Of a window: which tier drew it, and whether that is the tier of `estimate`."""
    tier = json.loads(new).get("tier", "not said")
    return f"drawn with tier {tier}; the older build without tension"


def best_of(count, command):
    return min((run(command) for _ in range(count)), key=lambda one: one[0])


def rows_of_a_sweep(given, place, count):
    """A row of a sweep, every shipped case: processor time of many rows less that of two, over the rows between."""
    print(f"\n{'row of a sweep':22} {'tier':9} {'drying':7} {'older ms':>9} {'now ms':>9} {'now/older':>9} {'goal':>5}")
    worst = {}
    for case in sorted((ROOT / "cases").glob("*.json")):
        value, unit = json.loads(case.read_text())["operation"]["rotation_speed"].split()
        for tier in ("inertial", "tension"):
            for drying in ("lumped", "radial"):
                def seconds(program, rows):
                    return best_of(given.best, [program, "sweep", case, "--set", f"model.tier={tier}", "--set", f"model.drying={drying}", "--vary",
                                                f"rotation_speed={value} {unit}..{1.01 * float(value)} {unit}:{rows}", "--threads", "1",
                                                "-o", f"{place}/rows{next(count)}.csv"])[0]
                many = 40 if tier == "inertial" else 10
                older, now = (1e3 * max(seconds(p, many) - seconds(p, 2), 1e-6) / (many - 2) for p in (given.older, given.program))
                worst[tier, drying] = max(worst.get((tier, drying), (0.0, "")), (now / older, case.stem))
                print(f"{case.stem:22} {tier:9} {drying:7} {older:9.2f} {now:9.2f} {now / older:9.2f} {'<= 2':>5}", flush=True)
    for (tier, drying), (ratio, name) in worst.items():
        print(f"largest, {tier} {drying}: {ratio:.2f} ({name})")


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--older", required=True, help="whorl of the older build")
    arguments.add_argument("--program", required=True, help="whorl of this build")
    arguments.add_argument("--case", default=ROOT / "cases/pcl-chloroform.json")
    arguments.add_argument("--trials", default=ROOT / "cases/measured/pcl-chloroform-trials.csv")
    arguments.add_argument("--only", default="", help="some of estimate, explain, report, band, calibrate, window, rows")
    arguments.add_argument("--best", type=int, default=1, help="runs of each, the best of which counts")
    given = arguments.parse_args()
    case = given.case
    with tempfile.TemporaryDirectory() as place:
        page = itertools.count()
        rows = {
            "estimate": (lambda: ["estimate", case, "--json"], same_estimate, 5),
            "explain": (lambda: ["explain", case, "--json"], same_slopes, 20),
            "report": (lambda: ["report", case, "-o", f"{place}/page{next(page)}.html"], only_times, 15),
            "band": (lambda: ["estimate", case, "--uncertainty", "128", "--json"], against_plain(given.program, case), 15),
            "calibrate": (lambda: ["calibrate", case, given.trials, "--fit", FITTED, "--json"], same_fit, 20),
            # 0.1.0 knew windows without tension only: at most three times that
            "window": (lambda: ["window", case, "--json"], same_tier, 1.0 / 3.0),
        }
        wanted = given.only.split(",") if given.only else [*rows, "rows"]
        print(f"{'command':10} {'older s':>8} {'now s':>8} {'times':>6} {'goal':>5}  answers")
        for name in wanted:
            if name == "rows":
                continue
            command, compare, goal = rows[name]
            before, old = best_of(given.best, [given.older, *command()])
            now, new = best_of(given.best, [given.program, *command()])
            print(f"{name:10} {before:8.2f} {now:8.2f} {before / now:6.1f} {goal:5.3g}  {compare(old, new)}", flush=True)
        if "rows" in wanted:
            rows_of_a_sweep(given, place, page)


if __name__ == "__main__":
    main()
