#include "figures/opening.hpp"

#include <algorithm>
#include <cmath>

#include "figures/figure_text.hpp"
#include "figures/svg.hpp"

namespace whorl::figures {
namespace {

constexpr double kLeft = 2.0, kRight = 98.0;  // ends of the ruler, per cent of the width
constexpr double kNarrow = 300.0;             // pixels of the narrowest screen that labels keep apart on
constexpr double kGlyph = 7.0;                // width of a letter in the labels, pixels

// Within this part of a 90 % band of a normal distribution the value lies as likely as not: 0.6745/1.6449.
constexpr double kHalf = 0.41;

struct Ruler {
  double low, high;
  [[nodiscard]] double at(double um) const {
    return kLeft + (kRight - kLeft) * std::log(um / low) / std::log(high / low);
  }
};

std::string percent_place(double share) { return coordinate(share) + '%'; }

std::string rect(const std::string& kind, double from, double to, double top, double tall) {
  return "<rect class=\"" + kind + "\" x=\"" + percent_place(from) + "\" y=\"" + coordinate(top) + "\" width=\"" +
         percent_place(std::max(to - from, 0.6)) + "\" height=\"" + coordinate(tall) + "\"/>";
}

// Text that stays inside: at the ends it is set to the inner side.
std::string label(double at, double y, const std::string& words, const std::string& kind) {
  const double half = 50.0 * kGlyph * static_cast<double>(words.size()) / kNarrow;
  const char* anchor = at - half < 0.0 ? "start" : at + half > 100.0 ? "end" : "middle";
  const double place = at - half < 0.0 ? 1.0 : at + half > 100.0 ? 99.0 : at;
  return "<text class=\"" + kind + "\" x=\"" + percent_place(place) + "\" y=\"" + coordinate(y) +
         "\" text-anchor=\"" + anchor + "\">" + xml_escaped(words) + "</text>";
}

// Marks at 1, 2 and 5 times powers of ten; where they would crowd, at powers of ten alone.
std::string marks(const Ruler& ruler, double axis) {
  std::string out;
  const int from = static_cast<int>(std::floor(std::log10(ruler.low)));
  const int to = static_cast<int>(std::ceil(std::log10(ruler.high)));
  const bool crowded = to - from > 3;
  double taken = -100.0;
  for (int power = from; power <= to; ++power)
    for (const int digit : {1, 2, 5}) {
      const double um = digit * std::pow(10.0, power);
      if (um < ruler.low || um > ruler.high) continue;
      const double at = ruler.at(um);
      out += "<line class=\"axis\" x1=\"" + percent_place(at) + "\" x2=\"" + percent_place(at) + "\" y1=\"" +
             coordinate(axis) + "\" y2=\"" + coordinate(axis + (digit == 1 ? 7.0 : 5.0)) + "\"/>";
      const std::string words = print_number(um, 2);
      const double room = 100.0 * (kGlyph * static_cast<double>(words.size()) + 10.0) / kNarrow;
      if ((crowded && digit != 1) || at - taken < room || at > 92.0 || at < 3.0) continue;
      out += label(at, axis + 20.0, words, "mark");
      taken = at;
    }
  return out;
}

std::string card(const std::string& kind, const std::string& html) {
  return "<div class=\"card " + kind + "\">\n" + html + "</div>\n";
}

std::string picture(const Figure& figure, const std::string& title, const std::string& words, const std::string& link) {
  std::string out =
      "<h2>" + xml_escaped(title) + "</h2>\n<figure>\n" + figure.svg + "<figcaption>" + xml_escaped(words);
  if (!link.empty()) out += " <a href=\"#" + xml_escaped(link) + "\">Pick a point of the map</a>";
  return out + "</figcaption>\n</figure>\n";
}

}  // namespace

std::string html_ruler(const Opening& opening) {
  if (opening.bands.empty()) return {};
  double low = INFINITY;
  double high = 0.0;
  const auto hold = [&](double um) {
    if (!(um > 0.0) || !std::isfinite(um)) return;
    low = std::min(low, um);
    high = std::max(high, um);
  };
  for (const RulerBand& band : opening.bands) {
    hold(band.low_um);
    hold(band.middle_um);
    hold(band.high_um);
  }
  hold(opening.least_um.value_or(0.0));
  hold(opening.most_um.value_or(0.0));
  constexpr double kBeyond = 1.35;
  const Ruler ruler{low / kBeyond, high * kBeyond};

  constexpr double kPitch = 36.0, kTop = 14.0, kUnderBar = 14.0;
  const bool wanted = opening.least_um || opening.most_um;
  const double top = wanted ? kTop + 4.0 : 2.0;
  const double axis = top + kPitch * static_cast<double>(opening.bands.size()) + 2.0;
  const double height = axis + 26.0;
  std::string spoken = "Dry diameter on a logarithmic ruler:";
  for (const RulerBand& band : opening.bands)
    spoken += ' ' + band.label + ", 90 % between " + print_number(band.low_um, 2) + " and " +
              print_number(band.high_um, 2) + " µm;";
  spoken.back() = '.';
  std::string out = "<svg class=\"ruler\" role=\"img\" aria-label=\"" + xml_escaped(spoken) +
                    "\" width=\"100%\" height=\"" + coordinate(height) + "\">";
  if (wanted) {
    const double from = opening.least_um ? ruler.at(*opening.least_um) : kLeft;
    const double to = opening.most_um ? ruler.at(*opening.most_um) : kRight;
    out += rect("zone", from, to, kTop, axis - kTop) + label(0.5 * (from + to), kTop - 3.0, "wanted", "wanted");
  }
  for (std::size_t i = 0; i < opening.bands.size(); ++i) {
    const RulerBand& band = opening.bands[i];
    const double base = top + kPitch * static_cast<double>(i);
    const double y = base + kUnderBar + 4.0;
    const std::string which = i == 0 ? "first" : "other";
    const double thick = i == 0 ? 12.0 : 8.0;
    const double middle = band.middle_um;
    out += rect("band " + which, ruler.at(band.low_um), ruler.at(band.high_um), y, thick);
    out += rect("half " + which, ruler.at(middle * std::pow(band.low_um / middle, kHalf)),
                ruler.at(middle * std::pow(band.high_um / middle, kHalf)), y, thick);
    out += "<circle class=\"dot\" cx=\"" + percent_place(ruler.at(middle)) + "\" cy=\"" + coordinate(y + 0.5 * thick) +
           "\" r=\"" + coordinate(0.5 * thick + 2.0) + "\"/>";
    out += label(ruler.at(middle), base + 12.0, (i == 0 ? "" : "or ") + band.label, "name");
  }
  out += "<line class=\"axis\" x1=\"" + percent_place(kLeft) + "\" x2=\"" + percent_place(kRight) + "\" y1=\"" +
         coordinate(axis) + "\" y2=\"" + coordinate(axis) + "\"/>" + marks(ruler, axis) +
         "<text class=\"mark\" x=\"99%\" y=\"" + coordinate(axis + 20.0) + "\" text-anchor=\"end\">µm</text></svg>\n";
  return out;
}

std::string html_outcomes(const std::vector<OutcomeShare>& outcomes) {
  double sum = 0.0;
  for (const OutcomeShare& one : outcomes) sum += one.share;
  if (!(sum > 0.0)) return {};
  std::string bar = "<svg class=\"outcomes\" aria-hidden=\"true\" width=\"100%\" height=\"24\">";
  std::string legend = "<ul class=\"outcomes\" aria-label=\"What is seen on the collector\">\n";
  double at = 0.0;
  for (const OutcomeShare& one : outcomes) {
    const double wide = 100.0 * one.share / sum;
    bar += rect("outcome " + one.key, at, std::max(at, at + wide - 0.4), 0.0, 24.0);
    at += wide;
    legend += "<li><svg aria-hidden=\"true\" width=\"12\" height=\"12\"><rect class=\"outcome " + one.key +
              "\" width=\"12\" height=\"12\"/></svg> " + xml_escaped(one.words) + " <strong>" +
              xml_escaped(one.percent) + "</strong></li>\n";
  }
  return bar + "</svg>\n" + legend + "</ul>\n";
}

std::string html_opening(const Opening& opening) {
  const auto paragraph = [](const char* kind, const std::string& text) {
    return text.empty() ? std::string()
                        : "<p class=\"" + std::string(kind) + "\">" + xml_escaped(text) + "</p>\n";
  };
  std::string answer = "<h2 class=\"headline\">" + xml_escaped(opening.headline) + "</h2>\n" +
                       paragraph("second", opening.second) + html_ruler(opening) + html_outcomes(opening.outcomes) +
                       paragraph("foot", opening.extent);
  std::string next = "<h2>What to do next</h2>\n";
  if (!opening.chance.empty())
    next += "<p class=\"chance\"><strong>" + xml_escaped(opening.chance) + "</strong> " +
            xml_escaped(opening.chance_of) + "</p>\n";
  if (!opening.steps.empty()) {
    next += "<ul class=\"steps\">\n";
    for (const OpeningStep& step : opening.steps)
      next += "<li><strong>" + std::string(step.warns ? "\u26a0 " : "") + xml_escaped(step.label) + ":</strong> " +
              xml_escaped(step.text) + "</li>\n";
    next += "</ul>\n";
  }
  if (!opening.caution.empty()) next += paragraph("warning", "\u26a0 " + opening.caution);
  std::string out = "<section class=\"opening\" aria-label=\"In short\">\n" + card("answer", answer) +
                    card("next", next);
  if (opening.map) out += card("where", picture(*opening.map, opening.map_title, opening.map_words, opening.map_link));
  if (opening.picture)
    out += card("seen", picture(*opening.picture, opening.picture_title, opening.picture_words, {}));
  return out + "</section>\n";
}

}  // namespace whorl::figures
