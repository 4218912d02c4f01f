// The steady Newtonian string between a turning orifice and a free end, no air and no drying, on several meshes: solution and
// time as JSON, for string_side_by_side.py. Arguments: exit speed [m/s], rotation [rad/s], viscosity [Pa s].
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <algorithm>
#include <vector>

#include "engine/jet_inertial.hpp"
#include "engine/stand_in.hpp"
#include "engine/tension.hpp"

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
  [[nodiscard]] model::Jet solve(const engine::TensionOptions& options) const {
    engine::JetOptions start;
    start.drying = model::DryingModel::lumped;
    start.keep_profile = true;
    return engine::solve_tension_jet(context, options, engine::solve_inertial_jet(context, start));
  }
};

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
      engine::TensionOptions options;
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
      double best = 1e300;
      for (int batch = 0; batch < 5; ++batch) {
        int runs = 0;
        const double begin = cpu_s();
        double end = begin;
        do {
          const model::Jet again = string.solve(options);
          if (again.status != model::Status::done) return 1;
          ++runs;
          end = cpu_s();
        } while (end - begin < 0.02);
        best = std::min(best, (end - begin) / runs);
      }
      std::printf("%s\n{\"cells\": %zu, \"mesh_tolerance\": %g, \"tolerance\": %g, \"seconds\": %.6g, \"newton\": %zu, \"radius_m\": [", first ? "" : ",", (jet.work.mesh_nodes - 1) / 3,
                  mesh, tolerance, best, jet.work.newton_iterations);
      first = false;
      for (std::size_t i = 0; i < jet.profile.size(); ++i) std::printf("%s%.12g", i == 0 ? "" : ", ", jet.profile[i].radius_m);
      std::printf("], \"speed_m_s\": [");
      for (std::size_t i = 0; i < jet.profile.size(); ++i) std::printf("%s%.12g", i == 0 ? "" : ", ", jet.profile[i].speed_m_s);
      std::printf("]}");
    }
  }
  std::printf("]}\n");
  return 0;
}
