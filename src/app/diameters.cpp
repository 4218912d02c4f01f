// whorl diameters: what a list of measured diameters says, alone and beside an estimate.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <ostream>

#include "app/commands.hpp"
#include "app/estimate.hpp"
#include "app/page.hpp"
#include "app/provenance.hpp"
#include "app/trial_calibration.hpp"
#include "engine/estimate.hpp"
#include "engine/outcomes.hpp"
#include "engine/run_jets.hpp"
#include "io/diameters.hpp"
#include "io/units.hpp"
#include "model/diameters.hpp"
#include "model/error.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;

constexpr double kClear = 0.05;  // p-value below which a distribution is called off

std::string um(double metres, int digits = 3) { return io::number_text(1e6 * metres, digits); }

// Cumulative share of the fibre length over the dry diameter: the populations of the run, single fibres scattering as they usually do.
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
        share += p.fibre_length_weight * 0.5 * std::erfc(-(x - std::log(p.dry_diameter_m)) / (engine::kSingleFibreSd * std::sqrt(2.0)));
    }
    curve.diameter_m.push_back(std::exp(x));
    curve.share.push_back(share);
  }
  return curve;
}

struct Comparison {
  bool made{};
  std::string reason;
  double model_mean_m{}, model_sd_m{};
  double ratio{};            ///< measured mean / model mean
  double distance{};         ///< Kolmogorov, shapes and position
  double scatter_m{};        ///< measured sd that the run does not explain
  bool two{};                ///< both answers have a diameter
  double prior{};            ///< of torn threads, before this list
  double thread_m{}, line_m{};
  model::PopulationChoice choice;  ///< first: torn threads
};

Comparison compare(const LoadedCase& loaded, const model::DiameterSummary& s, const std::vector<double>& values) {
  Comparison c;
  engine::EstimateOptions options;
  options.band = true;
  const model::Estimate e = calibrated_estimate(loaded, loaded.file.input, options);
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
    constexpr double kZ95 = 1.6448536269514722;
    const double line_sd = e.as_line.high_m > 0.0 ? std::log(e.as_line.high_m / e.line_diameter_m) / kZ95 : std::log(2.0);
    c.two = true;
    c.prior = e.as_threads.probability;
    c.thread_m = e.threads.dry_diameter_m;
    c.line_m = e.line_diameter_m;
    c.choice = model::choose_population(values, c.prior, {c.thread_m, std::log(engine::kThreadBand) / kZ95}, {c.line_m, line_sd});
  }
  return c;
}

std::string shape_text(const model::AndersonDarling& test, const char* name) {
  if (!test.made) return std::string("  ") + name + "            not tested: below 8 measurements, or no spread\n";
  char line[160];
  std::snprintf(line, sizeof line, "  %-18s A* %.3f, p %s: %s\n", name, test.statistic,
                test.p_value < 1e-4 ? "< 0.0001" : io::number_text(test.p_value, 2).c_str(),
                test.p_value < kClear ? "these measurements speak against it" : "nothing here speaks against it");
  return line;
}

void print(std::ostream& out, const io::DiameterList& list, const model::DiameterSummary& s, const Comparison* c, const std::string& case_name) {
  char line[240];
  const auto put = [&](const char* label, const std::string& text) {
    std::snprintf(line, sizeof line, "  %-18s ", label);
    out << line << text << '\n';
  };
  out << list.name << ": " << s.count << " measured diameters" << (list.column.empty() ? "" : ", column \"" + list.column + '"') << ", in "
      << list.unit << "\n\n";
  put("mean", um(s.mean_m, 4) + " um" + (s.count > 1 ? ", sd " + um(s.sd_m) + " um (" + io::number_text(100.0 * s.sd_m / s.mean_m, 2) + " %)" : ""));
  if (s.count > 1) {
    put("mean, 95 %", um(s.mean_95_m.low, 4) + " to " + um(s.mean_95_m.high, 4) + " um");
    put("geometric mean", um(s.geometric_mean_m, 4) + " um x/ " + io::number_text(s.geometric_sd, 3) + "; 95 % " + um(s.geometric_95_m.low, 4) + " to " +
                              um(s.geometric_95_m.high, 4) + " um");
  }
  put("median", um(s.median_m, 4) + " um, quartiles " + um(s.lower_quartile_m) + " and " + um(s.upper_quartile_m) + " um");
  put("range", um(s.least_m) + " to " + um(s.most_m) + " um");
  put("same mass per length", um(s.mass_mean_m, 4) + " um (root of the mean square)");
  out << shape_text(s.normal, "normal") << shape_text(s.lognormal, "log-normal");
  if (s.count > 1) {
    if (s.needed_5_percent <= s.count) {
      put("enough measured?", "for the mean to +- 5 % at 95 %: yes, " + std::to_string(s.needed_5_percent) + " would do with this scatter");
    } else {
      put("enough measured?", "for the mean to +- 5 % at 95 %: no, " + std::to_string(s.needed_5_percent) + " are needed with this scatter");
    }
    out << "                     (if every measurement is of another place of another fibre: neighbours count less)\n";
  }
  const model::Histogram h = model::histogram(list.values_m);
  const std::size_t most = *std::max_element(h.count.begin(), h.count.end());
  if (s.count >= 8) {
    out << '\n';
    for (std::size_t k = 0; k < h.count.size(); ++k) {
      std::snprintf(line, sizeof line, "  %9s to %-9s um %6zu ", um(h.start + static_cast<double>(k) * h.width).c_str(),
                    um(h.start + static_cast<double>(k + 1) * h.width).c_str(), h.count[k]);
      out << line << std::string((h.count[k] * 40 + most - 1) / most, '#') << '\n';
    }
  }
  out << "\n  Taken as weighted by length: a fibre is met in a micrograph, or crosses a line, as often as it is long.\n";
  if (c == nullptr) return;
  out << "\nBESIDE THE ESTIMATE OF " << case_name << '\n';
  if (!c->made) {
    out << "  not compared: " << c->reason << '\n';
    return;
  }
  put("mean over the run", um(c->model_mean_m, 4) + " um, sd " + um(c->model_sd_m) + " um, by fibre length");
  put("measured / model", io::number_text(c->ratio, 3));
  put("largest distance", io::number_text(c->distance, 2) + " between the cumulative curves (Kolmogorov)");
  put("scatter left over", um(c->scatter_m) + " um of the measured " + um(s.sd_m) + " um is not the vessel emptying:");
  out << "                     along the fibre, between orifices, and of the measurement itself\n";
  if (!c->two) return;
  put("torn or unsplit?", "torn threads (" + um(c->thread_m) + " um) " + io::number_text(100.0 * c->choice.probability_first, 3) + " %, one line per orifice (" +
                              um(c->line_m) + " um) " + io::number_text(100.0 * (1.0 - c->choice.probability_first), 3) + " %; before this list " +
                              io::number_text(100.0 * c->prior, 2) + " %");
  put("of the fibres", io::number_text(100.0 * c->choice.share_first, 3) + " % lie nearer to torn threads, the rest to lines");
}

Json interval_json(const model::Interval& i) { return {{"low_um", io::tidy(1e6 * i.low)}, {"high_um", io::tidy(1e6 * i.high)}}; }
Json shape_json(const model::AndersonDarling& t) {
  if (!t.made) return nullptr;
  return {{"anderson_darling", t.statistic}, {"p", t.p_value}};
}

Json as_json(const io::DiameterList& list, const model::DiameterSummary& s, const Comparison* c) {
  Json j = {{"file", list.name}, {"column", list.column}, {"unit", list.unit}, {"count", s.count}};
  j["mean_um"] = io::tidy(1e6 * s.mean_m);
  j["sd_um"] = io::tidy(1e6 * s.sd_m);
  j["geometric_mean_um"] = io::tidy(1e6 * s.geometric_mean_m);
  j["geometric_sd"] = s.geometric_sd;
  j["median_um"] = io::tidy(1e6 * s.median_m);
  j["quartiles_um"] = {io::tidy(1e6 * s.lower_quartile_m), io::tidy(1e6 * s.upper_quartile_m)};
  j["range_um"] = {io::tidy(1e6 * s.least_m), io::tidy(1e6 * s.most_m)};
  j["root_mean_square_um"] = io::tidy(1e6 * s.mass_mean_m);
  if (s.count > 1) {
    j["mean_95"] = interval_json(s.mean_95_m);
    j["geometric_mean_95"] = interval_json(s.geometric_95_m);
    j["needed_for_5_percent"] = s.needed_5_percent;
  }
  j["normal"] = shape_json(s.normal);
  j["lognormal"] = shape_json(s.lognormal);
  const model::Histogram h = model::histogram(list.values_m);
  j["histogram"] = {{"start_um", io::tidy(1e6 * h.start)}, {"width_um", io::tidy(1e6 * h.width)}, {"count", h.count}};
  if (c == nullptr) return j;
  if (!c->made) {
    j["estimate"] = {{"compared", false}, {"reason", c->reason}};
  } else {
    j["estimate"] = {{"compared", true},
                     {"mean_um", io::tidy(1e6 * c->model_mean_m)},
                     {"sd_um", io::tidy(1e6 * c->model_sd_m)},
                     {"measured_over_model", c->ratio},
                     {"kolmogorov_distance", c->distance},
                     {"scatter_left_um", io::tidy(1e6 * c->scatter_m)}};
    if (c->two) {
      j["estimate"]["torn_threads"] = {{"probability", c->choice.probability_first}, {"before", c->prior}, {"share_of_fibres", c->choice.share_first},
                                       {"diameter_um", 1e6 * c->thread_m}, {"line_diameter_um", 1e6 * c->line_m}};
    }
  }
  return j;
}

}  // namespace

int run_diameters(const DiametersArguments& arguments, const Streams& streams) {
  std::optional<LoadedCase> loaded;
  if (!arguments.case_file.empty()) loaded = load_case(arguments.case_file);
  std::vector<Basis> bases;
  if (loaded) bases.push_back(basis_of(*loaded));
  Json all = Json::array();
  bool first = true;
  bool compared = true;
  for (const std::string& path : arguments.lists) {
    const io::DiameterList list = io::read_diameter_file(path, {arguments.unit, arguments.column, arguments.decimal});
    bases.push_back({"list", path.substr(path.rfind('/') + 1), list.digest, {}});
    const model::DiameterSummary summary = model::summarise_diameters(list.values_m);
    std::optional<Comparison> comparison;
    if (loaded) comparison = compare(*loaded, summary, list.values_m);
    if (comparison && !comparison->made) compared = false;
    const Comparison* c = comparison ? &*comparison : nullptr;
    if (arguments.json) {
      all.push_back(as_json(list, summary, c));
    } else {
      if (!first) streams.out << '\n';
      print(Page(streams.out).out(), list, summary, c, loaded ? loaded->file.name : "");
    }
    first = false;
  }
  if (arguments.json) {
    Json json;
    put_provenance(json, bases);
    json["lists"] = all;
    streams.out << json.dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
  } else {
    Page(streams.out).out() << provenance_line(bases);
  }
  return compared ? kDone : kNotMet;
}

}  // namespace whorl::app
