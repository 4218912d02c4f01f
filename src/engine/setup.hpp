// A case resolved against the property library: everything the equations need, in one value.
#pragma once
#include "whorl/model/air.hpp"
#include "whorl/model/case.hpp"
#include "whorl/model/gas.hpp"
#include "whorl/model/jet.hpp"
#include "whorl/model/materials.hpp"
#include "whorl/model/result.hpp"
#include "whorl/model/solution.hpp"
#include "whorl/model/vessel.hpp"

namespace whorl::engine {

struct Setup {
  model::CaseInput input;
  model::Fluid fluid;
  model::Vessel vessel;
  model::Air air;

  [[nodiscard]] double collector_radius_m() const noexcept {
    return vessel.outer_radius_m + input.operation.collection_distance_m;
  }
  /// Of the charge.
  [[nodiscard]] double zero_shear_viscosity_Pa_s() const noexcept {
    return fluid.solvent_viscosity_Pa_s + fluid.polymer_viscosity_Pa_s;
  }
  /// Of the charge in an orifice: eta_0/sqrt(rho sigma a_o).
  [[nodiscard]] double ohnesorge() const noexcept;
  /// Equations of one jet that leaves with this flow. Refers into this Setup: keep it alive.
  [[nodiscard]] model::JetContext jet_context(double flow_m3_s) const;
  /// The same with the gas that leaves the orifice together with the liquid, if any.
  [[nodiscard]] model::JetContext jet_context(const model::OrificeFlow& flow) const;
};

/// Error: InputError when the library cannot supply a needed property, or the parts of the case contradict each other.
[[nodiscard]] Setup resolve(const model::CaseInput& input, const model::Library& library);

}  // namespace whorl::engine
