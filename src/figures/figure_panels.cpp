#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "figures/figure_legend.hpp"
#include "whorl/io/csv.hpp"

namespace whorl::figures {
namespace {

constexpr std::string_view kMeasured = "#000000";

struct Range {
  double low{INFINITY}, high{-INFINITY};
  void take(double value) {
    if (!std::isfinite(value)) return;
    low = std::min(low, value);
    high = std::max(high, value);
  }
  [[nodiscard]] bool empty() const { return low > high; }
};

Range range_of(const Panel& panel) {
  Range range;
  for (const double v : panel.reach) range.take(v);
  for (const auto& series : panel.series) {
    for (const double v : series.y) range.take(v);
    for (const double v : series.low) range.take(v);
    for (const double v : series.high) range.take(v);
  }
  for (const auto& point : panel.measured) range.take(point.second);
  return range;
}

// The line through the points that have a value; a gap begins a new part.
std::string line_path(const Frame& frame, const Series& series) {
  PathData path;
  bool pen_down = false;
  for (std::size_t i = 0; i < series.x.size(); ++i) {
    if (!std::isfinite(series.y[i]) || !std::isfinite(series.x[i])) {
      pen_down = false;
      continue;
    }
    const double x = frame.px(series.x[i]);
    const double y = frame.py(series.y[i]);
    if (pen_down) {
      path.line(x, y);
    } else {
      path.move(x, y);
    }
    pen_down = true;
  }
  return path.text();
}

// Closed outlines round low and high, one for each stretch that has both.
std::string band_path(const Frame& frame, const Series& series) {
  PathData path;
  const std::size_t n = series.x.size();
  const auto both = [&](std::size_t i) { return std::isfinite(series.low[i]) && std::isfinite(series.high[i]); };
  for (std::size_t i = 0; i < n;) {
    if (!both(i)) {
      ++i;
      continue;
    }
    std::size_t end = i;
    while (end < n && both(end)) ++end;
    path.move(frame.px(series.x[i]), frame.py(series.high[i]));
    for (std::size_t k = i + 1; k < end; ++k) path.line(frame.px(series.x[k]), frame.py(series.high[k]));
    for (std::size_t k = end; k-- > i;) path.line(frame.px(series.x[k]), frame.py(series.low[k]));
    path.close();
    i = end;
  }
  return path.text();
}

}  // namespace

// Long: one drawing from the bottom of the page to its top; what is drawn later lies above, so the order is the
// content.
Figure draw_panels(const PanelFigure& data, const FigureFormat& format) {
  if (data.panels.empty()) throw std::invalid_argument("no panel to draw");
  const Canvas paper = canvas(format);  // no structured binding: clang 14 does not capture those in lambdas
  const double width = paper.width;
  const double font = paper.font;
  Range x_range;
  for (const double v : data.x_reach) x_range.take(v);
  bool measured = false;
  for (const auto& panel : data.panels) {
    for (const auto& point : panel.measured) x_range.take(point.first);
    measured = measured || !panel.measured.empty();
    if (panel.series.size() != data.names.size()) throw std::invalid_argument("every panel needs one series per name");
    for (const auto& series : panel.series) {
      if (series.x.size() != series.y.size() ||
          (!series.low.empty() && (series.low.size() != series.y.size() || series.high.size() != series.y.size())) ||
          (!series.hollow.empty() && series.hollow.size() != series.y.size()))
        throw std::invalid_argument("the columns of a series differ in length");
      for (const double v : series.x) x_range.take(v);
    }
  }
  if (x_range.empty()) throw std::invalid_argument("nothing to draw: the x column has no numbers");

  bool hollow = false;
  bool bands = false;
  for (const auto& panel : data.panels)
    for (const auto& series : panel.series) {
      bands = bands || !series.low.empty();
      for (std::size_t i = 0; i < series.hollow.size(); ++i)
        hollow = hollow || (series.hollow[i] && std::isfinite(series.y[i]));
    }

  std::vector<LegendItem> legend;
  const bool several = data.names.size() > 1;
  if (!data.names_heading.empty()) {
    LegendItem item;
    item.kind = LegendItem::Kind::heading;
    item.label = data.names_heading;
    legend.push_back(item);
  }
  for (std::size_t i = 0; i < data.names.size(); ++i) {
    if (data.names[i].empty()) continue;
    const auto& style = series_style(i);
    LegendItem item;
    item.label = plain_rich(data.names[i]);
    item.colour = style.colour;
    item.dashes = several ? std::string(style.dashes) : std::string();
    item.marker = data.markers ? style.marker : '\0';
    legend.push_back(item);
  }
  if (hollow && !data.hollow_means.empty()) legend.push_back(marker_item(data.hollow_means, 'o', false, "#444444"));
  if (measured) legend.push_back(marker_item("measured", 'd', true, kMeasured));
  if (bands && !data.band_means.empty()) {
    LegendItem item;
    item.kind = LegendItem::Kind::swatch;
    item.label = plain_rich(data.band_means);
    item.colour = "#888888";
    item.fill = "#dddddd";
    legend.push_back(item);
  }

  const std::size_t count = data.panels.size();
  const double legend_tall = legend.empty() ? 0.0 : legend_height(legend, width - 2.0, font) + 0.4 * font;
  const double marks_tall = data.marks.empty() ? 0.0 : 1.35 * font;
  const double top = legend_tall + marks_tall + 0.6 * font;
  const double gap = count > 1 ? 1.25 * font : 0.0;
  const double under = bottom_room(font);
  double panel_height = count == 1 ? 0.62 * width : std::max(7.2 * font, 0.24 * width);
  if (format.height_mm) {
    panel_height = (*format.height_mm * kPointsPerMm - top - under - 1.0 - gap * static_cast<double>(count - 1)) /
                   static_cast<double>(count);
    panel_height = std::max(panel_height, 5.0 * font);
  }

  AxisWish x_wish;
  x_wish.logarithmic = data.x_logarithmic;
  x_wish.widen = false;
  x_wish.ticks = width > 300.0 ? 9 : 5;
  Axis x_axis = make_axis(x_range.low, x_range.high, x_wish, data.x_quantity, data.x_column);
  // Markers at the ends need room.
  if (data.markers) {
    if (x_axis.logarithmic) {
      const double room = std::pow(x_axis.high / x_axis.low, 0.03);
      x_axis.low /= room;
      x_axis.high *= room;
    } else {
      const double room = 0.03 * (x_axis.high - x_axis.low);
      x_axis.low -= room;
      x_axis.high += room;
    }
  }

  std::vector<Axis> y_axes;
  for (const auto& panel : data.panels) {
    Range range = range_of(panel);
    if (range.empty()) range = {0.0, 1.0};
    if (range.low < 0.0 && range.low > -5e-3 * range.high) range.low = 0.0;  // rounding below zero asks for no room
    AxisWish wish;
    wish.ticks = std::clamp(static_cast<int>(panel_height / (2.4 * font)), 2, 7);
    wish.logarithmic = panel.logarithmic.value_or(range.low > 0.0 && range.high / range.low > 20.0);
    if (wish.logarithmic && !(range.low > 0.0)) wish.logarithmic = false;
    // Fractions and other quantities that nearly reach zero start there.
    wish.from_zero = !wish.logarithmic && range.low >= 0.0 && range.low < 0.35 * range.high;
    Axis axis = make_axis(range.low, range.high, wish, panel.quantity, panel.column);
    thin_ticks(axis, panel_height, font, false);
    y_axes.push_back(std::move(axis));
  }
  const double left = left_room(y_axes, font, panel_height + 0.6 * font);
  double right = 0.5 * font;
  if (!x_axis.ticks.empty()) {
    const double last = x_axis.share(x_axis.ticks.back().value);
    const double half = 0.5 * font * text_width(x_axis.ticks.back().label);
    right = std::max(right, half - (1.0 - last) * (width - left) + 1.0);
  }
  thin_ticks(x_axis, width - left - right, font, true);

  SvgPage page(width, format.id);
  double y = top;
  for (std::size_t p = 0; p < count; ++p) {
    const Panel& panel = data.panels[p];
    const Frame frame{snapped({left, y, width - right, y + panel_height}), x_axis, y_axes[p]};
    FrameParts parts;
    parts.x_labels = p + 1 == count;
    begin_frame(page, frame, parts);
    page.begin_clip(frame.box);
    for (std::size_t s = 0; s < panel.series.size(); ++s) {
      const Series& series = panel.series[s];
      if (series.low.empty()) continue;
      page.path(band_path(frame, series), {series_style(s).colour, 0.3, {}}, series_style(s).colour,
                "fill-opacity=\"0.16\" class=\"band\" data-series=\"" + std::to_string(s) + '"');
    }
    for (const auto& mark : data.marks)
      page.line(frame.px(mark.x), frame.box.top, frame.px(mark.x), frame.box.bottom, {"#555555", 0.6, "2 2"});
    for (std::size_t s = 0; s < panel.series.size(); ++s) {
      const Series& series = panel.series[s];
      const auto& style = series_style(s);
      page.path(line_path(frame, series), {style.colour, 1.1, several ? style.dashes : std::string_view()}, "none",
                "stroke-linejoin=\"round\" class=\"series\" data-series=\"" + std::to_string(s) + "\" data-name=\"" +
                    xml_escaped(data.names[s]) + '"');
    }
    page.end_group();
    if (data.markers) {
      for (std::size_t s = 0; s < panel.series.size(); ++s) {
        const Series& series = panel.series[s];
        const auto& style = series_style(s);
        page.begin_group("class=\"points\" data-series=\"" + std::to_string(s) + '"');
        for (std::size_t i = 0; i < series.x.size(); ++i) {
          if (!std::isfinite(series.y[i])) continue;
          const bool filled = series.hollow.empty() || !series.hollow[i];
          draw_marker(page, frame.px(series.x[i]), frame.py(series.y[i]), style.marker, 0.55 * font, style.colour,
                      filled);
        }
        page.end_group();
      }
    }
    for (const auto& [at, value] : panel.measured) {
      draw_marker(page, frame.px(at), frame.py(value), 'd', 0.62 * font, kMeasured, true,
                  "class=\"measured\" data-value=\"" + io::format_number(value) + '"');
    }
    end_frame(page, frame, font, parts);
    y += panel_height + gap;
  }
  const double bottom = y - gap;
  if (!legend.empty()) draw_legend(page, legend, 1.0, 0.2 * font, width - 2.0, font);
  // Marks are named above the first panel, side by side where they would touch.
  std::vector<PanelFigure::Mark> marks = data.marks;
  std::sort(marks.begin(), marks.end(), [](const auto& a, const auto& b) { return a.x < b.x; });
  double free_from = 1.0;
  for (const auto& mark : marks) {
    const double wide = font * text_width(mark.label);
    const double at = left + x_axis.share(mark.x) * (width - right - left);
    double from = std::clamp(at - 0.5 * wide, free_from, std::max(free_from, width - 1.0 - wide));
    if (from + wide > width - 0.5) continue;
    page.text(from, top - 0.35 * font, plain_rich(mark.label), {font, TextAnchor::start, false, "#333333", false});
    free_from = from + wide + 0.6 * font;
  }

  std::string title = data.title;
  if (!data.about.empty()) title += ": " + data.about;
  std::string caption = title + '.';
  if (hollow && !data.hollow_means.empty()) caption += " Hollow markers: " + data.hollow_means + '.';
  if (measured) caption += " Diamonds: measured.";
  if (bands && !data.band_means.empty()) caption += " Shaded: " + data.band_means + '.';
  for (const auto& mark : marks)
    caption +=
        " Dashed line at " + print_number(mark.x, 4) + ' ' + plain_unit(data.x_quantity.unit) + ": " + mark.label + '.';
  return finished(page, bottom + under + 1.0, title, caption);
}

}  // namespace whorl::figures
