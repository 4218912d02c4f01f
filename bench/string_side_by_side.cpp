// The steady Newtonian string between a turning orifice and a free end, no air and no drying, on several meshes: solution and
// time as JSON, for string_side_by_side.py. "runs": the whole jet as the tension tier computes it; "equations": nothing but the
// two-point problem that solve_bvp is given, from the same free flight. Arguments: exit speed [m/s], rotation [rad/s], viscosity [Pa s].
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <algorithm>
#include <vector>

#include "whorl/jet/jet_inertial.hpp"
#include "engine/stand_in.hpp"
#include "whorl/jet/tension.hpp"
#include "jet/tension_smooth.hpp"

namespace {

using namespace whorl;

double cpu_s() {
  std::timespec t{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

struct String : testing::StandIn {
  String(double exit_speed, double omega, double viscosity) : StandIn(omega, exit_speed, viscosity, 1e-9, 1e-3) {}
  // All that it takes: the inertial start, the solution, its report.
  [[nodiscard]] model::Jet solve(const jet::TensionOptions& options) const {
    jet::JetOptions start;
    start.drying = model::DryingModel::lumped;
    start.keep_profile = true;
    return jet::solve_tension_jet(context, options, jet::solve_inertial_jet(context, start));
  }
  // Free flight on `points` radii, closer together near the orifice.
  [[nodiscard]] jet::SmoothThread flight(std::size_t points) const {
    jet::SmoothThread out;
    const double inner = context.outer_radius_m, outer = context.collector_radius_m, omega = context.speed_rad_s;
    const double u0 = context.exit_speed_m_s, volume = 1e-6 * u0;
    for (std::size_t i = 0; i < points; ++i) {
      const double x = static_cast<double>(i) / static_cast<double>(points - 1);
      const double r = inner + (outer - inner) * x * std::sqrt(x);
      const double square = u0 * u0 + omega * omega * (r * r - inner * inner);
      const double u = std::sqrt(square);
      const double sine = std::clamp((omega * inner * inner / r - omega * r) / u, -0.999, 0.999);
      out.radius.push_back(r);
      out.log_speed.push_back(std::log(u));
      out.log_speed_slope.push_back(omega * omega * r / square);
      out.angle.push_back(std::asin(sine));
      out.force.push_back(3.0 * fluid.solvent_viscosity_Pa_s * volume * std::sqrt(1.0 - sine * sine) * out.log_speed_slope.back());
    }
    return out;
  }
  [[nodiscard]] jet::SmoothThread equations(std::size_t points, double tolerance) const {
    jet::SmoothStation at;
    at.flow_kg_s = 1e-3 * context.exit_speed_m_s;
    at.density_kg_m3 = 1000.0;
    at.viscosity_Pa_s = fluid.solvent_viscosity_Pa_s;
    jet::SmoothOptions options;
    options.tolerance = tolerance;
    options.newton_tolerance = std::min(1e-6, 1e-2 * tolerance);
    return jet::solve_smooth_thread(context, [&](double) { return at; }, {}, flight(points), options);
  }
};

// Processor time of one call, best of several batches [s].
template <class Call>
double seconds_of(const Call& call) {
  double best = 1e300;
  for (int batch = 0; batch < 5; ++batch) {
    int runs = 0;
    const double begin = cpu_s();
    double end = begin;
    do {
      call();
      ++runs;
      end = cpu_s();
    } while (end - begin < 0.02);
    best = std::min(best, (end - begin) / runs);
  }
  return best;
}

void print_curve(const std::vector<double>& radius, const std::vector<double>& speed) {
  std::printf("\"radius_m\": [");
  for (std::size_t i = 0; i < radius.size(); ++i) std::printf("%s%.12g", i == 0 ? "" : ", ", radius[i]);
  std::printf("], \"speed_m_s\": [");
  for (std::size_t i = 0; i < speed.size(); ++i) std::printf("%s%.12g", i == 0 ? "" : ", ", speed[i]);
  std::printf("]}");
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 4) {
    std::fprintf(stderr, "string_side_by_side_cpp EXIT_SPEED ROTATION VISCOSITY\n");
    return 2;
  }
  const String string(std::atof(argv[1]), std::atof(argv[2]), std::atof(argv[3]));
  std::printf("{\"inner_m\": %.17g, \"outer_m\": %.17g, \"runs\": [", string.context.outer_radius_m, string.context.collector_radius_m);
  bool first = true;
  for (const double mesh : {1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6}) {
    for (const double tolerance : {1e-3, 1e-4, 1e-5, 1e-6, 1e-8}) {
      if (tolerance > 3.0 * mesh) continue;
      jet::TensionOptions options;
      options.mesh_tolerance = mesh;
      options.tolerance = tolerance;
      options.path_tolerance = tolerance;
      options.keep_profile = true;
      const model::Jet jet = string.solve(options);
      if (jet.status != model::Status::done || !jet.reached_collector) {
        std::fprintf(stderr, "mesh tolerance %g: %s\n", mesh, jet.reason.c_str());
        continue;
      }
      options.keep_profile = false;
      bool good = true;
      const double best = seconds_of([&] { good = good && string.solve(options).status == model::Status::done; });
      if (!good) return 1;
      std::printf("%s\n{\"cells\": %zu, \"mesh_tolerance\": %g, \"tolerance\": %g, \"seconds\": %.6g, \"newton\": %zu, ", first ? "" : ",",
                  (jet.work.mesh_nodes - 1) / 3, mesh, tolerance, best, jet.work.newton_iterations);
      first = false;
      std::vector<double> radius, speed;
      for (const auto& station : jet.profile) {
        radius.push_back(station.radius_m);
        speed.push_back(station.speed_m_s);
      }
      print_curve(radius, speed);
    }
  }
  std::printf("], \"equations\": [");
  first = true;
  for (const std::size_t points : {20u, 50u}) {
    for (const double tolerance : {1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6}) {
      const jet::SmoothThread thread = string.equations(points, tolerance);
      if (!thread.converged) {
        std::fprintf(stderr, "equations alone, tolerance %g from %zu points: %s\n", tolerance, points, thread.reason.c_str());
        continue;
      }
      const double best = seconds_of([&] { static_cast<void>(string.equations(points, tolerance)); });
      std::printf("%s\n{\"cells\": %zu, \"mesh_tolerance\": %g, \"seconds\": %.6g, \"newton\": %d, ", first ? "" : ",", thread.cells(), tolerance,
                  best, thread.newton);
      first = false;
      std::vector<double> speed;
      for (double y : thread.log_speed) speed.push_back(std::exp(y));
      print_curve(thread.radius, speed);
    }
  }
  std::printf("]}\n");
  return 0;
}
