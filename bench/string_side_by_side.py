#!/usr/bin/env python3
"""The steady Newtonian string, two solvers, equal achieved accuracy: the tension tier and SciPy's solve_bvp.

    m u' = F' + (m/u) Omega^2 r cos(psi),   F = 3 eta Q u'/u                      ' = d/ds, psi from the radius to the jet
    m u (psi' + sin(psi)/r) = -(m/u)(Omega^2 r sin(psi) + 2 Omega u)              the pull acts along the jet only
    u = U, psi = 0 at the orifice, F = 0 at the collector

No air, no drying, no surface tension. Error: the largest of |ln u - ln u_ref| along the jet, at the stations of the tension tier (nodes and
inner points of its cells) and at 200 radii for SciPy (its cubics), against solve_bvp at the tightest tolerance it
manages (1e-8 to 1e-3; its error is far below that); that reference is
held against the finest mesh of the tension tier. Tolerances of 1e-1 to 1e-6; the cheapest run of each that meets an error counts. SciPy: vectorised
equations, started from free flight on 20, 50 or 400 nodes, at once or in steps of the viscosity, whichever is cheapest. Ours twice: the
two-point problem alone, from the same free flight on 20 or 50 nodes ("equations"); and the whole jet as the tension tier computes it in
production, with its inertial start, the march of the path with air and drying switched on and idle, and all reports ("whole jet"), which
solve_bvp has no part in. Processor time, best of several.
"""
import argparse
import json
import math
import subprocess
import sys
import time

try:
    import numpy as np
    from scipy.integrate import solve_bvp
except ImportError:
    sys.exit("string_side_by_side.py: this Python has no SciPy (Debian, Ubuntu: python3-scipy)")

RHO, AREA = 1000.0, 1e-6
# exit speed [m/s], rotation [rad/s], viscosity [Pa s]: Rossby number 1, 1, 0.5, 0.33, 0.033, Reynolds number rho U R/(3 eta) 30, 3, 30, 30, 200.
# Small vessels spin at Rossby numbers of 0.01 to 0.1.
STRINGS = [(3.0, 100.0, 1.0), (3.0, 100.0, 10.0), (3.0, 200.0, 1.0), (3.0, 300.0, 1.0), (1.0, 1000.0, 0.05)]
TARGETS = [1e-3, 1e-4, 1e-5]


class String:
    def __init__(self, speed, omega, eta, inner, outer):
        self.speed, self.omega, self.eta, self.inner, self.outer = speed, omega, eta, inner, outer

    def rates(self, eta):
        u0, om = self.speed, self.omega
        q = u0 * AREA
        m = RHO * q

        def f(r, y):
            u, psi, pull = y  # pull: F/(m U)
            sin, cos = np.sin(psi), np.cos(psi)
            du = pull * (m * u0) * u / (3.0 * eta * q * cos)
            dpsi = (-(om * om * r * sin + 2.0 * om * u) / (u * u) - sin / r) / cos
            return np.vstack([du, dpsi, (du - om * om * r / u) / u0])

        return f

    def ends(self, a, b):
        return np.array([a[0] / self.speed - 1.0, a[1], b[2]])

    def start(self, nodes):
        r = self.inner + (self.outer - self.inner) * np.linspace(0.0, 1.0, nodes) ** 1.5
        u = np.sqrt(self.speed**2 + self.omega**2 * (r**2 - self.inner**2))
        psi = np.arcsin(np.clip((self.omega * self.inner**2 / r - self.omega * r) / u, -0.999, 0.999))
        pull = 3.0 * self.eta * AREA / u * np.gradient(u, r) * np.cos(psi) / (RHO * AREA * self.speed)
        return r, np.vstack([u, psi, pull])

    def solve(self, tolerance, nodes, steps):
        """steps: in the viscosity, each 1.25 times the one before; False: at once. None: not solved."""
        r, y = self.start(nodes)
        share = min(1.0, 0.3 / max(self.eta, 0.3)) if steps else 1.0
        y[2] *= share
        while True:
            s = solve_bvp(self.rates(share * self.eta), self.ends, r, y, tol=tolerance if share == 1.0 else 1e-4, max_nodes=100000)
            if s.status != 0 or not np.all(np.isfinite(s.y)) or np.any(s.y[0] <= 0.0):
                return None
            if share == 1.0:
                return s
            r, y, share = s.x, s.y, min(1.0, 1.25 * share)


def cpu_seconds(call):
    best = math.inf
    for _ in range(2):
        begin, runs = time.process_time(), 0
        while time.process_time() - begin < 0.02:
            call()
            runs += 1
        best = min(best, (time.process_time() - begin) / runs)
    return best


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--program", required=True, help="string_side_by_side_cpp of the build")
    parser.add_argument("--json", help="also write the results here")
    options = parser.parse_args()
    kinds = {"equations": "equations", "runs": "whole jet"}
    results = []
    print(f"{'U':>4s} {'Omega':>6s} {'eta':>5s} {'error':>7s} {'solve_bvp':>12s} {'tol':>7s}", end="")
    for name in kinds.values():
        print(f" {name:>14s} {'cells':>6s} {'ratio':>7s}", end="")
    print()
    for speed, omega, eta in STRINGS:
        text = subprocess.run([options.program, str(speed), str(omega), str(eta)], check=True, stdout=subprocess.PIPE).stdout
        ours = json.loads(text)
        string = String(speed, omega, eta, ours["inner_m"], ours["outer_m"])
        # as tight as it will go
        tries = (string.solve(t, 400, steps) for t in (1e-8, 1e-7, 1e-6, 1e-5, 1e-4, 1e-3) for steps in (False, True))
        reference = next((s for s in tries if s is not None), None)
        if reference is None:
            print(f"{speed:4g} {omega:6g} {eta:5g} solve_bvp finds no solution")
            continue

        def error(radius, velocity):
            inside = np.clip(radius, string.inner, string.outer)
            return float(np.max(np.abs(np.log(velocity) - np.log(reference.sol(inside)[0]))))

        for kind in kinds:
            for run in ours[kind]:
                run["error"] = error(np.array(run["radius_m"]), np.array(run["speed_m_s"]))
        theirs = []
        sample = np.linspace(string.inner, string.outer, 200)
        for nodes, steps in [(n, k) for n in (20, 50, 400) for k in (False, True)]:
            for tolerance in (1e-1, 1e-2, 1e-3, 1e-4, 1e-5):
                s = string.solve(tolerance, nodes, steps)
                velocity = s.sol(sample)[0] if s is not None else None
                if s is None or np.any(velocity <= 0.0):
                    continue
                seconds = cpu_seconds(lambda: string.solve(tolerance, nodes, steps))
                theirs.append({"tolerance": tolerance, "nodes": nodes, "steps": steps, "seconds": seconds, "error": error(sample, velocity)})
        for target in TARGETS:
            good = [run for run in theirs if run["error"] <= target]
            if not good:
                print(f"{speed:4g} {omega:6g} {eta:5g} {target:7.0e} not reached by solve_bvp")
                continue
            two = min(good, key=lambda run: run["seconds"])
            print(f"{speed:4g} {omega:6g} {eta:5g} {target:7.0e} {1e3 * two['seconds']:9.2f} ms {two['tolerance']:7.0e}", end="")
            for kind in kinds:
                met = [run for run in ours[kind] if run["error"] <= target]
                if not met:
                    print(f" not reached, best {min(run['error'] for run in ours[kind]):.1e}", end="")
                    continue
                one = min(met, key=lambda run: run["seconds"])
                ratio = two["seconds"] / one["seconds"]
                results.append({"kind": kind, "speed": speed, "omega": omega, "eta": eta, "target": target, "ours_s": one["seconds"],
                                "bvp_s": two["seconds"], "ratio": ratio})
                print(f" {1e3 * one['seconds']:11.3f} ms {one['cells']:6d} {ratio:7.1f}", end="")
            print()
        print(f"     finest meshes against the reference: {min(r['error'] for r in ours['equations']):.1e} (equations), "
              f"{min(r['error'] for r in ours['runs']):.1e} (whole jet)")
    summary = {}
    for kind, name in kinds.items():
        ratios = [r["ratio"] for r in results if r["kind"] == kind]
        if not ratios:
            continue
        mean = math.exp(sum(map(math.log, ratios)) / len(ratios))
        summary[kind] = {"mean": mean, "smallest": min(ratios), "largest": max(ratios)}
        print(f"solve_bvp's time over ours, {name}: {mean:.0f} (geometric mean), {min(ratios):.0f} to {max(ratios):.0f}")
    if options.json:
        with open(options.json, "w", encoding="utf-8") as out:
            json.dump({**summary, "runs_compared": results}, out, indent=1)


if __name__ == "__main__":
    main()
