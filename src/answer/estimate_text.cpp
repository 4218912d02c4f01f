// An estimate as a page for people, with everything behind the answer.
#include <algorithm>
#include <cstdarg>
#include <cstdio>

#include "answer/estimate_page.hpp"
#include "answer/provenance.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/io/prose.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/run_progress.hpp"

namespace whorl::answer {
namespace {

[[gnu::format(printf, 1, 2)]] std::string line(const char* format, ...) {
  char buffer[640];
  va_list arguments;
  va_start(arguments, format);
  std::vsnprintf(buffer, sizeof buffer, format, arguments);
  va_end(arguments);
  return std::string(buffer) + '\n';
}

std::string micrometres(double metres) {
  char buffer[48];
  if (metres < 1e-6) {
    std::snprintf(buffer, sizeof buffer, "%.0f nm", 1e9 * metres);
  } else {
    std::snprintf(buffer, sizeof buffer, "%.3g um", 1e6 * metres);
  }
  return buffer;
}

const char* origin_word(model::Origin origin) {
  switch (origin) {
    case model::Origin::measured: return "measured";
    case model::Origin::library: return "library";
    case model::Origin::estimated: return "estimated";
    case model::Origin::assumed: return "ASSUMED";
  }
  return "?";
}

std::string variant_text(const model::AirVariant& variant, double collector_radius_m) {
  std::string what = "does not converge";
  if (variant.status == model::Status::done) {
    what = variant.reached_collector
               ? "dry diameter " + micrometres(variant.dry_diameter_m) +
                     line(", lands with %.1f wt%% solvent", 100.0 * std::max(0.0, variant.residual_solvent))
               : line("the jet does not arrive: %.0f mm of %.0f", 1e3 * variant.end_radius_m, 1e3 * collector_radius_m);
  }
  if (what.back() == '\n') what.pop_back();
  return line("  %-36s %s", variant.text.c_str(), what.c_str());
}

// The diameter that fibre laid at the speed of the collector would have, and how fast this one is laid: a jet may be
// slower or faster.
std::string at_collector_speed(const model::Estimate& e) {
  if (!(e.kinematic_bound_m > 0.0)) return {};
  std::string text = "  (at the collector's speed " + micrometres(e.kinematic_bound_m);
  for (const auto& group : e.groups)
    if (group.key == "speed_ratio") text += "; laid at " + io::number_text(100.0 * group.value, 3) + " % of it";
  return text + ")";
}

// Behind the result, before the reasons.
static std::string warnings_text(const study::LoadedCase& loaded, const model::Estimate& e) {
  if (e.warnings.empty() && loaded.file.notes.empty()) return {};
  std::string out = "\nWARNINGS\n";
  for (const auto& warning : e.warnings) out += io::folded("  - " + warning.text, 4);
  for (const auto& note : loaded.file.notes) out += io::folded("  - " + note, 4);
  return out;
}

void add_threads(const model::Estimate& e, std::string& out) {
  const model::ThreadReport& t = e.threads;
  out +=
      line("  torn threads         %s dry, %s wet; by other laws %s and %s; probability %.0f %%",
           micrometres(t.dry_diameter_m).c_str(), micrometres(t.wet_diameter_m).c_str(),
           micrometres(t.weber_law_m).c_str(), micrometres(t.cascade_law_m).c_str(), 100.0 * e.as_threads.probability);
  out += line(
      "                       %.3g threads per orifice, carried off at %.3g m/s, %s; %.1f wt%% solvent at the "
      "collector",
      t.threads, t.carry_speed_m_s,
      t.solidified ? ("solid after " + io::number_text(1e3 * t.solidification_time_s, 2) + " ms").c_str()
                   : "not solid in flight",
      100.0 * t.residual_solvent);
  out += line("                       gas Weber number %.3g on the orifice (tears from %.3g), %.3g on a wet thread",
              t.gas_weber, e.chance.critical_weber, t.thread_weber);
}

void add_run(const study::LoadedCase& loaded, const model::Estimate& e, std::string& out) {
  const auto& input = loaded.file.input;
  out += line("  throughput           %.3g g/h polymer, %.3g g/h solution, all %.0f orifices at the start",
              3.6e6 * e.run.polymer_throughput_kg_s, 3.6e6 * e.run.wet_throughput_kg_s, input.vessel.orifice_count);
  out += line(
      "  run                  %.3g s, %.0f %% of the charge leaves, %.3g mg polymer; it ends where the flow is %.2g of "
      "the first",
      e.run.run_time_s, 100.0 * e.run.emptied_fraction, 1e6 * e.run.polymer_mass_kg, e.run.last_flow_share);
  if (!input.operation.feed_rate_m3_s && e.run.run_time_s > 0.0)
    out += line("  90 %% of it           gone after about %.2g s", model::time_when_left_s(e.run, 0.9));
  out += line("  from rest            %.2g s to full settings; %.0f %% of the mass leaves after that",
              e.run.full_settings_time_s, 100.0 * e.run.share_at_full_settings);
  if (e.run.threads.length_share > 0.0 && e.run.lines.length_share > 0.0) {
    out += line("  two populations      lines %s (%.2g %% of the length, %.2g %% of the mass), threads %s",
                micrometres(e.run.lines.mean_m).c_str(), 100.0 * e.run.lines.length_share,
                100.0 * e.run.lines.mass_share, micrometres(e.run.threads.mean_m).c_str());
  }
}

void add_result(const study::LoadedCase& loaded, const model::Estimate& e, std::string& out) {
  const auto& input = loaded.file.input;
  const auto& jet = e.jet;
  const model::FibreClass line_class = e.as_line.fibre_class;
  const bool lands =
      line_class != model::FibreClass::no_jet && line_class != model::FibreClass::dripping && jet.reached_collector;
  const bool fibre = e.line_diameter_m > 0.0 && line_class != model::FibreClass::drops;

  out += "RESULT\n";
  out += line("  class                %s%s", to_string(e.fibre_class),
              e.landing != model::Landing::none ? (std::string(", lands ") + to_string(e.landing)).c_str() : "");
  if (e.threads.predicted) add_threads(e, out);
  if (fibre) {
    out += line("  one line             %s%s", micrometres(e.line_diameter_m).c_str(), at_collector_speed(e).c_str());
    if (e.run.dry_diameter_mean_m > 0.0) {
      out += line("  over the run         %s mean, %s to %s (by fibre length)",
                  micrometres(e.run.dry_diameter_mean_m).c_str(), micrometres(e.run.dry_diameter_min_m).c_str(),
                  micrometres(e.run.dry_diameter_max_m).c_str());
    }
    out += line("  diameter as landed   %s with %.1f wt%% solvent", micrometres(jet.wet_diameter_m).c_str(),
                100.0 * jet.residual_solvent);
  }
  if (e.orifice.flow_m3_s > 0.0) add_run(loaded, e, out);
  if (lands) {
    if (jet.dried) {
      out += line("  dry (5 wt%%) after    %.0f mm of jet, at radius %.0f mm; collector at %.0f mm",
                  1e3 * jet.drying_distance_m, 1e3 * jet.drying_radius_m, 1e3 * jet.end_radius_m);
    } else {
      out += line("  dry (5 wt%%)          not before the collector at radius %.0f mm", 1e3 * jet.end_radius_m);
    }
  }
}

void add_orifice(const model::Estimate& e, std::string& out) {
  const auto& o = e.orifice;
  out += line("  pressure at orifice  %.3g kPa = gas %.3g + centrifugal %.3g + liquid height %.2g - capillary %.2g",
              1e-3 * o.driving_pressure_Pa, 1e-3 * o.gas_overpressure_Pa, 1e-3 * o.centrifugal_head_Pa,
              1e-3 * o.hydrostatic_head_Pa, 1e-3 * o.capillary_threshold_Pa);
  if (o.flow_m3_s > 0.0) {
    out += line("  spent on             friction %.3g kPa, entrance %.2g kPa, speed of the liquid %.2g kPa",
                1e-3 * o.viscous_loss_Pa, 1e-3 * o.entrance_loss_Pa, 1e-3 * o.kinetic_loss_Pa);
    out += line("  orifice              %.3g mL/min each at %.3g m/s; wall shear rate %.2g 1/s, Re %.2g, We %.2g",
                6e7 * o.flow_m3_s, o.mean_speed_m_s, o.wall_shear_rate_1_s, o.reynolds, o.weber);
    out += line("  liquid layer         %.2f mm over the orifices%s", 1e3 * e.charge.layer_thickness_m,
                e.run.breakthrough ? line("; gas breaks through at %.2f mm, after %.2g s",
                                          1e3 * e.run.breakthrough_layer_m, e.run.breakthrough_time_s)
                                         .substr(0, 200)
                                         .c_str()
                                   : "");
    if (out.size() > 1 && out[out.size() - 1] == '\n' && out[out.size() - 2] == '\n') out.pop_back();
  }
}

void add_jet(const model::Estimate& e, std::string& out) {
  const auto& jet = e.jet;
  out += line("  jet                  %.0f mm long, %.2f turns, %.3g ms; %s", 1e3 * jet.path_length_m, jet.turns,
              1e3 * jet.flight_time_s, jet.reason.c_str());
  const auto& b = jet.budget;
  out += line("  speed at the end     %.3g m/s; u^2/2 = centrifugal %+.3g, air %+.3g, gravity %+.2g, solid %+.3g J/kg",
              jet.end_speed_m_s, b.centrifugal_J_kg, b.air_drag_J_kg, b.gravity_J_kg, b.solid_constraint_J_kg);
  if (b.gas_J_kg != 0.0) out += line("                       gas of the orifice %+.3g J/kg", b.gas_J_kg);
  if (e.tier == "tension") {
    out += line("                       pull of the liquid: viscous %+.3g, elastic %+.3g, surface %+.3g J/kg",
                b.viscous_J_kg, b.elastic_J_kg, b.surface_tension_J_kg);
    if (!jet.convergence.empty()) out += io::folded("  converged            " + jet.convergence, 23);
  }
  out += line("  temperature          down to %.0f degC, %.0f degC at the end", jet.lowest_temperature_K - 273.15,
              jet.end_temperature_K - 273.15);
  if (jet.solidified) {
    out += line("  solid                after %.0f mm of jet (%s); draw is frozen from there",
                1e3 * jet.solidification_distance_m, jet.solidification_kind.c_str());
  }
  out += line("  tension              up to %.2g of the momentum flux (%s)", jet.tension_ratio,
              e.tier == "inertial" ? "left out of the inertial tier" : "part of the solution");
}

void add_gas(const model::Estimate& e, double collector, std::string& out) {
  const model::GasReport& g = e.gas;
  out += "\nWHEN GAS BREAKS THROUGH (one line at that moment; our own closures)\n";
  out += line("  from a layer of      %.2f mm, when %.0f %% of the charge is left; %.2f mm at the start",
              1e3 * e.run.breakthrough_layer_m, 100.0 * e.run.breakthrough_left, 1e3 * e.charge.layer_thickness_m);
  out += line(
      "  gas leaves           %s, Mach %.2f at %.0f degC; %.0f m/s expanded to the room; an open orifice blows %.2g "
      "mg/s",
      g.choked ? "choked" : "below the speed of sound", g.exit_mach, g.exit_temperature_K - 273.15, g.jet_speed_m_s,
      1e6 * g.open_flow_kg_s);
  out += line("  half of that gone    layer %.2f mm, gas fills %.0f %% of an orifice (%.2g mg/s), liquid flow x %.2g",
              1e3 * g.layer_thickness_m, 100.0 * g.gas_share, 1e6 * g.gas_flow_kg_s, g.liquid_flow_ratio);
  out += line("  gas over the liquid  Weber number %.3g where they leave%s", g.air_weber,
              g.air_weber > 13.0 ? ": more than thin liquid withstands" : "");
  for (const auto& variant : g.variants) out += variant_text(variant, collector);
  if (g.run_mean_with_m > 0.0 && g.run_mean_without_m > 0.0) {
    out += line("  over the run         %s mean with gas, %s without (by fibre length)",
                micrometres(g.run_mean_with_m).c_str(), micrometres(g.run_mean_without_m).c_str());
  }
}

}  // namespace

std::string estimate_text(const study::LoadedCase& loaded, const model::Estimate& e, const std::string& doubt) {
  std::string out;
  const auto& input = loaded.file.input;
  out += input.purpose.empty() ? loaded.file.name + '\n' : io::folded(input.purpose, 0);
  out += line("%s, %.0f kg/mol, %s in %s; %.0f rpm, %.3g MPa overpressure, %.3g mL charge",
              input.solution.polymer.c_str(), input.solution.molar_mass_kg_mol,
              io::concentration_text(input.solution.concentration).c_str(), input.solution.solvent.c_str(),
              input.operation.rotation_speed_rad_s * 60.0 / (2.0 * model::kPi),
              1e-6 * input.operation.gas_overpressure_Pa, 1e6 * input.operation.charge_volume_m3);
  out += '\n';
  if (e.status != model::Status::done) {
    out += "NOT CONVERGED: " + e.reason + "\nNo numbers are reported for this point.\n" + warnings_text(loaded, e);
    return out + provenance_line({basis_of(loaded)});
  }
  add_result(loaded, e, out);
  out += warnings_text(loaded, e);
  out += "\nHOW IT WAS DECIDED\n";
  for (const auto& sentence : e.threads_why) out += io::folded("  " + sentence, 2);
  for (const auto& sentence : e.line_why) out += io::folded("  " + sentence, 2);
  add_orifice(e, out);
  const bool drips = e.as_line.fibre_class == model::FibreClass::dripping;
  if (e.jet.status == model::Status::done && e.orifice.flow_m3_s > 0.0 && !drips) add_jet(e, out);

  const double collector =
      0.5 * input.vessel.bore_diameter_m + input.vessel.wall_thickness_m + input.operation.collection_distance_m;
  if (!e.air_variants.empty() && e.fibre_class != model::FibreClass::dripping) {
    out += "\nIF THE AIR IS NOT AS ASSUMED (a doubt of the model; no measurement of the charge removes it)\n";
    out += line("  assumed              air turns at %.2g of the wall's speed there, axial drag x %.3g",
                input.room.air_swirl, input.model.axial_drag_factor);
    for (const auto& variant : e.air_variants) out += variant_text(variant, collector);
  }
  if (e.gas.predicted && e.fibre_class != model::FibreClass::dripping) add_gas(e, collector, out);

  if (!doubt.empty()) out += '\n' + doubt;
  out += "\nWHAT IT RESTS ON (one standard deviation; library values in --json)\n";
  for (const auto& named : e.properties) {
    if (named.property.origin == model::Origin::library) continue;  // `--json` has them all
    out +=
        io::folded("  " + named.key + " " + io::number_text(named.property.value, 4) +
                       (named.unit == "1" ? "" : " " + named.unit) + ", " + origin_word(named.property.origin) + " +-" +
                       io::number_text(100.0 * named.property.relative_sd, 2) + " %: " + named.property.source,
                   6);
  }
  out += '\n';
  for (const auto& caution : io::short_cautions(input, loaded.library.solvent(input.solution.solvent)))
    out += caution + (caution.back() == ':' ? ' ' : '\n');
  return out + provenance_line({basis_of(loaded)});
}

}  // namespace whorl::answer
