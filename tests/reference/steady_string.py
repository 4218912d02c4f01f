"""Source: own formulation below. Generates steady_string.csv: the steady thread between a turning orifice and a free end at the collector radius, without
air and surface tension, by scipy's collocation solver on its own formulation (radius as variable, tension as a vector:
`full`, or kept along the jet: `along`). Nothing of the program is used.

  m u' = F' + (m/u) Omega^2 r cos(psi)                       ' = d/ds, psi from the radius to the jet
  (m u - F) kappa = -(m/u)(Omega^2 r sin(psi) + 2 Omega u)   along: F left out here
  kappa = psi' + sin(psi)/r,  F = (Q/u)(3 eta_s u' + G (c_ss - c_rr)),  Oldroyd-B chains
  u = U, psi = 0, c = 1 at R;  the viscous and elastic part of F is 0 at R_c
Run: python3 steady_string.py > steady_string.csv   (scipy 1.10)
"""
import numpy as np
from scipy.integrate import solve_bvp

R, RC, RHO, AREA = 0.03, 0.13, 1000.0, 1e-6


def solve(U, om, eta_s, eta_p, lam, full, tol=1e-6):
    q = U * AREA
    m = RHO * q

    def rates(share):
        def f(r, y):
            u, psi, force, a, b = y
            cos = np.cos(psi)
            pull = force * m * U
            elastic = share * eta_p / lam * (np.exp(a) - np.exp(b)) if eta_p else 0.0 * a
            du = (pull - q / u * elastic) * u / (3 * share * eta_s * q * cos)
            bend = m * u - (pull if full else 0.0)
            dpsi = (-(m / u) * (om**2 * r * np.sin(psi) + 2 * om * u) / bend - np.sin(psi) / r) / cos
            dforce = m * du - (m / u) * om**2 * r
            da = 2 * du / u - (1 - np.exp(-a)) / (lam * u * cos)
            db = -du / u - (1 - np.exp(-b)) / (lam * u * cos)
            return np.array([du, dpsi, dforce / (m * U), da, db])
        return f

    def ends(y0, y1):
        return np.array([y0[0] / U - 1, y0[1], y1[2], y0[3], y0[4]])

    r = R + (RC - R) * np.linspace(0, 1, 400)**1.5
    u = np.sqrt(U**2 + om**2 * (r**2 - R**2))
    psi = np.arcsin(np.clip((om * R * R / r - om * r) / u, -0.999, 0.999))
    share = min(1.0, 0.3 / max(eta_s + eta_p, 0.3))
    y = np.array([u, psi, 3 * share * eta_s * q / u * np.gradient(u, r) * np.cos(psi) / (m * U), 0 * r, 0 * r])
    while True:
        s = solve_bvp(rates(share), ends, r, y, tol=tol if share == 1 else 1e-4, max_nodes=100000)
        if s.status:
            return None
        if share == 1:
            return s
        r, y = s.x, s.y
        share = min(1.0, 1.25 * share)


if __name__ == "__main__":
    print("# Steady thread without air and surface tension; R 0.03 m, R_c 0.13 m, 1000 kg/m3, 1 mm2 at the orifice.")
    print("# Computed by steady_string.py (scipy collocation, tolerance 1e-6). pull_ratio: F/(m U) at the orifice; angle: of the jet")
    print("# against the radius at the collector. 'none': the solver finds no steady thread that leaves radially.")
    print("speed_rad_s,exit_speed_m_s,eta_s_Pa_s,eta_p_Pa_s,lambda_s,tension,line_speed_m_s,angle_rad,pull_ratio")
    for U, om, es, ep, lam in ((3, 100, 1, 0, 1), (3, 100, 10, 0, 1), (3, 100, 30, 0, 1), (6, 100, 30, 0, 1), (3, 300, 1, 0, 1), (3, 300, 3, 0, 1),
                               (3, 300, 1, 2, 3e-3), (3, 100, 2, 10, 0.01), (3, 100, 2, 10, 0.1), (1, 1000, 0.05, 0, 1), (1, 1000, 1, 0, 1)):
        for full in (True, False):
            s = solve(U, om, es, ep, lam, full)
            kind = "vector" if full else "along"
            if s is None:
                print(f"{om},{U},{es},{ep},{lam},{kind},none,,", flush=True)
            else:
                print(f"{om},{U},{es},{ep},{lam},{kind},{s.y[0, -1]:.6f},{s.y[1, -1]:.5f},{s.y[2, 0]:.5f}", flush=True)
