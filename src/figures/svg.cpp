#include "figures/svg.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <stdexcept>

namespace whorl::figures {
namespace {

// Advance widths in thousandths of the size, U+0020 to U+007E.
constexpr std::array<int, 95> kAscii{318,  401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337,
                                     636,  636, 636, 636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 556,
                                     1015, 684, 686, 722, 770, 667, 611, 778, 752, 295, 500, 667, 557, 863, 748, 787,
                                     667,  787, 722, 667, 611, 732, 684, 989, 685, 667, 685, 390, 337, 390, 838, 556,
                                     500,  613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612,
                                     635,  635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838};

struct GlyphWidth {
  std::uint32_t code;
  int width;
};
constexpr std::array kOthers{
    GlyphWidth{0xa0, 318},   GlyphWidth{0xb0, 500},   GlyphWidth{0xb1, 838},   GlyphWidth{0xb2, 401},
    GlyphWidth{0xb3, 401},   GlyphWidth{0xb5, 636},   GlyphWidth{0xb7, 318},   GlyphWidth{0xb9, 401},
    GlyphWidth{0xd7, 838},   GlyphWidth{0x394, 684},  GlyphWidth{0x3a9, 764},  GlyphWidth{0x3b1, 659},
    GlyphWidth{0x3b2, 638},  GlyphWidth{0x3b3, 592},  GlyphWidth{0x3b4, 612},  GlyphWidth{0x3b5, 541},
    GlyphWidth{0x3b6, 544},  GlyphWidth{0x3b7, 634},  GlyphWidth{0x3b8, 612},  GlyphWidth{0x3b9, 338},
    GlyphWidth{0x3ba, 589},  GlyphWidth{0x3bb, 592},  GlyphWidth{0x3bc, 636},  GlyphWidth{0x3bd, 559},
    GlyphWidth{0x3be, 558},  GlyphWidth{0x3bf, 612},  GlyphWidth{0x3c0, 690},  GlyphWidth{0x3c1, 635},
    GlyphWidth{0x3c3, 634},  GlyphWidth{0x3c4, 602},  GlyphWidth{0x3c5, 579},  GlyphWidth{0x3c6, 660},
    GlyphWidth{0x3c7, 592},  GlyphWidth{0x3c8, 728},  GlyphWidth{0x3c9, 837},  GlyphWidth{0x2009, 200},
    GlyphWidth{0x202f, 200}, GlyphWidth{0x2013, 556}, GlyphWidth{0x2212, 838}, GlyphWidth{0x2264, 838},
    GlyphWidth{0x2265, 838}};
// Anything else is taken as wide: too much room rather than too little.
constexpr int kUnknown = 1070;
constexpr std::uint32_t kReplacement = '?';

// The character at `at`, which moves on; '?' for a byte that starts no valid sequence.
std::uint32_t next_character(std::string_view text, std::size_t& at) {
  const auto byte = [&](std::size_t i) { return static_cast<std::uint32_t>(static_cast<unsigned char>(text[i])); };
  const std::uint32_t first = byte(at);
  if (first < 0x80) {
    ++at;
    return first;
  }
  const std::size_t length = first >= 0xf0 && first < 0xf5   ? 4
                             : first >= 0xe0 && first < 0xf0 ? 3
                             : first >= 0xc2 && first < 0xe0 ? 2
                                                             : 0;
  if (length == 0 || at + length > text.size()) {
    ++at;
    return kReplacement;
  }
  std::uint32_t code = first & (0xffU >> (length + 1));
  for (std::size_t i = 1; i < length; ++i) {
    if ((byte(at + i) & 0xc0U) != 0x80U) {
      ++at;
      return kReplacement;
    }
    code = (code << 6U) | (byte(at + i) & 0x3fU);
  }
  const bool overlong = (length == 3 && code < 0x800) || (length == 4 && code < 0x10000);
  if (overlong || code > 0x10ffff || (code >= 0xd800 && code < 0xe000) || code == 0xfffe || code == 0xffff) {
    ++at;
    return kReplacement;
  }
  at += length;
  return code;
}

int glyph_width(std::uint32_t code) {
  if (code >= 0x20 && code < 0x7f) return kAscii[code - 0x20];
  const auto found = std::find_if(kOthers.begin(), kOthers.end(), [&](const GlyphWidth& g) { return g.code == code; });
  return found == kOthers.end() ? kUnknown : found->width;
}

const char* anchor_word(TextAnchor anchor) {
  return anchor == TextAnchor::start ? "start" : anchor == TextAnchor::middle ? "middle" : "end";
}

std::string stroke_attributes(const Stroke& stroke) {
  if (stroke.width <= 0.0) return " stroke=\"none\"";
  std::string out = " stroke=\"" + std::string(stroke.colour) + "\" stroke-width=\"" + coordinate(stroke.width) + '"';
  if (!stroke.dashes.empty()) out += " stroke-dasharray=\"" + std::string(stroke.dashes) + '"';
  return out;
}

std::string with_space(std::string_view attributes) {
  return attributes.empty() ? std::string() : ' ' + std::string(attributes);
}

}  // namespace

RichText plain_rich(std::string text) { return {TextRun{std::move(text), false, 0}}; }

std::string unstyled(const RichText& text) {
  std::string out;
  for (const auto& run : text) out += run.text;
  return out;
}

double text_width(std::string_view text) {
  int width = 0;
  for (std::size_t at = 0; at < text.size();) width += glyph_width(next_character(text, at));
  return 1e-3 * width;
}

double text_width(const RichText& text) {
  double width = 0.0;
  for (const auto& run : text) width += text_width(run.text) * (run.script == 0 ? 1.0 : kScriptSize);
  return width;
}

std::string coordinate(double value) {
  if (!std::isfinite(value)) throw std::domain_error("a coordinate of a figure is not finite");
  double rounded = std::round(100.0 * value) / 100.0;
  if (rounded == 0.0) rounded = 0.0;  // no negative zero
  std::array<char, 48> buffer{};
  const auto result = std::to_chars(buffer.data(), buffer.data() + buffer.size(), rounded, std::chars_format::fixed);
  return {buffer.data(), result.ptr};
}

std::string xml_escaped(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t begin = at;
    const std::uint32_t code = next_character(text, at);
    switch (code) {
      case '&': out += "&amp;"; break;
      case '<': out += "&lt;"; break;
      case '>': out += "&gt;"; break;
      case '"': out += "&quot;"; break;
      case '\'': out += "&#39;"; break;
      case '\n': out += '\n'; break;
      case '\t': out += ' '; break;
      default:
        if (code < 0x20 || (code >= 0x7f && code < 0xa0)) {
          out += '?';
        } else if (code == kReplacement) {
          out += '?';
        } else {
          out += text.substr(begin, at - begin);
        }
    }
  }
  return out;
}

PathData& PathData::move(double x, double y) {
  text_ += 'M' + coordinate(x) + ' ' + coordinate(y);
  return *this;
}

PathData& PathData::line(double x, double y) {
  text_ += 'L' + coordinate(x) + ' ' + coordinate(y);
  return *this;
}

PathData& PathData::close() {
  text_ += 'Z';
  return *this;
}

void SvgPage::text(double x, double y, const RichText& text, const TextStyle& style) {
  if (unstyled(text).empty()) return;
  const double width = text_width(text) * style.size;
  const double shift = style.anchor == TextAnchor::start    ? 0.0
                       : style.anchor == TextAnchor::middle ? 0.5 * width
                                                            : width;
  const bool sub = std::any_of(text.begin(), text.end(), [](const TextRun& r) { return r.script < 0; });
  const double above = kAscent * style.size;
  const double below = (kDescent + (sub ? 0.08 : 0.0)) * style.size;
  const PageBox box = style.upwards ? PageBox{x - above, y - width + shift, x + below, y + shift}
                                    : PageBox{x - shift, y - above, x - shift + width, y + below};
  texts_.push_back({unstyled(text), box});

  body_ += "<text x=\"" + coordinate(x) + "\" y=\"" + coordinate(y) + "\" font-size=\"" + coordinate(style.size) + "\"";
  if (style.anchor != TextAnchor::start) body_ += std::string(" text-anchor=\"") + anchor_word(style.anchor) + '"';
  if (style.upwards) body_ += " transform=\"rotate(-90 " + coordinate(x) + ' ' + coordinate(y) + ")\"";
  if (style.colour != "#000000") body_ += " fill=\"" + std::string(style.colour) + '"';
  if (style.halo)
    body_ += " stroke=\"#ffffff\" stroke-width=\"" + coordinate(0.28 * style.size) +
             "\" stroke-linejoin=\"round\" paint-order=\"stroke\"";
  if (text.size() > 1) body_ += " xml:space=\"preserve\"";  // blanks between runs count
  body_ += '>';
  double raised = 0.0;
  for (const auto& run : text) {
    const double wanted = run.script < 0 ? 0.2 * style.size : run.script > 0 ? -0.36 * style.size : 0.0;
    const double step = wanted - raised;
    raised = wanted;
    if (!run.italic && run.script == 0 && step == 0.0) {
      body_ += xml_escaped(run.text);
      continue;
    }
    body_ += "<tspan";
    if (step != 0.0) body_ += " dy=\"" + coordinate(step) + '"';
    if (run.italic) body_ += " font-style=\"italic\"";
    if (run.script != 0) body_ += " font-size=\"" + coordinate(kScriptSize * style.size) + '"';
    body_ += '>' + xml_escaped(run.text) + "</tspan>";
  }
  body_ += "</text>\n";
}

void SvgPage::line(double x0, double y0, double x1, double y1, const Stroke& stroke) {
  body_ += "<line x1=\"" + coordinate(x0) + "\" y1=\"" + coordinate(y0) + "\" x2=\"" + coordinate(x1) + "\" y2=\"" +
           coordinate(y1) + '"' + stroke_attributes(stroke) + "/>\n";
}

void SvgPage::rectangle(const PageBox& box, const Stroke& stroke, std::string_view fill) {
  body_ += "<rect x=\"" + coordinate(box.left) + "\" y=\"" + coordinate(box.top) + "\" width=\"" +
           coordinate(box.right - box.left) + "\" height=\"" + coordinate(box.bottom - box.top) + "\" fill=\"" +
           std::string(fill) + '"' + stroke_attributes(stroke) + "/>\n";
}

void SvgPage::circle(double x, double y, double radius, const Stroke& stroke, std::string_view fill,
                     std::string_view attributes) {
  body_ += "<circle cx=\"" + coordinate(x) + "\" cy=\"" + coordinate(y) + "\" r=\"" + coordinate(radius) +
           "\" fill=\"" + std::string(fill) + '"' + stroke_attributes(stroke) + with_space(attributes) + "/>\n";
}

void SvgPage::path(const std::string& data, const Stroke& stroke, std::string_view fill, std::string_view attributes) {
  if (data.empty()) return;
  body_ += "<path d=\"" + data + "\" fill=\"" + std::string(fill) + '"';
  if (fill != "none") body_ += " fill-rule=\"evenodd\"";
  body_ += stroke_attributes(stroke) + with_space(attributes) + "/>\n";
}

void SvgPage::begin_group(std::string_view attributes) { body_ += "<g" + with_space(attributes) + ">\n"; }

void SvgPage::end_group() { body_ += "</g>\n"; }

void SvgPage::begin_clip(const PageBox& box) {
  begin_clip(PathData()
                 .move(box.left, box.top)
                 .line(box.right, box.top)
                 .line(box.right, box.bottom)
                 .line(box.left, box.bottom)
                 .close()
                 .text());
}

void SvgPage::begin_clip(const std::string& path_data) {
  const std::string id = id_ + "clip" + std::to_string(++clips_);
  definitions_ += "<clipPath id=\"" + id + "\"><path clip-rule=\"evenodd\" d=\"" + path_data + "\"/></clipPath>\n";
  body_ += "<g clip-path=\"url(#" + id + ")\">\n";
}

void SvgPage::hatch(std::string_view name, double angle_deg, double spacing, const Stroke& stroke) {
  definitions_ += "<pattern id=\"" + id_ + std::string(name) + "\" patternUnits=\"userSpaceOnUse\" width=\"" +
                  coordinate(spacing) + "\" height=\"" + coordinate(spacing) + "\" patternTransform=\"rotate(" +
                  coordinate(angle_deg) + ")\"><line x1=\"0\" y1=\"" + coordinate(0.5 * spacing) + "\" x2=\"" +
                  coordinate(spacing) + "\" y2=\"" + coordinate(0.5 * spacing) + '"' + stroke_attributes(stroke) +
                  "/></pattern>\n";
}

void SvgPage::dots(std::string_view name, double spacing, double radius, std::string_view colour) {
  const std::string half = coordinate(0.5 * spacing);
  definitions_ += "<pattern id=\"" + id_ + std::string(name) + "\" patternUnits=\"userSpaceOnUse\" width=\"" +
                  coordinate(spacing) + "\" height=\"" + coordinate(spacing) +
                  "\" patternTransform=\"rotate(45)\"><circle cx=\"" + half + "\" cy=\"" + half + "\" r=\"" +
                  coordinate(radius) + "\" fill=\"" + std::string(colour) + "\"/></pattern>\n";
}

std::string SvgPage::pattern_fill(std::string_view name) const { return "url(#" + id_ + std::string(name) + ')'; }

std::string SvgPage::finish(double height_pt, const std::string& title, const std::string& description) const {
  const auto mm = [](double points) { return coordinate(points / kPointsPerMm) + "mm"; };
  std::string out = "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"" + mm(width_) + "\" height=\"" +
                    mm(height_pt) + "\" viewBox=\"0 0 " + coordinate(width_) + ' ' + coordinate(height_pt) +
                    "\" role=\"img\" aria-labelledby=\"" + id_ + "title " + id_ +
                    "desc\" font-family=\"Arial, 'Liberation Sans', Helvetica, 'DejaVu Sans', sans-serif\">\n";
  out += "<title id=\"" + id_ + "title\">" + xml_escaped(title) + "</title>\n<desc id=\"" + id_ + "desc\">" +
         xml_escaped(description) + "</desc>\n<rect width=\"" + coordinate(width_) + "\" height=\"" +
         coordinate(height_pt) + "\" fill=\"#ffffff\"/>\n";
  if (!definitions_.empty()) out += "<defs>\n" + definitions_ + "</defs>\n";
  return out + body_ + "</svg>\n";
}

std::string svg_with_origin(const std::string& svg, const FigureOrigin& origin) {
  static constexpr std::string_view kBefore = "</desc>\n";  // of finish(): the first one of the document
  std::string text =
      "<metadata><rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\" "
      "xmlns:dc=\"http://purl.org/dc/elements/1.1/\">\n"
      "<rdf:Description rdf:about=\"\"><dc:creator>" +
      xml_escaped(origin.maker) + "</dc:creator>\n";
  for (const std::string& source : origin.sources) text += "<dc:source>" + xml_escaped(source) + "</dc:source>\n";
  if (!origin.options.empty()) text += "<dc:description>options " + xml_escaped(origin.options) + "</dc:description>\n";
  text += "</rdf:Description></rdf:RDF></metadata>\n";
  std::string out = svg;
  if (const std::size_t at = svg.find(kBefore); at != std::string::npos) out.insert(at + kBefore.size(), text);
  return out;
}

}  // namespace whorl::figures
