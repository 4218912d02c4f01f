// The sentences of `whorl explain` about two points. Which one is written follows from the sizes and signs of the
// numbers.
#include <algorithm>
#include <array>
#include <cmath>

#include "answer/explain_words.hpp"

namespace whorl::answer {
namespace {

using namespace words;
using study::Part;

std::string direction(double part) { return part > 0.0 ? "coarser" : "finer"; }

// Table of the parts and a sentence about the largest.
void say_parts(const std::vector<Part>& parts, double total, const std::string& caption, const std::string& from_unit,
               double scale, const std::string& of, Prose& prose) {
  ProseTable table{caption, {"part", "from", "to", "change of " + kLnD, "alone"}, {}, false};
  if (from_unit.empty()) table.header = {"part", "change of " + kLnD, "alone"};
  const Part* largest = nullptr;
  for (const auto& part : parts) {
    // What cancels to a thousandth and less is no sum of causes: neither part is a change that anything could make
    // alone.
    if (std::abs(part.value) <= kThousandfold) continue;
    prose.blocks.push_back(Paragraph{
        "The parts of " + of + " are works that all but cancel: alone, the " + words_of(part.key) +
        " would change the diameter more than a thousandfold. They are not listed; what they come to is a change of " +
        kLnD + " by " + watched(total) + " (" + percent_change(total) + ")."});
    return;
  }
  for (const auto& part : parts) {
    if (std::abs(part.value) < 1e-9) continue;
    if (largest == nullptr || std::abs(part.value) > std::abs(largest->value)) largest = &part;
    std::vector<std::string> row = {words_of(part.key)};
    if (!from_unit.empty()) {
      row.push_back(quantity(scale * part.from, "1"));
      row.push_back(quantity(scale * part.to, "1"));
    }
    row.push_back(watched(part.value));
    row.push_back(percent_change(part.value));
    table.rows.push_back(row);
  }
  std::vector<std::string> last = {"together"};
  if (!from_unit.empty()) last.insert(last.end(), {"", ""});
  last.push_back(watched(total));
  last.push_back(percent_change(total));
  table.rows.push_back(last);
  prose.blocks.push_back(table);
  std::string text;
  if (largest == nullptr || std::abs(largest->value) < 5e-4) {
    text = "Every part of " + of + " changes the diameter by less than 0.05 %.";
  } else {
    text = "In " + of + " the largest part is the " + words_of(largest->key) +
           ", which by itself changes the diameter by " + percent_change(largest->value) + ", " +
           direction(largest->value) + ".";
    const Part* against = nullptr;
    for (const auto& part : parts)
      if (part.value * largest->value < 0.0 && (against == nullptr || std::abs(part.value) > std::abs(against->value)))
        against = &part;
    if (against != nullptr && std::abs(against->value) > 0.1 * std::abs(largest->value))
      text += " Against it works the " + words_of(against->key) + " (" + percent_change(against->value) + ").";
  }
  prose.blocks.push_back(Paragraph{text});
}

void say_thread_change(const study::ChangeReport& report, Prose& prose) {
  const study::ThreadSplit& split = report.split.threads;
  const auto& a = report.from.point.estimate;
  const auto& b = report.to.point.estimate;
  const auto name = [](const model::Estimate& e) {
    return std::string(e.torn ? "torn threads" : "one line per orifice");
  };
  if (a.torn != b.torn)
    prose.blocks.push_back(Paragraph{"The likelier answer changes from " + name(a) + " to " + name(b) +
                                     ": the two diameters are not compared; each answer is, below."});
  if (!split.made) return;
  prose.blocks.push_back(Heading{b.torn ? "Torn threads, the likelier answer" : "Torn threads, the other answer"});
  prose.blocks.push_back(thread_law(report.from.point.setup.input.model.thread_law));
  prose.blocks.push_back(Paragraph{"Torn threads go from " + micrometres(a.threads.dry_diameter_m) + " to " +
                                   micrometres(b.threads.dry_diameter_m) + ", " + percent_change(split.total) +
                                   "; their probability from " + percent(a.as_threads.probability) + " to " +
                                   percent(b.as_threads.probability) + "."});
  say_parts(split.parts, split.total, "Exact split of the change of torn threads.", "", 1.0, "the size of threads",
            prose);
  prose.blocks.push_back(Heading{"One line per orifice"});
}

void say_throughput_part(const study::ChangeSplit& split, double throughput, Prose& prose) {
  if (std::abs(throughput) >= 5e-4) {
    prose.blocks.push_back(Heading{"The throughput part"});
    say_parts(split.throughput, throughput, "By what was changed, without regard to the order of the changes.", "", 1.0,
              "the throughput by cause", prose);
    say_parts(split.orifice, throughput,
              "The same by the pressure balance of the orifice as it is at both points; the apparent viscosity moves "
              "with the shear rate.",
              "", 1.0, "the balance of the orifice", prose);
    const auto value = [&](const char* key) {
      for (const auto& part : split.throughput)
        if (part.key == key) return part.value;
      return 0.0;
    };
    const double gas = std::abs(value("overpressure"));
    const double rotation = std::abs(value("centrifugal-head"));
    if (gas > kAlike * rotation && gas > 5e-4)
      prose.blocks.push_back(Paragraph{"Within the pressures, the gas overpressure matters more than the rotation (" +
                                       watched(value("overpressure")) + " against " +
                                       watched(value("centrifugal-head")) + ")."});
    if (rotation > kAlike * gas && rotation > 5e-4)
      prose.blocks.push_back(Paragraph{"Within the pressures, the rotation matters more than the gas overpressure (" +
                                       watched(value("centrifugal-head")) + " against " +
                                       watched(value("overpressure")) + ")."});
  } else {
    prose.blocks.push_back(
        Paragraph{"The throughput hardly changes (" + watched(throughput) + "): it is not split further."});
  }
}

}  // namespace

Prose explain_change(const study::ChangeReport& report) {
  Prose prose;
  prose.title = "Why the diameter changed: from " + report.from.name + " to " + report.to.name;
  if (!report.inputs.empty()) prose.blocks.push_back(Paragraph{"Changed: " + joined(report.inputs, "; ") + "."});
  const study::ChangeSplit& split = report.split;
  say_thread_change(report, prose);
  if (!split.made) {
    prose.blocks.push_back(Paragraph{"No split of one line is made: " + split.reason + "."});
    return prose;
  }
  const auto& a = report.from.point.estimate;
  const auto& b = report.to.point.estimate;
  prose.blocks.push_back(identity());
  prose.blocks.push_back(
      Equation{"ln(d_B/d_A) = 1/2 ln(Q_B/Q_A) + 1/2 ln(phi_B/phi_A) - 1/2 ln(u_B/u_A) - 1/2 ln(E_B/E_A)",
               "\\ln\\frac{d_B}{d_A} = \\tfrac12\\ln\\frac{Q_B}{Q_A} + \\tfrac12\\ln\\frac{\\phi_B}{\\phi_A} - "
               "\\tfrac12\\ln\\frac{u_B}{u_A} - \\tfrac12\\ln\\frac{E_B}{E_A}",
               "split"});
  std::string text = "The dry diameter of one line goes from " + micrometres(a.line_diameter_m) + " to " +
                     micrometres(b.line_diameter_m) + ", " + percent_change(split.total) + " (change of " + kLnD + " " +
                     watched(split.total) + ").";
  if (a.as_line.fibre_class != b.as_line.fibre_class)
    text += " The class changes from " + std::string(to_string(a.as_line.fibre_class)) + " to " +
            to_string(b.as_line.fibre_class) + ".";
  prose.blocks.push_back(Paragraph{text});
  prose.blocks.push_back(Heading{"Throughput, polymer content, line speed"});
  ProseTable table{"Exact split of the change; the parts add up to the whole.",
                   {"part", "from", "to", "change of " + kLnD, "alone"},
                   {},
                   false};
  const std::array<std::pair<const char*, double>, 4> units = {{{"mL/min", 6e7}, {"1", 1.0}, {"m/s", 1.0}, {"1", 1.0}}};
  double up = 0.0;
  double down = 0.0;
  const Part* largest = nullptr;
  for (std::size_t k = 0; k < split.diameter.size(); ++k) {
    const Part& part = split.diameter[k];
    if (part.key == "excess-draw" && part.from == 1.0 && part.to == 1.0) continue;
    table.rows.push_back({words_of(part.key), quantity(units[k].second * part.from, units[k].first),
                          quantity(units[k].second * part.to, units[k].first), watched(part.value),
                          percent_change(part.value)});
    (part.value > 0.0 ? up : down) += part.value;
    if (largest == nullptr || std::abs(part.value) > std::abs(largest->value)) largest = &part;
  }
  table.rows.push_back({"together", micrometres(a.line_diameter_m), micrometres(b.line_diameter_m),
                        watched(split.total), percent_change(split.total)});
  prose.blocks.push_back(table);
  if (largest == nullptr || std::abs(largest->value) < 5e-4) {
    text = "No part changes the diameter by more than 0.05 %.";
  } else {
    text = "The " + words_of(largest->key) + " does most: alone it would change the diameter by " +
           percent_change(largest->value) + ".";
    const double smaller = std::min(up, -down);
    if (smaller > 0.1 * std::abs(largest->value)) {
      text += " The parts work against each other: what makes it coarser adds up to " + percent_change(up) +
              ", what makes it finer to " + percent_change(down) + ".";
      if (std::abs(split.total) < 0.3 * smaller)
        text += " They nearly cancel, so that the small change says little of either.";
    } else {
      text += std::abs(largest->value) > 0.9 * std::abs(split.total) ? " It is nearly all of the change."
                                                                     : " The other parts go the same way or are small.";
    }
  }
  prose.blocks.push_back(Paragraph{text});
  const double throughput = split.diameter[0].value;
  const double speed = split.diameter[2].value;
  say_throughput_part(split, throughput, prose);
  if (std::abs(speed) >= 5e-4) {
    prose.blocks.push_back(Heading{"The line-speed part"});
    say_parts(split.line_speed, speed, "Work per kilogram of jet, J/kg, and its part of the change.", "J/kg", 1.0,
              "the line speed", prose);
    double largest_work = 0.0;
    for (const auto& part : split.line_speed) largest_work = std::max(largest_work, std::abs(part.value));
    if (largest_work > 5.0 * std::abs(speed))
      prose.blocks.push_back(
          Paragraph{"Parts here are up to " + quantity(largest_work / std::abs(speed), "1", 2) +
                    " times the whole: large works that all but cancel. Read them together, not one by one."});
  } else {
    prose.blocks.push_back(
        Paragraph{"The line speed hardly changes (" + watched(speed) + "): it is not split further."});
  }
  for (const study::NamedPoint* at : {&report.from, &report.to}) {
    const auto& e = at->point.estimate;
    if (e.tier == "inertial" && e.jet.tension_ratio > 0.3)
      prose.blocks.push_back(
          Paragraph{"At " + at->name + " the pull along the liquid, which this tier leaves out, would reach " +
                    quantity(e.jet.tension_ratio, "1", 2) +
                    " of the momentum flux: the line-speed part may differ in size and sign from what is measured."});
  }
  return prose;
}

}  // namespace whorl::answer
