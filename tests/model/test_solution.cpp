// Composition and solution properties against definitions and reference tables.
#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "catch.hpp"
#include "model/reference.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/solution.hpp"

using namespace whorl;
using namespace whorl::model;

namespace {

SolutionInput solution(const std::string& polymer, const std::string& solvent, double molar_mass, double mass_fraction) {
  SolutionInput input;
  input.polymer = polymer;
  input.solvent = solvent;
  input.molar_mass_kg_mol = molar_mass;
  input.concentration = {ConcentrationBasis::mass, mass_fraction};
  return input;
}

const Solvent::Antoine* covering(const Solvent& solvent, double t) {
  for (const auto& set : solvent.antoine) {
    if (t >= set.t_min_K - 0.01 && t <= set.t_max_K + 0.01) return &set;
  }
  return nullptr;
}

Fluid with_antoine(const Solvent::Antoine& set) {
  Fluid fluid;
  fluid.antoine_a = set.a;
  fluid.antoine_b = set.b;
  fluid.antoine_c = set.c;
  return fluid;
}

}  // namespace

TEST_CASE("composition: 20 % w/v is 2 g in 10 mL", "[model][eq:composition]") {
  // Bench practice (common practice, no source): 2 g of polymer and 10 mL of solvent. Formally: 2 g in 10 mL of solution.
  const double rho_p = 1200.0;
  const double rho_s = 1480.0;
  const auto bench = compose({ConcentrationBasis::w_v_of_solvent, 0.20}, rho_p, rho_s);
  CHECK_THAT(bench.polymer_mass_fraction, WithinRel(2.0 / (2.0 + 10.0 * 1.480), 1e-14));
  CHECK_THAT(bench.solvent_ratio, WithinRel(14.80 / 2.0, 1e-14));
  CHECK_THAT(bench.polymer_volume_fraction, WithinRel((2.0 / 1.2) / (2.0 / 1.2 + 10.0), 1e-14));
  CHECK_THAT(bench.concentration_kg_m3, WithinRel(2e-3 / ((2.0 / 1.2 + 10.0) * 1e-6), 1e-13));
  CHECK_THAT(bench.density_kg_m3, WithinRel(16.8e-3 / ((2.0 / 1.2 + 10.0) * 1e-6), 1e-13));
  const auto formal = compose({ConcentrationBasis::w_v_of_solution, 0.20}, rho_p, rho_s);
  CHECK_THAT(formal.concentration_kg_m3, WithinRel(200.0, 1e-13));
  CHECK_THAT(formal.polymer_volume_fraction, WithinRel(200.0 / 1200.0, 1e-13));
  CHECK_THAT(formal.polymer_mass_fraction, WithinRel(2.0 / (2.0 + (10.0 - 2.0 / 1.2) * 1.480), 1e-13));
  CHECK_THAT(compose({ConcentrationBasis::mass, 0.15}, rho_p, rho_s).polymer_mass_fraction, WithinRel(0.15, 1e-15));
  CHECK_THAT(compose({ConcentrationBasis::volume, 0.15}, rho_p, rho_s).polymer_volume_fraction, WithinRel(0.15, 1e-14));
  CHECK_THROWS_AS(compose({ConcentrationBasis::w_v_of_solution, 1.3}, rho_p, rho_s), InputError);
  CHECK_THROWS_AS(compose({ConcentrationBasis::mass, 0.0}, rho_p, rho_s), InputError);
}

TEST_CASE("composition: a measured density moves what was not stated", "[model][eq:composition]") {
  // Hand arithmetic (common practice, no source). 20 g in 100 mL of solution at 1.30 g/mL: 200 kg/m3 and 20/130 by mass,
  // whatever the additive density. 20 g and 100 mL of solvent: the mass fraction stays, c follows.
  SolutionInput input;
  input.polymer = "PMMA";
  input.solvent = "chloroform";
  input.molar_mass_kg_mol = 120.0;
  input.measured.zero_shear_viscosity_Pa_s = 1.0;
  input.measured.density_kg_m3 = 1300.0;
  input.concentration = {ConcentrationBasis::w_v_of_solution, 0.20};
  const Fluid formal = resolve_fluid(input, RoomInput{}, io::built_in_library());
  CHECK_THAT(formal.initial.concentration_kg_m3, WithinRel(200.0, 1e-12));
  CHECK_THAT(formal.initial.polymer_mass_fraction, WithinRel(20.0 / 130.0, 1e-12));
  CHECK_THAT(formal.initial.density_kg_m3, WithinRel(1300.0, 1e-15));
  input.concentration.basis = ConcentrationBasis::w_v_of_solvent;
  const Fluid bench = resolve_fluid(input, RoomInput{}, io::built_in_library());
  const double fraction = 20.0 / (20.0 + 0.1 * bench.solvent_density_kg_m3);
  CHECK_THAT(bench.initial.polymer_mass_fraction, WithinRel(fraction, 1e-12));
  CHECK_THAT(bench.initial.concentration_kg_m3, WithinRel(1300.0 * fraction, 1e-12));
  input.concentration = {ConcentrationBasis::w_v_of_solution, 1.2};
  input.measured.density_kg_m3 = 1100.0;
  CHECK_THROWS_AS(resolve_fluid(input, RoomInput{}, io::built_in_library()), InputError);
}

TEST_CASE("Flory-Huggins: limits of the solvent activity", "[model][eq:solvent-activity]") {
  Fluid fluid;
  // Flory 1953, long chains: ln a = ln(1 - phi) + phi + chi phi^2
  for (const double chi : {0.3, 0.45}) {
    fluid.chi = chi;
    CHECK(solvent_activity(fluid, 0.0) == 1.0);
    CHECK_THAT(std::log(solvent_activity(fluid, 0.01)), WithinRel(-(0.5 - chi) * 1e-4, chi < 0.4 ? 0.03 : 0.1));  // next term phi^3/3
    CHECK_THAT(solvent_activity(fluid, 0.5), WithinRel(0.5 * std::exp(0.5 + 0.25 * chi), 1e-14));
    CHECK_THAT(solvent_activity(fluid, 1.0 - 1e-7), WithinRel(1e-7 * std::exp(1.0 + chi), 1e-6));  // Henry's law e^(1+chi)
    CHECK(solvent_activity(fluid, 1.0) == 0.0);
  }
  fluid.chi = 2.0;  // beyond one phase: held at 1
  CHECK(solvent_activity(fluid, 0.5) == 1.0);
}

TEST_CASE("mixture: ends of density, glass temperature and free volume", "[model][eq:mixture-density][eq:glass-transition][eq:free-volume]") {
  const Fluid f = resolve_fluid(solution("PS", "toluene", 300.0, 0.2), {}, io::built_in_library());
  CHECK_THAT(mixture_density(f, 0.0), WithinRel(f.polymer_density_kg_m3, 1e-14));
  CHECK_THAT(mixture_density(f, 1e9), WithinRel(f.solvent_density_kg_m3, 1e-8));
  CHECK_THAT(mixture_density(f, 4.0), WithinRel(5.0 / (1.0 / f.polymer_density_kg_m3 + 4.0 / f.solvent_density_kg_m3), 1e-14));
  CHECK_THAT(glass_temperature(f, 1.0), WithinRel(f.polymer_glass_K, 1e-14));
  CHECK_THAT(glass_temperature(f, 0.0), WithinRel(f.solvent_glass_K, 1e-14));
  CHECK_THAT(glass_temperature(f, 1.0), WithinAbs(373.0, 5.0));  // polystyrene, 100 degC (any handbook)
  // Williams, Landel & Ferry: f = 0.025 + 4.8e-4 (T - T_g); 60 K above T_g the smoothing of 2 K is gone.
  CHECK_THAT(1.0 / inverse_free_volume(f, 1.0, f.polymer_glass_K + 60.0), WithinRel(0.025 + f.polymer_expansion_1_K * 60.0, 1e-9));
  CHECK_THAT(1.0 / inverse_free_volume(f, 1.0, f.polymer_glass_K - 60.0), WithinRel(0.025, 1e-9));
  // The charge is the anchor of viscosity and relaxation time.
  const double phi = f.initial.polymer_volume_fraction;
  const double eta = polymer_viscosity(f, phi, f.charge_temperature_K);
  CHECK_THAT(eta, WithinRel(f.polymer_viscosity_Pa_s, 1e-12));
  CHECK_THAT(relaxation_time(f, phi, f.charge_temperature_K, eta), WithinRel(f.relaxation_time_s, 1e-12));
  CHECK(polymer_viscosity(f, 2.0 * phi, f.charge_temperature_K) > 4.0 * eta);
}

TEST_CASE("latent heat: Watson's rule against the steam tables", "[model][eq:latent-heat]") {
  const Fluid f = resolve_fluid(solution("PEO", "water", 200.0, 0.05), {}, io::built_in_library());
  // Steam tables: 2442 kJ/kg at 25 degC, 2501 at 0 degC, 2257 at 100 degC. Watson with 0.38 is good to 2 %.
  CHECK_THAT(latent_heat(f, 298.15), WithinRel(2442e3, 0.003));
  CHECK_THAT(latent_heat(f, 273.15), WithinRel(2501e3, 0.01));
  CHECK_THAT(latent_heat(f, 373.15), WithinRel(2257e3, 0.02));
}

TEST_CASE("vapour pressure: every solvent against handbook equations", "[model][eq:vapour-pressure]") {
  const Library& library = io::built_in_library();
  int checked = 0;
  for (const auto& row : testing::read_reference("vapour_pressure.csv")) {
    const Solvent* solvent = library.solvent(row.at("solvent"));
    REQUIRE(solvent != nullptr);
    const double t = testing::number(row, "T_K");
    const Solvent::Antoine* set = covering(*solvent, t);
    if (set == nullptr) continue;
    ++checked;
    const std::string& source = row.at("source");
    // One standard deviation of the reference: equations 1 %, recalled values 2 % (dimethylformamide 10 %, which is also how
    // far its data differ), water formulas 0.1 %. Twice the root of the sum of squares is allowed.
    double sd = 0.01;
    if (source == "mem") sd = 0.02;
    if (source == "chemsep") sd = 0.03;                     // the two equations for dimethyl sulfoxide differ by 5 %
    if (source == "watson" || source == "page") sd = 0.10;  // as the table says
    if (source == "perry" && t < 250.0) sd = 0.03;  // the two handbooks differ by up to 5 % (acetone) down there
    if (solvent->id == "dimethylformamide") sd = source == "mem" ? 0.10 : 0.05;
    if (source == "ashrae" || source == "iapws") sd = 0.001;
    const double allowed = 2.0 * std::hypot(sd, set->relative_sd);
    INFO(solvent->id << " " << t << " K " << source << " library sd " << set->relative_sd);
    CHECK_THAT(vapour_pressure(with_antoine(*set), t), WithinRel(testing::number(row, "p_Pa"), allowed));
  }
  CHECK(checked > 170);
}

TEST_CASE("boiling point: Antoine at one atmosphere", "[model][eq:vapour-pressure]") {
  const Library& library = io::built_in_library();
  for (const auto& row : testing::read_reference("boiling_point.csv")) {
    const Solvent* solvent = library.solvent(row.at("solvent"));
    REQUIRE(solvent != nullptr);
    const double t = testing::number(row, "T_K");
    // The first table rounds these to whole degC (true 339.1, 425.2, 439.2 and 462.2 K), the second all.
    const std::set<std::string> whole{"tetrahydrofuran", "dimethylformamide", "dimethylacetamide", "dimethyl-sulfoxide"};
    const bool rounded = row.at("source") == "jasper" || whole.contains(solvent->id);
    const double allowed = rounded ? 1.1 : 0.3;
    INFO(solvent->id << ' ' << row.at("source"));
    CHECK_THAT(solvent->boiling_point.value, WithinAbs(t, allowed));
    const Solvent::Antoine* set = covering(*solvent, t);
    if (set == nullptr) continue;
    // d ln p/dT near boiling is 0.035 1/K or less (Trouton): the set's own doubt, doubled, in kelvins on top.
    const double boils = set->b / (set->a - std::log10(101325.0)) - set->c;
    CHECK_THAT(boils, WithinAbs(t, allowed + 2.0 * set->relative_sd / 0.030));
  }
}

TEST_CASE("intrinsic viscosity: Mark-Houwink against samples of known molar mass", "[model][eq:mark-houwink]") {
  int checked = 0;
  for (const auto& row : testing::read_reference("intrinsic_viscosity.csv")) {
    const Pair* pair = io::built_in_library().pair(row.at("polymer"), row.at("solvent"));
    REQUIRE(pair != nullptr);
    REQUIRE(pair->mark_houwink);
    INFO(row.at("polymer") << ' ' << row.at("M_kg_mol") << ' ' << row.at("source"));
    // between laboratories (table) and the law's own doubt, in quadrature
    const double allowed = std::hypot(0.01 * testing::number(row, "tolerance_percent"), pair->mark_houwink->relative_sd);
    CHECK_THAT(intrinsic_viscosity_m3_kg(*pair->mark_houwink, testing::number(row, "M_kg_mol")),
               WithinRel(0.1 * testing::number(row, "eta_dL_g"), allowed));  // 1 dL/g = 0.1 m3/kg
    ++checked;
  }
  CHECK(checked >= 10);
}

TEST_CASE("intrinsic viscosity: other solvents of the polymer stand in within their stated doubt", "[model][eq:mark-houwink]") {
  // A pair that the library knows is left out of it; what stands in is held against samples of known molar mass in that solvent.
  constexpr double kStated = 0.4;  // docs/theory/01-solution.md
  std::map<std::string, std::vector<double>> off;
  for (const auto& row : testing::read_reference("intrinsic_viscosity.csv")) {
    Library library = io::built_in_library();
    for (Pair& pair : library.pairs)
      if (pair.polymer == row.at("polymer") && pair.solvent == row.at("solvent")) pair.mark_houwink.reset();
    const Fluid fluid = resolve_fluid(solution(row.at("polymer"), row.at("solvent"), testing::number(row, "M_kg_mol"), 0.08), {}, library);
    const auto found = std::find_if(fluid.properties.begin(), fluid.properties.end(),
                                    [](const NamedProperty& p) { return p.key == "intrinsic_viscosity"; });
    REQUIRE(found != fluid.properties.end());
    CHECK(found->property.relative_sd == kStated);
    CHECK(std::any_of(fluid.warnings.begin(), fluid.warnings.end(),
                      [](const Warning& w) { return w.code == "intrinsic-viscosity-stands-in"; }));
    off[row.at("polymer")].push_back(std::log(found->property.value / (0.1 * testing::number(row, "eta_dL_g"))));
  }
  REQUIRE(off.size() == 3);
  double squares = 0.0;
  for (const auto& [polymer, each] : off) {
    double mean = 0.0;
    for (const double one : each) mean += one / static_cast<double>(each.size());
    INFO(polymer << ", off by a factor " << std::exp(mean));
    CHECK(std::abs(mean) < 2.0 * kStated);
    squares += mean * mean;
  }
  CHECK(std::sqrt(squares / 3.0) < 1.25 * kStated);
  // a record that replaces another counts alone: PAN is known in dimethylformamide only
  Library own = io::built_in_library();
  Pair replaced = *own.pair("PAN", "dimethylformamide");
  replaced.mark_houwink->k_m3_kg *= 4.0;
  own.pairs.push_back(replaced);
  const Fluid stands = resolve_fluid(solution("PAN", "dimethyl-sulfoxide", 100.0, 0.05), {}, own);
  const auto eta = std::find_if(stands.properties.begin(), stands.properties.end(),
                                [](const NamedProperty& p) { return p.key == "intrinsic_viscosity"; });
  REQUIRE(eta != stands.properties.end());
  CHECK_THAT(eta->property.value, WithinRel(intrinsic_viscosity_m3_kg(*replaced.mark_houwink, 100.0), 1e-12));
  CHECK(eta->property.source == "stands in: PAN in dimethylformamide");
  // and is named once where an unknown name is refused
  own.solvents.push_back(*own.solvent("acetone"));
  try {
    static_cast<void>(resolve_fluid(solution("PAN", "cyclohexanone", 100.0, 0.05), {}, own));
    FAIL("an unknown solvent passed");
  } catch (const InputError& error) {
    const std::string said = error.what();
    CHECK(said.find("acetone") != std::string::npos);
    CHECK(said.find("acetone") == said.rfind("acetone"));
  }
  // a known pair is not touched, and a polymer without any known solvent is refused
  const Fluid known = resolve_fluid(solution("PS", "toluene", 250.0, 0.1), {}, io::built_in_library());
  CHECK(std::none_of(known.warnings.begin(), known.warnings.end(), [](const Warning& w) { return w.code == "intrinsic-viscosity-stands-in"; }));
  Library bare = io::built_in_library();
  for (Pair& pair : bare.pairs) pair.mark_houwink.reset();
  CHECK_THROWS_AS(resolve_fluid(solution("PS", "toluene", 250.0, 0.1), {}, bare), InputError);
}

TEST_CASE("Martin: continuous, and within the stated factors of measured solutions", "[model][eq:martin]") {
  CHECK_THAT(martin_specific_viscosity(1e-6, 0.35), WithinRel(1e-6, 1e-6));  // Einstein limit eta_sp = c[eta]
  CHECK_THAT(martin_specific_viscosity(4.0, 0.35), WithinRel(4.0 * std::exp(1.4), 1e-14));
  const double join = (kEntangledSlope - 1.0) / 0.35;
  CHECK_THAT(martin_specific_viscosity(join * (1 + 1e-9), 0.35), WithinRel(martin_specific_viscosity(join * (1 - 1e-9), 0.35), 2e-8));
  for (const auto& row : testing::read_reference("solution_viscosity.csv")) {
    SolutionInput input = solution(row.at("polymer"), row.at("solvent"), testing::number(row, "M_kg_mol"),
                                   0.01 * testing::number(row, "wt_percent"));
    input.temperature_K = testing::number(row, "T_K");
    const Fluid fluid = resolve_fluid(input, {}, io::built_in_library());
    const double eta = fluid.polymer_viscosity_Pa_s + fluid.solvent_viscosity_Pa_s;
    const double factor = row.at("polymer") == "PVP" ? 4.0 : 2.0;  // as the header states
    INFO(row.at("polymer") << ' ' << row.at("M_kg_mol") << " kg/mol " << row.at("wt_percent") << " % estimated " << eta);
    CHECK(eta > testing::number(row, "viscosity_low_Pa_s") / factor);
    CHECK(eta < testing::number(row, "viscosity_high_Pa_s") * factor);
  }
}

TEST_CASE("the doubt of an estimated viscosity is that of the library's constants, and measured solutions lie in it", "[model][eq:martin]") {
  const Library library = io::built_in_library();
  double squares = 0.0;
  int count = 0;
  for (const auto& row : testing::read_reference("solution_viscosity.csv")) {
    SolutionInput input = solution(row.at("polymer"), row.at("solvent"), testing::number(row, "M_kg_mol"),
                                   0.01 * testing::number(row, "wt_percent"));
    input.temperature_K = testing::number(row, "T_K");
    const Fluid fluid = resolve_fluid(input, {}, library);
    const auto found = std::find_if(fluid.properties.begin(), fluid.properties.end(), [](const auto& p) { return p.key == "zero_shear_viscosity"; });
    REQUIRE(found != fluid.properties.end());
    const Pair& pair = *library.pair(input.polymer, input.solvent);
    const double x = intrinsic_viscosity_m3_kg(*pair.mark_houwink, input.molar_mass_kg_mol) * fluid.initial.concentration_kg_m3;
    const double kx = std::min(pair.martin_constant->value * x, kEntangledSlope - 1.0);
    const double sd = std::hypot((1.0 + kx) * pair.mark_houwink->relative_sd, kx * pair.martin_constant->relative_sd);
    CHECK_THAT(found->property.relative_sd, WithinRel(sd, 1e-12));
    const double measured = std::sqrt(testing::number(row, "viscosity_low_Pa_s") * testing::number(row, "viscosity_high_Pa_s"));
    squares += std::pow(std::log(measured / found->property.value) / sd, 2.0);
    ++count;
  }
  REQUIRE(count >= 15);
  // one standard deviation: not far wider than the misses, not narrower
  CHECK(std::sqrt(squares / count) < 1.2);
  CHECK(std::sqrt(squares / count) > 0.5);
}

TEST_CASE("flow curve: a Cross law without an exponent is refused", "[model][eq:flow-curve]") {
  // eta = eta_inf + (eta_0 - eta_inf)/(1 + (lambda rate)^(1-n)): at n = 1 the bracket is 2 at any rate, also at rest.
  SolutionInput input = solution("PEO", "water", 400.0, 0.05);
  input.measured.zero_shear_viscosity_Pa_s = 1.0;
  input.measured.shear_model = ShearModel::cross;
  input.measured.shear_time_constant_s = 5e-3;
  input.measured.shear_power_index = 0.5;
  CHECK_NOTHROW(resolve_fluid(input, RoomInput{}, io::built_in_library()));
  input.measured.shear_power_index = 1.0;
  CHECK_THROWS_AS(resolve_fluid(input, RoomInput{}, io::built_in_library()), InputError);
}

TEST_CASE("flow curve that is not measured: thinning fades with the entanglements, at every shear rate", "[model][eq:flow-curve]") {
  // A chain without entanglements has next to no slope (Newtonian but for hydrodynamics); a tenth of the first of them may
  // not take half of the viscosity. Neighbouring molar masses, 2 % apart, have neighbouring curves.
  const auto left_at = [](double molar_mass, double weissenberg, double& entanglements) {
    SolutionInput input = solution("PCL", "chloroform", molar_mass, 0.10);
    input.measured.zero_shear_viscosity_Pa_s = 1.0;
    input.measured.relaxation_time_s = 1e-3;
    const Fluid fluid = resolve_fluid(input, RoomInput{}, io::built_in_library());
    entanglements = fluid.entanglement_number;
    return shear_viscosity_Pa_s(fluid.flow_curve, weissenberg / 1e-3);
  };
  for (const double weissenberg : {1e-3, 0.1, 1.0, 10.0, 1e3}) {
    double before = 1.0;
    for (double molar_mass = 4.0; molar_mass < 200.0; molar_mass *= 1.02) {
      double entanglements = 0.0;
      const double left = left_at(molar_mass, weissenberg, entanglements);
      INFO(entanglements << " entanglements, lambda rate " << weissenberg);
      CHECK(std::abs(std::log(left / before)) < 0.07 + 0.02 * std::log1p(weissenberg));
      if (entanglements < 1.0 && weissenberg <= 1.0) CHECK(left > 0.95);
      if (weissenberg >= 1.0) CHECK(left < before * 1.001);
      before = left;
    }
  }
  // entangled: the law of Cross, 1/(1 + (lambda rate)^(1-n)) over that of the solvent
  double entanglements = 0.0;
  const double left = left_at(170.0, 1.0, entanglements);
  REQUIRE(entanglements > 6.0);
  CHECK_THAT(left, WithinRel(0.5, 2e-3));
}

TEST_CASE("diffusivity inside: polystyrene in benzene and toluene", "[model][eq:inner-diffusivity]") {
  // Benzene is not in the library: its density, viscosity and glass temperature (131 K) are handbook values from memory.
  Fluid benzene = resolve_fluid(solution("PS", "toluene", 300.0, 0.2), {}, io::built_in_library());
  benzene.charge_temperature_K = 298.15;
  benzene.solvent_density_kg_m3 = 874.0;
  benzene.solvent_viscosity_Pa_s = 0.604e-3;
  benzene.solvent_viscosity_energy_J_mol = 10.5e3;
  benzene.solvent_glass_K = 131.0;
  benzene.log_dilute_diffusivity = std::log(2.0e-9 * 0.5 / 0.604);
  benzene.diffusion_overlap = 0.27;
  const Fluid toluene = resolve_fluid(solution("PS", "toluene", 300.0, 0.2), {}, io::built_in_library());
  int checked = 0;
  for (const auto& row : testing::read_reference("diffusion_points.csv")) {
    if (row.at("polymer") != "PS") continue;
    const double w = testing::number(row, "w");
    const double t = testing::number(row, "T_K");
    const bool is_benzene = row.at("solvent") == "benzene" && t < 300.0;
    const bool is_toluene = row.at("solvent") == "toluene" && t < 340.0;
    if (w < 0.28 || !(is_benzene || is_toluene)) continue;
    const Fluid& fluid = is_benzene ? benzene : toluene;
    const double phi = polymer_volume_fraction(fluid, w / (1.0 - w));
    INFO(row.at("solvent") << ' ' << t << " K w " << w);
    // The header claims a factor 2 (0.3 decade) above T_g; scatter of the data adds a little.
    CHECK_THAT(std::log10(inner_diffusivity(fluid, phi, t) * 1e4), WithinAbs(testing::number(row, "log10_D_cm2_s"), 0.35));
    ++checked;
  }
  CHECK(checked >= 15);
}

TEST_CASE("solidification: glass and melting line", "[model][eq:solidification]") {
  const Fluid ps = resolve_fluid(solution("PS", "toluene", 300.0, 0.2), {}, io::built_in_library());
  CHECK_THAT(solid_margin(ps, 1.0, 300.0), WithinRel(300.0 - ps.polymer_glass_K, 1e-12));
  const Fluid peo = resolve_fluid(solution("PEO", "water", 200.0, 0.1), {}, io::built_in_library());
  REQUIRE(peo.crystallises);
  CHECK_THAT(solid_margin(peo, 1.0, 300.0), WithinAbs(300.0 + kUndercooling_K - peo.melting_point_K, 1e-9));
  CHECK(solidifies_by_crystallisation(peo, 1.0, 300.0));
  CHECK_FALSE(solidifies_by_crystallisation(ps, 1.0, 300.0));
}
