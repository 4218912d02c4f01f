#!/usr/bin/env python3
"""Bands of `estimate --uncertainty` on two levels against a large number of samples that are all run in full.

    bench/band_accuracy.py --program build/src/app/whorl [--case CASE] [--samples N] [--seeds K] [--plain M]

M samples in full (seed 1000), then K runs of N samples on two levels (seeds 1 to K). Per set of doubts: how many quantiles lie within two
and within three of their stated error (with that of the large run), and the same of the shares; then the four results of the page one by one, root
mean square of what they are off beside what they say. M of pcl-chloroform costs some 80 ms for each sample of the three sets together.
"""
import argparse
import json
import math
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SETS = ("all", "measurement_and_property", "model_form")
QUANTILES = ("p05", "median", "p95")
SHOWN = ("dry_diameter_um", "residual_solvent", "polymer_throughput_g_h", "line_speed_m_s")


def bands(given, samples, seed, *more):
    command = [given.program, "estimate", given.case, "--uncertainty", samples, "--sample-seed", seed, "--json", *more]
    printed = subprocess.run([str(word) for word in command], stdout=subprocess.PIPE, check=False).stdout
    return json.loads(printed)["uncertainty"]


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--program", required=True)
    arguments.add_argument("--case", default=ROOT / "cases/pvp-ethanol-measured.json")
    arguments.add_argument("--samples", type=int, default=128)
    arguments.add_argument("--seeds", type=int, default=8)
    arguments.add_argument("--plain", type=int, default=2048)
    given = arguments.parse_args()
    truth = bands(given, given.plain, 1000, "--all-in-full")
    runs = [bands(given, given.samples, 1 + k) for k in range(given.seeds)]
    for part in SETS:
        within = [0, 0, 0]
        for run in runs:
            for output, band in run[part]["bands"].items():
                true = truth[part]["bands"].get(output)
                for q in QUANTILES if true else ():
                    off = abs(band[q] - true[q])
                    error = math.hypot(band[q + "_error"], true[q + "_error"]) + 1e-9 * abs(true[q])
                    within = [within[0] + 1, within[1] + (off <= 2 * error), within[2] + (off <= 3 * error)]
        shares = [0, 0]
        for run in runs:
            for kind in ("classes", "landings"):
                for name, true in truth[part][kind].items():
                    share = run[part][kind].get(name, {"share": 0.0, "error": 0.5 / run[part]["in_full"]})
                    near = abs(share["share"] - true["share"]) <= 2 * math.hypot(share["error"], true["error"])
                    shares = [shares[0] + 1, shares[1] + near]
        print(f"{part}: {runs[0][part]['in_full']} of {runs[0][part]['samples']} in full against {truth[part]['samples']}: "
              f"{100 * within[1] / within[0]:.1f} % of {within[0]} quantiles within 2 errors, "
              f"{100 * within[2] / within[0]:.1f} % within 3; {shares[1]} of {shares[0]} shares within 2")
        for output in SHOWN:
            true = truth[part]["bands"].get(output)
            row = f"  {output:24}"
            for q in QUANTILES if true else ():
                there = [run[part]["bands"][output] for run in runs if output in run[part]["bands"]]
                off = math.sqrt(sum((band[q] - true[q]) ** 2 for band in there) / len(there))
                said = math.sqrt(sum(band[q + "_error"] ** 2 for band in there) / len(there))
                row += f"  {q} {true[q]:.4g}: off {off:.2g}, says {said:.2g}"
            print(row)


if __name__ == "__main__":
    main()
