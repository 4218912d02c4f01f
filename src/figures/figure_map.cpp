#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <stdexcept>

#include "figures/contour.hpp"
#include "figures/figure_legend.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/units.hpp"

namespace whorl::figures {
namespace {

// Classes that end nowhere near a good fibre come last. Regions are drawn as nested outlines "this rank or more", so
// that no gap is left where three classes meet.
struct ClassLook {
  std::string_view word;
  std::string_view pattern;
};
constexpr std::array kClasses{ClassLook{"continuous", ""},     ClassLook{"beaded", "beaded"},
                              ClassLook{"wet-landing", "wet"}, ClassLook{"drops", "drops"},
                              ClassLook{"stalled", "stalled"}, ClassLook{"dripping", "dripping"},
                              ClassLook{"no-jet", "no-jet"},   ClassLook{"no result", "none"}};

std::size_t rank_of(const std::string& word) {
  const auto found =
      std::find_if(kClasses.begin(), kClasses.end(), [&](const ClassLook& look) { return look.word == word; });
  return found == kClasses.end() ? kClasses.size() - 1 : static_cast<std::size_t>(found - kClasses.begin());
}

void define_patterns(SvgPage& page) {
  constexpr std::string_view kDark = "#333333";
  page.dots("beaded", 4.5, 0.7, kDark);
  page.hatch("wet", 45.0, 5.0, {kDark, 0.5, {}});
  page.hatch("drops", -45.0, 3.2, {kDark, 0.5, {}});
  page.hatch("stalled", 0.0, 3.2, {kDark, 0.5, {}});
  page.hatch("dripping", 90.0, 3.2, {kDark, 0.5, {}});
  page.hatch("no-jet", 60.0, 2.2, {kDark, 0.7, {}});
  page.hatch("none", 0.0, 1.6, {"#777777", 1.0, {}});
}

std::string outline(const std::vector<ContourLine>& lines, const Frame& frame) {
  PathData path;
  const double wide = frame.box.right - frame.box.left;
  const double tall = frame.box.bottom - frame.box.top;
  for (const auto& line : lines) {
    for (std::size_t i = 0; i < line.size(); ++i) {
      const double x = frame.box.left + line[i].x * wide;
      const double y = frame.box.bottom - line[i].y * tall;
      if (i == 0) {
        path.move(x, y);
      } else {
        path.line(x, y);
      }
    }
  }
  return path.text();
}

// Values for crossings without one, from the mean of neighbours that have one: they only serve to carry bands and lines
// on to the boundary of the region, which is drawn half-way, and are never seen beyond it.
std::vector<double> filled_in(const std::vector<double>& z, std::size_t columns) {
  std::vector<double> out = z;
  const std::size_t rows = z.size() / columns;
  for (bool missing = true; missing;) {
    missing = false;
    bool progress = false;
    std::vector<double> next = out;
    for (std::size_t r = 0; r < rows; ++r)
      for (std::size_t c = 0; c < columns; ++c) {
        if (std::isfinite(out[r * columns + c])) continue;
        double sum = 0.0;
        int count = 0;
        for (int dr = -1; dr <= 1; ++dr)
          for (int dc = -1; dc <= 1; ++dc) {
            const auto rr = static_cast<std::ptrdiff_t>(r) + dr;
            const auto cc = static_cast<std::ptrdiff_t>(c) + dc;
            if (rr < 0 || cc < 0 || rr >= static_cast<std::ptrdiff_t>(rows) ||
                cc >= static_cast<std::ptrdiff_t>(columns))
              continue;
            const double value = out[static_cast<std::size_t>(rr) * columns + static_cast<std::size_t>(cc)];
            if (!std::isfinite(value)) continue;
            sum += value;
            ++count;
          }
        if (count > 0) {
          next[r * columns + c] = sum / count;
          progress = true;
        } else {
          missing = true;
        }
      }
    out = std::move(next);
    if (!progress) break;
  }
  return out;
}

bool overlap(const PageBox& a, const PageBox& b) {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}

}  // namespace

std::vector<double> map_levels(const std::vector<double>& values, std::size_t wanted) {
  double low = INFINITY;
  double high = -INFINITY;
  for (const double v : values) {
    if (!std::isfinite(v)) continue;
    low = std::min(low, v);
    high = std::max(high, v);
  }
  if (!(high > low)) return {};
  std::vector<double> out;
  if (low > 0.0 && high / low > 12.0) {
    // 1, 2, 5 steps
    for (int exponent = static_cast<int>(std::floor(std::log10(low)));
         exponent <= static_cast<int>(std::ceil(std::log10(high))); ++exponent)
      for (const double digit : {1.0, 2.0, 5.0})
        if (const double level = io::tidy(digit * std::pow(10.0, exponent)); level > low && level < high)
          out.push_back(level);
    if (out.size() <= wanted + 3) return out;
    std::vector<double> decades;
    for (const double level : out)
      if (std::abs(std::log10(level) - std::round(std::log10(level))) < 1e-9) decades.push_back(level);
    return decades;
  }
  for (const double level : nice_ticks(low, high, static_cast<int>(wanted)))
    if (level > low && level < high) out.push_back(level);
  return out;
}

// Long: one drawing from the bottom of the page to its top; what is drawn later lies above, so the order is the
// content.
Figure draw_map(const MapFigure& data, const FigureFormat& format) {
  const std::size_t columns = data.x.size();
  const std::size_t rows = data.y.size();
  if (columns < 2 || rows < 2) throw std::invalid_argument("a map needs two values or more on each axis");
  if (data.z.size() != columns * rows || data.classes.size() != columns * rows)
    throw std::invalid_argument("a map needs one value and one class at each crossing");
  const Canvas paper = canvas(format);  // no structured binding: clang 14 does not capture those in lambdas
  const double width = paper.width;
  const double font = paper.font;

  std::vector<std::size_t> ranks;
  for (const auto& word : data.classes) ranks.push_back(rank_of(word));
  const bool any = std::any_of(data.z.begin(), data.z.end(), [](double v) { return std::isfinite(v); });
  const std::vector<double> levels = data.levels.empty() ? map_levels(data.z, 6) : data.levels;
  const std::size_t bands = levels.size() + 1;
  // Of diameters the finest are looked for: they are not to be the palest.
  const bool finest_darkest = data.z_column.find("diameter") != std::string::npos;
  const auto colour_of = [&](std::size_t band) {
    const double share = bands < 2 ? 0.3 : static_cast<double>(band) / static_cast<double>(bands - 1);
    return sequential_colour(finest_darkest ? 1.0 - share : share);
  };
  const auto band_of = [&](double value) {
    return static_cast<std::size_t>(std::upper_bound(levels.begin(), levels.end(), value) - levels.begin());
  };

  std::vector<LegendItem> legend;
  for (std::size_t rank = 1; rank < kClasses.size(); ++rank) {
    if (std::find(ranks.begin(), ranks.end(), rank) == ranks.end()) continue;
    LegendItem item;
    item.kind = LegendItem::Kind::swatch;
    item.label = plain_rich(std::string(kClasses[rank].word));
    item.colour = "#333333";
    item.fill = "@" + std::string(kClasses[rank].pattern);
    legend.push_back(item);
  }
  if (!data.measured.empty()) legend.push_back(marker_item("measured", 'o', false));
  if (data.marked) legend.push_back(marker_item("the case", 'x'));

  const double bar_tall = any && !levels.empty() ? 1.5 * font + 0.7 * font + 1.6 * font : 0.0;
  const double top = bar_tall + 0.6 * font;
  const double under = bottom_room(font);
  const double legend_tall = legend.empty() ? 0.0 : legend_height(legend, width - 2.0, font) + 0.5 * font;
  double tall = 0.66 * width;
  if (format.height_mm) tall = std::max(5.0 * font, *format.height_mm * kPointsPerMm - top - under - legend_tall - 1.0);
  const Frame frame = plane_frame({data.x.front(), data.x.back(), data.x_logarithmic, data.x_quantity, data.x_column},
                                  {data.y.front(), data.y.back(), data.y_logarithmic, data.y_quantity, data.y_column},
                                  width, font, top, tall);
  const Axis& x_axis = frame.x;
  const Axis& y_axis = frame.y;
  const double left = frame.box.left;

  SvgPage page(width, format.id);
  define_patterns(page);
  FrameParts parts;
  parts.grid_x = parts.grid_y = false;
  begin_frame(page, frame, parts);

  // Everything below is in shares of the axes.
  GridField field;
  for (const double v : data.x) field.x.push_back(x_axis.share(v));
  for (const double v : data.y) field.y.push_back(y_axis.share(v));
  const auto region_where = [&](const std::function<bool(std::size_t)>& holds) {
    field.values.assign(columns * rows, 0.0);
    for (std::size_t i = 0; i < field.values.size(); ++i) field.values[i] = holds(i) ? 1.0 : 0.0;
    return outline(iso_region(field, 0.5), frame);
  };
  const std::string valued = region_where([&](std::size_t i) { return std::isfinite(data.z[i]); });
  std::vector<PageBox> taken;  // labels keep clear of measured points and of the case, too
  const auto keep_clear = [&](double x, double y, double half) {
    taken.push_back({frame.px(x) - half, frame.py(y) - half, frame.px(x) + half, frame.py(y) + half});
  };
  for (const auto& point : data.measured)
    if (std::isfinite(point.x) && std::isfinite(point.y)) keep_clear(point.x, point.y, 0.45 * font);
  if (data.marked) keep_clear(data.marked->x, data.marked->y, 0.5 * font);
  struct Label {
    double x, y;
    std::string text;
  };
  std::vector<Label> labels;
  if (any && !valued.empty()) {
    field.values = filled_in(data.z, columns);
    page.begin_clip(valued);
    page.path(valued, {"#000000", 0.0, {}}, colour_of(0), "class=\"band\"");
    for (std::size_t i = 0; i < levels.size(); ++i)
      page.path(outline(iso_region(field, levels[i]), frame), {"#000000", 0.0, {}}, colour_of(i + 1), "class=\"band\"");
    for (const double level : levels) {
      const auto lines = iso_lines(field, level);
      page.path(outline(lines, frame), {"#333333", 0.7, {}}, "none",
                "stroke-linejoin=\"round\" class=\"iso-line\" data-level=\"" + io::format_number(level) + '"');
      // One label on the longest line, where it is inside the region of values and clear of the others.
      const ContourLine* longest = nullptr;
      double best = 0.0;
      const double wide = frame.box.right - frame.box.left;
      const auto length_of = [&](const ContourLine& line) {
        double length = 0.0;
        for (std::size_t k = 1; k < line.size(); ++k)
          length += std::hypot((line[k].x - line[k - 1].x) * wide, (line[k].y - line[k - 1].y) * tall);
        return length;
      };
      for (const auto& line : lines)
        if (const double length = length_of(line); length > best) {
          best = length;
          longest = &line;
        }
      if (longest == nullptr || best < 3.0 * font) continue;
      const std::string text = print_number(level, 4);
      const double half = 0.5 * font * text_width(text);
      for (const double share : {0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8}) {
        double walked = 0.0;
        ContourPoint at = longest->front();
        for (std::size_t k = 1; k < longest->size(); ++k) {
          const auto& a = (*longest)[k - 1];
          const auto& b = (*longest)[k];
          const double step = std::hypot((b.x - a.x) * wide, (b.y - a.y) * tall);
          if (walked + step >= share * best) {
            const double part = step > 0.0 ? (share * best - walked) / step : 0.0;
            at = {a.x + part * (b.x - a.x), a.y + part * (b.y - a.y)};
            break;
          }
          walked += step;
        }
        const double x = frame.box.left + at.x * wide;
        const double y = frame.box.bottom - at.y * tall;
        const PageBox box{x - half - 2.0, y - 0.5 * font - 1.0, x + half + 2.0, y + 0.5 * font + 1.0};
        if (box.left < frame.box.left + 2.0 || box.right > frame.box.right - 2.0 || box.top < frame.box.top + 2.0 ||
            box.bottom > frame.box.bottom - 2.0)
          continue;
        // nearest crossing must have a value
        const auto nearest = [](const std::vector<double>& axis, double v) {
          std::size_t k = 0;
          for (std::size_t i = 1; i < axis.size(); ++i)
            if (std::abs(axis[i] - v) < std::abs(axis[k] - v)) k = i;
          return k;
        };
        if (!std::isfinite(data.z[nearest(field.y, at.y) * columns + nearest(field.x, at.x)])) continue;
        if (std::any_of(taken.begin(), taken.end(), [&](const PageBox& other) { return overlap(box, other); }))
          continue;
        taken.push_back(box);
        labels.push_back({x, y + 0.36 * font, text});
        break;
      }
    }
    page.end_group();
  }
  // Hatching of each class, from its outline "rank or more" to that of the next.
  for (std::size_t rank = 1; rank < kClasses.size(); ++rank) {
    if (std::find(ranks.begin(), ranks.end(), rank) == ranks.end()) continue;
    const std::string from = region_where([&](std::size_t i) { return ranks[i] >= rank; });
    const std::string beyond = region_where([&](std::size_t i) { return ranks[i] > rank; });
    const bool without = std::any_of(ranks.begin(), ranks.end(), [&](std::size_t) { return true; }) &&
                         std::none_of(data.z.begin(), data.z.end(), [&, i = std::size_t{0}](double v) mutable {
                           return ranks[i++] == rank && std::isfinite(v);
                         });
    if (without) page.path(from + beyond, {"#000000", 0.0, {}}, "#f2f2f2");
    page.path(from + beyond, {"#000000", 0.0, {}}, page.pattern_fill(kClasses[rank].pattern),
              "class=\"class-region\" data-class=\"" + std::string(kClasses[rank].word) + '"');
    page.path(from, {"#333333", 0.8, {}}, "none");
  }
  for (const auto& label : labels)
    page.text(label.x, label.y, plain_rich(label.text), {font, TextAnchor::middle, false, "#000000", true});
  // The computed points, small.
  page.begin_group("class=\"grid-points\" fill=\"#333333\"");
  for (std::size_t r = 0; r < rows; ++r)
    for (std::size_t c = 0; c < columns; ++c) {
      const std::size_t i = r * columns + c;
      page.circle(frame.px(data.x[c]), frame.py(data.y[r]), 0.55, {"#333333", 0.0, {}}, "#333333",
                  "data-z=\"" + io::format_number(data.z[i]) + "\" data-class=\"" + xml_escaped(data.classes[i]) + '"');
    }
  page.end_group();
  std::size_t outside = 0;
  for (const auto& point : data.measured) {
    const bool inside =
        point.x >= x_axis.low && point.x <= x_axis.high && point.y >= y_axis.low && point.y <= y_axis.high;
    if (!inside) {
      ++outside;
      continue;
    }
    const double x = frame.px(point.x);
    const double y = frame.py(point.y);
    const bool known = std::isfinite(point.z);
    page.circle(x, y, 0.36 * font, {"#000000", 1.1, {}},
                known && !levels.empty() ? colour_of(band_of(point.z)) : "#ffffff",
                "class=\"measured\" data-z=\"" + io::format_number(point.z) + '"');
    if (!known) continue;
    const std::string text = print_number(point.z, 3);
    const double wide = font * text_width(text);
    for (const auto& [dx, dy] : {std::pair{0.6 * font, 0.36 * font}, std::pair{-0.6 * font - wide, 0.36 * font},
                                 std::pair{-0.5 * wide, -0.6 * font}, std::pair{-0.5 * wide, 1.3 * font}}) {
      const PageBox box{x + dx - 1.0, y + dy - kAscent * font, x + dx + wide + 1.0, y + dy + kDescent * font};
      if (box.left < frame.box.left + 1.0 || box.right > frame.box.right - 1.0 || box.top < frame.box.top + 1.0 ||
          box.bottom > frame.box.bottom - 1.0)
        continue;
      if (std::any_of(taken.begin(), taken.end(), [&](const PageBox& other) { return overlap(box, other); })) continue;
      taken.push_back(box);
      page.text(x + dx, y + dy, plain_rich(text), {font, TextAnchor::start, false, "#000000", true});
      break;
    }
  }
  if (data.marked && data.marked->x >= x_axis.low && data.marked->x <= x_axis.high && data.marked->y >= y_axis.low &&
      data.marked->y <= y_axis.high) {
    const double x = frame.px(data.marked->x);
    const double y = frame.py(data.marked->y);
    page.circle(x, y, 0.5 * font, {"#ffffff", 0.0, {}}, "#ffffff", "fill-opacity=\"0.75\"");
    draw_marker(page, x, y, 'x', 0.6 * font, "#000000", true, "class=\"the-case\"");
  }
  end_frame(page, frame, font, parts);

  // Colour key above: equal boxes, levels written under their borders.
  if (bar_tall > 0.0) {
    page.text(left, kCapHeight * font + 1.0, rich_label(data.z_quantity),
              {font, TextAnchor::start, false, "#000000", false});
    const double bar_top = 1.45 * font;
    const double bar_bottom = bar_top + 0.7 * font;
    const double wide = (frame.box.right - frame.box.left) / static_cast<double>(bands);
    page.begin_group("class=\"colour-key\"");
    for (std::size_t b = 0; b < bands; ++b)
      page.rectangle(
          {left + wide * static_cast<double>(b), bar_top, left + wide * static_cast<double>(b + 1), bar_bottom},
          {"#333333", 0.4, {}}, colour_of(b));
    double free_from = 0.0;
    for (std::size_t i = 0; i < levels.size(); ++i) {
      const double x = left + wide * static_cast<double>(i + 1);
      const std::string text = print_number(levels[i], 4);
      const double half = 0.5 * font * text_width(text);
      if (x - half < free_from) continue;
      page.text(x, bar_bottom + 1.05 * font, plain_rich(text), {font, TextAnchor::middle, false, "#000000", false});
      free_from = x + half + 0.4 * font;
    }
    page.end_group();
  }
  for (auto& item : legend)
    if (!item.fill.empty() && item.fill.front() == '@') item.fill = page.pattern_fill(item.fill.substr(1));
  const double below = frame.box.bottom + under;
  if (!legend.empty()) draw_legend(page, legend, 1.0, below + 0.5 * font, width - 2.0, font);

  const std::string title = data.z_quantity.name + " over " + caption_label(data.x_quantity) + " and " +
                            caption_label(data.y_quantity) + (data.about.empty() ? std::string() : ": " + data.about);
  std::string caption =
      title + ". Dots: the " + std::to_string(columns * rows) +
      " computed points; values between them are interpolated, and borders between classes are drawn half-way.";
  std::string hatched;
  for (std::size_t rank = 1; rank < kClasses.size(); ++rank)
    if (std::find(ranks.begin(), ranks.end(), rank) != ranks.end())
      hatched += (hatched.empty() ? "" : ", ") + std::string(kClasses[rank].word);
  if (!hatched.empty()) caption += " Hatched: " + hatched + ".";
  if (!data.measured.empty()) {
    caption += " Circles: measured, filled in the colour of their value.";
    if (outside > 0)
      caption +=
          ' ' + std::to_string(outside) + " measured point" + (outside == 1 ? " lies" : "s lie") + " outside the map.";
  }
  if (data.marked) caption += " Cross: the case.";
  if (!data.published.empty()) caption += ' ' + data.published;
  return finished(page, below + legend_tall + 1.0, title, caption);
}

}  // namespace whorl::figures
