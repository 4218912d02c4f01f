#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>
#include <vector>

#include "figures/figure_legend.hpp"
#include "whorl/io/csv.hpp"

namespace whorl::figures {
namespace {

constexpr std::string_view kUp = "#d55e00";    // Okabe and Ito, vermilion
constexpr std::string_view kDown = "#0072b2";  // blue
constexpr std::string_view kTotal = "#444444";

struct Bin {
  double low, high;
};

// Bins of a round width; about the square root of the number of measurements, at least as fine as the run needs.
std::vector<Bin> round_bins(double low, double high, int wanted, double& step) {
  const double room = 0.08 * std::max(high - low, 0.02 * high);
  step = nice_step(high - low + 2.0 * room, wanted);
  const double first = std::floor((low - room) / step) * step;
  std::vector<Bin> bins;
  for (double edge = first; edge < high + room && bins.size() < 200; edge += step) bins.push_back({edge, edge + step});
  return bins;
}

// Bins of equal width in the logarithm: two populations a factor ten apart both keep their shape.
std::vector<Bin> logarithmic_bins(double low, double high, int wanted) {
  std::vector<Bin> bins;
  const double step = std::log(high / low) / wanted;
  for (int i = 0; i < wanted; ++i) bins.push_back({low * std::exp(i * step), low * std::exp((i + 1) * step)});
  return bins;
}

// Share of the length up to a diameter, single fibres of every moment scattering log-normally.
double scattered_up_to(const DistributionFigure& data, double diameter_um) {
  double total = 0.0;
  double below = 0.0;
  for (std::size_t i = 0; i < data.shares.size(); ++i) {
    total += data.shares[i];
    below += data.shares[i] * 0.5 *
             std::erfc(-std::log(diameter_um / data.diameters_um[i]) / (data.scatter_log_sd * std::sqrt(2.0)));
  }
  return below / total;
}

// Where each bar of a split begins: outer parts add up one behind the other, inner ones from the start of the outer
// part before them.
std::vector<double> bar_starts(const SplitFigure& data) {
  std::vector<double> starts;
  double outer = 0.0;
  double inner = 0.0;
  for (const auto& part : data.parts) {
    starts.push_back(part.inner ? inner : outer);
    if (!part.inner) inner = outer;
    (part.inner ? inner : outer) += part.value;
  }
  return starts;
}

}  // namespace

namespace {

// Range wide enough for the numbers beside the bars.
template <class ValueText>
void widen_for_numbers(const SplitFigure& data, const std::vector<double>& starts, const ValueText& value_text,
                       double font, double plot, double& low, double& high) {
  struct End {
    double at;
    double room;  ///< points, to the left when negative
  };
  std::vector<End> ends;
  const auto note_end = [&](double from, double value) {
    const double room = font * text_width(value_text(value)) + 6.0;
    ends.push_back({from + value, value >= 0.0 ? room : -room});
  };
  for (std::size_t i = 0; i < starts.size(); ++i) note_end(starts[i], data.parts[i].value);
  note_end(0.0, data.total);
  if (high <= low) high = low + 1.0;
  const double bare_low = low;
  const double bare_high = high;
  for (int pass = 0; pass < 60; ++pass) {
    const double per_point = (high - low) / plot;
    double new_low = bare_low - 4.0 * per_point;
    double new_high = bare_high + 4.0 * per_point;
    for (const auto& end : ends) {
      if (end.room > 0.0) new_high = std::max(new_high, end.at + end.room * per_point);
      if (end.room < 0.0) new_low = std::min(new_low, end.at + end.room * per_point);
    }
    if (new_high - new_low > 6.0 * (bare_high - bare_low)) break;
    low = new_low;
    high = new_high;
  }
}

}  // namespace

Figure draw_split(const SplitFigure& data, const FigureFormat& format) {
  if (data.parts.empty()) throw std::invalid_argument("no parts to draw");
  const Canvas paper = canvas(format);  // no structured binding: clang 14 does not capture those in lambdas
  const double width = paper.width;
  const double font = paper.font;
  double low = std::min(0.0, data.total);
  double high = std::max(0.0, data.total);
  double names = font * text_width(data.total_name);
  const std::vector<double> starts = bar_starts(data);
  for (std::size_t i = 0; i < starts.size(); ++i) {
    const auto& part = data.parts[i];
    if (!std::isfinite(part.value)) throw std::domain_error("a part of a change is not finite");
    names = std::max(names, font * (text_width(part.name) + (part.inner ? 1.0 : 0.0)));
    low = std::min({low, starts[i], starts[i] + part.value});
    high = std::max({high, starts[i], starts[i] + part.value});
  }
  const double left = std::min(names + 0.8 * font, 0.5 * width);
  const double right = 0.5 * font;
  const double plot = width - left - right;
  const auto value_text = [](double value) { return (value > 0.0 ? "+" : "") + print_number(value, 3); };
  widen_for_numbers(data, starts, value_text, font, plot, low, high);
  AxisWish wish;
  wish.widen = false;
  wish.ticks = width > 300.0 ? 7 : 4;
  Axis x_axis = make_axis(low, high, wish, data.quantity, "value");
  thin_ticks(x_axis, plot, font, true);
  const double row = 1.75 * font;
  const double top = 2.0;
  const double tall = row * static_cast<double>(data.parts.size() + 1) + 0.4 * font;
  Axis y_axis;
  y_axis.column = "part";
  const Frame frame{snapped({left, top, width - right, top + tall}), x_axis, y_axis};

  SvgPage page(width, format.id);
  page.hatch("less", 45.0, 2.6, {"#ffffff", 0.8, {}});
  FrameParts parts;
  parts.grid_y = false;
  begin_frame(page, frame, parts);
  page.line(frame.px(0.0), frame.box.top, frame.px(0.0), frame.box.bottom, {"#222222", 0.8, {}});
  double y = top + 0.2 * font;
  const auto bar = [&](const std::string& name, double from, double value, std::string_view colour, bool inner_bar) {
    const double middle = y + 0.5 * row;
    const double half = (inner_bar ? 0.34 : 0.5) * row * 0.78;
    const PageBox box{frame.px(std::min(from, from + value)), middle - half, frame.px(std::max(from, from + value)),
                      middle + half};
    page.begin_group("class=\"bar\" data-name=\"" + xml_escaped(name) + "\" data-from=\"" + io::format_number(from) +
                     "\" data-value=\"" + io::format_number(value) + '"');
    page.rectangle(box, {colour, 0.5, {}}, colour);
    // Less is hatched: the sign reads without colour.
    if (value < 0.0 && colour != kTotal) page.rectangle(box, {colour, 0.5, {}}, page.pattern_fill("less"));
    page.end_group();
    page.text(left - 0.5 * font, middle + 0.36 * font, plain_rich(name),
              {font, TextAnchor::end, false, inner_bar ? "#666666" : "#000000", false});
    const std::string text = value_text(value);
    // behind the end of the bar; not across the line of zero, if there is room on the other side
    const double wide = font * text_width(text) + 3.0;
    const bool across = from + value >= 0.0 && box.left - wide < frame.px(0.0);
    const bool to_right = value >= 0.0 || (across && box.right + wide < frame.box.right);
    page.text(to_right ? box.right + 3.0 : box.left - 3.0, middle + 0.36 * font, plain_rich(text),
              {font, to_right ? TextAnchor::start : TextAnchor::end, false, "#000000", true});
    y += row;
  };
  for (std::size_t i = 0; i < starts.size(); ++i) {
    const auto& part = data.parts[i];
    bar(part.name, starts[i], part.value, part.value >= 0.0 ? kUp : kDown, part.inner);
  }
  bar(data.total_name, 0.0, data.total, kTotal, false);
  end_frame(page, frame, font, parts);

  const std::string title = data.title + (data.about.empty() ? std::string() : ": " + data.about);
  const std::string caption = title +
                              ". Each bar begins where the one before it ends; thin bars with grey names split the bar "
                              "above them. Plain: more, hatched: less. Sum " +
                              print_number(data.total, 4) +
                              (data.quantity.unit.empty() ? std::string() : ' ' + plain_unit(data.quantity.unit)) + '.';
  return finished(page, frame.box.bottom + bottom_room(font) + 1.0, title, caption);
}

double share_up_to(const std::vector<double>& diameters_um, const std::vector<double>& shares, double diameter_um) {
  // Moments in order of diameter; each stands for its share round its middle. The ends reach half a step beyond.
  std::vector<std::size_t> order(diameters_um.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(),
            [&](std::size_t a, std::size_t b) { return diameters_um[a] < diameters_um[b]; });
  const std::size_t n = order.size();
  if (n == 0) return 0.0;
  if (n == 1) return diameter_um >= diameters_um[0] ? 1.0 : 0.0;
  double total = 0.0;
  for (const double s : shares) total += s;
  std::vector<double> d;
  std::vector<double> f;
  double before = 0.0;
  const auto at = [&](std::size_t i) { return diameters_um[order[i]]; };
  d.push_back(at(0) - 0.5 * (at(1) - at(0)));
  f.push_back(0.0);
  for (std::size_t i = 0; i < n; ++i) {
    d.push_back(at(i));
    f.push_back((before + 0.5 * shares[order[i]]) / total);
    before += shares[order[i]];
  }
  d.push_back(at(n - 1) + 0.5 * (at(n - 1) - at(n - 2)));
  f.push_back(1.0);
  if (diameter_um <= d.front()) return 0.0;
  if (diameter_um >= d.back()) return 1.0;
  for (std::size_t i = 1; i < d.size(); ++i)
    if (diameter_um <= d[i])
      return d[i] > d[i - 1] ? f[i - 1] + (f[i] - f[i - 1]) * (diameter_um - d[i - 1]) / (d[i] - d[i - 1]) : f[i];
  return 1.0;
}

namespace {

// Title and caption.
std::pair<std::string, std::string> distribution_words(const DistributionFigure& data, double own_low, double own_high,
                                                       double step) {
  const bool scattered = data.scatter_log_sd > 0.0;
  const std::string title = "Diameter over the run" + (data.about.empty() ? std::string() : ": " + data.about);
  std::string caption =
      title + ". Filled: share of the fibre length laid " +
      (data.diameters_um.size() > 1 ? "while the charge runs down, " + print_number(own_low, 3) + " µm to " +
                                          print_number(own_high, 3) + " µm at the computed moments, "
                                    : "all along at " + print_number(own_low, 3) + " µm, ") +
      (scattered ? "with the usual scatter of single fibres." : "without the scatter that any one moment has.");
  if (!data.measured_um.empty())
    caption += " Line: " + std::to_string(data.measured_um.size()) + " measured diameters, each counted once.";
  caption +=
      scattered ? std::string(" Bins of equal width in the logarithm.") : " Bins of " + print_number(step, 3) + " µm.";
  return {title, caption};
}

}  // namespace

namespace {

std::vector<LegendItem> distribution_legend(const DistributionFigure& data) {
  std::vector<LegendItem> legend;
  LegendItem own;
  own.kind = LegendItem::Kind::swatch;
  own.label = plain_rich("over the run, by length");
  own.colour = "#0072b2";
  own.fill = "#9fc6e0";
  legend.push_back(own);
  if (!data.measured_um.empty()) {
    LegendItem other;
    other.label = plain_rich(data.measured_name.empty() ? "measured" : data.measured_name);
    other.colour = "#000000";
    other.width = 1.3;
    legend.push_back(other);
  }
  return legend;
}

}  // namespace

Figure draw_distribution(const DistributionFigure& data, const FigureFormat& format) {
  const std::size_t least = data.scatter_log_sd > 0.0 ? 1 : 2;  // one moment alone has the scatter of single fibres
  if (data.diameters_um.size() < least || data.diameters_um.size() != data.shares.size())
    throw std::invalid_argument("no distribution to draw");
  const Canvas paper = canvas(format);  // no structured binding: clang 14 does not capture those in lambdas
  const double width = paper.width;
  const double font = paper.font;
  double low = *std::min_element(data.diameters_um.begin(), data.diameters_um.end());
  double high = *std::max_element(data.diameters_um.begin(), data.diameters_um.end());
  const double own_low = low;
  const double own_high = high;
  for (const double v : data.measured_um) {
    if (!std::isfinite(v)) throw std::domain_error("a measured diameter is not finite");
    low = std::min(low, v);
    high = std::max(high, v);
  }
  const bool scattered = data.scatter_log_sd > 0.0;
  constexpr double kTails = 2.5;  // standard deviations of ln d drawn beyond the outermost moments
  const int wanted = data.measured_um.empty()
                         ? 12
                         : std::clamp(static_cast<int>(std::sqrt(static_cast<double>(data.measured_um.size()))), 8, 30);
  double step = 0.0;
  std::vector<Bin> bins;
  if (scattered) {
    low = std::min(low, own_low * std::exp(-kTails * data.scatter_log_sd));
    high = std::max(high * 1.001, own_high * std::exp(kTails * data.scatter_log_sd));
    bins = logarithmic_bins(low, high, std::max(wanted, 24));
  } else {
    bins = round_bins(low, high, wanted, step);
  }
  const auto up_to = [&](double d) {
    return scattered ? scattered_up_to(data, d) : share_up_to(data.diameters_um, data.shares, d);
  };
  std::vector<double> model;
  std::vector<double> counted(bins.size(), 0.0);
  for (const auto& bin : bins) model.push_back(up_to(bin.high) - up_to(bin.low));
  for (const double v : data.measured_um)
    for (std::size_t b = 0; b < bins.size(); ++b)
      if (v >= bins[b].low && v < bins[b].high) counted[b] += 1.0 / static_cast<double>(data.measured_um.size());
  double tallest = 0.0;
  for (std::size_t b = 0; b < bins.size(); ++b) tallest = std::max({tallest, model[b], counted[b]});

  AxisWish wish;
  wish.widen = false;
  wish.ticks = width > 300.0 ? 8 : 5;
  wish.logarithmic = scattered;
  Axis x_axis =
      make_axis(bins.front().low, bins.back().high, wish, Quantified{"Dry diameter", "d_f", "um"}, "dry_diameter_um");
  AxisWish share_wish;
  share_wish.from_zero = true;
  Axis y_axis = make_axis(0.0, 100.0 * tallest, share_wish, Quantified{"Share", "", "%"}, "share_percent");

  const std::vector<LegendItem> legend = distribution_legend(data);
  const double legend_tall = legend_height(legend, width - 2.0, font) + 0.4 * font;
  const double top = legend_tall + 0.6 * font;
  double tall = 0.58 * width;
  const double under = bottom_room(font);
  if (format.height_mm) tall = std::max(5.0 * font, *format.height_mm * kPointsPerMm - top - under - 1.0);
  thin_ticks(y_axis, tall, font, false);
  const std::vector<Axis> y_axes{y_axis};
  const double left = left_room(y_axes, font, tall);
  const double right =
      std::max(0.5 * font, x_axis.ticks.empty() ? 0.0 : 0.5 * font * text_width(x_axis.ticks.back().label) + 1.0);
  thin_ticks(x_axis, width - left - right, font, true);
  const Frame frame{snapped({left, top, width - right, top + tall}), x_axis, y_axis};
  SvgPage page(width, format.id);
  FrameParts parts;
  parts.grid_x = false;
  begin_frame(page, frame, parts);
  page.begin_group("class=\"bars\" data-name=\"run\"");
  for (std::size_t b = 0; b < bins.size(); ++b) {
    if (model[b] <= 0.0) continue;
    page.begin_group("class=\"bar\" data-from=\"" + io::format_number(bins[b].low) + "\" data-to=\"" +
                     io::format_number(bins[b].high) + "\" data-value=\"" + io::format_number(model[b]) + '"');
    page.rectangle({frame.px(bins[b].low), frame.py(100.0 * model[b]), frame.px(bins[b].high), frame.box.bottom},
                   {"#0072b2", 0.5, {}}, "#9fc6e0");
    page.end_group();
  }
  page.end_group();
  if (!data.measured_um.empty()) {
    // A step line over the filled bars: both stay readable.
    PathData steps;
    steps.move(frame.px(bins.front().low), frame.box.bottom);
    for (std::size_t b = 0; b < bins.size(); ++b)
      steps.line(frame.px(bins[b].low), frame.py(100.0 * counted[b]))
          .line(frame.px(bins[b].high), frame.py(100.0 * counted[b]));
    steps.line(frame.px(bins.back().high), frame.box.bottom);
    page.path(steps.text(), {"#000000", 1.3, {}}, "none",
              "stroke-linejoin=\"miter\" class=\"series\" data-name=\"measured\"");
  }
  end_frame(page, frame, font, parts);
  draw_legend(page, legend, 1.0, 0.2 * font, width - 2.0, font);

  const auto [title, caption] = distribution_words(data, own_low, own_high, step);
  return finished(page, frame.box.bottom + under + 1.0, title, caption);
}

}  // namespace whorl::figures
