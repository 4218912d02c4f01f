// A page of vector drawing in SVG 1.1. Lengths are points as printed (1/72 inch), x to the right, y down.
#pragma once
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace whorl::figures {

/// Points in a millimetre.
inline constexpr double kPointsPerMm = 72.0 / 25.4;

/// A piece of text in one style. Quantity symbols are italic, descriptions and units upright (ISO 80000-1).
struct TextRun {
  std::string text;   ///< UTF-8
  bool italic{};
  int script{};       ///< -1 subscript, 0, +1 superscript
};
using RichText = std::vector<TextRun>;

[[nodiscard]] RichText plain_rich(std::string text);

/// The text of all runs, without style.
[[nodiscard]] std::string unstyled(const RichText& text);

/// Width of a text set at size 1: per glyph the widest of Liberation Sans (the widths of Arial and Helvetica) and
/// DejaVu Sans, so that what is kept apart here stays apart in whichever of them the reader has.
/// Source: advance widths (hmtx) of DejaVu Sans 2.37 and Liberation Sans 2.1
[[nodiscard]] double text_width(std::string_view text);
[[nodiscard]] double text_width(const RichText& text);

/// Sub- and superscripts are set at this share of the size.
inline constexpr double kScriptSize = 0.7;
/// Height of capitals and depth of descenders over the size of the font, the larger of the two fonts.
inline constexpr double kCapHeight = 0.73;
inline constexpr double kAscent = 0.77;
inline constexpr double kDescent = 0.24;

struct PageBox {
  double left{}, top{}, right{}, bottom{};
};

enum class TextAnchor { start, middle, end };

struct TextStyle {
  double size{8.0};                        ///< [pt]
  TextAnchor anchor{TextAnchor::start};
  bool upwards{};                          ///< turned to be read from the right
  std::string_view colour{"#000000"};
  bool halo{};                             ///< white seam, for text over lines
};

struct Stroke {
  std::string_view colour{"#000000"};
  double width{0.5};                       ///< [pt]
  std::string_view dashes{};               ///< stroke-dasharray, empty: solid
};

/// Path data with coordinates rounded to 0.01 pt.
/// Error: std::domain_error for a coordinate that is not finite
class PathData {
 public:
  PathData& move(double x, double y);
  PathData& line(double x, double y);
  PathData& close();
  [[nodiscard]] const std::string& text() const { return text_; }
  [[nodiscard]] bool empty() const { return text_.empty(); }

 private:
  std::string text_;
};

/// Where a text ended up on the page, for tests that nothing collides.
struct PlacedText {
  std::string text;
  PageBox box;
};

/// Escapes text for XML content and attribute values; bytes that are no UTF-8 and control characters become '?'.
[[nodiscard]] std::string xml_escaped(std::string_view text);

/// Coordinate rounded to 0.01 pt, without trailing zeros.
/// Error: std::domain_error when not finite
[[nodiscard]] std::string coordinate(double value);

/// Collects elements; finish() gives the document.
class SvgPage {
 public:
  /// `id` begins every id of the document, so that several can stand in one HTML page.
  SvgPage(double width_pt, std::string id) : width_{width_pt}, id_{std::move(id)} {}
  [[nodiscard]] double width() const { return width_; }

  void text(double x, double y, const RichText& text, const TextStyle& style);
  void line(double x0, double y0, double x1, double y1, const Stroke& stroke);
  void rectangle(const PageBox& box, const Stroke& stroke, std::string_view fill = "none");
  void circle(double x, double y, double radius, const Stroke& stroke, std::string_view fill = "none",
              std::string_view attributes = {});
  void path(const std::string& data, const Stroke& stroke, std::string_view fill = "none",
            std::string_view attributes = {});
  /// `attributes` is written as it is: values must be escaped.
  void begin_group(std::string_view attributes);
  void end_group();
  /// Everything until end_group() is cut at the box.
  void begin_clip(const PageBox& box);
  /// Everything until end_group() is cut at the (even-odd) outline.
  void begin_clip(const std::string& path_data);
  /// Lines at an angle as a pattern.
  void hatch(std::string_view name, double angle_deg, double spacing, const Stroke& stroke);
  /// Dots as a pattern.
  void dots(std::string_view name, double spacing, double radius, std::string_view colour);

  [[nodiscard]] const std::vector<PlacedText>& texts() const { return texts_; }
  /// fill="url(#...)" of a pattern.
  [[nodiscard]] std::string pattern_fill(std::string_view name) const;
  /// The whole document.
  [[nodiscard]] std::string finish(double height_pt, const std::string& title, const std::string& description) const;

 private:
  double width_;
  std::string id_;
  int clips_{};
  std::string body_;
  std::string definitions_;
  std::vector<PlacedText> texts_;
};

/// Who made a figure, of what and how; carried inside the file.
struct FigureOrigin {
  std::string maker;                 ///< program and version
  std::vector<std::string> sources;  ///< files with their digests
  std::string options;               ///< may be empty
};

/// The drawing with its origin in <metadata>, as Dublin Core in RDF (SVG 1.1, section 21).
[[nodiscard]] std::string svg_with_origin(const std::string& svg, const FigureOrigin& origin);

}  // namespace whorl::figures
