// Figures for print and for pages: data in, SVG and caption out. Knows nothing of how the data were computed.
#pragma once
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "figures/figure_text.hpp"
#include "figures/svg.hpp"

namespace whorl::figures {

/// Size as printed.
struct FigureFormat {
  double width_mm{85.0};
  std::optional<double> height_mm;  ///< none: what suits the kind
  double font_pt{8.0};              ///< of all text; sub- and superscripts are smaller
  std::string id{"f-"};             ///< begins every id, so that several figures can stand in one page
};
inline constexpr double kColumnWidthMm = 85.0;
inline constexpr double kPageWidthMm = 175.0;

struct Figure {
  std::string svg;
  std::string title;
  std::string caption;             ///< sentences for under the figure
  double width_pt{}, height_pt{};
  std::vector<PlacedText> texts;   ///< where every text stands
};

/// A row of the legend is left out when a name is empty.
struct JetPath {
  std::string name;
  std::vector<double> x_mm, y_mm;  ///< turning frame, orifice on the x axis
  std::optional<std::size_t> solid_from;  ///< first station that counts as solid
  std::optional<std::size_t> dry_from;    ///< first station that counts as dry
};

/// Jets from above with vessel and collector, equal scale on both axes.
struct PathFigure {
  std::vector<JetPath> jets;
  double bore_radius_mm{}, vessel_radius_mm{}, collector_radius_mm{};
  std::string about;               ///< of what, for title and caption: "pcl-chloroform, 10 000 rpm"
};
/// Error: std::invalid_argument when there is nothing to draw; std::domain_error for numbers that are not finite
[[nodiscard]] Figure draw_path(const PathFigure& data, const FigureFormat& format);

/// One line of a panel. NaN in y is a gap.
struct Series {
  std::vector<double> x, y;
  std::vector<double> low, high;   ///< band, empty or as long as y; NaN where there is none
  std::vector<bool> hollow;        ///< marker drawn hollow, empty or as long as y
};
struct Panel {
  std::string column;
  Quantified quantity;
  std::optional<bool> logarithmic;  ///< none: when the values span more than 1.3 decades and are above zero
  std::vector<Series> series;       ///< one per name of the figure, in that order
  std::vector<double> reach;        ///< values that the axis has to hold beside those of the series
  std::vector<std::pair<double, double>> measured;  ///< points of the user's own, black diamonds
};
/// Panels over one shared x axis: profiles along a jet, trends of a sweep.
struct PanelFigure {
  std::string x_column;
  Quantified x_quantity;
  bool x_logarithmic{};
  std::vector<std::string> names;   ///< of the series; empty text: no legend
  RichText names_heading;           ///< what the names are values of; may be empty
  std::vector<Panel> panels;
  std::vector<double> x_reach;      ///< values that the x axis has to hold beside those of the series
  bool markers{};                   ///< at every point
  struct Mark {
    double x;
    std::string label;
  };
  std::vector<Mark> marks;          ///< vertical lines
  std::string hollow_means;         ///< what a hollow marker says, for legend and caption
  std::string band_means;           ///< what a band says
  std::string title, about;
};
/// Error: as draw_path
[[nodiscard]] Figure draw_panels(const PanelFigure& data, const FigureFormat& format);

/// A value over two axes, on a grid.
struct MapFigure {
  std::string x_column, y_column, z_column;
  Quantified x_quantity, y_quantity, z_quantity;
  bool x_logarithmic{}, y_logarithmic{};
  std::vector<double> x, y;         ///< rise strictly
  std::vector<double> z;            ///< row by row: z[row * x.size() + column]; NaN: none
  std::vector<std::string>
      classes;  ///< of each crossing; "continuous" is drawn plain, every other word hatched and named
  std::vector<double> levels;       ///< of the iso-lines; empty: round ones
  struct Point {
    double x, y, z;                 ///< z is NaN when nothing was measured there
    std::string label;
  };
  std::vector<Point> measured;
  std::optional<Point> marked;      ///< the case itself
  std::string about;
  std::string published;            ///< what is published of the two knobs; may be empty
};
/// Error: as draw_path
[[nodiscard]] Figure draw_map(const MapFigure& data, const FigureFormat& format);
/// The levels that draw_map would take.
[[nodiscard]] std::vector<double> map_levels(const std::vector<double>& values, std::size_t wanted);

/// Parts of a change, drawn one after the other so that they end at the total.
struct SplitFigure {
  struct Part {
    std::string name;
    double value;
    bool inner{};                   ///< a part of the last part that is not inner: drawn under it, indented
  };
  std::vector<Part> parts;
  double total{};
  std::string total_name;
  Quantified quantity;              ///< of the values: "change of ln d_f"
  std::string title, about;
};
/// Error: as draw_path
[[nodiscard]] Figure draw_split(const SplitFigure& data, const FigureFormat& format);

/// Share of all fibre length by diameter, the run against a measured list.
struct DistributionFigure {
  std::vector<double> diameters_um;  ///< of the moments of the run
  std::vector<double> shares;        ///< of fibre length; sum 1
  std::vector<double> measured_um;   ///< empty: none
  std::string measured_name;
  std::string about;
  double scatter_log_sd{};  ///< of ln d of single fibres at one moment; 0: none. With it the axis is logarithmic
};
/// Share of the fibre length up to a diameter: linear between the middles of the moments, each of which stands for its
/// share.
[[nodiscard]] double share_up_to(const std::vector<double>& diameters_um, const std::vector<double>& shares,
                                 double diameter_um);
/// Error: as draw_path
[[nodiscard]] Figure draw_distribution(const DistributionFigure& data, const FigureFormat& format);

/// Computed against measured diameters, before and after a calibration, with residuals.
struct FitFigure {
  std::vector<double> measured_um, before_um, after_um;
  std::vector<double> log_sd;        ///< standard deviation of ln(measured)
  std::string about;
  std::vector<double> left_out_low_um, left_out_high_um;  ///< 90 % band of each trial from the others; empty: unknown
};
/// Error: as draw_path
[[nodiscard]] Figure draw_fit(const FitFigure& data, const FigureFormat& format);

/// Region of two settings that gives what is wanted, with what bounds it.
struct WindowFigure {
  std::string x_column, y_column;
  Quantified x_quantity, y_quantity;
  double x_from{}, x_to{}, y_from{}, y_to{};
  bool x_logarithmic{}, y_logarithmic{};
  struct Ring {
    std::vector<double> x, y;        ///< closed
    std::vector<std::string> by;     ///< what fails beyond the piece from point k to the next; another word than of a
                                     ///< constraint: edge of the range
  };
  std::vector<Ring> rings;
  std::vector<std::pair<std::string, std::string>> constraints;  ///< key and text
  std::vector<std::pair<double, double>> runs;
  struct Trial {
    double x, y;
    std::string name;
  };
  std::vector<Trial> trials;
  double share{};                    ///< of the range
  std::string wanted, about;
};
/// Error: as draw_path
[[nodiscard]] Figure draw_window(const WindowFigure& data, const FigureFormat& format);

}  // namespace whorl::figures
