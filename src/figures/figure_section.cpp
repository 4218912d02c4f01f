#include "figures/figure_section.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "figures/figure_legend.hpp"

namespace whorl::figures {
namespace {

constexpr const char* kPen = "#333333";
constexpr const char* kMetal = "#bbbbbb";
constexpr const char* kLiquid = "#7fb2d9";
constexpr const char* kGas = "#b33c00";

// A ruler's length: the round number of millimetres nearest to a third of the width.
double bar_length_mm(double wide_mm) {
  const double power = std::pow(10.0, std::floor(std::log10(wide_mm / 3.0)));
  for (const double digit : {5.0, 2.0})
    if (digit * power <= wide_mm / 3.0) return digit * power;
  return power;
}

void arrow(SvgPage& page, double from, double to, double y) {
  const double back = to > from ? -3.5 : 3.5;
  page.line(from, y, to + 0.8 * back, y, {kPen, 0.9, {}});
  PathData head;
  head.move(to, y).line(to + back, y - 2.0).line(to + back, y + 2.0).close();
  page.path(head.text(), {kPen, 0.0, {}}, kPen);
}

}  // namespace

Figure draw_section(const SectionFigure& data, const FigureFormat& format) {
  if (!(data.bore_mm > 0.0) || !(data.height_mm > 0.0)) throw std::invalid_argument("no vessel to draw");
  const Canvas paper = canvas(format);  // no structured binding: clang 14 does not capture those in lambdas
  const double width = paper.width;
  const double font = paper.font;
  std::vector<LegendItem> legend;
  const auto swatch = [&](const std::string& words, const char* fill) {
    LegendItem item;
    item.kind = LegendItem::Kind::swatch;
    item.label = plain_rich(words);
    item.colour = "#444444";
    item.fill = fill;
    legend.push_back(item);
  };
  swatch("liquid, " + print_number(data.layer_mm, 2) + " mm at the start", kLiquid);
  if (data.gas_layer_mm > 0.0) {
    LegendItem item;
    item.label = plain_rich("gas goes through at " + print_number(data.gas_layer_mm, 2) + " mm, after " +
                            print_number(data.gas_after_s, 2) + " s");
    item.colour = kGas;
    item.dashes = "3 2";
    legend.push_back(item);
  }
  swatch("vessel", kMetal);

  const double legend_tall = legend_height(legend, width - 2.0, font) + 0.8 * font;
  const double outer_mm = data.bore_mm + 2.0 * data.wall_mm;
  const double top = 1.2 * font;
  const double under = 2.6 * font;  // floor and scale bar
  const double sides = 5.0 * font;  // arrows of the jets
  double scale = (width - sides) / outer_mm;
  const double most = format.height_mm ? *format.height_mm * kPointsPerMm - top - under - legend_tall : 0.9 * width;
  scale = std::min(scale, std::max(most, 4.0 * font) / data.height_mm);
  const double middle = 0.5 * width;
  const double bore = scale * data.bore_mm;
  const double wall = std::max(3.0, scale * data.wall_mm);
  const double floor = top + scale * data.height_mm;
  const double left = middle - 0.5 * bore;
  const double right = middle + 0.5 * bore;
  const double layer = std::min(0.5 * bore, std::max(2.5, scale * data.layer_mm));
  const double hole = std::max(1.6, scale * data.orifice_mm);
  const double hole_y = floor - scale * data.orifice_height_mm;

  SvgPage page(width, format.id);
  const Stroke none{kPen, 0.0, {}};
  page.rectangle({left, top, right, floor}, none, "#f4f6f8");
  if (data.layer_mm > 0.0) {
    page.rectangle({left, top, left + layer, floor}, none, kLiquid);
    page.rectangle({right - layer, top, right, floor}, none, kLiquid);
  }
  const Stroke edge{"#444444", 0.5, {}};
  page.rectangle({left - wall, top - wall, left, floor + wall}, edge, kMetal);
  page.rectangle({right, top - wall, right + wall, floor + wall}, edge, kMetal);
  page.rectangle({left, floor, right, floor + wall}, edge, kMetal);
  const double lid = std::min(bore, scale * data.opening_mm);
  page.rectangle({left, top - wall, middle - 0.5 * lid, top}, edge, kMetal);
  page.rectangle({middle + 0.5 * lid, top - wall, right, top}, edge, kMetal);
  const char* filled = data.layer_mm > 0.0 ? kLiquid : "#f4f6f8";
  page.rectangle({left - wall, hole_y - 0.5 * hole, left, hole_y + 0.5 * hole}, none, filled);
  page.rectangle({right, hole_y - 0.5 * hole, right + wall, hole_y + 0.5 * hole}, none, filled);
  arrow(page, left - wall - 0.4 * font, left - wall - 2.2 * font, hole_y);
  arrow(page, right + wall + 0.4 * font, right + wall + 2.2 * font, hole_y);
  if (data.gas_layer_mm > 0.0) {
    const double thin = std::min(layer, std::max(1.2, scale * data.gas_layer_mm));
    page.line(left + thin, top, left + thin, floor, {kGas, 1.1, "3 2"});
    page.line(right - thin, top, right - thin, floor, {kGas, 1.1, "3 2"});
  }
  page.line(middle, top - wall - 2.0, middle, floor + wall + 2.0, {"#666666", 0.5, "6 2 1 2"});
  if (bore - 2.0 * layer > 6.0 * font)
    page.text(middle - 0.25 * bore, top + 0.4 * (floor - top), plain_rich("gas"),
              {font, TextAnchor::middle, false, "#444444", true});
  const double bar = bar_length_mm(outer_mm);
  const double bar_y = floor + wall + 0.9 * font;
  page.line(left - wall, bar_y, left - wall + scale * bar, bar_y, {"#000000", 1.4, {}});
  page.text(left - wall + scale * bar + 0.5 * font, bar_y + 0.36 * font, plain_rich(print_number(bar, 3) + " mm"),
            {font, TextAnchor::start, false, "#000000", false});
  const double below = floor + wall + 2.0 * font;
  draw_legend(page, legend, 1.0, below, width - 2.0, font);

  const std::string title = "Vessel in section" + (data.about.empty() ? std::string() : ": " + data.about);
  std::string caption = title + ". Bore " + print_number(data.bore_mm, 3) + " mm, orifices " +
                        print_number(data.orifice_mm, 3) + " mm through a wall of " + print_number(data.wall_mm, 3) +
                        " mm, " + print_number(data.orifice_height_mm, 3) +
                        " mm above the floor. To scale; what would be too thin to see is drawn thicker.";
  if (data.gas_layer_mm > 0.0)
    caption += " Dashed: thickness of the layer at which gas goes through the orifices.";
  return finished(page, below + legend_tall, title, caption);
}

}  // namespace whorl::figures
