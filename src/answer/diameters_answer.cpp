#include "answer/diameters_answer.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <utility>

#include "answer/estimate_statement.hpp"
#include "model/normal.hpp"
#include "whorl/engine/outcomes.hpp"
#include "whorl/engine/run_jets.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/number_text.hpp"

namespace whorl::answer {
namespace {

using Json = nlohmann::ordered_json;
using document::Data;
using document::fact;
using document::Quantities;
using document::Quantity;
using document::Section;
using document::Sentence;
using document::Table;
using document::Text;
using document::Value;

constexpr double kClear = 0.05;  // p-value below which a distribution is called off

// Cumulative share of the fibre length over the dry diameter: the populations of the run, single fibres scattering as
// they usually do.
struct RunCurve {
  std::vector<double> diameter_m, share;
};
RunCurve run_curve(const model::RunSummary& run) {
  constexpr int kPoints = 81;
  RunCurve curve;
  if (!(run.dry_diameter_min_m > 0.0) || !(run.single_low_m > 0.0)) return curve;
  const double low = std::log(run.dry_diameter_min_m) - 3.0 * engine::kSingleFibreSd;
  const double high = std::log(run.dry_diameter_max_m) + 3.0 * engine::kSingleFibreSd;
  for (int i = 0; i < kPoints; ++i) {
    const double x = low + (high - low) * i / (kPoints - 1);
    double share = 0.0;
    for (const model::RunPoint& p : run.points) {
      if (p.fibre_length_weight > 0.0 && p.dry_diameter_m > 0.0)
        share += p.fibre_length_weight * 0.5 *
                 std::erfc(-(x - std::log(p.dry_diameter_m)) / (engine::kSingleFibreSd * std::sqrt(2.0)));
    }
    curve.diameter_m.push_back(std::exp(x));
    curve.share.push_back(share);
  }
  return curve;
}

/// "4.21 um" beside the number of JSON.
Quantity length(std::string key, Text label, double metres, int digits = 3) {
  return {std::move(key), std::move(label), io::tidy(1e6 * metres), "um", digits};
}
/// For people only.
Quantity words(Text label, std::string text) { return {"", std::move(label), std::move(text)}; }

/// Two numbers of one name: "quartiles_um": [3.9, 4.6].
Data pair_of(const std::string& key, double low_m, double high_m) {
  return {Json{{key, {io::tidy(1e6 * low_m), io::tidy(1e6 * high_m)}}}.dump()};
}
Section interval(std::string key, const model::Interval& i) {
  Section section{{},
                  std::move(key),
                  {Quantities{{fact("low_um", io::tidy(1e6 * i.low)), fact("high_um", io::tidy(1e6 * i.high))}}}};
  section.for_machines = true;
  return section;
}
std::string range_text(const model::Interval& i, int digits = 4) {
  return um(i.low, digits) + " to " + um(i.high, digits) + " um";
}

std::string shape_text(const model::AndersonDarling& test) {
  if (!test.made) return "not tested: below 8 measurements, or no spread";
  return "A* " + decimals_text(test.statistic, 3) + ", p " +
         (test.p_value < 1e-4 ? "< 0.0001" : io::number_text(test.p_value, 2)) + ": " +
         (test.p_value < kClear ? "these measurements speak against it" : "nothing here speaks against it");
}
Data shape_data(const char* key, const model::AndersonDarling& t) {
  return {Json{{key, t.made ? Json{{"anderson_darling", t.statistic}, {"p", t.p_value}} : Json()}}.dump()};
}

Section histogram_of(const io::DiameterList& list, bool shown) {
  const model::Histogram h = model::histogram(list.values_m);
  const std::size_t most = *std::max_element(h.count.begin(), h.count.end());
  Section section{shown ? "How they are spread" : Text()};
  section.blocks.emplace_back(Data{Json{
      {"histogram", {{"start_um", io::tidy(1e6 * h.start)}, {"width_um", io::tidy(1e6 * h.width)}, {"count", h.count}}}}
                                       .dump()});
  if (!shown) return section;
  Table table{"", {}, {{"", "from", "um", 3}, {"", "to", "um", 3}, {"", "fibres"}, {"", "share of the fullest"}}, {}};
  for (std::size_t k = 0; k < h.count.size(); ++k)
    table.rows.push_back({1e6 * (h.start + static_cast<double>(k) * h.width),
                          1e6 * (h.start + static_cast<double>(k + 1) * h.width), static_cast<std::int64_t>(h.count[k]),
                          std::string((h.count[k] * 30 + most - 1) / most, '#')});
  section.blocks.emplace_back(table);
  return section;
}

Section comparison_of(const DiameterComparison& c, const model::DiameterSummary& s, const std::string& case_name) {
  Section section{"Beside the estimate", "estimate"};
  section.blocks.emplace_back(Quantities{{words("of the case", case_name)}});
  if (!c.made) {
    section.blocks.emplace_back(Quantities{{fact("compared", false), {"reason", "not compared", c.reason}}});
    return section;
  }
  Quantities rows{{fact("compared", true),
                   length("mean_um", "mean over the run, by fibre length", c.model_mean_m, 4),
                   length("sd_um", "its sd", c.model_sd_m),
                   {"measured_over_model", "measured / model", c.ratio, "", 3},
                   {"kolmogorov_distance", "largest distance", c.distance, "", 2},
                   length("scatter_left_um", "scatter left over", c.scatter_m)}};
  rows.rows[4].behind = "between the cumulative curves (Kolmogorov)";
  rows.rows[5].behind =
      c.scatter_m > 0.0
          ? "of the measured " + um(s.sd_m) +
                " um is not the vessel emptying: along the fibre, between orifices, and of the measurement itself"
          : "the run alone is estimated to spread by more than the measured " + um(s.sd_m) + " um";
  section.blocks.emplace_back(rows);
  if (!c.two) return section;
  section.blocks.emplace_back(Quantities{
      {words("torn or unsplit?", "torn threads (" + um(c.thread_m) + " um) " + chance_text(c.choice.probability_first) +
                                     ", one line per orifice (" + um(c.line_m) + " um) " +
                                     chance_text(1.0 - c.choice.probability_first) + "; before this list " +
                                     chance_text(c.prior)),
       words("of the fibres", percent(c.choice.share_first, 3) + " lie nearer to torn threads, the rest to lines")}});
  Section torn{{},
               "torn_threads",
               {Quantities{{fact("probability", c.choice.probability_first), fact("before", c.prior),
                            fact("share_of_fibres", c.choice.share_first), fact("diameter_um", 1e6 * c.thread_m),
                            fact("line_diameter_um", 1e6 * c.line_m)}}}};
  torn.for_machines = true;
  section.blocks.emplace_back(torn);
  return section;
}

}  // namespace

DiameterComparison compare_diameters(const model::Estimate& e, const model::DiameterSummary& s,
                                     const std::vector<double>& values) {
  DiameterComparison c;
  if (e.status != model::Status::done) {
    c.reason = "the estimate did not converge: " + e.reason;
    return c;
  }
  const RunCurve curve = run_curve(e.run);
  if (curve.diameter_m.empty()) {
    c.reason = std::string("the estimate has no fibre on the collector (") + model::to_string(e.fibre_class) + ")";
    return c;
  }
  c.made = true;
  c.model_mean_m = e.run.dry_diameter_mean_m;
  c.model_sd_m = e.run.dry_diameter_sd_m;
  c.ratio = s.mean_m / c.model_mean_m;
  c.distance = model::kolmogorov_distance(values, curve.diameter_m, curve.share);
  c.scatter_m = std::sqrt(std::max(0.0, s.sd_m * s.sd_m - std::pow(c.ratio * c.model_sd_m, 2)));
  if (e.threads.predicted && e.line_diameter_m > 0.0) {
    const double line_sd =
        e.as_line.high_m > 0.0 ? std::log(e.as_line.high_m / e.line_diameter_m) / model::kNormal95 : std::log(2.0);
    c.two = true;
    c.prior = e.as_threads.probability;
    c.thread_m = e.threads.dry_diameter_m;
    c.line_m = e.line_diameter_m;
    c.choice = model::choose_population(values, c.prior, {c.thread_m, std::log(engine::kThreadBand) / model::kNormal95},
                                        {c.line_m, line_sd});
  }
  return c;
}

Section diameters_section(const io::DiameterList& list, const model::DiameterSummary& s, const DiameterComparison* c,
                          const std::string& case_name) {
  Section section{list.name + ": " + std::to_string(s.count) + " measured diameters" +
                  (list.column.empty() ? "" : ", column \"" + list.column + '"') + ", in " + list.unit};
  auto& blocks = section.blocks;
  blocks.emplace_back(Quantities{{fact("file", list.name), fact("column", list.column), fact("unit", list.unit),
                                  fact("count", static_cast<std::int64_t>(s.count))}});
  const bool several = s.count > 1;
  const bool spread = s.most_m > s.least_m;  // values that are all alike tell nothing of an interval
  Quantities rows;
  rows.rows.push_back(length("mean_um", "mean", s.mean_m, 4));
  if (spread) rows.rows.push_back(words("its 95 % interval", range_text(s.mean_95_m)));
  rows.rows.push_back(length("sd_um", several ? "sd" : Text(), s.sd_m));
  if (several) rows.rows.back().behind = percent(s.sd_m / s.mean_m, 2) + " of the mean";
  rows.rows.push_back(length("geometric_mean_um", several ? "geometric mean" : Text(), s.geometric_mean_m, 4));
  if (spread) rows.rows.push_back(words("its 95 % interval", range_text(s.geometric_95_m)));
  rows.rows.push_back({"geometric_sd", several ? "geometric sd" : Text(), s.geometric_sd, "", 3});
  if (several) rows.rows.back().behind = "a factor";
  rows.rows.push_back(length("median_um", "median", s.median_m, 4));
  rows.rows.push_back(words("quartiles", um(s.lower_quartile_m) + " and " + um(s.upper_quartile_m) + " um"));
  rows.rows.push_back(words("range", um(s.least_m) + " to " + um(s.most_m) + " um"));
  rows.rows.push_back(length("root_mean_square_um", "same mass per length", s.mass_mean_m, 4));
  rows.rows.back().behind = "root of the mean square";
  blocks.emplace_back(rows);
  blocks.emplace_back(pair_of("quartiles_um", s.lower_quartile_m, s.upper_quartile_m));
  blocks.emplace_back(pair_of("range_um", s.least_m, s.most_m));
  if (spread) {
    blocks.emplace_back(interval("mean_95", s.mean_95_m));
    blocks.emplace_back(interval("geometric_mean_95", s.geometric_95_m));
    blocks.emplace_back(Quantities{{fact("needed_for_5_percent", static_cast<std::int64_t>(s.needed_5_percent))}});
  }
  blocks.emplace_back(shape_data("normal", s.normal));
  blocks.emplace_back(shape_data("lognormal", s.lognormal));
  Quantities judged{{words("normal?", shape_text(s.normal)), words("log-normal?", shape_text(s.lognormal))}};
  if (several && !spread)
    judged.rows.push_back(words("enough measured?", "not told: all values are alike, to the digits of the list"));
  if (spread) {
    const std::string needed = std::to_string(s.needed_5_percent);
    judged.rows.push_back(words(
        "enough measured?", "for the mean to ± 5 % at 95 %: " +
                                (s.needed_5_percent <= s.count ? "yes, " + needed + " would do with this scatter"
                                                               : "no, " + needed + " are needed with this scatter") +
                                " (if every measurement is of another place of another fibre: neighbours count less)"));
  }
  blocks.emplace_back(judged);
  blocks.emplace_back(histogram_of(list, s.count >= 8));
  blocks.emplace_back(Sentence{
      "Taken as weighted by length: a fibre is met in a micrograph, or crosses a line, as often as it is long."});
  if (c != nullptr) blocks.emplace_back(comparison_of(*c, s, case_name));
  return section;
}

}  // namespace whorl::answer
