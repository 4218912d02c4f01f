#include "whorl/engine/classify.hpp"

#include <fmt/core.h>

#include <cmath>
#include <functional>
#include <string>

#include "engine/jet_end.hpp"
#include "whorl/engine/orifice_flow.hpp"
#include "whorl/engine/outcomes.hpp"
#include "whorl/model/breakup.hpp"
#include "whorl/model/number_text.hpp"

namespace whorl::engine {
namespace {

using model::FibreClass;
using model::Landing;

std::string why_it_drips(const Setup& setup, const PullOff& pull) {
  if (pull.gain > 0.0)
    return fmt::format(", and waves cut the thread that rotation draws out (they grow by {} e-folds, {} would do): it "
                       "drips.",
                       number_text(pull.gain, 2), number_text(setup.input.model.breakup_threshold, 3));
  return fmt::format(", and rotation is too weak to pull it off as a thread (Bond number {} of 1): it drips.",
                     number_text(pull.bond, 2));
}

std::string why_as_thread(const Setup& setup, const PullOff& pull) {
  if (pull.bond > kThreadBond)
    return fmt::format(", but rotation pulls it off as a thread (Bond number {}).", number_text(pull.bond, 2));
  if (!(pull.gain > 0.0))  // at u_e and above: eq. draw-out-gain
    return ", but it is thick, and too fast for waves to grow while rotation draws it out as a thread.";
  return fmt::format(", but it is thick enough to be drawn out as a thread (waves grow by {} e-folds meanwhile, "
                     "{} would cut it).",
                     number_text(pull.gain, 2), number_text(setup.input.model.breakup_threshold, 3));
}

}  // namespace

double rotation_bond(const Setup& setup) {
  const double omega = setup.input.operation.rotation_speed_rad_s;
  const double a = setup.vessel.orifice_radius_m;
  return setup.fluid.initial.density_kg_m3 * omega * omega * setup.vessel.outer_radius_m * a * a /
         setup.fluid.surface_tension_N_m;
}

PullOff pull_off(const Setup& setup, const model::OrificeFlow& flow) {
  const auto& f = setup.fluid;
  const double omega = setup.input.operation.rotation_speed_rad_s;
  model::SlowOutflow o;
  o.speed_m_s = flow.mean_speed_m_s;
  o.radius_m = setup.vessel.orifice_radius_m;
  o.density_kg_m3 = f.initial.density_kg_m3;
  o.viscosity_Pa_s = setup.zero_shear_viscosity_Pa_s();
  o.surface_tension_N_m = f.surface_tension_N_m;
  o.acceleration_m_s2 = omega * omega * setup.vessel.outer_radius_m;
  PullOff out;
  out.bond = rotation_bond(setup);
  out.viscous = setup.ohnesorge() > kDrawnOut;
  const bool turns = o.speed_m_s > 0.0 && o.acceleration_m_s2 > 0.0;
  if (out.viscous && turns) out.gain = model::draw_out_gain(o);
  out.as_thread =
      out.bond > kThreadBond || (out.viscous && turns && out.gain < setup.input.model.breakup_threshold);
  return out;
}

bool supply_gives_out(const model::CaseInput& input, const model::RunSummary& run) {
  const auto& supply = input.operation.gas_supply_m3_s;
  return supply && run.gas_supply_most_m3_s >= kAllOfSupply * *supply;
}

void classify(const Setup& setup, model::Estimate& e) {
  const auto& flow = e.orifice;
  const auto none = [&](FibreClass value, std::string why) {
    e.as_line = {};
    e.as_line.probability = 1.0;
    e.as_line.fibre_class = value;
    e.as_line.outcomes.none = 1.0;
    e.line_why.push_back(std::move(why));
  };
  if (e.threads.predicted) e.as_threads = judge_threads(setup, e, e.threads_why);
  if (!e.charge.orifice_wet) {
    none(FibreClass::no_jet,
         fmt::format("The liquid does not cover the orifices: {:.2f} mL needed at this speed, {:.2f} mL present.",
                     1e6 * model::wetting_volume_m3(setup.vessel, setup.input.operation.rotation_speed_rad_s),
                     1e6 * e.charge.volume_m3));
  } else if (flow.driving_pressure_Pa <= 0.0) {
    none(FibreClass::no_jet,
         fmt::format("Driving pressure {} kPa after the capillary threshold of {} kPa: nothing leaves.",
                     number_text(1e-3 * flow.driving_pressure_Pa, 3),
                     number_text(1e-3 * flow.capillary_threshold_Pa, 3)));
  } else {
    // Slow outflow drips, unless it is pulled off as a thread; what waves make of that is judged as of any other.
    if (flow.weber < flow.critical_weber) {
      const PullOff pull = pull_off(setup, flow);
      const std::string slow = fmt::format("The liquid leaves too slowly for a steady jet (Weber number {} of {})",
                                           number_text(flow.weber, 2), number_text(flow.critical_weber, 2));
      if (!pull.as_thread) {
        none(FibreClass::dripping, slow + why_it_drips(setup, pull));
        take_headline(e);
        return;
      }
      e.line_why.push_back(slow + why_as_thread(setup, pull));
    }
    e.as_line = judge_line(setup, e, e.line_why);
  }
  take_headline(e);
}

void take_headline(model::Estimate& e) {
  const model::Answer& answer = e.torn ? e.as_threads : e.as_line;
  e.fibre_class = answer.fibre_class;
  e.landing = answer.landing;
  e.dry_diameter_m = answer.diameter_m;
  e.decided_by = e.torn ? e.threads_why : e.line_why;
}

void add_groups(const Setup& setup, model::Estimate& e) {
  const auto& f = setup.fluid;
  const auto& flow = e.orifice;
  const double omega = setup.input.operation.rotation_speed_rad_s;
  const double radius = setup.vessel.outer_radius_m;
  const double d = 2.0 * setup.vessel.orifice_radius_m;
  const double a = setup.vessel.orifice_radius_m;
  const double rho = f.initial.density_kg_m3;
  const double eta = setup.zero_shear_viscosity_Pa_s();
  const double sigma = f.surface_tension_N_m;
  const double u = flow.mean_speed_m_s;
  const double rc = setup.collector_radius_m();
  const auto add = [&](const char* key, const char* symbol, const char* definition, double value) {
    if (std::isfinite(value)) e.groups.push_back({key, symbol, definition, value});
  };
  add("bond_rotation", "Bo", "rho Omega^2 R a_o^2 / sigma", rotation_bond(setup));
  add("ohnesorge", "Oh", "eta_0 / sqrt(rho sigma a_o)", setup.ohnesorge());
  add("pressure_share", "Pi_g", "gas overpressure / driving pressure",
      flow.driving_pressure_Pa > 0.0 ? flow.gas_overpressure_Pa / flow.driving_pressure_Pa : NAN);
  if (!(u > 0.0)) return;
  if (omega > 0.0) {
    add("rossby", "Rb", "U / (Omega R)", u / (omega * radius));
    add("froude", "Fr", "Omega sqrt(R/g)", omega * std::sqrt(radius / setup.vessel.gravity_m_s2));
  }
  add("reynolds", "Re", "rho U R / eta_0", rho * u * radius / eta);
  add("reynolds_orifice", "Re_o", "8 rho U^2 / tau_w", flow.reynolds);
  add("weber", "We", "rho U^2 d_o / sigma", flow.weber);
  add("capillary", "Ca", "eta_0 U / sigma", eta * u / sigma);
  add("weissenberg_orifice", "Wi", "lambda x wall shear rate", f.relaxation_time_s * flow.wall_shear_rate_1_s);
  add("elastic_mach", "M_e^2", "rho U^2 / G", rho * u * u * f.relaxation_time_s / f.polymer_viscosity_Pa_s);
  const auto& jet = e.jet;
  if (jet.flight_time_s > 0.0 && e.fibre_class != FibreClass::dripping) {  // a dripping orifice has no jet
    add("deborah_flight", "De", "lambda / flight time", f.relaxation_time_s / jet.flight_time_s);
    add("draw_ratio", "Dr", "u_f / U", jet.end_speed_m_s / u);
    if (omega > 0.0)
      add("speed_ratio", "u_f/(Omega R_c)", "line speed / collector speed", jet.end_speed_m_s / (omega * rc));
    add("tension_ratio", "F/(m u)", "largest tension / momentum flux of the liquid jet", jet.tension_ratio);
  }
  // Exchange at the orifice exit: wind of the turning surface over a jet of orifice diameter.
  const double wind = std::max(std::hypot(omega * radius, u), 0.1);
  const double phi = f.initial.polymer_volume_fraction;
  const auto exchange = model::surface_exchange(setup.air, f, d, wind, 1.0, f.charge_temperature_K, phi);
  add("transfer_number", "B", "(x_s - x_a)/(1 - x_s) at charge temperature", exchange.spalding);
  const double diffusivity = model::inner_diffusivity(f, phi, f.charge_temperature_K);
  // d ln(rate) per unit of solvent fraction: the flux per solvent concentration, against inner diffusion.
  const double solvent_density = rho * (1.0 - f.initial.polymer_mass_fraction);
  add("mass_biot", "Bi_m", "n a_o / (D rho_s)", exchange.evaporation_kg_m2_s * a / (diffusivity * solvent_density));
  if (jet.flight_time_s > 0.0 && e.fibre_class != FibreClass::dripping) {
    const double rate = 4.0 * exchange.evaporation_kg_m2_s / (d * solvent_density);
    add("drying_ratio", "Da", "flight time x 4 n / (d_o rho_s)", rate * jet.flight_time_s);
  }
}

namespace {

using Warn = std::function<void(const char* code, std::string message)>;

std::string when_gas_leaves(const Setup& setup, const model::Estimate& e) {
  const model::RunSummary& run = e.run;
  const double layer_mm = 1e3 * run.breakthrough_layer_m;
  const bool off = setup.input.model.gas_breakthrough == model::GasBreakthrough::off;
  if (setup.input.operation.feed_rate_m3_s && off && e.orifice.gas_share > 0.0)
    return "Gas leaves with the liquid all the time, although gas_breakthrough is \"off\": the pump feeds less than "
           "the orifices draw from a bare film, so that they cannot stay full";
  if (setup.input.operation.feed_rate_m3_s)
    return fmt::format("Gas {} with the liquid all the time: it goes through a layer below {:.2f} mm, and the pump "
                       "keeps one of {:.2f} mm",
                       off ? "would leave" : "leaves", layer_mm, 1e3 * e.charge.layer_thickness_m);
  const std::string time = number_text(run.breakthrough_time_s, 3);
  if (!run.breakthrough_lasts)
    return fmt::format("Gas goes through the layer ({:.2f} mm) from {} s on, while the vessel speeds up, and not at "
                       "full settings; meanwhile it leaves with the liquid",
                       layer_mm, time);
  std::string text = fmt::format(
      "Gas breaks through the thinning layer ({:.2f} mm) after {} s, with {:.0f} % of the run time still to go; from "
      "then on gas leaves with the liquid",
      layer_mm, time, 100.0 * (1.0 - run.breakthrough_time_s / std::max(run.run_time_s, 1e-12)));
  if (run.early_gas_time_s >= 0.0)
    text += fmt::format(", as it did from {} s until the layer was thick enough",
                        number_text(run.early_gas_time_s, 3));
  return text;
}

std::string supply_text(const Setup& setup, const model::RunSummary& run) {
  if (supply_gives_out(setup.input, run))
    return fmt::format("The orifices would pass more than the {} normal litres a minute that the supply holds: the "
                       "overpressure falls below the {} MPa that is set.",
                       number_text(6e4 * *setup.input.operation.gas_supply_m3_s, 3),
                       number_text(1e-6 * setup.input.operation.gas_overpressure_Pa, 3));
  return fmt::format("The supply must hold {} normal litres a minute on average, {} at most.",
                     number_text(6e4 * run.gas_supply_mean_m3_s, 3), number_text(6e4 * run.gas_supply_most_m3_s, 3));
}

// The orifice, the run and its start.
void warn_of_run(const Setup& setup, const model::Estimate& e, const Warn& warn) {
  const auto& flow = e.orifice;
  if (flow.turbulent) {
    warn("orifice-turbulent", fmt::format("Orifice Reynolds number {:.0f} is beyond laminar flow (2100): throughput "
                                          "within 30 % at best, and the jet leaves rough.",
                                          flow.reynolds));
  }
  if (e.run.breakthrough) {
    const bool fed = setup.input.operation.feed_rate_m3_s.has_value();
    warn("gas-breakthrough",
         when_gas_leaves(setup, e) +
             (setup.input.model.gas_breakthrough == model::GasBreakthrough::on || (fed && e.orifice.gas_share > 0.0)
                  ? fmt::format(": {:.0f} % of the mass. ", 100.0 * e.run.share_with_gas) + supply_text(setup, e.run)
              : fed ? ". The estimate leaves it out, because gas_breakthrough is \"off\", and keeps the orifices full."
                    : ", and the estimate, which keeps the orifices full, is an upper bound of throughput."));
  }
  if (e.run.share_at_full_settings < 0.5) {
    warn("never-at-full-settings",
         fmt::format("{:.0f} % of the charge leaves before full speed and pressure ({} s): on "
                     "average it is spun at {:.0f} rpm and {} MPa. The settings hardly act; a thicker solution, a "
                     "faster start or a pump makes them.",
                     100.0 * (1.0 - e.run.share_at_full_settings), number_text(e.run.full_settings_time_s, 3),
                     e.run.mean_speed_rad_s * 30.0 / model::kPi, number_text(1e-6 * e.run.mean_overpressure_Pa, 3)));
  }
  const double emptying_inertia = setup.vessel.orifice_length_m / std::max(flow.mean_speed_m_s, 1e-9);
  if (e.run.run_time_s > 0.0 && emptying_inertia > 0.1 * e.run.run_time_s) {
    warn("start-up", "The run is hardly longer than the start-up of the flow: quasi-steady emptying is doubtful.");
  }
}

// Tearing by the wind, pull that is left out or cut.
void warn_of_pull(const Setup& setup, const model::Estimate& e, const Warn& warn) {
  const auto& f = setup.fluid;
  const auto& jet = e.jet;
  const double wind = setup.input.operation.rotation_speed_rad_s * setup.vessel.outer_radius_m;
  const double gas_weber = setup.air.density_kg_m3 * wind * wind * 2.0 * setup.vessel.orifice_radius_m /
                           f.surface_tension_N_m;
  if (gas_weber > kWindBreakup && setup.ohnesorge() < 1.0) {
    warn("wind-breakup", fmt::format("Gas Weber number {:.0f} at the vessel wall with Ohnesorge number {:.2f}: the "
                                     "wind can tear the jet before it stretches.",
                                     gas_weber, setup.ohnesorge()));
  }
  if (e.orifice.weber < e.orifice.critical_weber) {
    warn("unsteady-jet",
         fmt::format("The liquid leaves more slowly (Weber number {}) than a steady jet without elasticity can ({}): "
                     "its thickness swings by itself. Expect thick and thin places or drops between fibres; "
                     "elasticity, which is not in that number, may calm it.",
                     number_text(e.orifice.weber, 2), number_text(e.orifice.critical_weber, 2)));
  }
  if (setup.input.model.tier == model::Tier::inertial && jet.tension_ratio > 0.3) {
    warn("tension-neglected",
         fmt::format("Tension would reach {} of the momentum flux, and this tier leaves it out: line speed and "
                     "diameter can be off either way. Compare with tier \"tension\".",
                     number_text(jet.tension_ratio, 2)));
  }
  if (jet.reached_collector && jet.pulled_until_m > 0.0) {
    warn("tension-cut",
         fmt::format(
             "Tension is solved out to radius {:.0f} mm only: no path was found under it beyond, and from there the "
             "jet flies by momentum and air alone. It may land at quite another speed; compare with jet_end "
             "\"taken-up\".",
             1e3 * jet.pulled_until_m));
  }
}

// What holds the end of the line.
void warn_of_end(const Setup& setup, const model::Estimate& e, const Warn& warn) {
  const auto& flow = e.orifice;
  const auto& jet = e.jet;
  const double omega = setup.input.operation.rotation_speed_rad_s;
  const double collector = setup.collector_radius_m();
  const double wall = setup.vessel.outer_radius_m;
  const double free_flight = model::free_flight_speed(flow.mean_speed_m_s, omega, wall, collector);
  if (jet.free_end_speed_m_s > 0.0) {
    warn("caught",
         fmt::format("With a free end the jet would be dragged round by the vessel and land at {} m/s, {} um; held by "
                     "a collector at rest at {} m/s, {} um. ",
                     number_text(jet.free_end_speed_m_s, 3), um(jet.free_end_dry_diameter_m),
                     number_text(omega * collector, 3), um(jet.held_end_dry_diameter_m)) +
             fmt::format("Here the hold counts for {:.0f} %, because the free end moves at {} of the speed of free "
                         "flight (no hold above {}, all of it below {}). Which of the two happens, no tier knows; "
                         "compare jet_end \"free\" and \"taken-up\".",
                         100.0 * jet.collector_hold, number_text(jet.free_end_speed_m_s / free_flight, 2),
                         number_text(kLetGo, 2), number_text(kCaught, 2)));
  }
  if (!jet.free_end_failure.empty()) {
    warn("free-end-not-found",
         "No steady flight with a free end was found (" + jet.free_end_failure +
             fmt::format(
                 "): the line is taken as held by the collector at {} m/s, {} um. Flying freely it would be thicker.",
                 number_text(omega * collector, 3), um(jet.held_end_dry_diameter_m)));
  }
  if (jet.held_by_balance) {
    warn("held-by-balance",
         "No jet under tension was found whose end the collector holds: the diameter follows from the mass balance at "
         "the "
         "speed at which the line is laid; path and drying are those of a flight by momentum and air alone.");
  }
  if (setup.input.model.tier == model::Tier::tension && setup.input.model.jet_end != model::JetEnd::taken_up &&
      jet.free_end_speed_m_s == 0.0 && !jet.held_by_balance && jet.reached_collector &&
      jet.end_speed_m_s < kDraggedRound * free_flight) {
    warn("dragged-round",
         fmt::format(
             "The jet lands at a line speed of {} m/s, where free flight would give {} m/s: it is held back and turns "
             "with the vessel; a collector at rest would catch and draw it. Compare with jet_end \"taken-up\".",
             number_text(jet.end_speed_m_s, 3), number_text(free_flight, 3)));
  }
}

// Balances that do not close.
void warn_of_balances(const Setup& setup, const model::Estimate& e, const Warn& warn) {
  const auto& jet = e.jet;
  if (jet.balances_known) {
    const double tolerance = balance_tolerance(setup.input.numerics.relative_tolerance);
    std::string open;
    const auto look = [&](const char* name, double off) {
      if (off > tolerance)
        open += (open.empty() ? "" : ", ") + std::string(name) + fmt::format(" by {} %", number_text(100.0 * off, 2));
    };
    look("polymer", jet.balances.polymer);
    look("solvent", jet.balances.solvent);
    look("momentum", jet.balances.momentum);
    look("energy", jet.balances.energy);
    if (!open.empty()) {
      warn("balance-open",
           "Along the jet these balances do not close: " + open +
               fmt::format(" (allowed at this tolerance: {} %). Take what follows from them no closer than that.",
                           number_text(100.0 * tolerance, 2)));
    }
  }
}

// Water, cold and wet landing.
void warn_of_drying(const Setup& setup, const model::Estimate& e, const Warn& warn) {
  const auto& f = setup.fluid;
  const auto& jet = e.jet;
  if (!f.water_is_solvent && jet.dew_margin_K < 0.0) {
    if (f.water_miscible) {
      warn("dew-miscible",
           fmt::format(
               "The jet cools {} K below the dew point of the room air: the solvent takes up water from the air.",
               number_text(-jet.dew_margin_K, 2)));
    } else {
      warn("dew", fmt::format("The jet cools to {:.0f} degC, {} K below the dew point of the room air ({:.0f} "
                              "degC): water condenses on it and fibres come out porous. Drier air avoids it.",
                              jet.lowest_temperature_K - 273.15, number_text(-jet.dew_margin_K, 2),
                              setup.air.dew_point_K - 273.15));
    }
  }
  if (jet.lowest_temperature_K < f.antoine_min_K) {
    warn("vapour-pressure-range",
         fmt::format("The jet cools to {:.1f} K, below the range of the vapour-pressure relation ({:.1f} K).",
                     jet.lowest_temperature_K, f.antoine_min_K));
  }
  if (e.landing == Landing::tacky) {
    warn("tacky", "Lands tacky: junctions fuse. More distance, drier air or a more volatile solvent dries it.");
  }
  if (setup.input.model.drying == model::DryingModel::lumped) {
    for (const auto& group : e.groups) {
      if (group.key == "mass_biot" && group.value > 0.3) {
        warn("lumped-drying",
             fmt::format("Mass Biot number {}: the filament does not dry evenly. Use drying \"radial\".",
                         number_text(group.value, 2)));
      }
    }
  }
}

void warn_of_draw(const Setup& setup, const model::Estimate& e, const Warn& warn) {
  const auto& jet = e.jet;
  if (e.excess_draw != 1.0) {
    const model::ModelInput& m = setup.input.model;
    warn("excess-draw",
         fmt::format("An excess-draw factor of {} is applied to the line speed (calibration",
                     number_text(e.excess_draw, 3)) +
             (m.flapping_draw > 0.0 ? fmt::format(": {}, times flapping at an air Weber number of {}",
                                                  number_text(m.excess_draw, 3), number_text(jet.air_weber, 3))
                                    : std::string()) +
             ").");
  }
}

}  // namespace

void add_warnings(const Setup& setup, model::Estimate& e) {
  const Warn warn = [&](const char* code, std::string message) { e.warnings.push_back({code, std::move(message)}); };
  if (e.charge.spilled_volume_m3 > 1e-12) {
    warn("spill", fmt::format("{:.2f} mL of the charge does not stay in the vessel at this speed.",
                              1e6 * e.charge.spilled_volume_m3));
  }
  if (!(e.orifice.mean_speed_m_s > 0.0)) return;
  if (e.dry_diameter_m > 0.0 && e.dry_diameter_m < kFinestPublished_m) {
    warn("finer-than-published",
         fmt::format("{} um is finer than any fibre published of gas and rotation (from {} um on): hardly anything "
                     "leaves an orifice there, and neither the flow nor a single line is believable. A larger charge "
                     "or feed is what a run needs.",
                     um(e.dry_diameter_m), um(kFinestPublished_m)));
  }
  warn_of_run(setup, e, warn);
  // no jet to warn of
  if (e.jet.status != model::Status::done || e.fibre_class == FibreClass::dripping) return;
  warn_of_pull(setup, e, warn);
  warn_of_end(setup, e, warn);
  warn_of_balances(setup, e, warn);
  warn_of_drying(setup, e, warn);
  warn_of_draw(setup, e, warn);
}

}  // namespace whorl::engine
