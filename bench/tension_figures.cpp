// Figures of the tension tier over the shipped cases and over a Latin hypercube of what a user may set:
//   tension_figures cases [REPEATS [CASE]]     estimates as in a row of a sweep (first jet, jets over the run), and with the jets in other air
//                                              and with gas that `estimate` compares with; radial drying
//   tension_figures design N [radial|lumped] [full] [free|taken-up]   first jets (full: whole estimates) of an N-point hypercube
// Processor time of one core.
#include <algorithm>
#include <array>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <map>
#include <string>
#include <vector>

#include "engine/hypercube.hpp"
#include "jets.hpp"
#include "whorl/engine/design.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/materials_file.hpp"

namespace {

using namespace whorl;

double now_ms() {
  std::timespec t{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return 1e3 * static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_nsec);
}

double middle(std::vector<double> v) {
  if (v.empty()) return 0.0;
  std::sort(v.begin(), v.end());
  return v[v.size() / 2];
}

int cases(int repeats, const std::string& only) {
  std::vector<double> medians, row_medians;
  engine::EstimateOptions options, row;
  options.air_variants = options.gas_variants = true;  // `row`: what a sweep computes for each of its rows
  for (const char* name : bench::kCases) {
    if (!only.empty() && only != name) continue;
    model::CaseInput input = io::read_case_file(std::string(WHORL_SOURCE_DIR) + "/cases/" + name + ".json").input;
    input.model.tier = model::Tier::tension;
    input.model.drying = model::DryingModel::radial;
    const engine::Setup setup = engine::resolve(input, io::built_in_library());
    std::vector<double> ms, row_ms;
    model::Estimate e;
    for (int k = 0; k < repeats; ++k) {
      double begin = now_ms();
      (void)engine::estimate(setup, row);
      row_ms.push_back(now_ms() - begin);
      begin = now_ms();
      e = engine::estimate(setup, options);
      ms.push_back(now_ms() - begin);
    }
    row_medians.push_back(middle(row_ms));
    medians.push_back(middle(ms));
    std::printf("%-22s %8.2f ms, with comparisons %8.2f ms  Newton %4zu  rhs %6zu  %s | %s | %s\n", name, row_medians.back(), medians.back(), e.jet.work.newton_iterations,
                e.jet.work.rhs_evaluations, model::to_string(e.fibre_class), e.reason.c_str(), e.jet.convergence.c_str());
  }
  std::printf("median of the shipped cases: %.2f ms, with the jets in other air and with gas %.2f ms\n", middle(row_medians), middle(medians));
  return 0;
}

int design(std::uint64_t count, bool radial, bool full, bool verbose, model::JetEnd end) {
  const testing::Hypercube cube(io::built_in_library(), count);
  std::vector<double> ms, newton;
  int failed = 0, threw = 0, untensioned = 0;
  std::map<std::string, int> classes;
  for (std::uint64_t i = 0; i < count; ++i) {
    model::CaseInput input = cube.input(i);
    input.model.tier = model::Tier::tension;
    input.model.jet_end = end;
    input.model.drying = radial ? model::DryingModel::radial : model::DryingModel::lumped;
    engine::EstimateOptions options;
    options.run_distribution = full;
    options.air_variants = options.gas_variants = full;
    try {
      const double begin = now_ms();
      const model::Estimate e = engine::estimate(input, io::built_in_library(), options);
      ms.push_back(now_ms() - begin);
      if (e.jet.work.newton_iterations > 0) newton.push_back(static_cast<double>(e.jet.work.newton_iterations));
      if (e.status != model::Status::done) {
        ++failed;
        std::printf("%llu: %s\n", static_cast<unsigned long long>(i), e.reason.c_str());
      } else {
        ++classes[model::to_string(e.fibre_class)];
        for (const auto& w : e.warnings) if (w.code == "dragged-round" || w.code == "caught" || w.code == "tension-cut") ++classes[w.code];
      }
      if (e.jet.convergence.find("stalls without tension") != std::string::npos) ++untensioned;
      if (verbose) {
        std::printf("%llu %.2f ms %s | %s | %s\n", static_cast<unsigned long long>(i), ms.back(), model::to_string(e.fibre_class),
                    e.reason.c_str(), e.jet.convergence.c_str());
      }
    } catch (const std::exception& error) {
      ++threw;
      std::printf("%llu threw: %s\n", static_cast<unsigned long long>(i), error.what());
    }
  }
  std::sort(ms.begin(), ms.end());
  std::printf("%llu %s: median %.2f ms, 99 %% %.1f ms, slowest %.0f ms; Newton median %.0f, most %.0f (of %zu jets); "
              "not converged %d, threw %d, stalled and not solved %d;",
              static_cast<unsigned long long>(count), radial ? "radial" : "lumped", middle(ms), ms[ms.size() * 99 / 100], ms.back(),
              middle(newton), newton.empty() ? 0.0 : *std::max_element(newton.begin(), newton.end()), newton.size(), failed, threw,
              untensioned);
  for (const auto& [name, n] : classes) std::printf(" %s %d", name.c_str(), n);
  std::printf("\n");
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  const std::string what = argc > 1 ? argv[1] : "";
  if (what == "cases") return cases(argc > 2 ? std::atoi(argv[2]) : 9, argc > 3 ? argv[3] : "");
  if (what == "design" && argc > 2) {
    bool radial = true, full = false, verbose = false;
    model::JetEnd end = model::JetEnd::caught;
    for (int i = 3; i < argc; ++i) {
      const std::string word = argv[i];
      radial = radial && word != "lumped";
      full = full || word == "full";
      verbose = verbose || word == "verbose";
      if (word == "taken-up") end = model::JetEnd::taken_up;
      if (word == "free") end = model::JetEnd::free;
    }
    return design(static_cast<std::uint64_t>(std::atoll(argv[2])), radial, full, verbose, end);
  }
  std::fprintf(stderr, "tension_figures cases [REPEATS [CASE]] | design N [radial|lumped] [full] [verbose] [free|taken-up]\n");
  return 2;
}
