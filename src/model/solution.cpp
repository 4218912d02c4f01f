#include "whorl/model/solution.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <string>

#include "model/everyday_names.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/number_text.hpp"

namespace whorl::model {
namespace {

std::string short_number(double value) { return number_text(value, 3); }

double solvent_density_at(const Solvent& solvent, double temperature_K) {
  return solvent.density_25.value +
         solvent.density_slope.value * (temperature_K - kReferenceTemperature_K);
}

// The vapour-pressure set that covers most of where a jet's surface can be: from 60 K below the warmer of room and
// charge up to it. One set only, so that the relation is smooth for the solvers.
const Solvent::Antoine& choose_antoine(const Solvent& solvent, double warm_K) {
  if (solvent.antoine.empty()) {
    throw InputError("", "solution.solvent", "the library has no vapour-pressure relation for " + solvent.id,
                     "add an 'antoine' entry for it in a materials file");
  }
  const double low = warm_K - 60.0;
  const auto overlap = [&](const Solvent::Antoine& set) {
    const double covered = std::min(warm_K, set.t_max_K) - std::max(low, set.t_min_K);
    // Never prefer a set that does not reach the room itself.
    return covered - (set.t_max_K < warm_K - 5.0 ? 1000.0 : 0.0);
  };
  return *std::max_element(solvent.antoine.begin(), solvent.antoine.end(),
                           [&](const auto& a, const auto& b) { return overlap(a) < overlap(b); });
}

// Exponent a of the estimated flow curve of this slope, 1 - n. That of Cross is the slope itself; but where that fades,
// the bracket 1 + (lambda rate)^a goes to 2 at any rate, and half of the viscosity would be gone in a liquid that does
// not thin. So it levels off, without a corner: own closure.
double bend_of(double slope) {
  constexpr double kLeast = 0.35, kCrossFrom = 0.55;  // half of the full slope, and well below that
  constexpr double kLevelTo = 2.0 * kLeast - kCrossFrom;
  if (slope >= kCrossFrom) return slope;
  if (slope <= kLevelTo) return kLeast;
  return kLeast + (slope - kLevelTo) * (slope - kLevelTo) / (2.0 * (kCrossFrom - kLevelTo));
}

// Doubt of ln [eta] where other solvents of the polymer stand in for the one of the case. Each of the
// library's 19 pairs left out, the others of its polymer miss it by 0.28 (100 kg/mol) to 0.37 (500 kg/mol), root mean
// square.
constexpr double kStandInSd = 0.4;
// A liquid that is said to have no memory: some such time, far below that of any flow in a jet, so that what the
// polymer adds to the stress is that of its viscosity. Own choice.
constexpr double kLeastRelaxation_s = 1e-9;
// Doubt of k_M where the library has none: that of most pairs in it.
constexpr double kUsualMartinSd = 0.25;

// Least squares of ln D on (1/f - 1/f_s) with the dilute value held: slope -xi.
double fit_diffusion_overlap(const Fluid& fluid, const Pair& pair) {
  double numerator = 0.0;
  double denominator = 0.0;
  for (const auto& point : pair.diffusion) {
    const double ratio = point.solvent_mass_fraction / (1.0 - point.solvent_mass_fraction);
    const double phi = polymer_volume_fraction(fluid, ratio);
    const double t = point.temperature_K;
    const double drop = inverse_free_volume(fluid, phi, t) - inverse_free_volume(fluid, 0.0, t);
    const double dilute = std::exp(fluid.log_dilute_diffusivity) * (t / kReferenceTemperature_K) *
                          solvent_viscosity(fluid, kReferenceTemperature_K) / solvent_viscosity(fluid, t);
    numerator += drop * std::log(dilute / point.diffusivity_m2_s);
    denominator += drop * drop;
  }
  return numerator / denominator;
}

class Resolver {
 public:
  Resolver(const SolutionInput& input, const RoomInput& room, const Library& library)
      : input_(input), room_(room), library_(library) {
    polymer_ = library.polymer(input.polymer);
    solvent_ = library.solvent(input.solvent);
    if (polymer_ == nullptr)
      throw unknown("solution.polymer", input.polymer, polymer_meant(library, input.polymer), library.polymers);
    if (solvent_ == nullptr)
      throw unknown("solution.solvent", input.solvent, solvent_meant(library, input.solvent), library.solvents);
    pair_ = library.pair(input.polymer, input.solvent);
    if (pair_ != nullptr && !pair_->soluble) {
      throw InputError("", "solution.solvent",
                       input.polymer + " does not dissolve in " + input.solvent +
                           (pair_->note.empty() ? "" : " (" + pair_->note + ")"),
                       "a solvent for this polymer: see `whorl materials " + input.polymer + "`");
    }
  }

  Fluid run() {
    basics();
    viscosity();
    chains();
    flow_curve();
    surface();
    volatility();
    diffusion();
    return std::move(fluid_);
  }

 private:
  template <class Records>
  static InputError unknown(const char* key, const std::string& id, const std::string& meant, const Records& records) {
    if (!meant.empty())
      return {"", key, "'" + id + "' is called '" + meant + "' in the property library",
              '"' + meant + "\", or a record of that name in your own materials file"};
    // "DMF/acetone", "80 % ethanol"
    const bool mixed = id.find_first_of("/+%:;&,") != std::string::npos || id.find(" and ") != std::string::npos;
    std::string known;
    std::set<std::string> told;  // a record of one's own may have the id of a built-in one
    for (const auto& record : records)
      if (told.insert(record.id).second) known += (known.empty() ? "" : ", ") + record.id;
    return {"", key,
            "'" + id + "' is not in the property library" +
                (mixed ? ", and mixtures are not in the model: run the case with each part, at the measured viscosity"
                       : ""),
            known + ", or a record in your own materials file (docs/formats/materials.md)"};
  }

  void report(const char* key, const char* symbol, const char* unit, Property property) {
    fluid_.properties.push_back({key, symbol, unit, std::move(property)});
  }
  // A measured value: with the doubt that the case states, else with a usual one.
  [[nodiscard]] Property measured(const char* key, double value, double usual_sd) const {
    const auto stated = input_.measured.relative_sd.find(key);
    if (stated != input_.measured.relative_sd.end()) return {value, stated->second, Origin::measured, "case file"};
    return {value, usual_sd, Origin::measured, "case file; uncertainty not stated, a usual one assumed"};
  }
  // A value that is not measured, times its factor; says so where that is not 1.
  [[nodiscard]] static Property scaled(Property property, double factor) {
    property.value *= factor;
    return noted(std::move(property), factor);
  }
  // The same for a value that has its factor already.
  [[nodiscard]] static Property noted(Property property, double factor) {
    if (factor != 1.0) property.source += "; times " + short_number(factor) + ", as the case says";
    return property;
  }
  void warn(const char* code, std::string text) { fluid_.warnings.push_back({code, std::move(text)}); }

  void basics();
  void viscosity();
  // c[eta] from the polymer's intrinsic viscosity in the other solvents that the library knows; nothing where it knows
  // none.
  std::optional<double> stand_in();
  void chains();
  void flow_curve();
  void surface();
  void volatility();
  void diffusion();
  static Property with_value(Property property, double value) {
    property.value = value;
    return property;
  }

  const SolutionInput& input_;
  const RoomInput& room_;
  const Library& library_;
  const Polymer* polymer_{};
  const Solvent* solvent_{};
  const Pair* pair_{};
  std::optional<double> intrinsic_;
  double intrinsic_sd_{0.15};  // where the library states none
  double zero_shear_{};
  Fluid fluid_;
};

void Resolver::basics() {
  Fluid& f = fluid_;
  const double t = input_.temperature_K.value_or(room_.temperature_K);
  f.charge_temperature_K = t;
  f.molar_mass_kg_mol = input_.molar_mass_kg_mol;
  const PropertyFactors& by = input_.factors;
  f.polymer_density_kg_m3 = by.polymer_density * polymer_->density.value;
  f.solvent_density_kg_m3 = by.solvent_density * solvent_density_at(*solvent_, t);
  f.solvent_molar_mass_kg_mol = solvent_->molar_mass.value;
  f.solvent_molar_volume_m3_mol = f.solvent_molar_mass_kg_mol / f.solvent_density_kg_m3;
  f.initial = compose(input_.concentration, f.polymer_density_kg_m3, f.solvent_density_kg_m3);
  report("polymer_density", "rho_p", "kg/m3", scaled(polymer_->density, by.polymer_density));
  report("solvent_density", "rho_s", "kg/m3",
         noted(with_value(solvent_->density_25, f.solvent_density_kg_m3), by.solvent_density));
  const bool density_is_measured = input_.measured.density_kg_m3.has_value();
  if (density_is_measured || by.density != 1.0) {
    const double density = input_.measured.density_kg_m3.value_or(by.density * f.initial.density_kg_m3);
    if (input_.concentration.basis == ConcentrationBasis::w_v_of_solution) {
      // c is what was stated; how much solvent that leaves follows from the measured density
      const double fraction = 1000.0 * input_.concentration.value / density;
      if (!(fraction < 1.0)) {
        throw InputError(
            "", "solution.measured.density",
            short_number(density) + " kg/m3 is less than the polymer alone that is stated per volume of solution",
            "the density of the solution, and the concentration basis that was weighed");
      }
      f.initial = compose({ConcentrationBasis::mass, fraction}, f.polymer_density_kg_m3, f.solvent_density_kg_m3);
    }
    f.density_factor = density / f.initial.density_kg_m3;
    if (density_is_measured && std::abs(f.density_factor - 1.0) > 0.05) {
      warn("density-not-additive", "The measured solution density differs from additive volumes by " +
                                       short_number(100.0 * (f.density_factor - 1.0)) +
                                       " %: check it and the concentration basis.");
    }
    // phi_p stays the additive one (it defines chain overlap); c follows the measured density.
    f.initial.density_kg_m3 = density;
    f.initial.concentration_kg_m3 = density * f.initial.polymer_mass_fraction;
    report("density", "rho", "kg/m3",
           density_is_measured ? measured("density", density, 0.005)
                               : noted({density, 0.02, Origin::estimated, "additive volumes"}, by.density));
  } else {
    report("density", "rho", "kg/m3",
           {f.initial.density_kg_m3, 0.02, Origin::estimated, "additive volumes"});
  }
  f.polymer_glass_K = by.polymer_glass_transition * polymer_->glass_transition.value;
  f.solvent_glass_K = by.solvent_glass_transition * solvent_->glass_transition.value;
  report("polymer_glass_transition", "T_gp", "K", scaled(polymer_->glass_transition, by.polymer_glass_transition));
  report("solvent_glass_transition", "T_gs", "K", scaled(solvent_->glass_transition, by.solvent_glass_transition));
  f.polymer_heat_capacity = polymer_->heat_capacity.value;
  f.solvent_heat_capacity = solvent_->heat_capacity.value;
  f.vapour_heat_capacity = solvent_->vapour_heat_capacity.value;
  if (polymer_->melting_point && polymer_->heat_of_fusion) {
    f.crystallises = true;
    f.melting_point_K = by.melting_point * polymer_->melting_point->value;
    f.heat_of_fusion_J_m3 = polymer_->heat_of_fusion->value * f.polymer_density_kg_m3;
    report("melting_point", "T_m0", "K", scaled(*polymer_->melting_point, by.melting_point));
  }
  // Flory-Huggins first: the solidification line and the volatility both use it.
  if (input_.measured.flory_huggins_chi) {
    f.chi = *input_.measured.flory_huggins_chi;
    report("flory_huggins_chi", "chi", "1", measured("flory_huggins_chi", f.chi, 0.05));
  } else if (pair_ != nullptr && pair_->flory_huggins_chi) {
    f.chi = by.flory_huggins_chi * pair_->flory_huggins_chi->value;
    report("flory_huggins_chi", "chi", "1", scaled(*pair_->flory_huggins_chi, by.flory_huggins_chi));
  } else {
    f.chi = by.flory_huggins_chi * 0.45;
    report("flory_huggins_chi", "chi", "1",
           noted({f.chi, 0.3, Origin::assumed, "no data for this pair"}, by.flory_huggins_chi));
    warn("chi-assumed", "No interaction parameter is known for " + input_.polymer + " in " + input_.solvent +
                            ": 0.45 is assumed. It moves the last tenth of the drying; measure vapour "
                            "sorption, or state flory_huggins_chi.");
  }
}

void Resolver::viscosity() {
  Fluid& f = fluid_;
  const double t = f.charge_temperature_K;
  f.solvent_viscosity_energy_J_mol = solvent_->viscosity_energy.value;
  const PropertyFactors& by = input_.factors;
  f.solvent_viscosity_Pa_s = by.solvent_viscosity * solvent_->viscosity_25.value *
                             std::exp(f.solvent_viscosity_energy_J_mol / kGasConstant_J_mol_K *
                                      (1.0 / t - 1.0 / kReferenceTemperature_K));
  report("solvent_viscosity", "eta_s", "Pa s",
         noted(with_value(solvent_->viscosity_25, f.solvent_viscosity_Pa_s), by.solvent_viscosity));
  f.inverse_free_volume_0 = inverse_free_volume(f, f.initial.polymer_volume_fraction, t);

  double martin = 0.35;
  double martin_sd = kUsualMartinSd;
  if (pair_ != nullptr && pair_->martin_constant) {
    martin = pair_->martin_constant->value;
    martin_sd = pair_->martin_constant->relative_sd;
  }
  std::optional<double> reduced;
  if (pair_ != nullptr && pair_->mark_houwink) {
    const auto& law = *pair_->mark_houwink;
    intrinsic_ = intrinsic_viscosity_m3_kg(law, f.molar_mass_kg_mol);
    if (law.relative_sd > 0.0) intrinsic_sd_ = law.relative_sd;
    reduced = *intrinsic_ * f.initial.concentration_kg_m3;
    report("intrinsic_viscosity", "[eta]", "m3/kg",
           {*intrinsic_, intrinsic_sd_, Origin::estimated, "Mark-Houwink: " + law.source});
    report("overlap_concentration", "c*", "kg/m3",
           {0.77 / *intrinsic_, 0.3, Origin::estimated, "0.77/[eta], Graessley convention (from memory)"});
    if ((law.m_max_kg_mol > 0.0 && f.molar_mass_kg_mol > law.m_max_kg_mol) ||
        (law.m_min_kg_mol > 0.0 && f.molar_mass_kg_mol < law.m_min_kg_mol)) {
      warn("mark-houwink-range", "The molar mass is outside the range of the intrinsic-viscosity relation of this "
                                 "pair (" + short_number(law.m_min_kg_mol) + " to " +
                                 short_number(law.m_max_kg_mol) + " kg/mol).");
    }
  }
  if (!intrinsic_ && !input_.measured.zero_shear_viscosity_Pa_s && pair_ != nullptr) reduced = stand_in();
  double eta0 = 0.0;
  if (input_.measured.zero_shear_viscosity_Pa_s) {
    eta0 = *input_.measured.zero_shear_viscosity_Pa_s;
    report("zero_shear_viscosity", "eta_0", "Pa s", measured("zero_shear_viscosity", eta0, 0.05));
  } else if (input_.measured.shear_model == ShearModel::power_law) {
    // A power law has no zero-shear value: take it at 1/s for the jet, and say so.
    eta0 = by.zero_shear_viscosity * *input_.measured.power_law_consistency_Pa_sn;
    report("zero_shear_viscosity", "eta_0", "Pa s",
           noted({eta0, 0.5, Origin::assumed, "power-law viscosity at 1/s"}, by.zero_shear_viscosity));
    warn("no-zero-shear-viscosity", "A power law has no zero-shear viscosity: its value at 1/s stands in for the "
                                    "jet. State zero_shear_viscosity.");
  } else if (reduced) {
    const double x = *reduced;
    eta0 = by.zero_shear_viscosity * f.solvent_viscosity_Pa_s * (1.0 + martin_specific_viscosity(x, martin));
    // Doubt: [eta] and k_M, each as the library states it, enter as d ln eta_sp = (1 + k x) d ln[eta] + k x d ln k.
    const double kx = std::min(martin * x, kEntangledSlope - 1.0);
    const double sd = std::sqrt(std::pow((1.0 + kx) * intrinsic_sd_, 2.0) + std::pow(kx * martin_sd, 2.0));
    report("zero_shear_viscosity", "eta_0", "Pa s",
           noted({eta0, sd, Origin::estimated,
                  "Martin relation, c[eta] = " + short_number(x) + ", k_M = " + short_number(martin)},
                 by.zero_shear_viscosity));
    if (x > 10.5) {  // what is told as 11 or more
      warn("martin-range", "c[eta] = " + short_number(x) +
                               " is beyond the range (about 10) of the Martin relation: the viscosity may be off "
                               "by a factor 2 to 4. Measure zero_shear_viscosity.");
    }
    if (eta0 > 1e4) {
      throw InputError("", "solution.concentration",
                       "the estimated viscosity is " + short_number(eta0) + " Pa s, beyond any use of the estimate",
                       "state measured zero_shear_viscosity, or less polymer");
    }
  } else {
    throw InputError("", "solution.measured.zero_shear_viscosity",
                     "no viscosity data for " + input_.polymer + " in " + input_.solvent +
                         ": the library has no Mark-Houwink constants for this pair",
                     "measure the zero-shear viscosity of the solution and state it, e.g. \"1.2 Pa s\"");
  }
  f.polymer_viscosity_Pa_s = std::max(eta0 - f.solvent_viscosity_Pa_s, 1e-3 * eta0);
  if (eta0 < f.solvent_viscosity_Pa_s) {
    warn("viscosity-below-solvent", "The stated viscosity is below that of the pure solvent (" +
                                        short_number(f.solvent_viscosity_Pa_s) + " Pa s): check unit and value.");
    f.solvent_viscosity_Pa_s = 0.999 * eta0;
  }
  zero_shear_ = eta0;
  // Chain part of the concentration dependence: local Martin slope, kept inside the measured 1.25 to 4 (the
  // free-volume factor adds the rest of the slope seen for entangled solutions).
  f.chain_exponent = reduced ? std::clamp(1.0 + martin * *reduced, 1.25, kEntangledSlope - 0.2) : 3.8;
}

std::optional<double> Resolver::stand_in() {
  double sum = 0.0;
  int count = 0;
  std::string where;
  for (const Pair& other : library_.pairs) {
    if (other.polymer != input_.polymer || !other.soluble || !other.mark_houwink) continue;
    if (library_.pair(other.polymer, other.solvent) != &other) continue;  // a later record replaces it
    sum += std::log(intrinsic_viscosity_m3_kg(*other.mark_houwink, fluid_.molar_mass_kg_mol));
    where += (count == 0 ? "" : ", ") + other.solvent;
    ++count;
  }
  if (count == 0) return {};
  intrinsic_ = std::exp(sum / count);
  intrinsic_sd_ = kStandInSd;
  report(
      "intrinsic_viscosity", "[eta]", "m3/kg",
      {*intrinsic_, kStandInSd, Origin::estimated,
       (count == 1 ? "stands in: " : "stands in: geometric mean of ") + input_.polymer + " in " + where});
  report("overlap_concentration", "c*", "kg/m3",
         {0.77 / *intrinsic_, std::hypot(0.3, kStandInSd), Origin::estimated,
          "0.77/[eta], Graessley convention (from memory)"});
  warn("intrinsic-viscosity-stands-in",
       "The library does not know the intrinsic viscosity of " + input_.polymer + " in " + input_.solvent +
           ": that in " + where +
           " stands in, so the viscosity may be off by a factor of 5 either way. Measure zero_shear_viscosity.");
  return *intrinsic_ * fluid_.initial.concentration_kg_m3;
}

void Resolver::chains() {
  Fluid& f = fluid_;
  const PropertyFactors& by = input_.factors;
  f.entanglement_molar_mass_kg_mol = by.entanglement_molar_mass * polymer_->entanglement_molar_mass.value;
  f.entanglement_number =
      f.initial.polymer_volume_fraction * f.molar_mass_kg_mol / f.entanglement_molar_mass_kg_mol;
  report("entanglement_molar_mass", "M_e", "kg/mol",
         scaled(polymer_->entanglement_molar_mass, by.entanglement_molar_mass));

  const double rt = kGasConstant_J_mol_K * f.charge_temperature_K;
  // Rouse modulus of the chains, and the entangled plateau scaled to the dilution; the stiffer one rules.
  const double rouse = kPi * kPi / 6.0 * f.initial.concentration_kg_m3 * rt / f.molar_mass_kg_mol;
  const double plateau = f.polymer_density_kg_m3 * rt / f.entanglement_molar_mass_kg_mol *
                         std::pow(f.initial.polymer_volume_fraction, 2.2);
  const bool entangled = plateau > rouse;
  // Joined smoothly, so that nothing jumps where one takes over from the other.
  const double ratio4 = std::pow(plateau / rouse, 4.0);
  const double entangled_share = ratio4 / (1.0 + ratio4);
  const double modulus = rouse * std::sqrt(std::sqrt(1.0 + ratio4));
  f.modulus_exponent = 1.0 + 1.2 * entangled_share;
  if (input_.measured.relaxation_time_s) {
    f.relaxation_time_s = std::max(*input_.measured.relaxation_time_s, kLeastRelaxation_s);
    report("relaxation_time", "lambda", "s", measured("relaxation_time", *input_.measured.relaxation_time_s, 0.1));
  } else {
    f.relaxation_time_s = by.relaxation_time * f.polymer_viscosity_Pa_s / modulus;
    report("relaxation_time", "lambda", "s",
           noted({f.relaxation_time_s, 1.0, Origin::estimated,
                  entangled ? "eta_p/G, plateau modulus ~ phi^2.2 (from memory); factor 3"
                            : "Rouse: 6 eta_p M/(pi^2 c R T) (from memory); factor 3"},
                 by.relaxation_time));
  }
  report("modulus", "G", "Pa",
         {f.polymer_viscosity_Pa_s / f.relaxation_time_s, 1.0, Origin::estimated, "eta_p/lambda"});
  // Extensibility of an entangled strand or whole chain: L^2 ~ number of Kuhn segments between constraints.
  // Four repeat units to a Kuhn segment: own closure, an order of magnitude only.
  const double repeat = polymer_->repeat_molar_mass ? polymer_->repeat_molar_mass->value : 0.1;
  const double between = f.entanglement_molar_mass_kg_mol / f.initial.polymer_volume_fraction;
  // fourth-power mean of rates: the shorter of strand and chain, joined smoothly
  const double strand = f.molar_mass_kg_mol / std::sqrt(std::sqrt(1.0 + std::pow(f.molar_mass_kg_mol / between, 4.0)));
  f.extensibility = std::clamp(by.extensibility * strand / (4.0 * repeat), 10.0, 1e4);
  report("extensibility", "L2", "1",
         noted({f.extensibility, 0.7, Origin::estimated, "Kuhn segments per strand, 4 repeat units each: own closure"},
               by.extensibility));
}

void Resolver::flow_curve() {
  Fluid& f = fluid_;
  const MeasuredProperties& m = input_.measured;
  switch (m.shear_model) {
    case ShearModel::newtonian:
      f.flow_curve = Newtonian{zero_shear_};
      return;
    case ShearModel::power_law:
      f.flow_curve = PowerLaw{*m.power_law_consistency_Pa_sn, *m.shear_power_index};
      return;
    case ShearModel::carreau_yasuda:
    case ShearModel::cross: {
      const double n = *m.shear_power_index;
      if (m.shear_model == ShearModel::cross && !(n < 1.0))
        throw InputError("", "solution.measured.shear_power_index",
                         "1 leaves shear_model \"cross\" no exponent (it is 1 - n)",
                         "less than 1, or shear_model \"newtonian\"");
      const double a = m.shear_model == ShearModel::cross ? 1.0 - n : m.shear_yasuda_exponent.value_or(2.0);
      f.flow_curve = CarreauYasuda{zero_shear_, m.infinite_shear_viscosity_Pa_s.value_or(f.solvent_viscosity_Pa_s),
                                   *m.shear_time_constant_s, a, n};
      return;
    }
    case ShearModel::automatic:
      break;
  }
  // Not measured: Cross with the relaxation time. The slope sets in smoothly about the first entanglements and reaches
  // 0.7 (polydisperse, common practice); halfway at an entanglement number of 2.5 (own closure).
  const double onset = std::pow(f.entanglement_number / 2.5, 4.0);
  const double thinning = onset / (1.0 + onset);
  const double slope = thinning * (1.0 - std::clamp(0.3 * input_.factors.shear_index, 0.05, 1.0));
  const double index = 1.0 - slope;
  if (slope < 7e-4) {  // nothing that could be measured
    f.flow_curve = Newtonian{zero_shear_};
    return;
  }
  f.flow_curve =
      CarreauYasuda{zero_shear_, f.solvent_viscosity_Pa_s, f.relaxation_time_s, bend_of(slope), index};
  report("shear_thinning", "n", "1",
         noted({index, 0.3, Origin::estimated,
                "Cross, time constant = relaxation time, slope up to 0.7 by entanglement: common practice, no source"},
               input_.factors.shear_index));
  warn("flow-curve-estimated",
       "No flow curve is stated: shear thinning in the orifice is estimated from the relaxation "
       "time. Throughput may be off by a factor 2; measure viscosity up to 1e4 1/s.");
}

void Resolver::surface() {
  Fluid& f = fluid_;
  const double by = input_.factors.surface_tension;
  f.surface_tension_slope_N_m_K = solvent_->surface_tension_slope.value;
  if (input_.measured.surface_tension_N_m) {
    f.surface_tension_N_m = *input_.measured.surface_tension_N_m;
    report("surface_tension", "sigma", "N/m", measured("surface_tension", f.surface_tension_N_m, 0.03));
    return;
  }
  const double pure = solvent_->surface_tension_25.value +
                      f.surface_tension_slope_N_m_K * (f.charge_temperature_K - kReferenceTemperature_K);
  if (polymer_->surface_tension) {
    const double phi = f.initial.polymer_volume_fraction;
    f.surface_tension_N_m = by * ((1.0 - phi) * pure + phi * polymer_->surface_tension->value);
    report("surface_tension", "sigma", "N/m",
           noted({f.surface_tension_N_m, 0.1, Origin::estimated, "volume-fraction mean of solvent and polymer"}, by));
  } else {
    f.surface_tension_N_m = by * pure;
    report("surface_tension", "sigma", "N/m",
           noted({f.surface_tension_N_m, 0.15, Origin::estimated, "pure solvent; no value for the polymer"}, by));
  }
}

void Resolver::volatility() {
  Fluid& f = fluid_;
  const double warm = std::max(f.charge_temperature_K, room_.temperature_K);
  const Solvent::Antoine& set = choose_antoine(*solvent_, warm);
  const PropertyFactors& by = input_.factors;
  f.antoine_a = by.vapour_pressure == 1.0 ? set.a : set.a + std::log10(by.vapour_pressure);
  f.antoine_b = set.b;
  f.antoine_c = set.c;
  f.antoine_min_K = set.t_min_K;
  f.antoine_max_K = set.t_max_K;
  report("vapour_pressure", "p_v", "Pa",
         noted({vapour_pressure(f, f.charge_temperature_K), set.relative_sd, Origin::library, set.source},
               by.vapour_pressure));
  f.latent_heat_25_J_kg = by.latent_heat * solvent_->latent_heat_25.value;
  f.critical_temperature_K = solvent_->critical_temperature.value;
  report("latent_heat", "L_v", "J/kg", scaled(solvent_->latent_heat_25, by.latent_heat));
  f.diffusivity_air_25_m2_s = by.diffusivity_in_air * solvent_->diffusivity_air_25.value;
  report("diffusivity_in_air", "D_a", "m2/s", scaled(solvent_->diffusivity_air_25, by.diffusivity_in_air));
  f.water_is_solvent = solvent_->id == "water";
  f.water_miscible = solvent_->water_miscible;
  if (f.charge_temperature_K > solvent_->boiling_point.value - 2.0) {
    throw InputError("", "solution.temperature",
                     "the charge at " + short_number(f.charge_temperature_K - 273.15) + " degC would boil (" +
                         solvent_->name + " boils at " +
                         short_number(solvent_->boiling_point.value - 273.15) + " degC)",
                     "a charge at least 2 K below the boiling point");
  }
}

void Resolver::diffusion() {
  Fluid& f = fluid_;
  // Solvent-rich limit: 2e-9 m2/s in a liquid of 0.5 mPa s at 298 K, inversely with viscosity.
  const double viscosity_25 = solvent_->viscosity_25.value;
  f.log_dilute_diffusivity = std::log(2.0e-9 * 0.5e-3 / viscosity_25);
  f.diffusion_overlap = 0.27;
  Property note{
      0.0, 0.7, Origin::estimated,
      "free volume, overlap 0.27 as for polystyrene in benzene (own fit); dilute limit 2e-9 m2/s at 0.5 mPa s"};
  if (pair_ != nullptr && pair_->diffusion.size() >= 3) {
    const double fitted = fit_diffusion_overlap(f, *pair_);
    if (fitted > 0.02 && fitted < 1.0) {
      f.diffusion_overlap = fitted;
      note = {0.0, 0.4, Origin::library, "free volume fitted to " + pair_->diffusion_source};
    }
  }
  const double phi0 = f.initial.polymer_volume_fraction;
  if (input_.measured.solvent_diffusivity_m2_s) {
    // Anchor the whole curve on the measured point.
    const double now = inner_diffusivity(f, phi0, f.charge_temperature_K);
    f.log_dilute_diffusivity += std::log(*input_.measured.solvent_diffusivity_m2_s / now);
    note = measured("solvent_diffusivity", 0.0, 0.2);
  } else if (const double by = input_.factors.solvent_diffusivity; by != 1.0) {
    f.log_dilute_diffusivity += std::log(by);
    note = noted(std::move(note), by);
  }
  note.value = inner_diffusivity(f, phi0, f.charge_temperature_K);
  report("solvent_diffusivity", "D", "m2/s", note);
}

}  // namespace

Composition compose(const Concentration& stated, double polymer_density, double solvent_density) {
  Composition mix;
  double mass_fraction = 0.0;
  switch (stated.basis) {
    case ConcentrationBasis::w_v_of_solvent: {
      const double polymer = stated.value * 1000.0;  // kg per m3 of solvent
      mass_fraction = polymer / (polymer + solvent_density);
      break;
    }
    case ConcentrationBasis::w_v_of_solution: {
      const double polymer = stated.value * 1000.0;  // kg per m3 of solution
      const double phi = polymer / polymer_density;
      mass_fraction = polymer / (polymer + (1.0 - phi) * solvent_density);
      if (phi >= 1.0) mass_fraction = 1.0;
      break;
    }
    case ConcentrationBasis::mass:
      mass_fraction = stated.value;
      break;
    case ConcentrationBasis::volume:
      mass_fraction =
          stated.value * polymer_density / (stated.value * polymer_density + (1.0 - stated.value) * solvent_density);
      break;
  }
  if (!(mass_fraction > 0.0) || !(mass_fraction < 1.0)) {
    throw InputError("", "solution.concentration",
                     "leaves no " + std::string(mass_fraction > 0.0 ? "solvent" : "polymer"),
                     "more than 0 and less than pure polymer, e.g. \"24 % w/v of solvent\" or \"15 wt%\"");
  }
  mix.polymer_mass_fraction = mass_fraction;
  mix.solvent_ratio = (1.0 - mass_fraction) / mass_fraction;
  mix.polymer_volume_fraction = 1.0 / (1.0 + mix.solvent_ratio * polymer_density / solvent_density);
  mix.density_kg_m3 = mix.polymer_volume_fraction * polymer_density +
                      (1.0 - mix.polymer_volume_fraction) * solvent_density;
  mix.concentration_kg_m3 = mix.polymer_volume_fraction * polymer_density;
  return mix;
}

Fluid resolve_fluid(const SolutionInput& input, const RoomInput& room, const Library& library) {
  return Resolver(input, room, library).run();
}

bool solidifies_by_crystallisation(const Fluid& fluid, double phi, double temperature_K) {
  return fluid.crystallises &&
         solid_margin(fluid, phi, temperature_K) < temperature_K - glass_temperature(fluid, phi);
}

double intrinsic_viscosity_m3_kg(const Pair::MarkHouwink& law, double molar_mass_kg_mol) {
  return law.k_m3_kg * std::pow(molar_mass_kg_mol, law.exponent);
}

double martin_specific_viscosity(double reduced, double martin_constant) {
  const double join = (kEntangledSlope - 1.0) / martin_constant;
  if (reduced <= join) return reduced * std::exp(martin_constant * reduced);
  return join * std::exp(martin_constant * join) * std::pow(reduced / join, kEntangledSlope);
}

}  // namespace whorl::model
