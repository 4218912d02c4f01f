// What many operating points at once could gain in the inertial tier: the right-hand side of a lumped jet written for vectors of points
// against the one that the program uses, and how unlike the steps of neighbouring points are. Measures a bound; nothing of it is in the program.
//   build/bench/lanes [CASE]      compile with -march=native (option WHORL_BENCH_NATIVE) for the vectors of this processor
#include <time.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "jets.hpp"
#include "whorl/engine/estimate.hpp"

namespace {

using namespace whorl;
using model::JetState;

template <int N>
struct Vector {
  typedef double Type __attribute__((vector_size(8 * N)));
  typedef long Mask __attribute__((vector_size(8 * N)));
};

// Arithmetic on N points. Branches are selections: every lane pays for both sides.
template <int N>
struct Lane {
  using V = typename Vector<N>::Type;
  using M = typename Vector<N>::Mask;
  V v;
  Lane() = default;
  Lane(V a) : v(a) {}
  Lane(double a) : v(V{} + a) {}
};
template <int N> Lane<N> operator+(Lane<N> a, Lane<N> b) { return a.v + b.v; }
template <int N> Lane<N> operator-(Lane<N> a, Lane<N> b) { return a.v - b.v; }
template <int N> Lane<N> operator*(Lane<N> a, Lane<N> b) { return a.v * b.v; }
template <int N> Lane<N> operator/(Lane<N> a, Lane<N> b) { return a.v / b.v; }
template <int N> Lane<N> operator+(double a, Lane<N> b) { return a + b.v; }
template <int N> Lane<N> operator-(double a, Lane<N> b) { return a - b.v; }
template <int N> Lane<N> operator*(double a, Lane<N> b) { return a * b.v; }
template <int N> Lane<N> operator/(double a, Lane<N> b) { return a / b.v; }
template <int N> Lane<N> operator+(Lane<N> a, double b) { return a.v + b; }
template <int N> Lane<N> operator-(Lane<N> a, double b) { return a.v - b; }
template <int N> Lane<N> operator*(Lane<N> a, double b) { return a.v * b; }
template <int N> Lane<N> operator/(Lane<N> a, double b) { return a.v / b; }
template <int N> Lane<N> operator-(Lane<N> a) { return -a.v; }
template <int N> auto operator<(Lane<N> a, double b) { return a.v < b; }
template <int N> auto operator>(Lane<N> a, double b) { return a.v > b; }
template <int N> Lane<N> pick(typename Vector<N>::Mask mask, Lane<N> a, Lane<N> b) { return mask ? a.v : b.v; }

template <int N>
Lane<N> root(Lane<N> a) {
  Lane<N> out;
  for (int i = 0; i < N; ++i) out.v[i] = std::sqrt(a.v[i]);  // becomes one instruction of the vector with -fno-math-errno
  return out;
}

// exp by powers of two and a polynomial on |r| <= ln2/2 (Taylor to degree 12: 2e-16); valid where neither over- nor underflow.
template <int N>
Lane<N> exponential(Lane<N> x) {
  using V = typename Vector<N>::Type;
  using M = typename Vector<N>::Mask;
  const V shifted = x.v * 1.4426950408889634 + 6755399441055744.0;  // rounded to a whole number in the last bits
  const V n = shifted - 6755399441055744.0;
  const V r = (x.v - n * 0.6931471803691238) - n * 1.9082149292705877e-10;
  V p = V{} + 1.0 / 479001600;
  for (const double c : {1.0 / 39916800, 1.0 / 3628800, 1.0 / 362880, 1.0 / 40320, 1.0 / 5040, 1.0 / 720, 1.0 / 120, 1.0 / 24, 1.0 / 6, 0.5, 1.0, 1.0})
    p = p * r + c;
  const M bits = (M)shifted << 52;
  return (V)((M)p + bits);
}

// ln by the exponent and a series in (m - 1)/(m + 1), sqrt(1/2) <= m < sqrt(2).
template <int N>
Lane<N> logarithm(Lane<N> x) {
  using V = typename Vector<N>::Type;
  using M = typename Vector<N>::Mask;
  const M bits = (M)x.v;
  const M offset = bits - 0x3fe6a09e667f3bcdL;
  const M exponent = offset >> 52;
  const V m = (V)(bits - (exponent << 52));
  const V n = (V)(exponent + 0x4338000000000000L) - 6755399441055744.0;
  const V s = (m - 1.0) / (m + 1.0);
  const V z = s * s;
  V p = V{} + 2.0 / 23;
  for (const double c : {2.0 / 21, 2.0 / 19, 2.0 / 17, 2.0 / 15, 2.0 / 13, 2.0 / 11, 2.0 / 9, 2.0 / 7, 2.0 / 5, 2.0 / 3}) p = p * z + c;
  return n * 0.6931471805599453 + (2.0 * s + s * z * p);
}

// What differs from point to point of a sweep; fluid and air are those of the case.
template <int N>
struct Points {
  Lane<N> omega, polymer_flow;
};

// jet_local() and jet_rates() for N points: combined drag, lumped drying, still or swirling air, no gas, not solid.
template <int N>
void rates(const model::Fluid& fluid, const model::Air& air, const Points<N>& points, const std::array<Lane<N>, JetState::kSize>& y,
           std::array<Lane<N>, JetState::kSize>& out) {
  using L = Lane<N>;
  using S = JetState;
  constexpr double pi = model::kPi;
  const L omega = points.omega;
  const L ux = y[S::kVx] + omega * y[S::kY];
  const L uy = y[S::kVy] - omega * y[S::kX];
  const L speed = root(ux * ux + uy * uy + y[S::kVz] * y[S::kVz]);
  const L tx = ux / speed, ty = uy / speed, tz = y[S::kVz] / speed;
  const L ratio = y[S::kSolvent];
  const L phi = 1.0 / (1.0 + ratio * (fluid.polymer_density_kg_m3 / fluid.solvent_density_kg_m3));
  // mixture_density with its factor is linear in X; taken at factor 1 or as the case has it
  const L volume = 1.0 / fluid.polymer_density_kg_m3 + ratio / fluid.solvent_density_kg_m3;
  L density = (1.0 + ratio) / volume;
  density = density * (1.0 + (fluid.density_factor - 1.0) * ratio / fluid.initial.solvent_ratio);
  const L mass = points.polymer_flow * (1.0 + ratio) / speed;
  const L diameter = root(4.0 * mass / (pi * density));
  const double swirl0 = air.swirl_speed_rad_s * air.vessel_radius_m * air.vessel_radius_m;
  const L swirl = swirl0 / (y[S::kX] * y[S::kX] + y[S::kY] * y[S::kY]);
  const L wx = -(swirl * y[S::kY]) - y[S::kVx], wy = swirl * y[S::kX] - y[S::kVy], wz = -y[S::kVz];
  const L along = wx * tx + wy * ty + wz * tz;
  const L nx = wx - along * tx, ny = wy - along * ty, nz = wz - along * tz;
  const L across2 = nx * nx + ny * ny + nz * nz;
  const L across = root(across2);
  const L wind2 = along * along + across2;
  // drag
  const double per_speed = air.density_kg_m3 / air.viscosity_Pa_s;
  const L re_n0 = per_speed * diameter * across;
  const L re_n = pick<N>(re_n0 > 1e-8, re_n0, L(1e-8));
  const L re_t0 = per_speed * diameter * pick<N>(along < 0.0, -along, along);
  const L re_t = pick<N>(re_t0 > 1e-8, re_t0, L(1e-8));
  const L l = logarithm(re_n);
  const L s = 2.0022 - l;
  const L q = 2.0 * s - 1.0;
  const L root_re = root(re_n);
  const L cross_low = 4.0 * pi / s * (1.0 - (s * s - 0.5 * s + 0.3125) * re_n * re_n / (32.0 * s));
  const L cross_mid = exponential(1.6911 + l * (0.32778 + l * (0.033287 + l * 0.0035015)));
  const L cross = pick<N>(re_n0 < 0.1, cross_low, pick<N>(re_n0 < 100.0, cross_mid, 2.0 * root_re + 0.5 * re_n));
  const L swept_low = 4.0 * pi / q * (1.0 - (2.0 * s * s - 2.0 * s + 1.0) * re_n * re_n / (16.0 * q));
  const L swept_mid = exponential(1.1552 + l * (0.31521 + l * (0.014884 + l * 7.4966e-4)));
  const L swept = pick<N>(re_n0 < 0.1, swept_low, pick<N>(re_n0 < 100.0, swept_mid, 2.0 * root_re));
  const L lengthwise = 0.5 * pi * 0.37 * exponential(0.39 * logarithm(re_t));
  const L a2 = lengthwise * lengthwise, b2 = swept * swept;
  const L drag_t = air.axial_drag_factor * air.viscosity_Pa_s * root(root(a2 * a2 + b2 * b2)) / mass;
  const L drag_n = air.cross_drag_factor * air.viscosity_Pa_s * cross / mass;
  const L work = drag_t * along;
  const L ax = work * tx + drag_n * nx, ay = work * ty + drag_n * ny, az = work * tz + drag_n * nz - model::kStandardGravity_m_s2;
  // exchange
  const L temperature = y[S::kTemperature];
  const L film = 0.5 * (temperature + air.temperature_K);
  const L mu = air.viscosity_constant * film * root(film) / (film + 110.4);
  const L molar = air.pressure_Pa / (model::kGasConstant_J_mol_K * film);
  const L rho = air.molar_mass_kg_mol * molar;
  const L t_ratio = film / model::kReferenceTemperature_K;
  const L diffusivity = fluid.diffusivity_air_25_m2_s * (air.diffusivity_pressure_Pa / air.pressure_Pa) * t_ratio * t_ratio / root(root(t_ratio));
  const L share = across2 / wind2;
  const L re0 = rho * root(wind2) * diameter / mu;
  const L re = pick<N>(re0 > 1e-8, re0, L(1e-8));
  const L axial_nu = 0.42 * exponential(0.334 * logarithm(re));
  const L mixed = axial_nu * exponential(0.167 * logarithm(1.0 + 64.0 * share));
  const L re_c = re * root(share + 1e-12);
  const L x0 = root(re_c / 282000.0);
  const L across_nu = 0.3 + 0.62 * 0.892112 / 1.138577 * root(re_c) * exponential(0.8 * logarithm(1.0 + x0 * root(root(x0))));
  const L c2 = across_nu * across_nu, d2 = axial_nu * axial_nu;
  const L quarter = re / 50.0;
  const L q4 = quarter * quarter * quarter * quarter;
  const L value = pick<N>(re > 5.0, (mixed + q4 * root(root(c2 * c2 + d2 * d2))) / (1.0 + q4), mixed);
  const L v2 = value * value;
  const L nu = root(root(v2 * v2 + 0.0081));
  const L conductivity = mu * (air.heat_capacity_J_kg_K / model::kAirPrandtl);
  const L lewis = exponential(logarithm(mu / (rho * diffusivity * model::kAirPrandtl)) / 3.0);
  const L h = air.heat_factor * nu * conductivity / diameter;
  L activity = (1.0 - phi) * exponential(phi + fluid.chi * phi * phi);
  activity = pick<N>(activity < 1.0, activity, L(1.0));
  L x = activity * exponential(2.302585092994045684 * (fluid.antoine_a - fluid.antoine_b / (temperature + fluid.antoine_c))) / air.pressure_Pa;
  x = pick<N>(x > 0.97, L(0.97), x);
  const L evaporation = air.mass_factor * nu * lewis * molar * diffusivity / diameter * fluid.solvent_molar_mass_kg_mol *
                        (air.log_air_fraction - logarithm(1.0 - x));
  const L blowing = evaporation * fluid.vapour_heat_capacity / h;
  const L near = 1.0 - blowing * (0.5 - blowing * (1.0 / 12.0 - blowing * blowing / 720.0));
  const L far = blowing / (exponential(blowing) - 1.0);
  const L correction = pick<N>((blowing > 0.3) | (blowing < -0.3), far, near);
  const L heat = h * correction * (air.temperature_K - temperature);
  const L perimeter = pi * diameter * speed / points.polymer_flow;
  const L watson0 = (fluid.critical_temperature_K - temperature) / (fluid.critical_temperature_K - model::kReferenceTemperature_K);
  const L watson = pick<N>(watson0 < 0.05, L(0.05), watson0);
  const L latent = pick<N>(watson0 < 0.05, L(0.32), exponential(0.38 * logarithm(watson))) * fluid.latent_heat_25_J_kg;
  out = {y[S::kVx], y[S::kVy], y[S::kVz], ax, ay, az, -(perimeter * evaporation),
         perimeter * (heat - evaporation * latent) / (fluid.polymer_heat_capacity + ratio * fluid.solvent_heat_capacity), speed, work * speed};
}

// Of this thread: others on the machine do not count.
double seconds() {
  timespec now{};
  ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

// Best of several batches, seconds for one pass over all states.
template <class F>
double best(F&& pass) {
  double least = 1e9;
  for (int batch = 0; batch < 60; ++batch) {
    const double begin = seconds();
    for (int i = 0; i < 5; ++i) pass();
    least = std::min(least, (seconds() - begin) / 5);
  }
  return least;
}

using Plain = std::array<double, JetState::kSize>;

void keep(const void* p) { asm volatile("" : : "g"(p) : "memory"); }

// Seconds a point of one right-hand side, N points at once; the largest relative difference to the program's.
template <int N>
double lanes(const bench::FirstJet& jet, const std::vector<Plain>& states, const std::vector<model::JetContext>& contexts, double& worst) {
  using Wide = std::array<Lane<N>, JetState::kSize>;
  const std::size_t groups = states.size() / N;
  std::vector<Wide> y(groups), out(groups);
  std::vector<Points<N>> points(groups);
  for (std::size_t g = 0; g < groups; ++g) {
    for (int i = 0; i < N; ++i) {
      const std::size_t at = g * N + static_cast<std::size_t>(i);
      for (std::size_t k = 0; k < JetState::kSize; ++k) y[g][k].v[i] = states[at][k];
      points[g].omega.v[i] = contexts[at].speed_rad_s;
      points[g].polymer_flow.v[i] = contexts[at].polymer_flow_kg_s;
    }
  }
  const auto pass = [&] {
    for (std::size_t g = 0; g < groups; ++g) rates<N>(*jet.context().fluid, *jet.context().air, points[g], y[g], out[g]);
    keep(out.data());
  };
  pass();
  worst = 0.0;
  for (std::size_t at = 0; at < groups * N; ++at) {
    Plain wanted{};
    model::jet_rates(contexts[at], model::jet_local(contexts[at], states[at].data(), states[at][JetState::kSolvent], false), states[at].data(), false, wanted.data());
    for (std::size_t k = 0; k < JetState::kSize; ++k)
      worst = std::max(worst, std::abs(out[at / N][k].v[static_cast<int>(at % N)] - wanted[k]) / std::max(std::abs(wanted[k]), 1e-30));
  }
  return best(pass) / static_cast<double>(groups * N);
}

}  // namespace

int main(int argc, char** argv) {
  const std::string name = argc > 1 ? argv[1] : "pcl-chloroform";
  const bench::FirstJet jet(name);
  // Neighbouring operating points: speed and pressure about the case, as a screening map has them.
  constexpr int kSpeeds = 32, kPressures = 32;
  std::vector<model::JetContext> contexts;
  std::vector<Plain> states;
  std::vector<std::size_t> calls, steps;
  std::size_t implicit = 0;
  double jet_s = 0.0;
  for (int j = 0; j < kPressures; ++j) {
    for (int i = 0; i < kSpeeds; ++i) {
      model::JetContext context = jet.context();
      context.speed_rad_s *= 0.6 + 0.8 * i / (kSpeeds - 1);
      const double flow = 0.5 + 1.5 * j / (kPressures - 1);
      context.polymer_flow_kg_s *= flow;
      context.exit_speed_m_s *= flow;
      double least = 1e9;
      model::Jet result;
      for (int k = 0; k < 3; ++k) {
        const double begin = seconds();
        result = jet::solve_inertial_jet(context, jet.options());
        least = std::min(least, seconds() - begin);
      }
      jet_s += least;
      calls.push_back(result.work.rhs_evaluations);
      steps.push_back(result.work.steps);
      if (result.work.jacobians > 0) ++implicit;
      contexts.push_back(context);
      // a state on the way: some of the solvent gone, some way out
      const auto start = model::jet_start(context);
      Plain y{};
      std::copy_n(start.begin(), y.size(), y.begin());
      const double part = static_cast<double>((i * 7 + j * 3) % 11) / 11.0;
      y[JetState::kX] *= 1.0 + part;
      y[JetState::kY] = -0.3 * part * y[JetState::kX];
      y[JetState::kVx] += 3.0 * part;
      y[JetState::kVy] *= 1.0 - 0.4 * part;
      y[JetState::kVz] = -0.05 * part;
      y[JetState::kSolvent] *= 1.0 - 0.7 * part;
      y[JetState::kTemperature] -= 12.0 * part;
      states.push_back(y);
    }
  }
  double sum = 0.0;
  for (const auto c : calls) sum += static_cast<double>(c);
  std::printf("%s: %zu points, %.0f right-hand sides a jet (%zu to %zu), %zu jets change to the implicit method, %.1f us a jet\n", name.c_str(), calls.size(),
              sum / static_cast<double>(calls.size()), *std::min_element(calls.begin(), calls.end()), *std::max_element(calls.begin(), calls.end()), implicit,
              1e6 * jet_s / static_cast<double>(calls.size()));
  for (const std::size_t width : {std::size_t{2}, std::size_t{4}, std::size_t{8}}) {
    double most = 0.0;
    for (std::size_t from = 0; from < calls.size(); from += width)
      most += static_cast<double>(width) * static_cast<double>(*std::max_element(calls.begin() + static_cast<long>(from), calls.begin() + static_cast<long>(from + width)));
    std::printf("  groups of %zu neighbours that wait for their slowest: %.0f %% of the lanes at work\n", width, 100.0 * sum / most);
  }
  std::vector<Plain> out(states.size());
  const double one = best([&] {
    for (std::size_t at = 0; at < states.size(); ++at)
      model::jet_rates(contexts[at], model::jet_local(contexts[at], states[at].data(), states[at][JetState::kSolvent], false), states[at].data(), false, out[at].data());
    keep(out.data());
  }) / static_cast<double>(states.size());
  double worst = 0.0;
  std::printf("right-hand side, as in the program: %.1f ns; share of a jet's time: %.0f %%\n", 1e9 * one,
              100.0 * one * sum / jet_s);
  const double two = lanes<2>(jet, states, contexts, worst);
  std::printf("  2 points at once: %.1f ns a point, %.2f times as fast, differs by at most %.1e\n", 1e9 * two, one / two, worst);
  const double four = lanes<4>(jet, states, contexts, worst);
  std::printf("  4 points at once: %.1f ns a point, %.2f times as fast, differs by at most %.1e\n", 1e9 * four, one / four, worst);
  const double eight = lanes<8>(jet, states, contexts, worst);
  std::printf("  8 points at once: %.1f ns a point, %.2f times as fast, differs by at most %.1e\n", 1e9 * eight, one / eight, worst);
  return 0;
}
