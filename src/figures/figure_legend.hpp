// Internal to the figures: legends, and what every figure needs at its end.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "figures/figure_kinds.hpp"
#include "figures/figure_axis.hpp"
#include "figures/svg.hpp"

namespace whorl::figures {

struct LegendItem {
  enum class Kind { line, marker, swatch, heading } kind{Kind::line};
  RichText label;
  std::string colour{"#000000"};   ///< of line, marker or border
  std::string dashes;
  char marker{};                   ///< 0: none
  bool filled{true};
  std::string fill{"none"};        ///< swatch
  double width{1.1};
  double marker_size{1.0};         ///< of the usual
};

[[nodiscard]] LegendItem marker_item(const std::string& label, char marker, bool filled = true,
                                     std::string_view colour = "#000000");

/// Height that the legend takes at this width.
[[nodiscard]] double legend_height(const std::vector<LegendItem>& items, double width, double font);
/// Draws it with its top at y.
void draw_legend(SvgPage& page, const std::vector<LegendItem>& items, double left, double y, double width, double font);

/// Joins the parts of a finished figure.
[[nodiscard]] Figure finished(const SvgPage& page, double height, std::string title, std::string caption);

/// Space in points for a figure of this format.
struct Canvas {
  double width, font;
};
/// Error: InputError for a size that cannot hold a figure
[[nodiscard]] Canvas canvas(const FigureFormat& format);

}  // namespace whorl::figures
