// thread_law: the comparison of tests/validation/thread_law.hpp as Markdown tables.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <string>

#include "validation/thread_law.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;
using namespace whorl::validation;

namespace {

std::string signed_text(double value) {
  char text[40];
  std::snprintf(text, sizeof text, "%+.2f", value);
  std::string out = std::strcmp(text + 1, "0.00") == 0 ? "0.00" : text;
  if (out[0] == '-') out.replace(0, 1, "−");
  return out;
}

std::string number_text(double value) {
  char text[40];
  std::snprintf(text, sizeof text, "%.2f", value);
  return text;
}

void print_sizes(const std::vector<Point>& points) {
  std::printf(
      "| law for the dry diameter | studies, rows | model/published | within 2 | within 2.3 | left out: rms of ln d | "
      "held by 1.645 rms of the others |"
      " held by a factor 4 |\n|---|---|---|---|---|---|---|---|\n");
  for (const Law law : kLaws) {
    const SizeScore s = size_score(law, points);
    std::printf("| %s | %d, %d | %.2f | %.0f %% | %.0f %% | %.2f | %.0f %% | %.0f %% |\n", name_of(law), s.studies,
                s.rows, s.ratio, 100.0 * s.within_2, 100.0 * s.within_2_3, s.rms_log, 100.0 * s.holds_own,
                100.0 * s.holds_band);
  }
}

void print_length(const std::vector<Point>& points) {
  // d goes as the square root of the length
  const Fit fit = fit_factor(Law::length, points);
  const double length = 1e6 * model::kThreadLength_m * std::exp(2.0 * fit.log_factor);
  std::printf(
      "| constant in use | fitted to these points | 68 %% | as a factor on the diameter |\n|---|---|---|---|\n");
  std::printf("| %.0f µm | %.1f µm | %.1f to %.1f µm | %.2f (%.2f to %.2f) |\n", 1e6 * model::kThreadLength_m, length,
              length * std::exp(-2.0 * fit.error), length * std::exp(2.0 * fit.error), std::exp(fit.log_factor),
              std::exp(fit.log_factor - fit.error), std::exp(fit.log_factor + fit.error));
}

void print_pooled(const std::vector<Point>& points) {
  std::printf(
      "| knob, up | studies | published, mean of studies | between studies, sd | published, all rows together | %s | "
      "Weber 12 | cascade | one line |\n"
      "|---|---|---|---|---|---|---|---|---|\n",
      name_of(Law::length));
  for (const Knob knob : kKnobs) {
    const Pooled p = pooled(knob, exponents(Law::length, points));
    if (p.studies == 0) continue;
    const Pooled all = over_rows(Law::length, knob, points);
    // one study says nothing of the scatter between studies
    const std::string between = p.studies > 1 ? number_text(p.between) : "–";
    const std::string rows = p.studies > 1 ? signed_text(all.value) + " ± " + number_text(all.error) : "–";
    std::printf("| %s | %d | %s ± %.2f | %s | %s | %s |", name_of(knob), p.studies, signed_text(p.value).c_str(),
                p.error, between.c_str(), rows.c_str(), signed_text(p.model).c_str());
    for (const Law law : {Law::weber, Law::cascade, Law::one_line})
      std::printf(" %s |", signed_text(pooled(knob, exponents(law, points)).model).c_str());
    std::printf("\n");
  }
}

void print_studies(const std::vector<Point>& points) {
  std::printf("| study | knob, up | rows | published | %s | Weber 12 |\n|---|---|---|---|---|---|\n",
              name_of(Law::length));
  const auto length = exponents(Law::length, points);
  const auto weber = exponents(Law::weber, points);
  for (const Knob knob : kKnobs)
    for (std::size_t i = 0; i < length.size(); ++i) {
      const Exponent& e = length[i];
      if (e.knob != knob) continue;
      std::printf("| %s | %s | %d | %s ± %.2f | %s | %s |\n", e.label.c_str(), name_of(e.knob), e.rows,
                  signed_text(e.value).c_str(), e.error, signed_text(e.model).c_str(),
                  signed_text(weber[i].model).c_str());
    }
}

void print_scatter(const std::vector<Point>& points) {
  std::vector<double> of;
  std::vector<std::string> studies;
  for (const Point& p : points) {
    if (!(p.diameter_sd_m > 0.0)) continue;
    of.push_back(p.diameter_sd_m / p.diameter_m);
    if (std::find(studies.begin(), studies.end(), p.study) == studies.end()) studies.push_back(p.study);
  }
  if (of.empty()) return;
  std::sort(of.begin(), of.end());
  const auto share = [&](double s) {
    return of[static_cast<std::size_t>(s * static_cast<double>(of.size() - 1) + 0.5)];
  };
  std::printf(
      "| rows with a spread | studies | standard deviation over mean at one setting: median | middle half "
      "|\n|---|---|---|---|\n");
  std::printf("| %zu | %zu | %.2f | %.2f to %.2f |\n", of.size(), studies.size(), share(0.5), share(0.25), share(0.75));
}

void print_ratios(const std::vector<Point>& points) {
  std::printf(
      "| study | rows | published, µm | %s: model/published | Weber 12 | cascade |\n|---|---|---|---|---|---|\n",
      name_of(Law::length));
  for (std::size_t i = 0; i < points.size(); ++i) {
    std::vector<Point> study;
    for (const Point& p : points)
      if (p.study == points[i].study) study.push_back(p);
    bool first = true;
    for (std::size_t k = 0; k < i; ++k) first = first && points[k].study != points[i].study;
    if (first) {
      double low = 1.0;
      double high = 0.0;
      for (const Point& p : study) {
        low = std::min(low, p.diameter_m);
        high = std::max(high, p.diameter_m);
      }
      const auto ratio = [&](Law law) { return std::exp(-fit_factor(law, study).log_factor); };
      std::printf("| %s | %zu | %.2f to %.2f | %.2f | %.2f | %.2f |\n", study.front().label.c_str(), study.size(),
                  1e6 * low, 1e6 * high, ratio(Law::length), ratio(Law::weber), ratio(Law::cascade));
    }
  }
}

}  // namespace

int main(int count, char** words) {
  std::string table = "all";
  std::string points_file = WHORL_SOURCE_DIR "/tests/reference/gas_spun_diameters.csv";
  std::string liquids_file = WHORL_SOURCE_DIR "/tests/reference/thread_law_liquids.csv";
  for (int i = 1; i < count; ++i) {
    const std::string word = words[i];
    if (word == "--points" && i + 1 < count)
      points_file = words[++i];
    else if (word == "--liquids" && i + 1 < count)
      liquids_file = words[++i];
    else
      table = word;
  }
  try {
    const std::vector<Point> points = read_points(points_file, liquids_file);
    struct Table {
      const char* name;
      void (*print)(const std::vector<Point>&);
    };
    constexpr Table kTables[] = {{"sizes", print_sizes},     {"length", print_length}, {"pooled", print_pooled},
                                 {"studies", print_studies}, {"ratios", print_ratios}, {"scatter", print_scatter}};
    bool found = false;
    for (const Table& t : kTables) {
      if (table != "all" && table != t.name) continue;
      if (found) std::printf("\n");
      t.print(points);
      found = true;
    }
    if (!found) {
      std::fprintf(stderr, "thread_law: no table '%s' (there are sizes, length, pooled, studies, ratios, scatter)\n",
                   table.c_str());
      return 2;
    }
  } catch (const InputError& e) {
    std::fprintf(stderr, "thread_law: %s\n", e.what());
    return 2;
  }
  return 0;
}
