#include "answer/recipe_sheet.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstring>
#include <ostream>

#include "answer/estimate_statement.hpp"
#include "answer/provenance.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/number_text.hpp"
#include "whorl/model/run_progress.hpp"

namespace whorl::answer {
namespace {

using io::SheetRow;
using io::SheetSection;

SheetRow row(std::string key, std::string label, double number, std::string unit, std::string formula = {},
             std::string source = {}, std::string note = {}) {
  SheetRow r{std::move(key),    std::move(label), {}, std::move(unit), std::move(formula),
             std::move(source), std::move(note)};
  if (std::isfinite(number)) r.number = number;
  return r;
}

SheetSection weigh_section(const study::Recipe& r, const study::RecipeOptions& o, const model::CaseInput& input) {
  SheetSection s{"Weigh-out", "", {}, ""};
  s.intro = io::number_text(o.runs) + (o.runs == 1.0 ? " run" : " runs") + " of " +
            io::number_text(1e6 * input.operation.charge_volume_m3) + " mL, and " + percent(o.allowance) +
            " for what stays in bottle and syringe. Weigh the solvent: volumes of solution from volumes of solvent are "
            "off by the polymer.";
  s.rows.push_back(row("solution_volume", "solution to make", 1e6 * r.batch_volume_m3, "mL",
                       "V = runs x charge x (1 + allowance)", "definition"));
  s.rows.push_back(row("polymer_mass", "polymer", 1e3 * r.batch.polymer_mass_kg, "g", "m_p = w_p rho V", "definition",
                       "w_p " + io::number_text(r.polymer_mass_fraction, 4)));
  s.rows.push_back(row("solvent_mass", "solvent by mass", 1e3 * r.batch.solvent_mass_kg, "g", "m_s = (1 - w_p) rho V",
                       "definition"));
  s.rows.push_back(row("solvent_volume", "solvent by volume", 1e6 * r.batch.solvent_volume_m3, "mL", "V_s = m_s/rho_s",
                       "rho_s of the library at the charge's temperature", "what a pipette would have to deliver"));
  for (SheetRow& one : s.rows) one.to_fill_in = true;
  s.rows.push_back(row("solution_mass", "solution, by mass", 1e3 * r.batch.solution_mass_kg, "g", "m = rho V", "",
                       "volumes of polymer and solvent added up, unless a density was measured"));
  s.rows.push_back(
      row("concentration_mass", "which is, by mass", 100.0 * r.polymer_mass_fraction, "wt%", "w_p", "definition"));
  s.rows.push_back(row("concentration_of_solvent", "or, per solvent", 0.1 * r.polymer_per_solvent_kg_m3, "g/100 mL",
                       "% w/v of solvent"));
  s.rows.push_back(row("concentration_of_solution", "or, per solution", 0.1 * r.polymer_per_solution_kg_m3, "g/100 mL",
                       "% w/v of solution"));
  for (const study::Reading& other : r.other_readings) {
    s.closing += "Mind the convention: read as " + other.basis + ", the same figure would ask for " +
                 io::number_text(1e3 * other.weigh_out.polymer_mass_kg, 4) + " g of polymer and " +
                 io::number_text(1e3 * other.weigh_out.solvent_mass_kg, 4) + " g of solvent (" +
                 io::number_text(100.0 * other.mass_fraction, 4) +
                 " wt%) for the same volume. Write down which one was meant.";
  }
  return s;
}

// A run with gas ends in a long dribble; 0 where it does not.
double first_nine_tenths_s(const study::Recipe& r, const model::CaseInput& input) {
  return input.operation.feed_rate_m3_s ? 0.0 : model::before_the_dribble_s(r.estimate.run);
}

// How sure a size is, and which other one there may be.
std::string size_doubt(const model::Estimate& e) {
  const auto um = [](double metres) { return io::number_text(1e6 * metres, 2); };
  const model::Answer& first = e.torn ? e.as_threads : e.as_line;
  const model::Answer& other = e.torn ? e.as_line : e.as_threads;
  const bool two = two_answers(e);
  std::string text;
  if (first.low_m > 0.0) text = "90 % between " + um(first.low_m) + " and " + um(first.high_m) + " um; ";
  text += name_of_answer(e.torn);
  if (two) text += " (" + chance_text(first.probability) + ")";
  if (two && other.diameter_m > 0.0) text += std::string("; or ") + name_of_answer(!e.torn) + ", about " + um(other.diameter_m) + " um";
  return text;
}

SheetSection run_section(const study::Recipe& r, const study::RecipeOptions& o, const model::CaseInput& input) {
  const auto& run = r.estimate.run;
  const bool done = r.estimate.status == model::Status::done;
  const bool fed = input.operation.feed_rate_m3_s.has_value();
  SheetSection s{"Each run (estimate)", "", {}, ""};
  const std::string from = "estimate";
  if (done) s.intro = "What the model expects; its doubt: 'whorl estimate --uncertainty'.";
  s.rows.push_back(row("charge_volume", "charge", 1e6 * input.operation.charge_volume_m3, "mL"));
  s.rows.push_back(row("charge_mass", "charge by mass", 1e3 * r.charge_mass_kg, "g", "rho V"));
  s.rows.back().to_fill_in = true;
  if (!done) {
    s.closing = "The estimate did not converge (" + r.estimate.reason + "): no run time, mass or length is given.";
    return s;
  }
  s.rows.push_back(row("run_time", "time until flow stops", run.run_time_s, "s",
                       fed ? "start, and what the pump takes for the charge" : "emptying of the vessel", from));
  s.rows.back().to_fill_in = true;
  s.rows.back().digits = 2;
  if (const double most = first_nine_tenths_s(r, input); most > 0.0) {
    s.rows.push_back(row("time_to_90_percent", "90 % of it gone after", most, "s", "the rest dribbles out", from));
    s.rows.back().digits = 2;
  }
  s.rows.push_back(row("emptied", "of the charge leaves", 100.0 * run.emptied_fraction, "%", "", from));
  s.rows.push_back(row("polymer_spun", "polymer that leaves", 1e6 * r.polymer_spun_kg, "mg", "w_p rho V x share", from,
                       "not all of it lands as fibre"));
  s.rows.back().digits = 3;
  const bool fibre = r.fibre_length_m && model::lands_as_fibre(r.estimate.fibre_class);
  if (fibre) {
    s.rows.push_back(row("diameter_mean", "dry diameter over the run", 1e6 * run.dry_diameter_mean_m, "um",
                         "mean by fibre length", from, size_doubt(r.estimate)));
    s.rows.back().digits = 2;
    s.rows.push_back(row("fibre_length", "fibre length", 1e-3 * *r.fibre_length_m, "km", "L = m/(rho_p pi/4 <d^2>)",
                         "mass balance", "dense round fibre"));
    s.rows.back().digits = 2;
  }
  if (r.coverage_kg_m2) {
    s.rows.push_back(
        row("coverage", "polymer per collector area", 1e3 * *r.coverage_kg_m2, "g/m2", "m/(2 pi R_c H)", "definition",
            "even, and nothing beside the band of " + io::number_text(1e3 * *o.collector_height_m) + " mm"));
    s.rows.back().digits = 3;
  } else {
    s.rows.push_back(row("coverage", "polymer per collector area", NAN, "", "", "",
                         "give --collector-height, the height of the band in which fibre lands"));
  }
  if (fibre) {
    const SeenOutcome likely = seen_outcomes(r.estimate.outcomes).front();
    s.closing = std::string("Most likely seen: ") + likely.words + " (" + likely.percent + ").";
    if (r.estimate.fibre_class == model::FibreClass::wet_landing)
      s.closing += " It flows together where it lands: diameter and length above are those in flight.";
  } else
    s.closing = std::string("Expected class: ") + model::to_string(r.estimate.fibre_class) +
                ". No even fibre is expected at this operating point.";
  return s;
}

std::string limit_name(const model::ExposureLimit& limit) { return limit.body + ", " + limit.kind; }

// Whether a limit counts where the user works: those of the union in its member states too. No country: all.
bool holds_in(const std::string& limit, const std::string& country) {
  if (country.empty() || limit == country) return true;
  static constexpr const char* kUnion[] = {"AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES",
                                           "FI", "FR", "GR", "HR", "HU", "IE", "IT", "LT", "LU",
                                           "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK"};
  return limit == "EU" &&
         std::any_of(std::begin(kUnion), std::end(kUnion), [&](const char* c) { return country == c; });
}

SheetSection air_section(const study::Recipe& r, const study::RecipeOptions& o, const model::CaseInput& input,
                         const model::Solvent* solvent, const std::string& country) {
  SheetSection s{"Vapour in the room", "", {}, ""};
  if (solvent == nullptr) return s;
  s.intro = "All of the solvent of a charge counts as vapour. Room " + io::number_text(o.room_volume_m3) + " m3, " +
            io::number_text(3600.0 * o.air_changes_1_s, 3) + " changes of fresh air an hour, mixing factor " +
            io::number_text(o.mixing_factor) + ", a run every " + io::number_text(o.interval_s / 60.0, 3) +
            " min: check that these are yours (options). One well-mixed volume: near the vessel, and low down where "
            "heavy vapour "
            "collects, it is far more. Extraction at the vessel is what keeps it away; this sheet does not count it.";
  s.rows.push_back(row("solvent_released", solvent->name + " released per run", 1e3 * r.solvent_released_kg, "g",
                       "(1 - w_p) rho V", "mass balance"));
  const double most = first_nine_tenths_s(r, input);
  const std::string over_the_run =
      most > 0.0 ? "mean over the run; nearly all of it in the first " + io::number_text(most, 2) + " s"
                 : "over the run";
  s.rows.push_back(
      row("release_rate", "rate of release", 60e3 * r.solvent_released_kg / r.release_s, "g/min", "m/T", "definition",
          r.release_s > 1.0
              ? over_the_run
              : "within 1 s: shorter than that, or no fibre expected and all of it at once assumed"));
  s.rows.back().digits = 3;
  s.rows.push_back(
      row("unmixed", "one run in still air of the room", 1e6 * r.unmixed_kg_m3, "mg/m3", "m/V", "definition"));
  s.rows.push_back(row("peak", "highest, after the last run", 1e6 * r.peak_kg_m3, "mg/m3", "V dC/dt = G - (n/K) V C",
                       "room purge; K as CDC, MMWR 43 RR-13 (1994)"));
  s.rows.push_back(row("steady", "average if runs went on for ever", 1e6 * r.steady_kg_m3, "mg/m3", "m K/(T n V)",
                       "dilution ventilation"));
  s.rows.push_back(row("purge", "down to 1 % after the last run", r.purge_s / 60.0, "min", "t = K ln(100)/n",
                       "CDC, MMWR 43 RR-13 (1994)"));
  std::size_t hidden = 0, shown = 0;
  for (const study::LimitCheck& check : r.limits) {  // worst first
    const model::ExposureLimit& limit = *check.limit;
    std::string label = limit_name(limit);
    if (!holds_in(limit.country, country)) {
      if (hidden++ > 0) continue;
      label = "Elsewhere, the strictest: " + label;
    } else {
      ++shown;
    }
    SheetRow line =
        row("exposure_ratio", label, check.ratio, check.ratio > 1.0 ? "times the limit" : "of the limit",
            io::number_text(1e6 * check.concentration_kg_m3, 3) + " mg/m3 " +
                (check.averaging_s > 0.0 ? "worst mean over " + io::number_text(check.averaging_s / 60.0) + " min"
                                         : "at the highest") +
                " / " + io::number_text(1e6 * limit.mass_concentration_kg_m3, 3) + " mg/m3",
            limit.date + "; " + limit.source,
            std::isfinite(check.dilution_air_m3)
                ? io::number_text(check.dilution_air_m3, 2) + " m3 of fresh air per run would average at it"
                : "");
    line.digits = check.ratio >= 99.5 ? 3 : 2;
    line.exceeded = check.ratio > 1.0;
    s.rows.push_back(line);
  }
  if (!country.empty() && shown == 0 && hidden > 0)
    s.rows.push_back(row("exposure_ratio", "exposure limits of " + country, NAN, "", "", "",
                         "none in the library for this solvent: that is no sign of safety"));
  if (r.limits.empty())
    s.rows.push_back(row("exposure_ratio", "exposure limits", NAN, "", "", "",
                         "none in the library for this solvent: that is no sign of safety"));
  if (r.lower_flammability_kg_m3) {
    const double charge_K = input.solution.temperature_K.value_or(input.room.temperature_K);
    const double warmest_K = std::max(charge_K, input.room.temperature_K);
    // So far below the flash point a vapour is not expected to reach the limit: EN 1127-1 asks for 5 K, and for 15 K of
    // mixtures (from memory).
    constexpr double kFarBelow_K = 15.0;
    const bool cold = solvent->flash_point && solvent->flash_point->value - warmest_K > kFarBelow_K;
    SheetRow line = row("flammability_ratio", "highest, of the lower flammability limit",
                        100.0 * r.peak_kg_m3 / *r.lower_flammability_kg_m3, "%",
                        "limit " + io::number_text(1e3 * *r.lower_flammability_kg_m3, 3) + " g/m3, y M p/(R T)",
                        solvent->lower_flammability->source,
                        cold ? "far below the flash point the vapour alone is not expected to reach it, but a mist of "
                               "fine drops burns there, too, and so does what a hot surface gives off"
                             : "the cloud at the vessel passes through the flammable range however large the room is");
    line.digits = 2;
    line.exceeded = *line.number > 100.0;
    s.rows.push_back(line);
    line = row("flammable_air", "air that one run makes just flammable", *r.flammable_volume_m3, "m3", "m/c_LFL",
               "definition");
    line.digits = 2;
    s.rows.push_back(line);
  } else {
    s.rows.push_back(row("flammability_ratio", "lower flammability limit", NAN, "", "", "",
                         "none in the library; see the safety data sheet"));
  }
  if (solvent->flash_point)
    s.rows.push_back(row("flash_point", "flash point", solvent->flash_point->value - 273.15, "degC", "",
                         solvent->flash_point->source));
  s.closing =
      "Limits differ by country and change: source and date are given with each; the list in force where you work "
      "holds. " +
      (hidden > 1 ? std::to_string(hidden - 1) + " more of other countries are not shown (leave --country away). "
                  : std::string{}) +
      "Below a limit is not the same as without risk.";
  return s;
}

SheetSection gas_section(const study::Recipe& r, const model::CaseInput& input) {
  SheetSection s{"Gas under pressure", "", {}, ""};
  if (!(input.operation.gas_overpressure_Pa > 0.0)) {
    s.closing = "No overpressure in this case.";
    return s;
  }
  s.intro =
      "The gas in the vessel alone, as if it were empty of liquid; what a supply line or a cylinder feeds after it "
      "comes on top.";
  s.rows.push_back(row("gas_volume", "gas volume", 1e6 * r.gas_volume_m3, "mL", "pi R^2 H", "case"));
  s.rows.push_back(row("gas_energy_isentropic", "energy, isentropic expansion", r.gas.isentropic_J, "J",
                       "p V/(k - 1) [1 - (p_0/p)^((k-1)/k)]", "ASME PCC-2-2008 art. 5.1 app. II, page read"));
  s.rows.push_back(row("gas_energy_isothermal", "energy, isothermal expansion", r.gas.isothermal_J, "J",
                       "p V ln(p/p_0)", "ideal gas"));
  s.rows.push_back(row("gas_energy_brode", "energy, usual upper bound", r.gas.brode_J, "J", "(p - p_0) V/(k - 1)",
                       "Brode 1955 (from memory)",
                       "as 1 kg falling " + io::number_text(model::fall_height_m(r.gas.brode_J), 2) + " m"));
  for (SheetRow& line : s.rows) line.digits = 3;
  return s;
}

SheetSection rotor_section(const study::Recipe& r, const study::RecipeOptions& o) {
  const model::RotorMaterial& m = *r.material;
  SheetSection s{"Rotor", "", {}, ""};
  s.intro = "The wall as a ring of " + std::string(m.name) + " (" + std::string(m.source) +
            "): floor, lid, threads, imbalance, fatigue and "
            "corrosion are not in it. The rated speed of the maker holds, whatever stands here.";
  s.rows.push_back(
      row("rim_speed", "rim speed", r.ring.speed_rad_s * r.ring.outer_radius_m, "m/s", "omega R", "definition"));
  s.rows.push_back(row("thin_ring_stress", "hoop stress, thin ring", 1e-6 * r.thin_ring_Pa, "MPa", "rho v^2",
                       "equilibrium of a ring"));
  s.rows.push_back(row("bore_stress", "hoop stress at the bore, thick ring", 1e-6 * r.bore_stress_Pa, "MPa",
                       "(3+nu)/4 rho omega^2 [b^2 + (1-nu)/(3+nu) a^2]",
                       "Timoshenko & Goodier (from memory); Shigley & Mischke, quoted on a page read"));
  s.rows.push_back(row("liquid_stress", "from the liquid on the wall", 1e-6 * r.liquid_stress_Pa, "MPa",
                       "rho omega^2 (R^2 - r_s^2)/2 as a pressure", "hydrostatics, Lame"));
  s.rows.push_back(row("pressure_stress", "from the gas pressure", 1e-6 * r.pressure_stress_Pa, "MPa",
                       "p (a^2 + b^2)/(b^2 - a^2)", "Lame"));
  s.rows.push_back(row("hole_stress", "at the edge of a perforation", 1e-6 * r.worst_stress_Pa, "MPa",
                       "sum x " + io::number_text(model::kHoleConcentration),
                       "Kirsch 1898: small hole in a sheet (from memory)",
                       "rows of holes close together, or threads, are worse"));
  s.rows.push_back(row("stress_share", "of what the material may carry", 100.0 * r.stress_share, "%",
                       "stress x safety factor / yield strength, " + io::number_text(1e-6 * m.yield_Pa, 3) + " MPa / " +
                           io::number_text(o.safety_factor, 3),
                       "factor: own choice (option)"));
  s.rows.push_back(row("speed_at_allowed_stress", "speed at which that is 100 %",
                       r.speed_limit_rad_s ? *r.speed_limit_rad_s * 60.0 / (2.0 * model::kPi) : NAN, "rpm",
                       "same formulas", "",
                       r.speed_limit_rad_s ? "not a permitted speed" : "the pressure alone exceeds it"));
  s.rows.push_back(row("rotor_energy", "energy of the turning wall", r.rotor_energy_J, "J", "m omega^2 (a^2 + b^2)/4",
                       "moment of inertia",
                       "as 1 kg falling " + io::number_text(model::fall_height_m(r.rotor_energy_J), 2) +
                           " m; floor, lid and hub on top"));
  for (SheetRow& line : s.rows) {
    line.digits = 3;
    line.exceeded = line.key == "stress_share" && line.number.value_or(0.0) > 100.0;
  }
  return s;
}

// How the run is started, as the estimate takes it.
std::string settings_step(const model::CaseInput& input) {
  const model::OperationInput& o = input.operation;
  const std::string speed = number_text(o.spin_up_time_s, 2) + " s";
  if (!(o.gas_overpressure_Pa > 0.0))
    return "Spin up to speed; the estimate takes " + speed + " for it (spin_up_time).";
  const std::string pressure = number_text(o.pressure_rise_time_s, 2) + " s";
  const std::string keys = "; start_order, spin_up_time and pressure_rise_time say otherwise.";
  switch (o.start_order) {
    case model::StartOrder::speed_first:
      return "Spin up to speed, then open the gas. The estimate takes " + speed + " to full speed and, after that, " +
             pressure + " to the pressure above" + keys;
    case model::StartOrder::gas_first:
      return "Bring the gas to the pressure above, then start the motor. The estimate takes " + pressure +
             " to full pressure and, after that, " + speed + " to full speed" + keys;
    case model::StartOrder::together: break;
  }
  return "Start motor and gas as your rig's instructions say, without a jolt. The estimate takes both started at once, "
         + speed + " to full speed and " + pressure + " to the pressure above" + keys;
}

std::string start_step(const model::CaseInput& input) {
  std::string text = settings_step(input);
  if (input.operation.feed_rate_m3_s)
    text += " At full settings start the pump, " + number_text(6e7 * *input.operation.feed_rate_m3_s, 3) + " mL/min.";
  return text;
}

}  // namespace

io::Sheet sheet_of(const study::LoadedCase& loaded, const study::Recipe& r, const study::RecipeOptions& o,
                   const std::string& country) {
  const model::CaseInput& input = loaded.file.input;
  const model::Solvent* solvent = loaded.library.solvent(input.solution.solvent);
  io::Sheet sheet;
  sheet.title = "Recipe: " + input.solution.polymer + " in " +
                (solvent != nullptr ? solvent->name : input.solution.solvent) + ", " +
                io::concentration_text(input.solution.concentration);
  sheet.purpose = input.purpose;
  const double charge_K = input.solution.temperature_K.value_or(input.room.temperature_K);
  const bool as_the_room = std::abs(charge_K - input.room.temperature_K) < 0.5;
  const std::string degrees = fmt::format("{:.0f} degC", charge_K - 273.15);
  const std::string charge = as_the_room ? std::string() : "charge " + degrees + ", ";
  sheet.facts.push_back(fmt::format(
      "{:.0f} rpm, {} MPa overpressure, collector at {}; orifices {} x {:.2f} mm; {}room {:.0f} degC, {} "
      "relative humidity",
      input.operation.rotation_speed_rad_s * 60.0 / (2.0 * model::kPi),
      number_text(1e-6 * input.operation.gas_overpressure_Pa, 3), millimetres(input.operation.collection_distance_m),
      number_text(input.vessel.orifice_count), 1e3 * input.vessel.orifice_diameter_m, charge,
      input.room.temperature_K - 273.15,
      whole_percent(input.room.relative_humidity)));
  sheet.sections = {weigh_section(r, o, input), run_section(r, o, input), air_section(r, o, input, solvent, country),
                    gas_section(r, input), rotor_section(r, o)};
  const bool gas = input.operation.gas_overpressure_Pa > 0.0;
  sheet.steps = {
      "Read the safety data sheets and the local rules; have the set-up released by the person responsible for it.",
      "Extraction on and tested; ignition sources away; gloves that this solvent does not pass; eye protection.",
      "Weigh the polymer, then the solvent, into a bottle that closes; write the weights above.",
      "Stir until clear; note time and temperature; let bubbles rise. Replace solvent that was lost by weight.",
      std::string("Weigh or measure the charge") +
          (input.operation.feed_rate_m3_s ? ", fill the pump and its line without bubbles" : "") +
          (as_the_room ? "" : " and bring it and the vessel to " + degrees) +
          "; vessel balanced, lid and guard closed and interlocked.",
      start_step(input),
      std::string("After the run: ") + (gas ? "gas off, pressure released, " : "") +
          "rotor at rest, enclosure cleared, and only then open.",
      "Clean at once; write down what differed from this sheet; take a sample for the microscope.",
  };
  sheet.cautions = io::full_cautions(input, solvent);
  sheet.made_by = provenance_text({basis_of(loaded)}) + ": an engineering estimate, no proof of safety";
  return sheet;
}

}  // namespace whorl::answer
