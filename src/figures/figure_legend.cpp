#include "figures/figure_legend.hpp"

#include <algorithm>

#include "whorl/model/error.hpp"

namespace whorl::figures {
namespace {

constexpr double kKeyWidth = 20.0;
constexpr double kKeyGap = 4.0;
constexpr double kItemGap = 10.0;

struct Placed {
  const LegendItem* item;
  double x, row;
};

// Items side by side, on the next row when the width is used up.
std::vector<Placed> placed(const std::vector<LegendItem>& items, double width, double font, double& rows) {
  std::vector<Placed> out;
  double x = 0.0;
  rows = 0.0;
  for (const auto& item : items) {
    const double key = item.kind == LegendItem::Kind::heading ? 0.0 : kKeyWidth + kKeyGap;
    const double need = key + font * text_width(item.label);
    if (x > 0.0 && x + need > width) {
      x = 0.0;
      rows += 1.0;
    }
    out.push_back({&item, x, rows});
    x += need + kItemGap;
  }
  if (!items.empty()) rows += 1.0;
  return out;
}

}  // namespace

LegendItem marker_item(const std::string& label, char marker, bool filled, std::string_view colour) {
  LegendItem item;
  item.kind = LegendItem::Kind::marker;
  item.label = plain_rich(label);
  item.marker = marker;
  item.filled = filled;
  item.colour = colour;
  return item;
}

double legend_height(const std::vector<LegendItem>& items, double width, double font) {
  double rows = 0.0;
  (void)placed(items, width, font, rows);
  return rows * 1.45 * font;
}

void draw_legend(SvgPage& page, const std::vector<LegendItem>& items, double left, double y, double width,
                 double font) {
  double rows = 0.0;
  for (const auto& [item, x, row] : placed(items, width, font, rows)) {
    const double middle = y + (row + 0.5) * 1.45 * font;
    const double from = left + x;
    switch (item->kind) {
      case LegendItem::Kind::swatch:
        page.rectangle({from, middle - 0.5 * font, from + kKeyWidth, middle + 0.5 * font}, {item->colour, 0.5, {}},
                       item->fill);
        break;
      case LegendItem::Kind::line:
        page.line(from, middle, from + kKeyWidth, middle, {item->colour, item->width, item->dashes});
        break;
      case LegendItem::Kind::marker: break;
      case LegendItem::Kind::heading:
        page.text(from, middle + 0.36 * font, item->label, {font, TextAnchor::start, false, "#000000", false});
        continue;
    }
    if (item->marker != 0)
      draw_marker(page, from + 0.5 * kKeyWidth, middle, item->marker, 0.6 * font * item->marker_size, item->colour,
                  item->filled);
    page.text(from + kKeyWidth + kKeyGap, middle + 0.36 * font, item->label,
              {font, TextAnchor::start, false, "#000000", false});
  }
}

Figure finished(const SvgPage& page, double height, std::string title, std::string caption) {
  Figure figure;
  figure.svg = page.finish(height, title, caption);
  figure.title = std::move(title);
  figure.caption = std::move(caption);
  figure.width_pt = page.width();
  figure.height_pt = height;
  figure.texts = page.texts();
  return figure;
}

Canvas canvas(const FigureFormat& format) {
  if (!(format.width_mm >= 40.0 && format.width_mm <= 1000.0))
    throw InputError("", "--width", print_number(format.width_mm) + " mm",
                     "40 mm to 1000 mm, 'column' (85 mm) or 'page' (175 mm)");
  if (!(format.font_pt >= 4.0 && format.font_pt <= 24.0 && format.font_pt * 18.0 <= format.width_mm * kPointsPerMm))
    throw InputError("", "--font-size", print_number(format.font_pt),
                     "4 to 24 points, and at most an eighteenth of the width");
  if (format.height_mm && !(*format.height_mm >= 30.0 && *format.height_mm <= 2000.0))
    throw InputError("", "--height", print_number(*format.height_mm) + " mm", "30 mm to 2000 mm");
  return {format.width_mm * kPointsPerMm, format.font_pt};
}

}  // namespace whorl::figures
