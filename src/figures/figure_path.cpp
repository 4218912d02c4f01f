#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>

#include "figures/figure_legend.hpp"

namespace whorl::figures {
namespace {

std::string circle_path(const Frame& frame, double radius) {
  PathData p;
  constexpr int kCorners = 180;
  for (int i = 0; i < kCorners; ++i) {
    const double angle = 2.0 * std::numbers::pi * i / kCorners;
    const double x = frame.px(radius * std::cos(angle));
    const double y = frame.py(radius * std::sin(angle));
    if (i == 0) {
      p.move(x, y);
    } else {
      p.line(x, y);
    }
  }
  return p.close().text();
}

// An arc with a head, inside the vessel, in the direction of rotation (anticlockwise seen from above).
void rotation_arrow(SvgPage& page, const Frame& frame, double radius) {
  constexpr double kFrom = 0.35, kTo = 2.6;
  PathData arc;
  for (int i = 0; i <= 40; ++i) {
    const double angle = kFrom + (kTo - kFrom) * i / 40.0;
    const double x = frame.px(radius * std::cos(angle));
    const double y = frame.py(radius * std::sin(angle));
    if (i == 0) {
      arc.move(x, y);
    } else {
      arc.line(x, y);
    }
  }
  const Stroke ink{"#444444", 0.8, {}};
  page.path(arc.text(), ink);
  const double x = frame.px(radius * std::cos(kTo));
  const double y = frame.py(radius * std::sin(kTo));
  // along the arc at its end, in page directions
  const double dx = -std::sin(kTo);
  const double dy = -std::cos(kTo);
  constexpr double kHead = 4.0;
  PathData head;
  head.move(x + dx * kHead, y + dy * kHead)
      .line(x - dy * 0.5 * kHead, y + dx * 0.5 * kHead)
      .line(x + dy * 0.5 * kHead, y - dx * 0.5 * kHead)
      .close();
  page.path(head.text(), {"#444444", 0.0, {}}, "#444444");
}

// Line width with which the turns of a jet stay apart: two fifths of the distance between two of them (median over
// the turns), as drawn.
double turn_width(const JetPath& jet, double points_per_mm) {
  constexpr double kUsual = 1.1, kLeast = 0.12, kShare = 0.4;
  std::vector<double> apart;
  double swept = 0.0;
  double radius = std::hypot(jet.x_mm.front(), jet.y_mm.front());  // one turn before
  for (std::size_t i = 1; i < jet.x_mm.size(); ++i) {
    const double cross = jet.x_mm[i - 1] * jet.y_mm[i] - jet.y_mm[i - 1] * jet.x_mm[i];
    const double along = jet.x_mm[i - 1] * jet.x_mm[i] + jet.y_mm[i - 1] * jet.y_mm[i];
    swept += std::atan2(cross, along);
    if (std::abs(swept) < 2.0 * std::numbers::pi) continue;
    swept -= std::copysign(2.0 * std::numbers::pi, swept);
    const double now = std::hypot(jet.x_mm[i], jet.y_mm[i]);
    apart.push_back(std::abs(now - radius));
    radius = now;
  }
  if (apart.empty()) return kUsual;
  std::nth_element(apart.begin(), apart.begin() + static_cast<std::ptrdiff_t>(apart.size() / 2), apart.end());
  return std::clamp(kShare * apart[apart.size() / 2] * points_per_mm, kLeast, kUsual);
}

}  // namespace

// Long: one drawing from the bottom of the page to its top; what is drawn later lies above, so the order is the
// content.
Figure draw_path(const PathFigure& data, const FigureFormat& format) {
  if (data.jets.empty()) throw std::invalid_argument("no jet to draw");
  if (!(data.collector_radius_mm > 0.0)) throw std::invalid_argument("no collector to draw");
  const Canvas paper = canvas(format);  // no structured binding: clang 14 does not capture those in lambdas
  const double width = paper.width;
  const double font = paper.font;
  double reach = std::max(data.collector_radius_mm, data.vessel_radius_mm);
  for (const auto& jet : data.jets) {
    if (jet.x_mm.size() != jet.y_mm.size() || jet.x_mm.size() < 2)
      throw std::invalid_argument("a path needs two stations or more");
    for (std::size_t i = 0; i < jet.x_mm.size(); ++i) reach = std::max(reach, std::hypot(jet.x_mm[i], jet.y_mm[i]));
  }

  std::vector<LegendItem> legend;
  bool solid = false;
  bool dry = false;
  for (std::size_t i = 0; i < data.jets.size(); ++i) {
    const auto& jet = data.jets[i];
    const auto& style = series_style(i);
    solid = solid || jet.solid_from.has_value();
    dry = dry || jet.dry_from.has_value();
    LegendItem item;
    item.label = plain_rich(jet.name.empty() ? "jet" : jet.name);
    item.colour = style.colour;
    item.dashes = data.jets.size() > 1 ? std::string(style.dashes) : std::string();
    legend.push_back(item);
  }
  if (solid) legend.push_back(marker_item("solid from here", 's'));
  if (dry) legend.push_back(marker_item("dry from here", 'd', false));
  LegendItem vessel;
  vessel.kind = LegendItem::Kind::swatch;
  vessel.label = plain_rich("vessel wall");
  vessel.colour = "#444444";
  vessel.fill = "#bbbbbb";
  legend.push_back(vessel);
  LegendItem collector;
  collector.label = plain_rich("collector");
  collector.colour = "#777777";
  collector.width = 2.6;
  legend.push_back(collector);

  const Quantified x_name{"", "x", "mm"};
  const Quantified y_name{"", "y", "mm"};
  AxisWish wish;
  wish.widen = false;
  wish.ticks = 5;
  const double margin = 1.06 * reach;
  Frame frame{{}, make_axis(-margin, margin, wish, x_name, "x_mm"), make_axis(-margin, margin, wish, y_name, "y_mm")};
  const std::vector<Axis> y_axes{frame.y};
  const double right = 0.5 * font + 1.0;
  const double left = left_room(y_axes, font, width);
  double side = width - left - right;
  const double top = 2.0;
  const double under = bottom_room(font);
  double legend_tall = legend_height(legend, width - 2.0, font) + 0.5 * font;
  if (format.height_mm) side = std::min(side, *format.height_mm * kPointsPerMm - top - under - legend_tall);
  side = std::max(side, 40.0);
  const double shift = 0.5 * (width - left - right - side);
  frame.box = snapped({left + shift, top, left + shift + side, top + side});
  thin_ticks(frame.x, side, font, true);
  thin_ticks(frame.y, side, font, false);

  SvgPage page(width, format.id);
  FrameParts parts;
  parts.grid_x = parts.grid_y = false;
  begin_frame(page, frame, parts);
  page.begin_clip(frame.box);
  page.path(circle_path(frame, data.collector_radius_mm), {"#777777", 2.6, {}}, "none", "class=\"collector\"");
  page.path(circle_path(frame, data.vessel_radius_mm) + circle_path(frame, data.bore_radius_mm), {"#444444", 0.5, {}},
            "#bbbbbb", "class=\"vessel\"");
  if (frame.px(data.bore_radius_mm) - frame.px(0.0) > 10.0) rotation_arrow(page, frame, 0.55 * data.bore_radius_mm);
  for (std::size_t i = 0; i < data.jets.size(); ++i) {
    const auto& jet = data.jets[i];
    const auto& style = series_style(i);
    PathData line;
    for (std::size_t k = 0; k < jet.x_mm.size(); ++k) {
      const double x = frame.px(jet.x_mm[k]);
      const double y = frame.py(jet.y_mm[k]);
      if (k == 0) {
        line.move(x, y);
      } else {
        line.line(x, y);
      }
    }
    const double thick = turn_width(jet, (frame.box.right - frame.box.left) / (2.0 * margin));
    page.path(line.text(), {style.colour, thick, data.jets.size() > 1 ? style.dashes : std::string_view()}, "none",
              "stroke-linejoin=\"round\" class=\"series\" data-series=\"" + std::to_string(i) + "\" data-name=\"" +
                  xml_escaped(jet.name) + '"');
  }
  for (std::size_t i = 0; i < data.jets.size(); ++i) {
    const auto& jet = data.jets[i];
    const auto mark = [&](const std::optional<std::size_t>& at, char shape, bool filled, const char* what) {
      if (!at || *at >= jet.x_mm.size()) return;
      draw_marker(page, frame.px(jet.x_mm[*at]), frame.py(jet.y_mm[*at]), shape, 0.65 * font, "#000000", filled,
                  std::string("class=\"mark\" data-mark=\"") + what + '"');
    };
    mark(jet.solid_from, 's', true, "solid");
    mark(jet.dry_from, 'd', false, "dry");
  }
  page.end_group();
  end_frame(page, frame, font, parts);
  const double below = frame.box.bottom + under;
  draw_legend(page, legend, 1.0, below + 0.5 * font, width - 2.0, font);
  const double height = below + legend_tall + 1.0;

  const std::string title = "Jet path from above" + (data.about.empty() ? std::string() : ": " + data.about);
  std::string caption = title +
                        ". The frame turns with the vessel, in the direction of the arrow; the jet leaves on the x "
                        "axis and trails behind. Radius of the outer wall " +
                        print_number(data.vessel_radius_mm, 4) + " mm, of the collector " +
                        print_number(data.collector_radius_mm, 4) + " mm. Both axes have one scale.";
  if (solid) caption += " Filled square: solid from here, draw is frozen.";
  if (dry) caption += " Open diamond: dry from here (5 % solvent by mass).";
  return finished(page, height, title, caption);
}

}  // namespace whorl::figures
