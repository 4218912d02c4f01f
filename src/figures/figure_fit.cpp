#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "figures/figure_legend.hpp"
#include "model/normal.hpp"
#include "whorl/io/csv.hpp"

namespace whorl::figures {
namespace {

constexpr std::string_view kBefore = "#d55e00";  // Okabe and Ito, vermilion
constexpr std::string_view kAfter = "#0072b2";   // blue
constexpr std::string_view kBand = "#bcd9ec";    // the same blue, pale

}  // namespace

// Long: one drawing from the bottom of the page to its top; what is drawn later lies above, so the order is the
// content.
Figure draw_fit(const FitFigure& data, const FigureFormat& format) {
  const std::size_t n = data.measured_um.size();
  if (n == 0) throw std::invalid_argument("no trials to draw");
  if (data.before_um.size() != n || data.after_um.size() != n || data.log_sd.size() != n)
    throw std::invalid_argument("a fit needs a value before and after and a standard deviation for each trial");
  const bool band = !data.left_out_low_um.empty();
  if (band && (data.left_out_low_um.size() != n || data.left_out_high_um.size() != n))
    throw std::invalid_argument("a band needs both ends for each trial");
  const Canvas paper = canvas(format);
  const double width = paper.width;
  const double font = paper.font;
  double low = INFINITY, high = 0.0, farthest = 2.0;
  for (std::size_t i = 0; i < n; ++i) {
    for (const double v : {data.measured_um[i], data.before_um[i], data.after_um[i]}) {
      if (!(v > 0.0) || !std::isfinite(v)) throw std::domain_error("a diameter is not a number above zero");
      low = std::min(low, v);
      high = std::max(high, v);
    }
    const double bar = std::exp(model::kNormal95 * data.log_sd[i]);
    low = std::min(low, data.measured_um[i] / bar);
    high = std::max(high, data.measured_um[i] * bar);
    if (band) {
      if (!(data.left_out_low_um[i] > 0.0) || !std::isfinite(data.left_out_high_um[i]))
        throw std::domain_error("an end of a band is not a number above zero");
      low = std::min(low, data.left_out_low_um[i]);
      high = std::max(high, data.left_out_high_um[i]);
    }
    for (const double v : {data.before_um[i], data.after_um[i]})
      farthest = std::max(farthest, std::abs(std::log(data.measured_um[i] / v)) / data.log_sd[i]);
  }

  std::vector<LegendItem> legend;
  legend.push_back(marker_item("as the case stands", 's', false, kBefore));
  legend.push_back(marker_item("calibrated", 'o', true, kAfter));
  if (band) {
    LegendItem bar;
    bar.label = plain_rich("90 % from the other trials");
    bar.colour = kBand;
    bar.width = 3.0;
    legend.push_back(bar);
  }
  LegendItem equal;
  equal.label = plain_rich("equal; no residual");
  equal.colour = "#444444";
  equal.width = 0.8;
  legend.push_back(equal);
  const double legend_tall = legend_height(legend, width - 2.0, font) + 0.4 * font;

  const bool logarithmic = high > 8.0 * low;
  AxisWish wish;
  wish.logarithmic = logarithmic;
  wish.ticks = width > 300.0 ? 7 : 5;
  Axis x_axis = make_axis(low, high, wish, Quantified{"Measured diameter", "", "um"}, "measured_um");
  Axis upper = make_axis(low, high, wish, Quantified{"Computed diameter", "", "um"}, "computed_um");
  AxisWish even;
  even.ticks = 5;
  Axis lower = make_axis(-farthest, farthest, even, Quantified{"Residual", "", "sd"}, "residual");

  const double under = bottom_room(font);
  const double gap = 1.2 * font;
  double tall = 0.62 * width;
  double small = 0.42 * width;
  const double top = legend_tall + 0.6 * font;
  if (format.height_mm) {
    const double room = std::max(10.0 * font, *format.height_mm * kPointsPerMm - top - under - gap - 1.0);
    tall = 0.6 * room;
    small = room - tall;
  }
  thin_ticks(upper, tall, font, false);
  thin_ticks(lower, small, font, false);
  const std::vector<Axis> y_axes{upper, lower};
  const double left = left_room(y_axes, font, std::min(tall, small));
  const double right =
      std::max(0.5 * font, x_axis.ticks.empty() ? 0.0 : 0.5 * font * text_width(x_axis.ticks.back().label) + 1.0);
  thin_ticks(x_axis, width - left - right, font, true);
  const Frame above{snapped({left, top, width - right, top + tall}), x_axis, upper};
  const Frame below{snapped({left, top + tall + gap, width - right, top + tall + gap + small}), x_axis, lower};

  SvgPage page(width, format.id);
  FrameParts without_x;
  without_x.x_labels = false;
  begin_frame(page, above, without_x);
  page.begin_clip(above.box);
  double inside = 0.0;
  for (std::size_t i = 0; band && i < n; ++i) {
    const double x = above.px(data.measured_um[i]);
    PathData bar;
    bar.move(x, above.py(data.left_out_low_um[i])).line(x, above.py(data.left_out_high_um[i]));
    page.path(bar.text(), {kBand, 3.0, {}}, "none", "class=\"left-out\"");
    const double m = data.measured_um[i];
    if (m >= data.left_out_low_um[i] && m <= data.left_out_high_um[i]) inside += 1.0;
  }
  page.line(above.px(x_axis.low), above.py(x_axis.low), above.px(x_axis.high), above.py(x_axis.high),
            {"#444444", 0.8, {}});
  page.end_group();
  const double size = 0.62 * font;
  for (std::size_t i = 0; i < n; ++i) {
    const double bar = std::exp(model::kNormal95 * data.log_sd[i]);
    const double y = above.py(data.after_um[i]);
    page.line(above.px(data.measured_um[i] / bar), y, above.px(data.measured_um[i] * bar), y, {kAfter, 0.7, {}});
    const std::string measured = "data-measured=\"" + io::format_number(data.measured_um[i]) + '"';
    draw_marker(page, above.px(data.measured_um[i]), above.py(data.before_um[i]), 's', size, kBefore, false,
                "class=\"before\" " + measured + " data-computed=\"" + io::format_number(data.before_um[i]) + '"');
    draw_marker(page, above.px(data.measured_um[i]), y, 'o', size, kAfter, true,
                "class=\"after\" " + measured + " data-computed=\"" + io::format_number(data.after_um[i]) + '"');
  }
  end_frame(page, above, font, without_x);
  begin_frame(page, below, {});
  page.rectangle({below.box.left, below.py(model::kNormal95), below.box.right, below.py(-model::kNormal95)},
                 {"#000000", 0.0, {}},
                 "#eeeeee");
  page.line(below.box.left, below.py(0.0), below.box.right, below.py(0.0), {"#444444", 0.8, {}});
  double outside = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const double x = below.px(data.measured_um[i]);
    const double before = std::log(data.measured_um[i] / data.before_um[i]) / data.log_sd[i];
    const double after = std::log(data.measured_um[i] / data.after_um[i]) / data.log_sd[i];
    if (std::abs(after) > model::kNormal95) outside += 1.0;
    draw_marker(page, x, below.py(before), 's', size, kBefore, false,
                "class=\"residual-before\" data-value=\"" + io::format_number(before) + '"');
    draw_marker(page, x, below.py(after), 'o', size, kAfter, true,
                "class=\"residual-after\" data-value=\"" + io::format_number(after) + '"');
  }
  end_frame(page, below, font, {});
  draw_legend(page, legend, 1.0, 0.2 * font, width - 2.0, font);

  const std::string title =
      "Measured and computed diameters" + (data.about.empty() ? std::string() : ": " + data.about);
  const std::string caption =
      title + ". Above: computed diameter against the measured mean of " + std::to_string(n) +
      (n == 1 ? " trial" : " trials") +
      "; thin bars: 90 % interval of the measured mean, scatter between repeated runs included" +
      (band ? "; pale bars: where each trial was expected (90 %) by the law of the other trials, which " +
                  print_number(inside) + " of " + std::to_string(n) + " meet"
            : std::string()) +
      ". Below: residuals, ln(measured/computed) over that standard deviation (sd); grey: where 90 % of them should "
      "lie (" +
      print_number(outside) + " of " + std::to_string(n) + " calibrated ones lie outside).";
  return finished(page, below.box.bottom + under + 1.0, title, caption);
}

}  // namespace whorl::figures
