#include "whorl/study/window_other.hpp"

#include <array>

#include "whorl/io/case_file.hpp"
#include "whorl/io/keys.hpp"

namespace whorl::study {
namespace {

constexpr std::array kShares{0.9, 1.1, 0.8, 1.25, 0.7, 1.4, 0.6, 1.7, 0.5, 2.0};

bool measured(const model::CaseInput& input) {
  const auto& m = input.solution.measured;
  return m.zero_shear_viscosity_Pa_s || m.relaxation_time_s || m.density_kg_m3 ||
         m.shear_model != model::ShearModel::automatic;
}

}  // namespace

std::optional<OtherSolution> other_solution(const std::vector<model::CaseInput>& bases,
                                            const std::vector<UnitPoint>& misses, const std::array<WindowAxis, 2>& axes,
                                            const WindowTarget& target, const engine::BatchRunner& runner) {
  const io::Key* key = io::find_key("solution.concentration");
  if (key == nullptr) return {};
  for (const double share : kShares)
    for (std::size_t s = 0; s < bases.size(); ++s) {
      if (measured(bases[s])) continue;
      model::CaseInput other = bases[s];
      const double value = share * *key->get(other);
      if (value < key->minimum || value > key->maximum) continue;
      key->set(other, value);
      std::vector<UnitPoint> points{misses[s]};
      for (const double x : {1.0 / 6.0, 0.5, 5.0 / 6.0})
        for (const double y : {1.0 / 6.0, 0.5, 5.0 / 6.0}) points.push_back({x, y});
      const auto probes = probe_model(other, axes, target, runner)(points);
      for (std::size_t k = 0; k < points.size(); ++k)
        if (probes[k].met())
          return OtherSolution{io::concentration_text(other.solution.concentration),
                               io::concentration_text(bases[s].solution.concentration), s, points[k], probes[k]};
    }
  return {};
}

}  // namespace whorl::study
