// Axes of figures: ranges, tick marks, and the frame that carries them.
#pragma once
#include <span>
#include <string>
#include <vector>

#include "figures/figure_text.hpp"
#include "figures/svg.hpp"

namespace whorl::figures {

/// Colours and line styles. Every series differs in colour, in dashes and in marker, so that it reads without colour.
/// Source: M. Okabe and K. Ito, Color Universal Design (2008), the palette for colour-blind readers without its yellow,
/// which vanishes on white (from memory)
struct SeriesStyle {
  std::string_view colour;
  std::string_view dashes;
  char marker;  ///< 'o' circle, 's' square, '^' triangle, 'd' diamond, 'v' triangle down, 'x' cross
};
[[nodiscard]] const SeriesStyle& series_style(std::size_t index);
[[nodiscard]] std::size_t series_style_count();

/// Sequential colour at a share from 0 to 1; its lightness falls strictly, so that it reads in grey.
/// Source: class YlGnBu of ColorBrewer (C. A. Brewer, colorbrewer2.org), from its light end to its sixth colour of
/// eight (from memory), interpolated
[[nodiscard]] std::string sequential_colour(double share);

/// Relative luminance of "#rrggbb", 0 black to 1 white.
/// Source: IEC 61966-2-1 (sRGB), as in WCAG 2 "relative luminance"
[[nodiscard]] double relative_luminance(std::string_view colour);

struct Tick {
  double value{};
  RichText label;
};

struct Axis {
  double low{}, high{1.0};
  bool logarithmic{};
  std::vector<Tick> ticks;
  std::vector<double> minor;
  Quantified quantity;
  std::string column;
  /// 0 at low, 1 at high.
  [[nodiscard]] double share(double value) const;
};

/// Round steps of 1, 2 or 5 times a power of ten, near `wanted` in number, within [low, high].
/// Source: P. S. Heckbert, "Nice numbers for graph labels", Graphics Gems (1990) 61 (from memory)
[[nodiscard]] std::vector<double> nice_ticks(double low, double high, int wanted);
[[nodiscard]] double nice_step(double range, int wanted);

struct AxisWish {
  bool logarithmic{};
  bool widen{true};     ///< to the next ticks; else the range is kept
  bool from_zero{};     ///< zero is part of the range
  int ticks{5};         ///< about
};
/// Axis over a range of data. A range of no width is widened.
/// Error: std::domain_error when a limit is not finite, or not above zero on a logarithmic axis
[[nodiscard]] Axis make_axis(double low, double high, const AxisWish& wish, const Quantified& quantity,
                             const std::string& column);
/// The same axis with fewer ticks, so that their labels stand apart on `length` points. `along`: labels stand side by
/// side.
void thin_ticks(Axis& axis, double length, double font, bool along);
/// Wide enough for every label.
[[nodiscard]] double widest_label(const Axis& axis, double font);

/// Plot area on a page with its two axes.
struct Frame {
  PageBox box;
  Axis x, y;
  [[nodiscard]] double px(double value) const { return box.left + x.share(value) * (box.right - box.left); }
  [[nodiscard]] double py(double value) const { return box.bottom - y.share(value) * (box.bottom - box.top); }
};

/// One side of a plane of two settings.
struct PlaneSide {
  double from{}, to{};
  bool logarithmic{};
  Quantified quantity;
  std::string column;
};
/// Frame of a plane, its ranges kept as they are, with room for the labels; `top` and `tall` in points.
[[nodiscard]] Frame plane_frame(const PlaneSide& x, const PlaneSide& y, double width, double font, double top,
                                double tall);

struct FrameParts {
  bool x_labels{true};   ///< numbers and label of the x axis
  bool grid_x{true}, grid_y{true};
};

/// On the 0.01 pt that coordinates are rounded to, so that the mapping of a frame is exact.
[[nodiscard]] PageBox snapped(const PageBox& box);

/// Room that the labels need outside the plot area.
[[nodiscard]] double left_room(std::span<const Axis> axes, double font, double height);
[[nodiscard]] double bottom_room(double font);

/// Opens a group with the mapping of both axes as data-* attributes (for scripts and tests), draws grid lines; data are
/// then drawn, and end_frame() draws border, ticks and labels over them.
void begin_frame(SvgPage& page, const Frame& frame, const FrameParts& parts);
void end_frame(SvgPage& page, const Frame& frame, double font, const FrameParts& parts);

/// A marker of the size of a letter.
void draw_marker(SvgPage& page, double x, double y, char shape, double size, std::string_view colour, bool filled,
                 std::string_view attributes = {});

}  // namespace whorl::figures
