// A Latin hypercube over everything a user may set, for tests of robustness and for timings.
#pragma once
#include <array>
#include <cmath>
#include <cstdint>
#include <vector>

#include "engine/case_of.hpp"
#include "whorl/engine/design.hpp"

namespace whorl::testing {

class Hypercube {
 public:
  Hypercube(const model::Library& library, std::uint64_t count)
      : pairs_(pairs_of(library)), design_(engine::DesignKind::latin_hypercube, axes(pairs_.size()), count, 20240607) {}

  /// Point i: lumped and radial drying in turn.
  [[nodiscard]] model::CaseInput input(std::uint64_t i) const {
    std::array<double, 11> v{};
    design_.point(i, v);
    const model::Pair& pair = *pairs_[static_cast<std::size_t>(v[4])];
    model::CaseInput input = plain_case(v[2]);
    as_shipped(input);
    input.solution.measured.shear_model = model::ShearModel::automatic;
    input.solution.polymer = pair.polymer;
    input.solution.solvent = pair.solvent;
    input.solution.molar_mass_kg_mol = v[9];
    input.solution.concentration.value = v[6];
    input.vessel.orifice_diameter_m = v[3];
    input.operation.rotation_speed_rad_s = v[0] * 2.0 * model::kPi / 60.0;
    input.operation.gas_overpressure_Pa = v[1];
    input.operation.charge_volume_m3 = v[8];
    input.operation.collection_distance_m = v[7];
    input.room.relative_humidity = v[5];
    input.room.air_swirl = v[10];
    input.model.drying = i % 2 == 0 ? model::DryingModel::lumped : model::DryingModel::radial;
    return input;
  }
  /// Point i with gas along the jets: charges from one that leaves the orifices dry to one that never thins before its end.
  [[nodiscard]] model::CaseInput with_gas(std::uint64_t i) const {
    model::CaseInput out = input(i);
    const double charge = out.operation.charge_volume_m3;
    out.model.gas_breakthrough = model::GasBreakthrough::on;
    out.model.flapping_draw = i % 4 == 0 ? 0.05 : 0.0;
    out.operation.charge_volume_m3 = 0.1e-6 * std::pow(100.0, (charge - 10e-6) / 35e-6);
    return out;
  }
  [[nodiscard]] std::uint64_t size() const { return design_.size(); }

  /// Soluble pairs of the library, solvent by solvent.
  [[nodiscard]] static std::vector<const model::Pair*> pairs_of(const model::Library& library) {
    std::vector<const model::Pair*> pairs;
    for (const auto& solvent : library.solvents) {
      for (const auto& pair : library.pairs) {
        if (pair.soluble && pair.solvent == solvent.id && library.polymer(pair.polymer) != nullptr) pairs.push_back(&pair);
      }
    }
    return pairs;
  }

 private:
  static std::vector<engine::Axis> axes(std::size_t pairs) {
    using engine::Axis;
    using engine::Spacing;
    const auto range = [](double from, double to, Spacing spacing = Spacing::linear) {
      Axis axis;
      axis.from = from;
      axis.to = to;
      axis.spacing = spacing;
      return axis;
    };
    Axis pair_axis = range(0.0, static_cast<double>(pairs - 1));
    pair_axis.whole = true;
    return {range(0.0, 40000.0),                          // rpm
            range(0.0, 0.6e6),                            // Pa
            range(1e-3, 1e3, Spacing::logarithmic),       // Pa s
            range(0.1e-3, 2e-3, Spacing::logarithmic),    // orifice, m
            pair_axis, range(0.0, 0.95),                  // humidity
            range(0.02, 0.30),                            // polymer mass fraction
            range(0.03, 0.5),                             // collection distance, m
            range(10e-6, 45e-6),                          // charge, m3 (vessel holds 49 mL)
            range(20.0, 2000.0, Spacing::logarithmic),    // kg/mol
            range(0.0, 1.0)};                             // swirl of the air
  }

  std::vector<const model::Pair*> pairs_;
  engine::Design design_;
};

}  // namespace whorl::testing
