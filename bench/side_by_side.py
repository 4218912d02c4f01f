#!/usr/bin/env python3
"""One inertial lumped jet, three solvers, equal achieved accuracy: this program's march, CVODE, SciPy's LSODA.

The equations are written here a second time, in plain Python floats (faster than NumPy for ten components), and are held
against the C++ ones at every state that the C++ side hands over before anything is timed. See docs/benchmarks.md.
"""
import argparse
import json
import math
import subprocess
import sys
import time
from math import exp, log, pi, sqrt

try:
    import scipy
    from scipy.integrate import solve_ivp
except ImportError:
    sys.exit("side_by_side.py: this Python has no SciPy (Debian, Ubuntu: python3-scipy; another interpreter: "
             "/usr/bin/python3 side_by_side.py ...)")

GAS_CONSTANT = 8.31446261815324
AIR_MOLAR_MASS = 28.9647e-3
ATMOSPHERE = 101325.0
REFERENCE_K = 298.15
CASES = ["pcl-chloroform", "pmma-acetone-humid", "pvp-ethanol-measured", "pva-water-wet", "ps-thf-sweep"]


def make_equations(c):
    """Right-hand side (t, y, solid), collector event and solidification margin of one jet, from its constants."""
    omega = c["speed_rad_s"]
    omega2 = omega * omega
    polymer_flow = c["polymer_flow_kg_s"]
    gravity = c["gravity_m_s2"]
    rho_p, rho_s = c["polymer_density"], c["solvent_density"]
    density_factor, ratio_0 = c["density_factor"], c["solvent_ratio_0"]
    a, b, cc = c["antoine"]
    mu_air, rho_air = c["air_viscosity"], c["air_density"]
    t_air, p_air, x_air = c["air_temperature"], c["air_pressure"], c["air_vapour_fraction"]
    log_air = math.log1p(-x_air)
    swirl = c["swirl_speed_rad_s"] * c["outer_radius_m"] ** 2
    chi = c["chi"]
    cp_s, cp_p, cp_v = c["solvent_heat_capacity"], c["polymer_heat_capacity"], c["vapour_heat_capacity"]
    t_crit, latent_25 = c["critical_temperature"], c["latent_heat_25"]
    heat_factor, mass_factor = c["heat_factor"], c["mass_factor"]
    molar_mass = c["solvent_molar_mass"]
    d_25 = c["diffusivity_air_25"] * ATMOSPHERE / p_air
    r2_collector = c["collector_radius_m"] ** 2

    def cross_resistance(re):
        if re < 0.1:
            re = max(re, 1e-8)
            s = 2.0022 - log(re)
            return 4 * pi / s * (1 - (s * s - 0.5 * s + 0.3125) * re * re / (32 * s))
        if re < 100:
            l = log(re)
            return exp(1.6911 + l * (0.32778 + l * (0.033287 + l * 0.0035015)))
        return 2 * sqrt(re) + 0.5 * re

    def oblique_resistance(re):
        if re < 0.1:
            re = max(re, 1e-8)
            s = 2.0022 - log(re)
            q = 2 * s - 1
            return 4 * pi / q * (1 - (2 * s * s - 2 * s + 1) * re * re / (16 * q))
        if re < 100:
            l = log(re)
            return exp(1.1552 + l * (0.31521 + l * (0.014884 + l * 7.4966e-4)))
        return 2 * sqrt(re)

    def nusselt(re, share):
        re = max(re, 1e-8)
        lengthwise = 0.42 * re ** 0.334
        value = mixed = lengthwise * (1 + 64 * share) ** 0.167
        if re > 5:
            re_n = re * sqrt(share + 1e-12)
            x58 = (re_n / 282000.0) ** 0.625
            across = 0.3 + 0.62 * 0.892112 / 1.138577 * sqrt(re_n) * (1 + x58) ** 0.8
            high = (across ** 4 + lengthwise ** 4) ** 0.25
            q4 = (re / 50) ** 4
            value = (mixed + q4 * high) / (1 + q4)
        return (value ** 4 + 0.0081) ** 0.25

    def latent_heat(t):
        ratio = (t_crit - t) / (t_crit - REFERENCE_K)
        return latent_25 * (0.32 if ratio < 0.05 else ratio ** 0.38)

    def rhs(t, y, solid):
        px, py, pz, vx, vy, vz, ratio, temperature, _, _ = y
        ux, uy = vx + omega * py, vy - omega * px
        speed = sqrt(ux * ux + uy * uy + vz * vz)
        tx, ty, tz = ux / speed, uy / speed, vz / speed
        density = (1 + ratio) / (1 / rho_p + ratio / rho_s)
        if density_factor != 1.0:
            density *= 1 + (density_factor - 1) * ratio / ratio_0
        linear_mass = polymer_flow * (1 + ratio) / speed
        diameter = sqrt(4 * linear_mass / (pi * density))

        turning = swirl / (px * px + py * py)
        wx, wy, wz = -turning * py - vx, turning * px - vy, -vz
        along = wx * tx + wy * ty + wz * tz
        nx, ny, nz = wx - along * tx, wy - along * ty, wz - along * tz
        across2 = nx * nx + ny * ny + nz * nz
        across = sqrt(across2)
        wind2 = along * along + across2

        re_n = rho_air / mu_air * diameter * across
        re_t = max(rho_air / mu_air * diameter * abs(along), 1e-8)
        lengthwise = 0.5 * pi * 0.37 * re_t ** (1 - 0.61)
        swept = oblique_resistance(re_n)
        drag_t = c["axial_drag_factor"] * mu_air * (lengthwise ** 4 + swept ** 4) ** 0.25 / linear_mass
        drag_n = c["cross_drag_factor"] * mu_air * cross_resistance(re_n) / linear_mass
        drag_along = drag_t * along
        ax = drag_along * tx + drag_n * nx
        ay = drag_along * ty + drag_n * ny
        az = drag_along * tz + drag_n * nz - gravity
        if solid:
            pull = ax * tx + ay * ty + az * tz + omega2 * (px * tx + py * ty)
            ax, ay, az = ax - pull * tx, ay - pull * ty, az - pull * tz

        phi = 1 / (1 + ratio * rho_p / rho_s)
        share = across2 / wind2 if wind2 > 0 else 0.0
        film = 0.5 * (temperature + t_air)
        mu = 1.458e-6 * film * sqrt(film) / (film + 110.4)
        molar_density = p_air / (GAS_CONSTANT * film)
        film_density = AIR_MOLAR_MASS * molar_density
        diffusivity = d_25 * (film / REFERENCE_K) ** 1.75
        nu = nusselt(film_density * sqrt(wind2) * diameter / mu, share)
        lewis_third = (mu / (film_density * diffusivity * 0.71)) ** (1 / 3)
        h = heat_factor * nu * mu * (1006.0 / 0.71) / diameter
        activity = min((1 - phi) * exp(phi + chi * phi * phi), 1.0)
        x = min(activity * 10.0 ** (a - b / (temperature + cc)) / p_air, 0.97)
        drive = log_air - log(1 - x)
        evaporation = mass_factor * nu * lewis_third * molar_density * diffusivity / diameter * molar_mass * drive
        blowing = evaporation * cp_v / h
        if abs(blowing) > 0.3:
            correction = blowing / (exp(blowing) - 1)
        else:
            correction = 1 - blowing * (0.5 - blowing * (1 / 12 - blowing * blowing / 720))
        heat = h * correction * (t_air - temperature)

        per_polymer = pi * diameter * speed / polymer_flow
        return (vx, vy, vz, ax, ay, az, -per_polymer * evaporation,
                per_polymer * (heat - evaporation * latent_heat(temperature)) / (cp_p + ratio * cp_s),
                speed, drag_along * speed)

    def collector(t, y, *_):
        return y[0] * y[0] + y[1] * y[1] - r2_collector

    ap, as_ = c["polymer_expansion"], c["solvent_expansion"]

    def margin(t, y, *_):
        phi = 1 / (1 + y[6] * rho_p / rho_s)
        p, s = phi * ap, (1 - phi) * as_
        glass = y[7] - (p * c["polymer_glass_K"] + s * c["solvent_glass_K"]) / (p + s)
        if not c["crystallises"]:
            return glass
        phi_s = 1 - phi
        inverse_melting = 1 / c["melting_point"] + GAS_CONSTANT * (phi_s - chi * phi_s * phi_s) / (
            c["solvent_molar_volume"] * c["heat_of_fusion_J_m3"])
        return min(glass, max(y[7] + 20.0 - 1 / inverse_melting, 200.0 * (0.5 - phi)))

    collector.terminal, collector.direction = True, 1
    margin.terminal, margin.direction = True, -1
    return rhs, collector, margin


def check_equations(problem):
    """Largest difference of rates and of the solidification margin, relative to the rate of that component."""
    rhs, _, margin = make_equations(problem["constants"])
    largest = [max(abs(s["rates"][i]) for s in problem["states"]) or 1.0 for i in range(10)]
    worst = 0.0
    for s in problem["states"]:
        mine = rhs(0.0, s["y"], s["solid"])
        worst = max(worst, max(abs(m - r) / w for m, r, w in zip(mine, s["rates"], largest)))
        worst = max(worst, abs(margin(0.0, s["y"]) - s["margin"]) / 100.0)
    return worst


def by_scipy(problem, equations, tolerance):
    rhs, collector, margin = equations
    y, t, solid, calls = problem["start"], 0.0, False, 0
    absolute = [tolerance * s for s in problem["scale"]]
    while True:
        events = [collector] if solid else [collector, margin]
        got = solve_ivp(rhs, (t, problem["end_time_s"]), y, method="LSODA", rtol=tolerance, atol=absolute,
                        events=events, args=(solid,))
        calls += got.nfev
        if got.status != 1:
            return None, solid, calls
        if got.t_events[0].size:
            return got.y_events[0][0], solid, calls
        y, t, solid = got.y_events[1][0], got.t_events[1][0], True


def scipy_runs(problem, equations, tolerances):
    runs = []
    reference = problem["reference"]
    for tolerance in tolerances:
        y, solid, calls = by_scipy(problem, equations, tolerance)
        if y is None or solid != reference["solid"]:
            error = math.inf
        else:
            error = max(abs(p - q) / s for p, q, s in zip(y, reference["y"], problem["scale"]))
        runs.append({"tolerance": tolerance, "error": error, "rhs_calls": calls})
    return runs


def cpu_seconds(call, batches=5, at_least=0.05):
    """Smallest mean over batches of the processor time of this process."""
    best = math.inf
    for _ in range(batches):
        n, start = 0, time.process_time()
        while True:
            call()
            n += 1
            spent = time.process_time() - start
            if spent > at_least:
                break
        best = min(best, spent / n)
    return best


def fastest(runs, target):
    """The run of least time among those that meet the error; every tool is chosen by the same rule."""
    good = [r for r in runs if r["error"] <= target]
    return min(good, key=lambda r: r["seconds"]) if good else None


def loosest(runs, target):
    good = [r for r in runs if r["error"] <= target]
    return min(good, key=lambda r: r["rhs_calls"]) if good else None


def geometric_mean(values):
    return exp(sum(map(log, values)) / len(values)) if values else math.nan


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--program", required=True, help="side_by_side_cpp, as built")
    parser.add_argument("--errors", default="1e-4,1e-6", help="largest error at the collector, relative to the scales")
    parser.add_argument("--json", help="write the table as JSON to this file too")
    parser.add_argument("cases", nargs="*", default=CASES)
    options = parser.parse_args()
    targets = [float(t) for t in options.errors.split(",")]

    problems = json.loads(subprocess.run([options.program, *(options.cases or CASES)], check=True,
                                         stdout=subprocess.PIPE).stdout)
    print(f"SciPy {scipy.__version__}, Python {sys.version.split()[0]}; times are processor time of one jet, orifice to "
          "collector, without any report")
    print(f"{'case':21s} {'error':>7s}  {'solver':12s} {'tolerance':>9s} {'achieved':>9s} {'rhs calls':>9s} "
          f"{'us':>9s} {'whorl is':>10s} {'same rhs cost':>13s}")
    rows = []
    worst_equations = 0.0
    for problem in problems:
        difference = check_equations(problem)
        worst_equations = max(worst_equations, difference)
        if difference > 1e-12:
            sys.exit(f"{problem['case']}: the Python equations differ from the C++ ones by {difference:.2g}")
        equations = make_equations(problem["constants"])
        state = problem["start"]
        rhs = equations[0]
        python_rhs = cpu_seconds(lambda: [rhs(0.0, state, False) for _ in range(100)]) / 100
        tolerances = [10 ** (-0.25 * k) for k in range(8, 41)]
        lsoda = scipy_runs(problem, equations, tolerances)
        for target in targets:
            chosen = {"whorl": fastest(problem["tools"]["whorl"], target)}
            cvode = [r for tool in ("CVODE Adams", "CVODE BDF") for r in
                     ({**run, "tool": tool} for run in problem["tools"][tool])]
            chosen["CVODE"] = fastest(cvode, target)
            pick = loosest(lsoda, target)
            if pick:
                pick = dict(pick)
                pick["seconds"] = cpu_seconds(lambda: by_scipy(problem, equations, pick["tolerance"]))
                # What would be left if the right-hand side cost what it costs in C++.
                pick["bare_seconds"] = pick["seconds"] - pick["rhs_calls"] * (python_rhs - problem["rhs_seconds"])
            chosen["LSODA"] = pick
            mine = chosen["whorl"]
            for tool, run in chosen.items():
                if run is None or mine is None:
                    print(f"{problem['case']:21s} {target:7.0e}  {tool:12s} reaches this error at no tolerance tried")
                    continue
                ratio = run["seconds"] / mine["seconds"]
                bare = run.get("bare_seconds", run["seconds"]) / mine["seconds"]
                name = run.get("tool", tool if tool == "whorl" else "SciPy LSODA")
                print(f"{problem['case']:21s} {target:7.0e}  {name:12s} {run['tolerance']:9.1e} {run['error']:9.1e} "
                      f"{run['rhs_calls']:9d} {1e6 * run['seconds']:9.1f} " +
                      (f"{'':>10s} {'':>13s}" if tool == "whorl" else f"{ratio:9.1f}x {bare:12.1f}x"))
                rows.append({"case": problem["case"], "target_error": target, "tool": tool, "name": name, "ratio": ratio,
                             "same_rhs_cost_ratio": bare, **{k: run[k] for k in ("tolerance", "error", "rhs_calls", "seconds")}})
    check = max(max(p["reference_check"].values()) for p in problems)
    summary = {tool: {"smallest": min(r["ratio"] for r in rows if r["tool"] == tool),
                      "largest": max(r["ratio"] for r in rows if r["tool"] == tool),
                      "mean": geometric_mean([r["ratio"] for r in rows if r["tool"] == tool]),
                      "same_rhs_cost_mean": geometric_mean([r["same_rhs_cost_ratio"] for r in rows if r["tool"] == tool])}
               for tool in ("CVODE", "LSODA") if any(r["tool"] == tool for r in rows)}
    print(f"\nPython and C++ right-hand sides agree to {worst_equations:.1e} (largest rate of each component = 1); the two "
          f"references (march and CVODE, both at 1e-12) to {check:.1e}.")
    for tool, s in summary.items():
        print(f"whorl against {'CVODE (the faster of Adams and BDF)' if tool == 'CVODE' else 'SciPy LSODA'}: "
              f"{s['mean']:.1f} times (geometric mean), {s['smallest']:.1f} times at least"
              + ("" if tool == "CVODE" else f"; {s['same_rhs_cost_mean']:.1f} times if its right-hand side cost what C++'s costs"))
    if options.json:
        with open(options.json, "w", encoding="utf-8") as out:
            json.dump({"rows": rows, "summary": summary, "equations_agree": worst_equations, "references_agree": check}, out, indent=1)


if __name__ == "__main__":
    main()
