#include "answer/figure_results.hpp"

#include <cmath>
#include <nlohmann/json.hpp>

#include "model/normal.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"

namespace whorl::answer {
namespace {

using Json = nlohmann::ordered_json;

// Whatever is missing or of another type in a result file is one message with its name.
template <typename Function>
auto reading(const std::string& file, const char* written_by, Function&& read) {
  try {
    return read();
  } catch (const Json::exception&) {
    throw InputError(file, "", "a damaged result", std::string("the output of whorl ") + written_by);
  }
}

double finite(const Json& value) {
  const double v = value.get<double>();
  if (!std::isfinite(v)) throw Json::type_error::create(302, "not finite", nullptr);
  return v;
}

// "at most 8 um" as print sets it
std::string printed(std::string text) {
  if (text.size() > 3 && text.compare(text.size() - 3, 3, " um") == 0) text.replace(text.size() - 2, 2, "\u00b5m");
  return text;
}

struct Plane {
  const Json& json;
  std::size_t number{};
};
Plane plane_of(const Json& window) {
  std::size_t number = 0;
  if (window.contains("most_tolerant")) number = window.at("most_tolerant").at("slice").get<std::size_t>();
  return {window.at("slices").at(number), number};
}

std::string about_of(const Json& window, const Plane& plane) {
  std::string about = window.at("case").get<std::string>();
  const Json& further = window.at("further_axes");
  for (std::size_t k = 0; k < further.size(); ++k)
    about += ", " + further[k].at("key").get<std::string>() + " " +
             io::number_text(finite(plane.json.at("levels").at(k)), 4) + " " + further[k].at("unit").get<std::string>();
  return about;
}

// Names and spacing of both axes of the plane, for whichever figure.
template <typename Figure>
void set_axes(Figure& figure, const Json& window) {
  const Json& x = window.at("axes").at(0);
  const Json& y = window.at("axes").at(1);
  figure.x_column = x.at("column").template get<std::string>();
  figure.y_column = y.at("column").template get<std::string>();
  figure.x_quantity = figures::quantified(figure.x_column);
  figure.y_quantity = figures::quantified(figure.y_column);
  figure.x_logarithmic = x.at("spacing") == "log";
  figure.y_logarithmic = y.at("spacing") == "log";
}

std::string wanted_of(const Json& window) {
  std::string text;
  for (const Json& one : window.at("constraints")) {
    if (one.at("key") == "result") continue;
    text += (text.empty() ? "" : ", ") + printed(one.at("text").get<std::string>());
  }
  return text;
}

}  // namespace

namespace {

// The band in which each trial was expected by the law of the others.
void add_left_out(figures::FitFigure& figure, const Json& calibration) {
  if (!calibration.contains("law") || !calibration.at("law").contains("trials")) return;
  std::vector<double> low, high;
  for (const Json& trial : calibration.at("trials")) {
    for (const Json& one : calibration.at("law").at("trials")) {
      if (one.at("name") != trial.at("name") || !one.contains("left_out_sd")) continue;
      const double ln_um = finite(one.at("left_out_ln_diameter_m")) + std::log(1e6);
      const double reach = model::kNormal95 * finite(one.at("left_out_sd"));
      low.push_back(std::exp(ln_um - reach));
      high.push_back(std::exp(ln_um + reach));
      break;
    }
  }
  if (low.size() != figure.measured_um.size()) return;  // of some trials only: no band
  figure.left_out_low_um = std::move(low);
  figure.left_out_high_um = std::move(high);
}

}  // namespace

figures::FitFigure fit_figure(const Json& calibration, const std::string& file) {
  return reading(file, "calibrate -o", [&] {
    if (!calibration.at("converged").get<bool>())
      throw InputError(file, "converged", "a fit that did not converge", "a fit with parameters");
    figures::FitFigure figure;
    for (const Json& trial : calibration.at("trials")) {
      figure.measured_um.push_back(finite(trial.at("measured_um")));
      figure.before_um.push_back(finite(trial.at("before_um")));
      figure.after_um.push_back(finite(trial.at("after_um")));
      figure.log_sd.push_back(finite(trial.at("log_sd")));
      if (!(figure.measured_um.back() > 0.0 && figure.before_um.back() > 0.0 && figure.after_um.back() > 0.0 &&
            figure.log_sd.back() > 0.0))
        throw InputError(file, "trials", "a diameter or standard deviation that is not above zero", "positive numbers");
    }
    if (figure.measured_um.empty()) throw InputError(file, "trials", "none", "one trial or more");
    add_left_out(figure, calibration);
    const std::string of = calibration.at("case").get<std::string>();
    figure.about = of + (of.empty() ? "" : " with ") + calibration.at("data").get<std::string>();
    if (calibration.contains("law")) {
      const std::string misfit = calibration.at("law").value("misfit", "");
      if (!misfit.empty()) figure.about += " (the law does not hold: " + printed(misfit) + ")";
    }
    return figure;
  });
}

figures::WindowFigure window_figure(const Json& window, const std::string& file) {
  return reading(file, "window --json", [&] {
    figures::WindowFigure figure;
    const Plane plane = plane_of(window);
    set_axes(figure, window);
    const Json& x = window.at("axes").at(0);
    const Json& y = window.at("axes").at(1);
    figure.x_from = finite(x.at("from"));
    figure.x_to = finite(x.at("to"));
    figure.y_from = finite(y.at("from"));
    figure.y_to = finite(y.at("to"));
    if (!(figure.x_to > figure.x_from && figure.y_to > figure.y_from) ||
        (figure.x_logarithmic && !(figure.x_from > 0.0)) || (figure.y_logarithmic && !(figure.y_from > 0.0)))
      throw InputError(file, "axes", "a range without width", "from below to");
    for (const Json& ring : plane.json.at("rings")) {
      figures::WindowFigure::Ring out;
      for (const Json& point : ring.at("points")) {
        out.x.push_back(finite(point.at(0)));
        out.y.push_back(finite(point.at(1)));
      }
      out.by = ring.at("by").get<std::vector<std::string>>();
      if (out.by.size() != out.x.size())
        throw InputError(file, "rings", "lists of different length", "as many 'by' as points");
      figure.rings.push_back(std::move(out));
    }
    for (const Json& one : window.at("constraints"))
      figure.constraints.emplace_back(one.at("key").get<std::string>(), printed(one.at("text").get<std::string>()));
    for (const Json& point : plane.json.at("points"))
      figure.runs.emplace_back(finite(point.at("at").at(0)), finite(point.at("at").at(1)));
    for (const Json& trial : window.at("trials")) {
      if (trial.at("slice").get<std::size_t>() != plane.number) continue;
      figure.trials.push_back(
          {finite(trial.at("at").at(0)), finite(trial.at("at").at(1)), trial.at("why").get<std::string>()});
    }
    figure.share = finite(plane.json.at("share"));
    figure.wanted = wanted_of(window);
    figure.about = about_of(window, plane);
    return figure;
  });
}

figures::MapFigure probability_figure(const Json& window, const std::string& file) {
  return reading(file, "window --uncertainty --json", [&] {
    const Plane plane = plane_of(window);
    if (!plane.json.contains("probability"))
      throw InputError(file, "probability", "missing", "the output of whorl window --uncertainty --json");
    figures::MapFigure map;
    set_axes(map, window);
    map.z_column = "probability";
    map.z_quantity = {"Probability", "", ""};
    const Json& grid = plane.json.at("probability");
    const auto columns = grid.at("columns").get<std::size_t>();
    const auto rows = grid.at("rows").get<std::size_t>();
    const Json& nodes = grid.at("nodes");
    if (columns < 2 || rows < 2 || columns > 100000 || rows > 100000 || nodes.size() != columns * rows)
      throw InputError(file, "probability.nodes", std::to_string(nodes.size()), "columns x rows");
    for (std::size_t i = 0; i < nodes.size(); ++i) {
      const Json& at = nodes[i].at("at");
      if (i < columns) map.x.push_back(finite(at.at(0)));
      if (i % columns == 0) map.y.push_back(finite(at.at(1)));
      map.z.push_back(finite(nodes[i].at("probability")));
      map.classes.emplace_back("continuous");  // nothing to hatch: the probability says it
    }
    for (const auto* axis : {&map.x, &map.y})
      for (std::size_t i = 1; i < axis->size(); ++i)
        if (!((*axis)[i] > (*axis)[i - 1]))
          throw InputError(file, "probability.nodes", "positions that do not rise", "row by row, x fastest");
    map.levels = {0.05, 0.25, 0.5, 0.75, 0.95};
    map.about = "of " + wanted_of(window) + ", " + about_of(window, plane);
    return map;
  });
}

}  // namespace whorl::answer
