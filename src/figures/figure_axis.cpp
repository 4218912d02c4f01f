#include "figures/figure_axis.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>

#include "whorl/io/csv.hpp"
#include "whorl/io/units.hpp"

namespace whorl::figures {
namespace {

constexpr std::array kSeries{
    SeriesStyle{"#0072b2", "", 'o'},          // blue
    SeriesStyle{"#d55e00", "5 2", 's'},       // vermilion
    SeriesStyle{"#000000", "1.2 1.6", '^'},   // black
    SeriesStyle{"#009e73", "6 2 1.2 2", 'd'}, // bluish green
    SeriesStyle{"#cc79a7", "3 1.5", 'v'},     // reddish purple
    SeriesStyle{"#e69f00", "8 2 1.2 2 1.2 2", 'x'},  // orange
    SeriesStyle{"#56b4e9", "2 2", 'o'},       // sky blue
};

constexpr std::array<std::array<int, 3>, 6> kYlGnBu{
    {{255, 255, 217}, {237, 248, 177}, {199, 233, 180}, {127, 205, 187}, {65, 182, 196}, {29, 145, 192}}};

constexpr std::string_view kGridColour = "#dddddd";
constexpr std::string_view kInk = "#222222";
constexpr double kTickLength = 3.0;
constexpr double kGap = 2.5;

int hex_digit(char c) { return c <= '9' ? c - '0' : (c | 0x20) - 'a' + 10; }

bool near(double a, double b, double scale) { return std::abs(a - b) <= 1e-9 * scale; }

RichText power_of_ten(int exponent) {
  const std::string digits = std::to_string(std::abs(exponent));
  return {{"10", false, 0}, {(exponent < 0 ? "−" : "") + digits, false, 1}};
}

// Ticks of a logarithmic axis: decades; 1, 2, 5 where there are few decades; round steps where there is less than half
// of one.
void log_ticks(Axis& axis, int wanted) {
  axis.ticks.clear();
  axis.minor.clear();
  const double decades = std::log10(axis.high / axis.low);
  if (decades < 0.7) {
    for (const double value : nice_ticks(axis.low, axis.high, wanted))
      axis.ticks.push_back({value, plain_rich(print_number(value))});
    return;
  }
  const int first = static_cast<int>(std::floor(std::log10(axis.low) - 1e-9));
  const int last = static_cast<int>(std::ceil(std::log10(axis.high) + 1e-9));
  const int stride = std::max(1, static_cast<int>(std::ceil(decades / std::max(2, wanted + 1))));
  const bool powers = axis.high >= 1e5 || axis.low < 1e-3;
  const bool between = decades < 2.0 && wanted >= 3;
  for (int exponent = first; exponent <= last; ++exponent) {
    const double decade = std::pow(10.0, exponent);
    for (int digit = 1; digit < 10; ++digit) {
      const double value = digit * decade;
      if (value < axis.low * (1.0 - 1e-9) || value > axis.high * (1.0 + 1e-9)) continue;
      const bool labelled = digit == 1 ? (exponent % stride == 0) : between && (digit == 2 || digit == 5);
      if (labelled) {
        axis.ticks.push_back({value, powers && digit == 1 ? power_of_ten(exponent) : plain_rich(print_number(value))});
      } else if (stride == 1 || digit == 1) {
        axis.minor.push_back(value);
      }
    }
  }
  if (axis.ticks.size() < 2) {
    axis.ticks.clear();
    for (const double value : nice_ticks(axis.low, axis.high, wanted))
      axis.ticks.push_back({value, plain_rich(print_number(value))});
  }
}

void linear_ticks(Axis& axis, int wanted) {
  axis.ticks.clear();
  const double largest = std::max(std::abs(axis.low), std::abs(axis.high));
  const bool scientific = largest >= 1e6 || largest < 1e-3;
  const int exponent = scientific ? static_cast<int>(std::floor(std::log10(largest))) : 0;
  for (const double value : nice_ticks(axis.low, axis.high, wanted)) {
    if (!scientific || value == 0.0) {
      axis.ticks.push_back({value, plain_rich(print_number(value))});
      continue;
    }
    RichText label = plain_rich(print_number(value / std::pow(10.0, exponent), 6) + "·");
    for (auto& run : power_of_ten(exponent)) label.push_back(run);
    axis.ticks.push_back({value, label});
  }
}

void set_ticks(Axis& axis, int wanted) {
  if (axis.logarithmic) {
    log_ticks(axis, wanted);
  } else {
    linear_ticks(axis, wanted);
  }
}

std::string axis_attributes(const char* name, const Axis& axis, double start, double end) {
  std::string out = std::string(" data-") + name + "=\"" + xml_escaped(axis.column) + "\" data-" + name + "-scale=\"" +
                    (axis.logarithmic ? "log" : "linear") + "\" data-" + name + "-low=\"" +
                    io::format_number(axis.low) + "\" data-" + name + "-high=\"" + io::format_number(axis.high) +
                    "\" data-" + name + "-start=\"" + coordinate(start) + "\" data-" + name + "-end=\"" +
                    coordinate(end) + '"';
  return out;
}

// The label beside the axis on one line, or on two when it is longer than the axis.
std::vector<RichText> label_lines(const Axis& axis, double font, double length) {
  const RichText whole = rich_label(axis.quantity);
  if (text_width(whole) * font <= length || axis.quantity.name.empty()) return {whole};
  const RichText second = rich_quotient(axis.quantity);
  if (second.empty()) return {whole};
  return {plain_rich(axis.quantity.name), second};
}

}  // namespace

const SeriesStyle& series_style(std::size_t index) { return kSeries[index % kSeries.size()]; }
std::size_t series_style_count() { return kSeries.size(); }

std::string sequential_colour(double share) {
  const double at = std::clamp(share, 0.0, 1.0) * static_cast<double>(kYlGnBu.size() - 1);
  const auto lower = std::min(static_cast<std::size_t>(at), kYlGnBu.size() - 2);
  const double part = at - static_cast<double>(lower);
  std::array<unsigned, 3> rgb{};
  for (std::size_t i = 0; i < 3; ++i)
    rgb[i] = static_cast<unsigned>(std::lround((1.0 - part) * kYlGnBu[lower][i] + part * kYlGnBu[lower + 1][i]));
  return fmt::format("#{:02x}{:02x}{:02x}", rgb[0] & 0xffU, rgb[1] & 0xffU, rgb[2] & 0xffU);
}

double relative_luminance(std::string_view colour) {
  double out = 0.0;
  constexpr std::array<double, 3> kWeights{0.2126, 0.7152, 0.0722};
  for (std::size_t i = 0; i < 3; ++i) {
    const double value = (16 * hex_digit(colour[1 + 2 * i]) + hex_digit(colour[2 + 2 * i])) / 255.0;
    out += kWeights[i] * (value <= 0.04045 ? value / 12.92 : std::pow((value + 0.055) / 1.055, 2.4));
  }
  return out;
}

double Axis::share(double value) const {
  if (logarithmic) return std::log(value / low) / std::log(high / low);
  return (value - low) / (high - low);
}

double nice_step(double range, int wanted) {
  const double raw = range / std::max(1, wanted);
  const double power = std::pow(10.0, std::floor(std::log10(raw)));
  const double part = raw / power;
  return (part < 1.5 ? 1.0 : part < 3.5 ? 2.0 : part < 7.5 ? 5.0 : 10.0) * power;
}

std::vector<double> nice_ticks(double low, double high, int wanted) {
  std::vector<double> out;
  const double step = nice_step(high - low, wanted);
  const double first = std::ceil(low / step - 1e-9);
  for (double k = first; k * step <= high + 1e-9 * step && out.size() < 100; k += 1.0) {
    // The decimal number itself, not a product with its noise.
    const double value = io::tidy(k * step);
    out.push_back(value == 0.0 ? 0.0 : value);
  }
  return out;
}

Axis make_axis(double low, double high, const AxisWish& wish, const Quantified& quantity, const std::string& column) {
  if (!std::isfinite(low) || !std::isfinite(high)) throw std::domain_error("the range of an axis is not finite");
  if (low > high) std::swap(low, high);
  if (wish.logarithmic && low <= 0.0) throw std::domain_error("a logarithmic axis needs values above zero");
  if (wish.from_zero && !wish.logarithmic) {
    low = std::min(low, 0.0);
    high = std::max(high, 0.0);
  }
  // A constant: some room on both sides, so that the line is seen as level.
  if (wish.logarithmic) {
    if (high / low < 1.0 + 1e-6) {
      low /= 1.2;
      high *= 1.2;
    }
  } else if (high - low <= 1e-9 * std::max(std::abs(low), std::abs(high)) || high == low) {
    const double half = high == 0.0 ? 1.0 : 0.2 * std::abs(high);
    low -= half;
    high += half;
  }
  Axis axis;
  axis.low = low;
  axis.high = high;
  axis.logarithmic = wish.logarithmic;
  axis.quantity = quantity;
  axis.column = column;
  if (wish.widen) {
    if (wish.logarithmic) {
      // To the next 1, 2 or 5.
      const auto round_out = [](double value, bool up) {
        const double decade = std::pow(10.0, std::floor(std::log10(value) + 1e-9));
        double best = up ? 10.0 * decade : decade;
        for (const double digit : {1.0, 2.0, 5.0}) {
          const double candidate = digit * decade;
          if (up && candidate >= value * (1.0 - 1e-9)) return candidate;
          if (!up && candidate <= value * (1.0 + 1e-9)) best = candidate;
        }
        return best;
      };
      axis.low = round_out(low, false);
      axis.high = round_out(high, true);
      // A line that hugs the frame is not seen.
      if (axis.share(high) > 0.97) axis.high = round_out(axis.high * 1.01, true);
      if (axis.share(low) < 0.03) axis.low = round_out(axis.low * 0.99, false);
    } else {
      const double step = nice_step(high - low, wish.ticks);
      const double bottom = std::floor(low / step + 1e-9) * step;
      const double top = std::ceil(high / step - 1e-9) * step;
      axis.low = near(bottom, 0.0, step) ? 0.0 : bottom;
      axis.high = near(top, 0.0, step) ? 0.0 : top;
      if (axis.share(high) > 0.97 && high != 0.0) axis.high += step;
      if (axis.share(low) < 0.03 && low != 0.0 && !(low > 0.0 && axis.low == 0.0)) axis.low -= step;
    }
  }
  set_ticks(axis, wish.ticks);
  return axis;
}

void thin_ticks(Axis& axis, double length, double font, bool along) {
  const auto collide = [&] {
    for (std::size_t i = 0; i + 1 < axis.ticks.size(); ++i) {
      const double apart = length * std::abs(axis.share(axis.ticks[i + 1].value) - axis.share(axis.ticks[i].value));
      const double need =
          along ? 0.5 * font * (text_width(axis.ticks[i].label) + text_width(axis.ticks[i + 1].label)) + 0.6 * font
                : 1.25 * font;
      if (apart < need) return true;
    }
    return false;
  };
  for (int wanted = static_cast<int>(std::max<std::size_t>(axis.ticks.size(), 2)); wanted > 1 && collide(); --wanted)
    set_ticks(axis, wanted);
  // Nothing round enough: keep every other one until they stand apart.
  while (axis.ticks.size() > 1 && collide()) {
    std::vector<Tick> kept;
    for (std::size_t i = 0; i < axis.ticks.size(); i += 2) kept.push_back(axis.ticks[i]);
    axis.ticks = std::move(kept);
  }
}

double widest_label(const Axis& axis, double font) {
  double width = 0.0;
  for (const auto& tick : axis.ticks) width = std::max(width, font * text_width(tick.label));
  return width;
}

double left_room(std::span<const Axis> axes, double font, double height) {
  double numbers = 0.0;
  std::size_t lines = 1;
  for (const auto& axis : axes) {
    numbers = std::max(numbers, widest_label(axis, font));
    lines = std::max(lines, label_lines(axis, font, height).size());
  }
  return 1.0 + 1.25 * font * static_cast<double>(lines) + kGap + numbers + kGap + kTickLength;
}

double bottom_room(double font) { return kTickLength + (0.4 + kCapHeight + 1.35 + kDescent + 0.08) * font + 1.0; }

PageBox snapped(const PageBox& box) {
  const auto snap = [](double v) { return std::round(100.0 * v) / 100.0; };
  return {snap(box.left), snap(box.top), snap(box.right), snap(box.bottom)};
}

void begin_frame(SvgPage& page, const Frame& frame, const FrameParts& parts) {
  page.begin_group("class=\"frame\"" + axis_attributes("x", frame.x, frame.box.left, frame.box.right) +
                   axis_attributes("y", frame.y, frame.box.bottom, frame.box.top));
  const Stroke grid{kGridColour, 0.4, {}};
  if (parts.grid_x)
    for (const auto& tick : frame.x.ticks)
      page.line(frame.px(tick.value), frame.box.top, frame.px(tick.value), frame.box.bottom, grid);
  if (parts.grid_y)
    for (const auto& tick : frame.y.ticks)
      page.line(frame.box.left, frame.py(tick.value), frame.box.right, frame.py(tick.value), grid);
}

void end_frame(SvgPage& page, const Frame& frame, double font, const FrameParts& parts) {
  const Stroke ink{kInk, 0.6, {}};
  const PageBox& box = frame.box;
  page.rectangle(box, ink);
  for (const auto& tick : frame.x.ticks)
    page.line(frame.px(tick.value), box.bottom, frame.px(tick.value), box.bottom + kTickLength, ink);
  for (const double value : frame.x.minor)
    page.line(frame.px(value), box.bottom, frame.px(value), box.bottom + 0.5 * kTickLength, ink);
  for (const auto& tick : frame.y.ticks)
    page.line(box.left - kTickLength, frame.py(tick.value), box.left, frame.py(tick.value), ink);
  for (const double value : frame.y.minor)
    page.line(box.left - 0.5 * kTickLength, frame.py(value), box.left, frame.py(value), ink);
  if (parts.x_labels) {
    TextStyle numbers{font, TextAnchor::middle, false, "#000000", false};
    const double base = box.bottom + kTickLength + (0.4 + kCapHeight) * font;
    for (const auto& tick : frame.x.ticks) {
      const double half = 0.5 * font * text_width(tick.label);
      const double at = frame.px(tick.value);
      if (at - half >= 0.0 && at + half <= page.width()) page.text(at, base, tick.label, numbers);
    }
    // Under the middle of the axis, or as near to it as the page allows.
    const RichText label = rich_label(frame.x.quantity);
    const double half = 0.5 * font * text_width(label) + 1.0;
    double middle = std::min(0.5 * (box.left + box.right), page.width() - half);
    middle = std::max(middle, half);
    page.text(middle, base + 1.35 * font, label, numbers);
  }
  TextStyle numbers{font, TextAnchor::end, false, "#000000", false};
  for (const auto& tick : frame.y.ticks)
    page.text(box.left - kTickLength - kGap, frame.py(tick.value) + 0.36 * font, tick.label, numbers);
  const double height = box.bottom - box.top;
  const auto lines = label_lines(frame.y, font, height + 0.6 * font);
  TextStyle label{font, TextAnchor::middle, true, "#000000", false};
  double x = 1.0 + kAscent * font;
  for (const auto& line : lines) {
    page.text(x, 0.5 * (box.top + box.bottom), line, label);
    x += 1.25 * font;
  }
  page.end_group();
}

void draw_marker(SvgPage& page, double x, double y, char shape, double size, std::string_view colour, bool filled,
                 std::string_view attributes) {
  const std::string_view fill = filled ? colour : std::string_view("#ffffff");
  const Stroke stroke{colour, 0.7, {}};
  const double r = 0.5 * size;
  PathData p;
  switch (shape) {
    case 's': p.move(x - r, y - r).line(x + r, y - r).line(x + r, y + r).line(x - r, y + r).close(); break;
    case '^': p.move(x, y - 1.2 * r).line(x + 1.1 * r, y + 0.8 * r).line(x - 1.1 * r, y + 0.8 * r).close(); break;
    case 'v': p.move(x, y + 1.2 * r).line(x + 1.1 * r, y - 0.8 * r).line(x - 1.1 * r, y - 0.8 * r).close(); break;
    case 'd': p.move(x, y - 1.3 * r).line(x + 1.3 * r, y).line(x, y + 1.3 * r).line(x - 1.3 * r, y).close(); break;
    case 'x':
      p.move(x - r, y - r).line(x + r, y + r).move(x - r, y + r).line(x + r, y - r);
      page.path(p.text(), Stroke{colour, filled ? 1.3 : 0.8, {}}, "none", attributes);
      return;
    default: page.circle(x, y, r, stroke, fill, attributes); return;
  }
  page.path(p.text(), stroke, fill, attributes);
}

Frame plane_frame(const PlaneSide& x, const PlaneSide& y, double width, double font, double top, double tall) {
  AxisWish wish;
  wish.widen = false;
  wish.ticks = width > 300.0 ? 8 : 5;
  wish.logarithmic = x.logarithmic;
  Axis x_axis = make_axis(x.from, x.to, wish, x.quantity, x.column);
  wish.logarithmic = y.logarithmic;
  wish.ticks = 6;
  Axis y_axis = make_axis(y.from, y.to, wish, y.quantity, y.column);
  thin_ticks(y_axis, tall, font, false);
  const std::vector<Axis> y_axes{y_axis};
  const double left = left_room(y_axes, font, tall + 0.6 * font);
  double right = 0.5 * font;
  if (!x_axis.ticks.empty())
    right = std::max(right, 0.5 * font * text_width(x_axis.ticks.back().label) -
                                (1.0 - x_axis.share(x_axis.ticks.back().value)) * (width - left) + 1.0);
  thin_ticks(x_axis, width - left - right, font, true);
  return {snapped({left, top, width - right, top + tall}), x_axis, y_axis};
}

}  // namespace whorl::figures
