// The sentences of `whorl explain` about one point. Which one is written follows from the sizes and signs of the
// numbers.
#include <algorithm>
#include <array>
#include <cmath>

#include "answer/explain_words.hpp"
#include "whorl/engine/classify.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/number_text.hpp"
#include "whorl/model/published_trends.hpp"
#include "whorl/model/splitting.hpp"

namespace whorl::answer {
namespace {

using namespace words;
using study::Elasticity;

double solids(const study::OperatingPoint& point) {
  return point.setup.fluid.initial.concentration_kg_m3 / point.setup.fluid.polymer_density_kg_m3;
}

// Elasticity of the viscosity, by the key that holds it in this case.
const Elasticity* viscosity_row(const study::PointReport& report) {
  for (const auto& row : report.elasticities.rows) {
    const bool measured = report.at.point.setup.input.solution.measured.zero_shear_viscosity_Pa_s.has_value();
    if (row.key == (measured ? "solution.measured.zero_shear_viscosity" : "model.zero_shear_viscosity_factor"))
      return &row;
  }
  return nullptr;
}

void say_threads(const study::NamedPoint& at, Prose& prose) {
  const auto& e = at.point.estimate;
  const model::ThreadReport& t = e.threads;
  if (!t.predicted) return;
  prose.blocks.push_back(Heading{e.torn ? "Torn threads, the likelier answer" : "Torn threads, the other answer"});
  prose.blocks.push_back(thread_law(at.point.setup.input.model.thread_law));
  std::string text = "Gas goes through the orifices for " + percent(e.run.share_with_gas) + " of the mass, at " +
                     quantity(t.gas_speed_m_s, "m/s") + " once expanded. Where it tears the liquid, threads are " +
                     micrometres(t.dry_diameter_m) + " dry (" + micrometres(t.wet_diameter_m) + " wet), about " +
                     quantity(t.threads, "1", 2) +
                     " of them per orifice by mass balance. The size is known to a factor of 4 either way, " +
                     micrometres(e.as_threads.low_m) + " to " + micrometres(e.as_threads.high_m) +
                     "; two other laws give " + micrometres(t.weber_law_m) + " and " + micrometres(t.cascade_law_m) +
                     (engine::supply_gives_out(at.point.setup.input, e.run)
                          ? ". The supply gives out: the pressure of the gas, and so the size, follows what the "
                            "orifices would pass, and with it viscosity, feed and rotation. Distance has no part."
                          : ". Feed, viscosity, distance and rotation have no part in the size.");
  prose.blocks.push_back(Paragraph{text});
  const model::Tearing stated = at.point.setup.input.model.tearing;
  if (stated != model::Tearing::likelier) {
    text = std::string("That the gas ") + (stated == model::Tearing::threads ? "tears" : "does not tear") +
           " the liquid is stated in the case, not judged.";
  } else if (!(e.as_threads.probability > 0.0)) {
    text = "These threads would be no finer than the line: they are not counted.";
  } else {
    text = "That the gas tears the liquid at all has a probability of " + percent(e.as_threads.probability) + ": " +
           percent(model::kSureTearing) + " from published studies, times " + quantity(e.chance.by_share, "1", 2) +
           " for gas with " + percent(e.chance.share_with_gas) + " of the mass, " +
           quantity(e.chance.by_weber, "1", 2) + " for a gas Weber number of " +
           quantity(e.chance.gas_weber, "1", 2) + " where " + quantity(e.chance.critical_weber, "1", 2) +
           " tears a liquid of this viscosity, and " + quantity(e.chance.by_supply, "1", 2) +
           " for a supply that holds " + quantity(6e4 * e.run.gas_supply_mean_m3_s, "1", 2) +
           " normal litres a minute. It is a judgement; a micrograph" +
           (at.point.setup.input.operation.feed_rate_m3_s ? "" : ", a timed run") + " or a gas meter settles it.";
  }
  prose.blocks.push_back(Paragraph{text});
}

void say_result(const study::PointReport& report, Prose& prose) {
  const auto& e = report.at.point.estimate;
  prose.blocks.push_back(Heading{"Where the diameter of one line comes from"});
  prose.blocks.push_back(identity());
  std::string text = "The dry fibre of " + micrometres(e.line_diameter_m) + " is what one orifice delivers, " + kQ +
                     " = " + quantity(6e7 * e.orifice.flow_m3_s, "mL/min") + " with a share " + kPhi + " = " +
                     quantity(solids(report.at.point), "1") + " of polymer by volume, laid at a line speed " + kU +
                     " = " + quantity(e.jet.end_speed_m_s, "m/s");
  text += e.excess_draw != 1.0 ? " and drawn " + kE + " = " + quantity(e.excess_draw, "1") + " times longer on the way."
                               : ", with no excess draw (" + kE + " = 1).";
  if (e.kinematic_bound_m > 0.0) {
    const bool drawn = e.excess_draw != 1.0;
    const double ratio = e.excess_draw * number_of(e, "speed_ratio");
    text += (drawn ? " With that draw the fibre is laid at " : " The line speed is ") + quantity(ratio, "1") +
            " of the speed of the collector seen from the vessel; at that speed the fibre would be " +
            micrometres(e.kinematic_bound_m) + ".";
    if (ratio > 0.95 && ratio < 1.05)
      text +=
          " The fibre is laid at that speed: only flow, polymer content, rotation speed and distance can change it.";
    const std::string what = drawn ? " It is laid " : " The jet is ";
    const std::string when = drawn ? " than that" : " than that when it lands";
    if (ratio <= 0.95) text += what + (drawn ? "more slowly" : "slower") + when + ", and the fibre coarser.";
    if (ratio >= 1.05) text += what + "faster" + when + ", and the fibre finer.";
  }
  prose.blocks.push_back(Paragraph{text});
  text = "It lands " + std::string(to_string(e.as_line.landing)) + " with " +
         percent(std::max(0.0, e.jet.residual_solvent)) + " of solvent by mass; class " +
         to_string(e.as_line.fibre_class) + ".";
  for (const auto& sentence : e.line_why) text += ' ' + sentence;
  prose.blocks.push_back(Paragraph{text});
}

void say_flow(const study::PointReport& report, Prose& prose) {
  const auto& o = report.at.point.estimate.orifice;
  prose.blocks.push_back(Heading{"What sets the flow"});
  const double driving = o.driving_pressure_Pa;
  ProseTable table{
      "Pressure at the orifice and what it is spent on.", {"part", "kPa", "share of the driving pressure"}, {}, false};
  const auto row = [&](const std::string& name, double pascal) {
    table.rows.push_back({name, quantity(1e-3 * pascal, "1"), percent(pascal / driving)});
  };
  row("gas overpressure", o.gas_overpressure_Pa);
  row("centrifugal head", o.centrifugal_head_Pa);
  row("liquid height", o.hydrostatic_head_Pa);
  row("capillary threshold", -o.capillary_threshold_Pa);
  row("spent: wall friction", o.viscous_loss_Pa);
  row("spent: entrance", o.entrance_loss_Pa);
  row("spent: speed of the liquid", o.kinetic_loss_Pa);
  prose.blocks.push_back(table);

  std::string text;
  const double gas = o.gas_overpressure_Pa;
  const double rotation = o.centrifugal_head_Pa;
  const bool fed = report.at.point.setup.input.operation.feed_rate_m3_s &&
                   report.at.point.estimate.spilled_by_feed <= 0.0;  // else the orifices pass what they can
  if (fed) {
    text = "The pump sets the flow; the pressure decides how thick a layer that takes, or how much of the orifices it "
           "fills.";
  } else if (gas <= 0.0) {
    text = "No gas pushes: rotation alone drives the flow, with " + kilopascal(rotation) + ".";
  } else if (rotation <= 0.0) {
    text = "The vessel is at rest: the gas alone drives the flow, with " + kilopascal(gas) + ".";
  } else if (gas > kAlike * rotation) {
    text = "The overpressure (" + kilopascal(gas) + ") drives the flow more than the rotation (" +
           kilopascal(rotation) + "), " + quantity(gas / rotation, "1", 2) + " times as much.";
  } else if (rotation > kAlike * gas) {
    text = "The rotation (" + kilopascal(rotation) + ") drives the flow more than the overpressure (" +
           kilopascal(gas) + "), " + quantity(rotation / gas, "1", 2) + " times as much.";
  } else {
    text = "Overpressure (" + kilopascal(gas) + ") and rotation (" + kilopascal(rotation) +
           ") drive the flow about equally.";
  }
  const double held = o.capillary_threshold_Pa / (driving + o.capillary_threshold_Pa);
  text += " Surface tension holds back " + percent(held) + " of it" +
          (held < 0.02 ? ", which the flow does not feel." : ".");
  const double friction = o.viscous_loss_Pa / driving;
  text += " Of what is left, " + percent(friction) + " goes into wall friction";
  text += friction >= 0.5 ? "."
                          : ": entrance and speed of the liquid take more than that, so that the flow grows more "
                            "slowly than the pressure.";
  const double eta = property_of(report.at.point.estimate, "zero_shear_viscosity");
  const double thinning = o.apparent_viscosity_Pa_s / eta;
  if (std::isfinite(thinning)) {
    text += " At the wall the solution is sheared at " + quantity(o.wall_shear_rate_1_s, "1/s", 2) +
            " and flows like a liquid of " + quantity(o.apparent_viscosity_Pa_s, "Pa s") + ", " +
            (std::abs(thinning - 1.0) < 0.05 ? std::string("as at rest")
                                             : quantity(thinning, "1", 2) + " of its viscosity at rest") +
            (thinning < 0.8     ? ": the flow curve counts as much as the viscosity at rest."
             : thinning <= 1.05 ? ": it hardly thins."
                                : ".");
  }
  const Elasticity* row_of = viscosity_row(report);
  // of one line by its mass balance, whichever answer the other elasticities are of
  if (row_of != nullptr && row_of->made && row_of->slopes[kFlow].known && row_of->slopes[kLineSpeed].known) {
    const double on_line = 0.5 * (row_of->slopes[kFlow].value - row_of->slopes[kLineSpeed].value);
    text += std::string(std::abs(on_line) < 0.05 ? " The viscosity hardly matters for the diameter here"
                                                 : " The viscosity matters here") +
            ": 10 % more of it changes the flow by " + ten_percent(row_of->slopes[kFlow].value) +
            " and the diameter of one line by " + ten_percent(on_line);
    if (report.at.point.estimate.torn && row_of->slopes[kDiameter].known)
      text += ", that of torn threads by " + ten_percent(row_of->slopes[kDiameter].value);
    text += '.';
  }
  prose.blocks.push_back(Paragraph{text});
}

struct Work {
  std::string key;
  double J_kg;
};
std::vector<Work> works(const model::Estimate& e) {
  const auto& b = e.jet.budget;
  const double start = 0.5 * e.orifice.mean_speed_m_s * e.orifice.mean_speed_m_s;
  const double end = 0.5 * e.jet.end_speed_m_s * e.jet.end_speed_m_s;
  std::vector<Work> list = {{"exit-speed", start},
                            {"centrifugal", b.centrifugal_J_kg},
                            {"air-drag", b.air_drag_J_kg},
                            {"viscous", b.viscous_J_kg},
                            {"elastic", b.elastic_J_kg},
                            {"surface-tension", b.surface_tension_J_kg},
                            {"gravity", b.gravity_J_kg},
                            {"solid-constraint", b.solid_constraint_J_kg},
                            {"gas", b.gas_J_kg}};
  double rest = end;
  for (const auto& work : list) rest -= work.J_kg;
  list.push_back({"not-closed", rest});
  return list;
}

void say_line_speed(const study::PointReport& report, Prose& prose) {
  const auto& e = report.at.point.estimate;
  prose.blocks.push_back(Heading{"What sets the line speed"});
  auto list = works(e);
  const double end = 0.5 * e.jet.end_speed_m_s * e.jet.end_speed_m_s;
  ProseTable table{"Work on the jet per kilogram, from the orifice to the collector; together u^2/2 at the end.",
                   {"part", "J/kg", "of the total"},
                   {},
                   false};
  table.caption = "Work on the jet per kilogram, from the orifice to the collector; together " +
                  symbol("u_f^2/2", "u_\\mathrm{f}^2/2") + ".";
  for (const auto& work : list) {
    if (std::abs(work.J_kg) < 1e-6 * end) continue;
    table.rows.push_back({words_of(work.key), quantity(work.J_kg, "1"), percent(work.J_kg / end)});
  }
  table.rows.push_back({"together", quantity(end, "1"), percent(1.0)});
  prose.blocks.push_back(table);
  std::sort(list.begin(), list.end(), [](const Work& a, const Work& b) { return a.J_kg > b.J_kg; });
  const Work& most = list.front();
  const Work& least = list.back();
  const bool cancel = -least.J_kg > 0.8 * most.J_kg;
  std::string text = (cancel ? "The largest work is that of the "
                             : "Most of the " + quantity(end, "J/kg") + " at the end comes from the ") +
                     words_of(most.key) + ", " + quantity(most.J_kg, "J/kg") + ".";
  if (least.J_kg < -0.02 * most.J_kg) {
    text += " The largest brake is the " + words_of(least.key) + ", " + quantity(least.J_kg, "J/kg") + ".";
    if (cancel)
      text +=
          " The two all but cancel: the line speed is a small difference of large works and follows either of them "
          "steeply.";
  } else {
    text += " Nothing takes back more than 2 % of it.";
  }
  const double rest = std::abs(works(e).back().J_kg);
  if (rest > 1e-3 * most.J_kg) text += " The budget leaves " + quantity(rest, "J/kg") + " unexplained.";
  const double tension = e.jet.tension_ratio;
  if (e.tier == "inertial") {
    text += " This tier leaves the pull along the liquid jet out; it would reach " + quantity(tension, "1", 2) +
            " of the momentum flux";
    text += tension > 0.3 ? ", too much to leave out: line speed and diameter can be off either way."
                          : ", little enough to leave out.";
  } else {
    const auto& b = e.jet.budget;
    const double pull = b.viscous_J_kg + b.elastic_J_kg + b.surface_tension_J_kg;
    text += " The pull along the liquid (viscous, elastic and surface together) " +
            std::string(pull < 0.0 ? "takes " : "adds ") + quantity(std::abs(pull), "J/kg") + ", " +
            percent(std::abs(pull) / end) + " of the result";
    const std::array<Work, 3> parts = {
        {{"viscous", b.viscous_J_kg}, {"elastic", b.elastic_J_kg}, {"surface-tension", b.surface_tension_J_kg}}};
    const auto largest = std::max_element(
        parts.begin(), parts.end(), [](const Work& x, const Work& y) { return std::abs(x.J_kg) < std::abs(y.J_kg); });
    text += largest->J_kg != 0.0 ? ", most of it the " + words_of(largest->key) + "." : ".";
  }
  prose.blocks.push_back(Paragraph{text});
}

std::string published_words(const std::string& key, bool torn) {
  const model::PublishedTrend* trend = model::published_trend(key, torn);
  return trend == nullptr ? "-"
                          : std::string(trend->words) + ", " + signed_number(trend->exponent, 2) + " ± " +
                                io::prose_plain(quantity(trend->sd, "1", 2));
}

// The knobs whose published direction is the other one.
std::string against_published(const std::vector<const Elasticity*>& rows, bool torn) {
  std::vector<std::string> names;
  for (const Elasticity* row : rows) {
    const model::PublishedTrend* trend = model::published_trend(row->key, torn);
    if (trend == nullptr || !row->slopes[kDiameter].known || std::abs(trend->exponent) < 0.1) continue;
    const double slope = row->slopes[kDiameter].value;
    if (slope * trend->exponent < 0.0 && std::abs(slope) > kNone)
      names.push_back(key_words(row->key) + " (published " + std::string(trend->words) + ", " +
                      std::string(trend->how_sure) + ")");
  }
  if (names.empty()) return {};
  return "Published experiments go the other way for " + joined(names) +
         ". Do not argue this direction from the model alone.";
}

void say_elasticities(const study::PointReport& report, Prose& prose) {
  prose.blocks.push_back(Heading{"What each input does"});
  prose.blocks.push_back(
      Equation{"e(y, x) = d ln y / d ln x", "e(y, x) = \\frac{\\partial \\ln y}{\\partial \\ln x}", "elasticity"});
  std::vector<const Elasticity*> rows;
  std::vector<std::string> idle, curved, without;
  double step = 0.0;
  for (const auto& row : report.elasticities.rows) {
    if (!row.made) {
      without.push_back(key_words(row.key) + " (" + row.reason + ")");
      continue;
    }
    if (!row.absolute) step = row.step;
    double largest = 0.0;
    for (std::size_t k = 0; k <= kSolvent; ++k)
      largest = std::max(largest, std::abs(row.slopes[k].value) * (row.absolute ? 10.0 : 1.0));
    if (largest < kNone) {
      idle.push_back(key_words(row.key));
      continue;
    }
    rows.push_back(&row);
    if (row.slopes[kDiameter].known && !row.slopes[kDiameter].linear) curved.push_back(key_words(row.key));
  }
  const auto size = [](const Elasticity* row) {
    return std::abs(row->slopes[kDiameter].value) * (row->absolute ? 10.0 : 1.0);
  };
  std::stable_sort(rows.begin(), rows.end(), [&](const auto* a, const auto* b) { return size(a) > size(b); });
  ProseTable table{
      "Elasticities of dry diameter, flow and line speed; change of the residual solvent (mass fraction) per unit of " +
          symbol("ln x", "\\ln x") + ". Temperatures: per kelvin. Linear: the slopes of the two half steps agree.",
      {"input", kD, kQ, kU, "solvent", "linear", "published"},
      {},
      false};
  for (const Elasticity* row : rows) {
    const auto cell = [&](std::size_t k) {
      return row->slopes[k].known ? signed_number(row->slopes[k].value, row->absolute ? 4 : 3) : std::string("-");
    };
    table.rows.push_back({key_words(row->key), cell(kDiameter), cell(kFlow), cell(kLineSpeed), cell(kSolvent),
                          !row->slopes[kDiameter].known   ? "-"
                          : row->slopes[kDiameter].linear ? "yes"
                                                          : "no",
                          published_words(row->key, report.at.point.estimate.torn)});
  }
  prose.blocks.push_back(table);
  std::string text;
  if (const std::string against = against_published(rows, report.at.point.estimate.torn); !against.empty())
    prose.blocks.push_back(Paragraph{against});
  const auto first = std::find_if(rows.begin(), rows.end(), [](const auto* row) { return !row->absolute; });
  if (first != rows.end() && size(*first) >= kNone) {
    const double e = (*first)->slopes[kDiameter].value;
    text = "The diameter follows the " + key_words((*first)->key) + " most: 10 % more of it changes the diameter by " +
           ten_percent(e) + (e > 0.0 ? ", coarser." : ", finer.");
  } else {
    text = diameter_known(report) ? "No input moves the diameter by more than 0.1 % for 10 % of its value." : kNoFibre;
  }
  if (step > 0.0)
    text += " The numbers hold for small changes; they were taken over +-" + number_text(100.0 * std::expm1(step), 1) +
            " % of the input (temperatures: a quarter of a kelvin).";
  if (!curved.empty())
    text += " Over that step the diameter already bends with " + joined(curved) +
            ": there, only the sign and the rough size hold.";
  if (!idle.empty())
    text += " Without effect on diameter, flow, line speed and solvent (below 0.01): " + joined(idle) + ".";
  if (!without.empty()) text += " No derivative: " + joined(without) + ".";
  prose.blocks.push_back(Paragraph{text});
}

std::string meaning(const model::Group& group, const study::PointReport& report) {
  const double x = group.value;
  const auto choose = [&](double limit, const char* below, const char* above) {
    return std::string(x < limit ? below : above);
  };
  if (group.key == "bond_rotation")
    return choose(1.0, "surface tension outweighs the spin at the size of an orifice",
                  "the spin outweighs surface tension at the size of an orifice");
  if (group.key == "ohnesorge")
    return choose(1.0, "inertia resists break-up more than viscosity does",
                  "viscosity resists break-up more than inertia does");
  if (group.key == "pressure_share") {
    if (x <= 0.0) return "no gas pushes";
    return x > 0.55   ? "mostly gas drives the flow"
           : x < 0.45 ? "mostly rotation drives the flow"
                      : "gas and rotation share the driving";
  }
  if (group.key == "rossby")
    return choose(0.5, "rotation stretches the jet after it has left; the exit speed is small beside the wall's",
                  "the jet leaves fast beside the wall: little is left for rotation to stretch");
  if (group.key == "froude") return choose(3.0, "gravity bends the jet down", "gravity plays no part in the path");
  if (group.key == "reynolds")
    return choose(1.0, "viscous stress outweighs inertia over the size of the vessel",
                  "inertia outweighs viscous stress over the size of the vessel");
  if (group.key == "reynolds_orifice")
    return x < 10.0     ? "creeping flow in the orifice"
           : x < 2100.0 ? "laminar, but the entrance counts"
                        : "beyond laminar flow: the estimate is not made for it";
  if (group.key == "weber") {
    const double critical = report.at.point.estimate.orifice.critical_weber;
    constexpr double kFar = 1000.0;
    if (x > kFar * critical) return "a steady jet: far above the critical value";
    return x > critical
               ? "a steady jet: " + io::prose_plain(quantity(x / critical, "1", 2)) + " times the critical value"
               : "below the critical value: it drips, unless it is pulled off or drawn out as a thread";
  }
  if (group.key == "capillary")
    return choose(1.0, "surface tension outweighs viscous stress at the exit",
                  "viscous stress outweighs surface tension at the exit");
  if (group.key == "weissenberg_orifice")
    return choose(1.0, "the orifice hardly disturbs the chains",
                  "the chains are sheared faster than they relax: the flow curve counts");
  if (group.key == "elastic_mach")
    return choose(1.0, "elastic waves outrun the liquid: a pull on the jet is felt at the orifice",
                  "the liquid outruns elastic waves: a pull on the jet is not felt at the orifice");
  if (group.key == "deborah_flight")
    return choose(1.0, "the chains relax during the flight", "the flight is over before the chains relax");
  if (group.key == "draw_ratio")
    return choose(1.0, "the line slows down on its way", "the line speeds up by this factor");
  if (group.key == "speed_ratio")
    return x < 0.95   ? "laid slower than the collector's speed: coarser than at that speed"
           : x < 1.05 ? "laid at the collector's speed"
                      : "laid faster than the collector's speed";
  if (group.key == "tension_ratio")
    return choose(0.3, "the pull along the jet is small beside its momentum",
                  "the pull along the jet matters beside its momentum");
  if (group.key == "transfer_number")
    return x <= 0.0 ? "nothing evaporates at the charge's temperature"
                    : choose(0.1, "evaporation is slow and limited by the air",
                             "evaporation is fast enough to blow against its own supply of heat");
  if (group.key == "mass_biot")
    return choose(0.3, "dries evenly over its radius", "dries from the outside: a skin can form");
  if (group.key == "drying_ratio")
    return choose(1.0, "too little time to dry at the rate of the start",
                  "time enough to dry at the rate of the start");
  return "";
}

void say_groups(const study::PointReport& report, Prose& prose) {
  prose.blocks.push_back(Heading{"Dimensionless groups"});
  // In print: symbol and definition.
  static const std::map<std::string, std::array<const char*, 2>> kLatex = {
      {"bond_rotation", {"\\mathit{Bo}", "\\rho\\Omega^2 R a_\\mathrm{o}^2/\\sigma"}},
      {"ohnesorge", {"\\mathit{Oh}", "\\eta_0/\\sqrt{\\rho\\sigma a_\\mathrm{o}}"}},
      {"pressure_share", {"\\Pi_\\mathrm{g}", ""}},
      {"rossby", {"\\mathit{Rb}", "U/(\\Omega R)"}},
      {"froude", {"\\mathit{Fr}", "\\Omega\\sqrt{R/g}"}},
      {"reynolds", {"\\mathit{Re}", "\\rho U R/\\eta_0"}},
      {"reynolds_orifice", {"\\mathit{Re}_\\mathrm{o}", "8\\rho U^2/\\tau_\\mathrm{w}"}},
      {"weber", {"\\mathit{We}", "\\rho U^2 d_\\mathrm{o}/\\sigma"}},
      {"capillary", {"\\mathit{Ca}", "\\eta_0 U/\\sigma"}},
      {"weissenberg_orifice", {"\\mathit{Wi}", "\\lambda\\times\\text{wall shear rate}"}},
      {"elastic_mach", {"M_\\mathrm{e}^2", "\\rho U^2/G"}},
      {"deborah_flight", {"\\mathit{De}", "\\lambda/\\text{flight time}"}},
      {"draw_ratio", {"\\mathit{Dr}", "u_\\mathrm{f}/U"}},
      {"speed_ratio", {"u_\\mathrm{f}/(\\Omega R_\\mathrm{c})", ""}},
      {"tension_ratio", {"F/(\\dot m u)", ""}},
      {"transfer_number", {"B", "(x_\\mathrm{s}-x_\\mathrm{a})/(1-x_\\mathrm{s})\\text{ at charge temperature}"}},
      {"mass_biot", {"\\mathit{Bi}_\\mathrm{m}", "n a_\\mathrm{o}/(D\\rho_\\mathrm{s})"}},
      {"drying_ratio", {"\\mathit{Da}", "\\text{flight time}\\times 4n/(d_\\mathrm{o}\\rho_\\mathrm{s})"}}};
  ProseTable table{"Dimensionless groups of this operating point.",
                   {"group", "value", "definition and what it says here"},
                   {},
                   true};
  for (const auto& group : report.at.point.estimate.groups) {
    const auto latex = kLatex.find(group.key);
    const std::string what = meaning(group, report);
    const auto form = [&](const std::string& plain, std::size_t k) {
      return latex == kLatex.end() || *latex->second[k] == '\0' ? plain : symbol(plain, latex->second[k]);
    };
    table.rows.push_back({form(group.symbol, 0), quantity(group.value, "1"),
                          form(group.definition, 1) + (what.empty() ? "" : ": " + what)});
  }
  prose.blocks.push_back(table);
}

}  // namespace

Prose explain_point(const study::PointReport& report) {
  Prose prose;
  prose.title = "Why the fibre is what it is: " + report.at.name;
  const std::string why_not = study::why_not_explained(report.at.point.estimate);
  say_threads(report.at, prose);
  if (!why_not.empty()) {
    prose.blocks.push_back(
        Paragraph{"No explanation of the diameter of one line is given for this point: " + why_not + "."});
    std::string text;
    if (report.at.point.estimate.status == model::Status::done)
      for (const auto& sentence : report.at.point.estimate.decided_by) text += (text.empty() ? "" : " ") + sentence;
    if (!text.empty()) prose.blocks.push_back(Paragraph{text});
    return prose;
  }
  say_result(report, prose);
  say_flow(report, prose);
  say_line_speed(report, prose);
  if (report.elasticities.reason.empty()) {
    say_elasticities(report, prose);
  } else {
    prose.blocks.push_back(
        Paragraph{"No elasticities: at the finer tolerance that they need, this point ends otherwise: " +
                  report.elasticities.reason + "."});
  }
  say_groups(report, prose);
  say_doubts(report, prose);
  if (report.sensitivity) say_sensitivity(report, prose);
  return prose;
}

}  // namespace whorl::answer
