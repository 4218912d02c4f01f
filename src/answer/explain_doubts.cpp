// The sentences of `whorl explain` about what is uncertain at a point, and which doubt matters.
#include <algorithm>
#include <array>
#include <cmath>

#include "answer/explain_words.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/number_text.hpp"
#include "whorl/model/published_trends.hpp"

namespace whorl::answer {

using namespace words;

void say_doubts(const study::PointReport& report, Prose& prose) {
  const auto& e = report.at.point.estimate;
  prose.blocks.push_back(Heading{"What is not known"});
  struct Doubt {
    const engine::UncertainInput* input;
    double relative_sd, effect;
  };
  std::vector<Doubt> doubts;
  double squares = 0.0;
  std::vector<std::string> without;
  for (const auto& input : report.doubts) {
    const auto row = std::find_if(report.elasticities.rows.begin(), report.elasticities.rows.end(),
                                  [&](const auto& r) { return r.key == input.key; });
    if (row == report.elasticities.rows.end() || !row->made || !row->slopes[kDiameter].known) {
      without.push_back(key_words(input.key));
      continue;
    }
    const double relative = input.spread.sd / std::abs(input.spread.value);
    const double sd = row->absolute ? input.spread.sd : relative;
    const double effect = row->slopes[kDiameter].value * sd;
    doubts.push_back({&input, relative, effect});
    squares += effect * effect;
  }
  std::sort(doubts.begin(), doubts.end(),
            [](const Doubt& a, const Doubt& b) { return std::abs(a.effect) > std::abs(b.effect); });
  ProseTable table{
      "One standard deviation of each uncertain input, and what it does to the diameter by its elasticity.",
      {"input", "kind", "one sd", "diameter", "where the doubt comes from"},
      {},
      true};
  for (const auto& doubt : doubts) {
    if (std::abs(doubt.effect) < 1e-3 || table.rows.size() >= 10) break;
    table.rows.push_back({key_words(doubt.input->key), to_string(doubt.input->kind), percent(doubt.relative_sd),
                          "+-" + percent(std::abs(doubt.effect)), doubt.input->source});
  }
  if (!table.rows.empty()) prose.blocks.push_back(table);
  std::string text;
  if (!doubts.empty() && std::abs(doubts.front().effect) >= 1e-3) {
    text = "The " + key_words(doubts.front().input->key) +
           " leaves most open: one standard deviation moves the diameter by +-" +
           percent(std::abs(doubts.front().effect)) +
           ". All that have a derivative together, taken as independent and linear, leave +-" +
           percent(std::sqrt(squares)) + ".";
    if (std::sqrt(squares) > 0.3)
      text +=
          " That is too much for a linear sum to be more than a guide: 'whorl estimate --uncertainty' and "
          "'--sensitivity' sample it.";
  } else {
    text = diameter_known(report) ? "No uncertain input that has a derivative moves the diameter by more than 0.1 %."
                                  : kNoFibre;
  }
  if (!without.empty() && diameter_known(report))
    text += " Not in this sum, having no two-sided derivative: " + joined(without) + ".";
  prose.blocks.push_back(Paragraph{text});
  text.clear();
  for (const auto& variant : e.air_variants) {
    std::string what = "does not converge";
    if (variant.status == model::Status::done) {
      what = "the jet does not arrive";
      if (variant.reached_collector) {
        what = micrometres(variant.dry_diameter_m);
        if (e.line_diameter_m > 0.0)
          what += " (" + percent_change(std::log(variant.dry_diameter_m / e.line_diameter_m)) + ")";
      }
    }
    text += (text.empty() ? (e.torn ? "If the air is not as assumed, one line: " : "If the air is not as assumed: ")
                          : "; ") +
            variant.text + ": " + what;
  }
  if (!text.empty()) prose.blocks.push_back(Paragraph{text + "."});
  for (const auto& warning : e.warnings)
    prose.blocks.push_back(Paragraph{"Warning (" + warning.code + "): " + warning.text});
  prose.blocks.push_back(
      Paragraph{"Nowhere in the model: start-up of the single jet, neighbouring jets, condensing water" +
                std::string(e.tier == "inertial" ? ", tension along the liquid (tier: tension has it)" : "") +
                ". No elasticity or band above contains them."});
}

void say_sensitivity(const study::PointReport& report, Prose& prose) {
  const study::SensitivityReport& s = *report.sensitivity;
  const auto& inputs = s.indices.inputs;
  prose.blocks.push_back(Heading{"Which doubt matters"});
  prose.blocks.push_back(
      Equation{"S_i = V(E[ln d_f | x_i]) / V(ln d_f),  S_Ti = E(V[ln d_f | all but x_i]) / V(ln d_f)",
               "S_i = \\frac{V(E[\\ln d_\\mathrm{f}\\mid x_i])}{V(\\ln d_\\mathrm{f})},\\qquad S_{\\mathrm{T}i} = "
               "\\frac{E(V[\\ln d_\\mathrm{f}\\mid x_{\\sim i}])}{V(\\ln d_\\mathrm{f})}",
               "sobol"});
  std::string text = std::to_string(s.indices.runs) + " runs: " + std::to_string(s.indices.plan.size()) +
                     " base samples in " + std::to_string(s.indices.plan.replicates) + " scrambled Sobol sets, " +
                     std::to_string(inputs.size()) + " uncertain inputs moved at once over all of their stated range.";
  if (s.indices.not_converged > 0) text += ' ' + std::to_string(s.indices.not_converged) + " runs did not converge.";
  const study::Indices& d = s.indices.results[study::kResultDiameter];
  text += " In " + std::to_string(d.rows_used) + " of " + std::to_string(d.rows) +
          " base samples every run lands as a fibre" +
          (d.rows_used < d.rows ? "; the indices of the diameter are those among them." : ".");
  prose.blocks.push_back(Paragraph{text});
  if (!d.made) {
    prose.blocks.push_back(Paragraph{"No indices of the diameter: " + d.reason + "."});
  } else {
    std::vector<std::size_t> order(inputs.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::sort(order.begin(), order.end(),
              [&](std::size_t a, std::size_t b) { return d.inputs[a].total.value > d.inputs[b].total.value; });
    ProseTable table{"Sobol indices of the logarithm of the dry diameter with half of their 95 % intervals.",
                     {"input", "kind", "first order", "total"},
                     {},
                     false};
    const auto cell = [](const study::Index& index) {
      return decimals_text(index.value, 3) + " ± " + decimals_text(index.half_width, 3);
    };
    std::size_t left_out = 0;
    for (const std::size_t i : order) {
      if (d.inputs[i].total.value < 0.005) {
        ++left_out;
        continue;
      }
      table.rows.push_back(
          {key_words(inputs[i].key), to_string(inputs[i].kind), cell(d.inputs[i].first), cell(d.inputs[i].total)});
    }
    prose.blocks.push_back(table);
    const std::size_t top = order.front();
    text = "The " + key_words(inputs[top].key) + " carries most of the doubt: " + percent(d.inputs[top].total.value) +
           " of the variance would be left if all else were known.";
    double sum = 0.0;
    for (const auto& input : d.inputs) sum += input.first.value;
    text += " The first-order indices add up to " + quantity(sum, "1", 2);
    text += sum > 0.9 ? ": the inputs act nearly each for itself."
                      : ": the rest acts through interactions, and no single measurement removes that.";
    if (left_out > 0) text += ' ' + std::to_string(left_out) + " inputs with a total index below 0.005 are not listed.";
    prose.blocks.push_back(Paragraph{text});
    if (s.measure) {
      const std::size_t i = *s.measure;
      text = "Of what can be measured, the " + key_words(inputs[i].key) +
             " would narrow the estimate most (first order " + cell(d.inputs[i].first) + ", total " +
             cell(d.inputs[i].total) + ").";
      if (s.narrowed.made) {
        text += " The 5 to 95 % band of the diameter spans a factor " + quantity(std::exp(s.narrowed.before), "1") +
                " now and would span a factor " + quantity(std::exp(s.narrowed.after), "1") +
                " on average once it is known exactly (logarithms " + watched(s.narrowed.before) + " and " +
                watched(s.narrowed.after) + " ± " + io::prose_plain(quantity(s.narrowed.after_error, "1", 1)) +
                "): computed by holding it in turn at the middles of " + std::to_string(s.indices.plan.replicates) +
                " equal shares of its distribution and sampling all else, " + std::to_string(s.narrowed.runs) + " runs";
        if (s.narrowed.without_result > 0)
          text += ", " + std::to_string(s.narrowed.without_result) + " of them without a fibre and left out";
        text += ". A real measurement narrows it less, by its own error.";
      } else {
        text += " The narrowed band was not computed: too few of its runs land as a fibre.";
      }
    } else {
      text =
          "No single measurement narrows the estimate: what can be measured has no first-order index above its own "
          "error.";
    }
    prose.blocks.push_back(Paragraph{text});
  }
  const study::Indices& f = s.indices.results[study::kResultFibre];
  if (f.made) {
    std::size_t top = 0;
    for (std::size_t i = 0; i < inputs.size(); ++i)
      if (f.inputs[i].total.value > f.inputs[top].total.value) top = i;
    prose.blocks.push_back(Paragraph{
        "A fibre lands in " + percent(f.mean) + " of the runs that converge; whether it does hangs most on the " +
        key_words(inputs[top].key) + " (total index " + quantity(f.inputs[top].total.value, "1", 2) + ")."});
  } else {
    prose.blocks.push_back(Paragraph{"Whether a fibre lands at all: " +
                                     std::string(f.reason == "does not vary"
                                                     ? (f.mean > 0.5 ? "it does in every run." : "it does in none.")
                                                     : "it does in " + io::prose_plain(percent(f.mean)) +
                                                           " of the runs; no indices, since it " + f.reason + ".")});
  }
}

}  // namespace whorl::answer
