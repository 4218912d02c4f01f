#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "figures/figure_legend.hpp"
#include "whorl/io/csv.hpp"

namespace whorl::figures {

// Long: one drawing from the bottom of the page to its top; what is drawn later lies above, so the order is the
// content.
Figure draw_window(const WindowFigure& data, const FigureFormat& format) {
  if (!(data.x_to > data.x_from) || !(data.y_to > data.y_from)) throw std::invalid_argument("a plane without width");
  const Canvas paper = canvas(format);
  const double width = paper.width;
  const double font = paper.font;

  // One style for each constraint, in the order they are listed; the edge of the range is no constraint.
  std::vector<std::pair<std::string, std::string>> bounding;
  for (const auto& one : data.constraints) {
    const bool used = std::any_of(data.rings.begin(), data.rings.end(), [&](const auto& ring) {
      return std::find(ring.by.begin(), ring.by.end(), one.first) != ring.by.end();
    });
    if (used) bounding.push_back(one);
  }
  const auto style_of = [&](const std::string& key) -> const SeriesStyle* {
    for (std::size_t i = 0; i < bounding.size(); ++i)
      if (bounding[i].first == key) return &series_style(i);
    return nullptr;
  };
  std::vector<LegendItem> legend;
  if (!data.rings.empty()) {
    LegendItem region;
    region.kind = LegendItem::Kind::swatch;
    region.label = plain_rich("meets what is wanted");
    region.colour = "#333333";
    region.fill = "#d6e8f2";
    legend.push_back(region);
  }
  for (const auto& one : bounding) {
    LegendItem item;
    item.label = plain_rich(one.second);
    item.colour = style_of(one.first)->colour;
    item.dashes = style_of(one.first)->dashes;
    item.width = 1.6;
    legend.push_back(item);
  }
  if (!data.runs.empty()) {
    LegendItem item = marker_item("model runs", 'o', true, "#777777");
    item.marker_size = 0.3;  // dots, as drawn
    legend.push_back(item);
  }
  if (!data.trials.empty()) legend.push_back(marker_item("where to try", 'd', true, "#000000"));

  const double top = 0.6 * font;
  const double under = bottom_room(font);
  const double legend_tall = legend.empty() ? 0.0 : legend_height(legend, width - 2.0, font) + 0.5 * font;
  double tall = 0.66 * width;
  if (format.height_mm) tall = std::max(5.0 * font, *format.height_mm * kPointsPerMm - top - under - legend_tall - 1.0);
  const Frame frame =
      plane_frame({data.x_from, data.x_to, data.x_logarithmic, data.x_quantity, data.x_column},
                  {data.y_from, data.y_to, data.y_logarithmic, data.y_quantity, data.y_column}, width, font, top, tall);

  SvgPage page(width, format.id);
  FrameParts parts;
  parts.grid_x = parts.grid_y = false;
  begin_frame(page, frame, parts);
  page.begin_clip(frame.box);
  PathData region;
  for (const auto& ring : data.rings) {
    if (ring.x.size() != ring.y.size() || ring.by.size() != ring.x.size())
      throw std::invalid_argument("a ring with unequal lists");
    for (std::size_t i = 0; i < ring.x.size(); ++i) {
      if (i == 0) {
        region.move(frame.px(ring.x[i]), frame.py(ring.y[i]));
      } else {
        region.line(frame.px(ring.x[i]), frame.py(ring.y[i]));
      }
    }
    region.close();
  }
  if (!region.empty()) page.path(region.text(), {"#000000", 0.0, {}}, "#d6e8f2", "class=\"region\"");
  page.begin_group("class=\"runs\"");
  for (const auto& [x, y] : data.runs) page.circle(frame.px(x), frame.py(y), 0.5, {"#777777", 0.0, {}}, "#777777");
  page.end_group();
  // The boundary in pieces, each in the style of what fails beyond it.
  for (const auto& ring : data.rings) {
    const std::size_t n = ring.x.size();
    for (std::size_t i = 0; i < n;) {
      std::size_t end = i;
      while (end < n && ring.by[end] == ring.by[i]) ++end;
      PathData piece;
      piece.move(frame.px(ring.x[i]), frame.py(ring.y[i]));
      for (std::size_t k = i; k < end; ++k) piece.line(frame.px(ring.x[(k + 1) % n]), frame.py(ring.y[(k + 1) % n]));
      const SeriesStyle* style = style_of(ring.by[i]);
      page.path(piece.text(), style != nullptr ? Stroke{style->colour, 1.6, style->dashes} : Stroke{"#333333", 0.6, {}},
                "none", "stroke-linejoin=\"round\" class=\"boundary\" data-by=\"" + xml_escaped(ring.by[i]) + '"');
      i = end;
    }
  }
  page.end_group();
  std::string listed;
  for (std::size_t i = 0; i < data.trials.size(); ++i) {
    const auto& trial = data.trials[i];
    const double x = frame.px(trial.x);
    const double y = frame.py(trial.y);
    draw_marker(page, x, y, 'd', 0.75 * font, "#000000", true,
                "class=\"trial\" data-name=\"" + xml_escaped(trial.name) + '"');
    const std::string number = std::to_string(i + 1);
    const bool at_right = x + 1.6 * font < frame.box.right;
    const double up = y - 1.3 * font < frame.box.top ? 1.2 * font : -0.35 * font;
    page.text(x + (at_right ? 0.5 : -0.5) * font, y + up, plain_rich(number),
              {font, at_right ? TextAnchor::start : TextAnchor::end, false, "#000000", true});
    listed += (i == 0 ? " Diamonds, where to try: " : ", ") + number + " " + trial.name;
  }
  end_frame(page, frame, font, parts);
  const double below = frame.box.bottom + under;
  if (!legend.empty()) draw_legend(page, legend, 1.0, below + 0.5 * font, width - 2.0, font);

  const std::string title =
      "Settings that give " + data.wanted + (data.about.empty() ? std::string() : ": " + data.about);
  std::string caption = title + ". ";
  caption += data.rings.empty()
                 ? "Nothing in this range meets it."
                 : "Shaded: " + print_number(100.0 * data.share, 3) + " % of the range; lines: what fails beyond them.";
  if (!data.runs.empty())
    caption += " Dots: " + std::to_string(data.runs.size()) + " model runs, closer where the boundary passes.";
  if (!listed.empty()) caption += listed + ".";
  return finished(page, below + legend_tall + 1.0, title, caption);
}

}  // namespace whorl::figures
