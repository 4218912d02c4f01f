// Drawing: contours, ticks, text, and what the figures say when their SVG is read back.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "catch.hpp"
#include "figures/contour.hpp"
#include "figures/figure_kinds.hpp"
#include "figures/figure_axis.hpp"
#include "io/table.hpp"
#include "whorl/model/error.hpp"
#include "io/svg_reader.hpp"

using namespace whorl::io;

namespace {

std::vector<double> even(double from, double to, std::size_t count) {
  std::vector<double> out;
  for (std::size_t i = 0; i < count; ++i) out.push_back(from + (to - from) * static_cast<double>(i) / static_cast<double>(count - 1));
  return out;
}

template <typename F>
whorl::figures::GridField field_of(const std::vector<double>& x, const std::vector<double>& y, F f) {
  whorl::figures::GridField field{x, y, {}};
  for (const double b : y)
    for (const double a : x) field.values.push_back(f(a, b));
  return field;
}

// Area by the shoelace formula: positive when the line runs anticlockwise.
double area(const whorl::figures::ContourLine& line) {
  double sum = 0.0;
  for (std::size_t i = 1; i < line.size(); ++i) sum += line[i - 1].x * line[i].y - line[i].x * line[i - 1].y;
  return 0.5 * sum;
}

bool overlap(const whorl::figures::PageBox& a, const whorl::figures::PageBox& b) { return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom; }

void check_texts(const whorl::figures::Figure& figure) {
  for (std::size_t i = 0; i < figure.texts.size(); ++i) {
    const auto& text = figure.texts[i];
    INFO(text.text << " at " << text.box.left << ", " << text.box.top);
    CHECK(text.box.left >= 0.0);
    CHECK(text.box.top >= 0.0);
    CHECK(text.box.right <= figure.width_pt);
    CHECK(text.box.bottom <= figure.height_pt);
    for (std::size_t k = i + 1; k < figure.texts.size(); ++k) {
      INFO("against " << figure.texts[k].text << " at " << figure.texts[k].box.left << ", " << figure.texts[k].box.top);
      CHECK_FALSE(overlap(text.box, figure.texts[k].box));
    }
  }
  CHECK(figure.svg.find("nan") == std::string::npos);
  CHECK(figure.svg.find("inf") == std::string::npos);
}

const svg_reader::Element& first_of(const std::vector<svg_reader::Element>& all, const std::string& class_name) {
  const auto found = std::find_if(all.begin(), all.end(), [&](const auto& e) { return e.get("class") == class_name; });
  REQUIRE(found != all.end());
  return *found;
}

whorl::figures::MapFigure demo_map() {
  whorl::figures::MapFigure map;
  map.x_column = "rotation_speed_rpm";
  map.y_column = "gas_overpressure_MPa";
  map.z_column = "dry_diameter_um";
  map.x_quantity = whorl::figures::quantified(map.x_column);
  map.y_quantity = whorl::figures::quantified(map.y_column);
  map.z_quantity = whorl::figures::quantified(map.z_column);
  map.x = even(4000.0, 12000.0, 9);
  map.y = even(0.0, 0.3, 7);
  for (const double y : map.y)
    for (const double x : map.x) {
      const bool stalled = x < 5500.0 && y < 0.12;
      const bool wet = x > 9500.0 && y > 0.16;
      map.z.push_back(stalled ? NAN : 3.0 + 20.0 * y + x / 4000.0);
      map.classes.push_back(stalled ? "stalled" : wet ? "wet-landing" : "continuous");
    }
  return map;
}

}  // namespace

TEST_CASE("contours: the circle of a paraboloid") {
  // x^2 + y^2 = r^2 exactly. Linear interpolation along an edge of length h errs by at most h^2/4 in the value, so by h^2/(8 r) in
  // the radius; the inscribed polygon loses a share of area of the same order.
  constexpr double kRadius = 0.7;
  const double h = 2.0 / 80.0;
  const auto field = field_of(even(-1.0, 1.0, 81), even(-1.0, 1.0, 81), [](double x, double y) { return x * x + y * y; });
  const auto lines = whorl::figures::iso_lines(field, kRadius * kRadius);
  REQUIRE(lines.size() == 1);
  const auto& line = lines.front();
  CHECK(line.front().x == line.back().x);
  CHECK(line.front().y == line.back().y);
  for (const auto& point : line) CHECK_THAT(std::hypot(point.x, point.y), WithinAbs(kRadius, 1.05 * h * h / (8.0 * kRadius)));
  // High values on the left: round a minimum the line runs clockwise.
  CHECK_THAT(area(line), WithinRel(-std::numbers::pi * kRadius * kRadius, 2e-3));
}

TEST_CASE("contours: second order of the interpolation") {
  const auto worst = [](std::size_t n) {
    const auto field = field_of(even(-1.0, 1.0, n), even(-1.0, 1.0, n), [](double x, double y) { return std::exp(x) + std::exp(y); });
    double error = 0.0;
    for (const auto& line : whorl::figures::iso_lines(field, 2.3))
      for (const auto& p : line) error = std::max(error, std::abs(std::exp(p.x) + std::exp(p.y) - 2.3));
    return error;
  };
  const double order = std::log2(worst(21) / worst(41));
  CHECK(order > 1.8);
  CHECK(order < 2.3);
}

TEST_CASE("contours: a plane is exact, open lines end on the edge") {
  const auto field = field_of(even(0.0, 1.0, 5), even(0.0, 2.0, 4), [](double x, double y) { return 2.0 * x + y; });
  const auto lines = whorl::figures::iso_lines(field, 1.5);
  REQUIRE(lines.size() == 1);
  for (const auto& p : lines.front()) CHECK_THAT(2.0 * p.x + p.y, WithinAbs(1.5, 1e-14));
  for (const auto& p : {lines.front().front(), lines.front().back()})
    CHECK((p.x == 0.0 || p.x == 1.0 || p.y == 0.0 || p.y == 2.0));
  // Region above it: the rectangle of area 2 less the triangle with legs 0.75 and 1.5 (2 x + y < 1.5).
  double whole = 0.0;
  for (const auto& line : whorl::figures::iso_region(field, 1.5)) {
    CHECK(line.front().x == line.back().x);
    CHECK(line.front().y == line.back().y);
    whole += area(line);
  }
  CHECK_THAT(whole, WithinAbs(2.0 - 0.5 * 0.75 * 1.5, 1e-12));
  // Everything, and nothing.
  double all = 0.0;
  for (const auto& line : whorl::figures::iso_region(field, -1.0)) all += area(line);
  CHECK_THAT(all, WithinAbs(2.0, 1e-12));
  CHECK(whorl::figures::iso_region(field, 10.0).empty());
  CHECK(whorl::figures::iso_lines(field, 10.0).empty());
}

TEST_CASE("contours: a saddle is joined as its centre says") {
  whorl::figures::GridField field{{0.0, 1.0}, {0.0, 1.0}, {1.0, 0.0, 0.0, 1.0}};
  // centre 0.5 >= 0.4: the high corners are joined, so each line cuts off a low corner (area to the left: all but 2 triangles)
  double joined = 0.0;
  for (const auto& line : whorl::figures::iso_region(field, 0.4)) joined += area(line);
  CHECK_THAT(joined, WithinAbs(1.0 - 2.0 * 0.5 * 0.4 * 0.4, 1e-12));
  double apart = 0.0;
  for (const auto& line : whorl::figures::iso_region(field, 0.6)) apart += area(line);
  CHECK_THAT(apart, WithinAbs(2.0 * 0.5 * 0.4 * 0.4, 1e-12));
}

TEST_CASE("contours: bad grids are refused") {
  CHECK_THROWS_AS(whorl::figures::iso_lines({{0.0, 0.0}, {0.0, 1.0}, {0, 0, 0, 0}}, 0.5), std::invalid_argument);
  CHECK_THROWS_AS(whorl::figures::iso_lines({{0.0, 1.0}, {0.0, 1.0}, {0, 0, 0}}, 0.5), std::invalid_argument);
  CHECK_THROWS_AS(whorl::figures::iso_lines({{0.0, 1.0}, {0.0, 1.0}, {0, 0, 0, NAN}}, 0.5), std::invalid_argument);
}

TEST_CASE("ticks are round numbers inside the range") {
  CHECK(whorl::figures::nice_ticks(0.0, 1.0, 5) == std::vector<double>{0.0, 0.2, 0.4, 0.6, 0.8, 1.0});
  CHECK(whorl::figures::nice_ticks(4000.0, 14000.0, 5) == std::vector<double>{4000.0, 6000.0, 8000.0, 10000.0, 12000.0, 14000.0});
  CHECK(whorl::figures::nice_ticks(-0.03, 0.07, 5) == std::vector<double>{-0.02, 0.0, 0.02, 0.04, 0.06});
  const whorl::figures::Axis decades = whorl::figures::make_axis(1e-6, 1e2, {true, true, false, 5}, {}, "");
  for (const auto& tick : decades.ticks) CHECK_THAT(std::log10(tick.value) - std::round(std::log10(tick.value)), WithinAbs(0.0, 1e-12));
  CHECK(decades.ticks.size() >= 4);
  const whorl::figures::Axis one = whorl::figures::make_axis(3.0, 40.0, {true, true, false, 5}, {}, "");
  std::vector<double> values;
  for (const auto& tick : one.ticks) values.push_back(tick.value);
  CHECK(values == std::vector<double>{2.0, 5.0, 10.0, 20.0, 50.0});
  CHECK_THROWS_AS(whorl::figures::make_axis(0.0, 1.0, {true, true, false, 5}, {}, ""), std::domain_error);
  CHECK_THROWS_AS(whorl::figures::make_axis(0.0, NAN, {}, {}, ""), std::domain_error);
  const whorl::figures::Axis level = whorl::figures::make_axis(5.0, 5.0, {}, {}, "");  // a constant still has an axis
  CHECK(level.low < 5.0);
  CHECK(level.high > 5.0);
}

TEST_CASE("text is never taken as narrower than in print") {
  // Helvetica (and Arial): Adobe Core 14 font metrics, thousandths of the size (from memory).
  CHECK(whorl::figures::text_width("A") >= 0.667);
  CHECK(whorl::figures::text_width("m") >= 0.833);
  CHECK(whorl::figures::text_width("W") >= 0.944);
  CHECK(whorl::figures::text_width("0123456789") >= 5.56);
  // DejaVu Sans 2.37, digits 1303 of 2048 units.
  CHECK(whorl::figures::text_width("0123456789") >= 10.0 * 1303.0 / 2048.0 - 5e-3);
  CHECK(whorl::figures::text_width("µ") < 1.0);
  CHECK(whorl::figures::text_width("\xff\xfe") > 0.5);  // bytes that are no UTF-8 still take room
}

TEST_CASE("labels: symbols italic, subscripts that describe upright, units upright") {
  const whorl::figures::RichText label = whorl::figures::rich_label(whorl::figures::quantified("dry_diameter_um"));
  CHECK(whorl::figures::unstyled(label) == "Dry diameter df / µm");
  REQUIRE(label.size() >= 3);
  CHECK_FALSE(label[0].italic);
  CHECK((label[1].text == "d" && label[1].italic && label[1].script == 0));
  CHECK((label[2].text == "f" && !label[2].italic && label[2].script == -1));
  CHECK(whorl::figures::unstyled(whorl::figures::rich_label(whorl::figures::quantified("line_speed_m_s"))) == "Line speed uf / (m/s)");
  CHECK(whorl::figures::unstyled(whorl::figures::rich_label(whorl::figures::quantified("solvent_mass_fraction"))) == "Solvent ws");
  CHECK(whorl::figures::unstyled(whorl::figures::rich_unit("1/s")) == "s−1");
  CHECK(whorl::figures::unstyled(whorl::figures::rich_unit("kg/m3")) == "kg/m3");
  CHECK(whorl::figures::rich_unit("kg/m3").back().script == 1);
  CHECK(whorl::figures::unstyled(whorl::figures::rich_unit("degC")) == "°C");
  CHECK(whorl::figures::unstyled(whorl::figures::rich_symbol("eta_0")) == "η0");
  CHECK(whorl::figures::unstyled(whorl::figures::rich_symbol("tau_ss - tau_rr")) == "τss\u00a0−\u00a0τrr");
  CHECK(whorl::figures::quantified("my_own_column_mm").unit == "mm");
  CHECK(whorl::figures::quantified("my_own_column_mm").name == "My own column");
  CHECK(whorl::figures::print_number(-12345.6) == "−12\u2009345.6");
  CHECK(whorl::figures::print_number(0.1) == "0.1");
  CHECK(whorl::figures::print_number(4000.0) == "4000");
}

TEST_CASE("colours read in grey") {
  for (int i = 0; i < 50; ++i) CHECK(whorl::figures::relative_luminance(whorl::figures::sequential_colour(i / 50.0)) > whorl::figures::relative_luminance(whorl::figures::sequential_colour((i + 1) / 50.0)));
  // Black text stays readable on the darkest: contrast at least 4.5 (WCAG 2, success criterion 1.4.3).
  CHECK((whorl::figures::relative_luminance(whorl::figures::sequential_colour(1.0)) + 0.05) / 0.05 >= 4.5);
  for (std::size_t a = 0; a < whorl::figures::series_style_count(); ++a)
    for (std::size_t b = a + 1; b < whorl::figures::series_style_count(); ++b) {
      CHECK(whorl::figures::series_style(a).dashes != whorl::figures::series_style(b).dashes);
      CHECK(whorl::figures::series_style(a).colour != whorl::figures::series_style(b).colour);
    }
  CHECK_THAT(whorl::figures::relative_luminance("#ffffff"), WithinAbs(1.0, 1e-9));
  CHECK_THAT(whorl::figures::relative_luminance("#777777"), WithinAbs(0.184, 1e-3));  // WCAG contrast checkers: 4.48 against white
}

TEST_CASE("panels: the lines are the data") {
  whorl::figures::PanelFigure figure;
  figure.x_column = "arc_length_mm";
  figure.x_quantity = whorl::figures::quantified("arc_length_mm");
  figure.title = "Profiles";
  figure.names = {"one", "two"};
  whorl::figures::Panel wide{"diameter_um", whorl::figures::quantified("diameter_um"), {}, {}, {}, {}};
  whorl::figures::Panel flat{"temperature_degC", whorl::figures::quantified("temperature_degC"), {}, {}, {}, {}};
  for (int s = 0; s < 2; ++s) {
    whorl::figures::Series d, t;
    for (int i = 0; i <= 40; ++i) {
      const double x = 50.0 * i;
      d.x.push_back(x);
      d.y.push_back(i == 20 ? NAN : 300.0 / (1.0 + i * (s + 1)));
      t.x.push_back(x);
      t.y.push_back(20.0 - 30.0 * std::exp(-0.1 * i) - s);
      t.low.push_back(t.y.back() - 2.0);
      t.high.push_back(t.y.back() + 3.0);
    }
    wide.series.push_back(d);
    flat.series.push_back(t);
  }
  figure.panels = {wide, flat};
  figure.band_means = "5 % to 95 %";
  const whorl::figures::Figure drawn = whorl::figures::draw_panels(figure, {});
  check_texts(drawn);
  const auto elements = svg_reader::parse(drawn.svg);
  int checked = 0;
  for (const auto& element : elements) {
    if (element.get("class") != "series" && element.get("class") != "band") continue;
    const svg_reader::Element* frame = nullptr;
    for (const std::size_t parent : element.parents)
      if (elements[parent].get("class") == "frame") frame = &elements[parent];
    REQUIRE(frame != nullptr);
    const whorl::figures::Panel& panel = frame->get("data-y") == "diameter_um" ? wide : flat;
    const whorl::figures::Series& series = panel.series[static_cast<std::size_t>(element.number("data-series"))];
    // The gap at point 20 cuts the line in two.
    const auto parts = svg_reader::path_points(element.get("d"));
    if (element.get("class") == "band") {
      REQUIRE(parts.size() == 1);
      REQUIRE(parts[0].size() == 82);
      for (std::size_t i = 0; i < 41; ++i) {
        CHECK_THAT(svg_reader::value_at(*frame, "y", parts[0][i].y), WithinAbs(series.high[i], 0.02));
        CHECK_THAT(svg_reader::value_at(*frame, "y", parts[0][81 - i].y), WithinAbs(series.low[i], 0.02));
      }
      ++checked;
      continue;
    }
    REQUIRE(parts.size() == (panel.column == "diameter_um" ? 2 : 1));
    std::size_t at = 0;
    for (const auto& part : parts)
      for (const auto& p : part) {
        if (!std::isfinite(series.y[at])) ++at;
        // coordinates are rounded to 0.005 pt, of about 60 pt for 2 decades and 40 K
        CHECK_THAT(svg_reader::value_at(*frame, "x", p.x), WithinAbs(series.x[at], 0.1));
        if (panel.column == "diameter_um") {
          CHECK_THAT(svg_reader::value_at(*frame, "y", p.y), WithinRel(series.y[at], 1e-3));
        } else {
          CHECK_THAT(svg_reader::value_at(*frame, "y", p.y), WithinAbs(series.y[at], 0.02));
        }
        ++at;
      }
    ++checked;
  }
  CHECK(checked == 6);
  // The decades of the diameter ask for a logarithmic axis; the temperature crosses zero.
  for (const auto& element : elements) {
    if (element.get("class") != "frame") continue;
    CHECK(element.get("data-y-scale") == (element.get("data-y") == "diameter_um" ? "log" : "linear"));
  }
}

TEST_CASE("map: iso-lines carry their level, hatching the classes, points their values") {
  whorl::figures::MapFigure map = demo_map();
  map.measured = {{6000.0, 0.2, 7.7, ""}, {9000.0, 0.05, NAN, ""}, {30000.0, 0.1, 3.0, ""}};
  map.marked = whorl::figures::MapFigure::Point{8000.0, 0.1, NAN, ""};
  const whorl::figures::Figure drawn = whorl::figures::draw_map(map, {});
  check_texts(drawn);
  const auto elements = svg_reader::parse(drawn.svg);
  const auto& frame = first_of(elements, "frame");
  std::size_t lines = 0;
  std::size_t dots = 0;
  std::vector<std::string> hatched;
  for (const auto& e : elements) {
    if (e.get("class") == "iso-line") {
      ++lines;
      const double level = e.number("data-level");
      // Where all four neighbours have a value the field is the plane itself, so the line is exact but for rounding.
      for (const auto& part : svg_reader::path_points(e.get("d")))
        for (const auto& p : part) {
          const double x = svg_reader::value_at(frame, "x", p.x);
          const double y = svg_reader::value_at(frame, "y", p.y);
          if (x < 6001.0 && y < 0.16) continue;
          CHECK_THAT(3.0 + 20.0 * y + x / 4000.0, WithinAbs(level, 2e-3));
        }
    }
    if (e.get("class") == "class-region") hatched.push_back(e.get("data-class"));
    if (e.name == "circle" && e.attributes.count("data-class") != 0) {
      CHECK((e.get("data-z").empty() ? e.get("data-class") == "stalled"
                                     : std::abs(e.number("data-z") - map.z[dots]) < 1e-12));
      CHECK_THAT(svg_reader::value_at(frame, "x", e.number("cx")), WithinAbs(map.x[dots % map.x.size()], 0.5));
      ++dots;
    }
  }
  CHECK(lines == whorl::figures::map_levels(map.z, 6).size());
  CHECK(lines >= 4);
  CHECK(dots == 63);
  CHECK(hatched == std::vector<std::string>{"wet-landing", "stalled"});
  CHECK(std::count_if(elements.begin(), elements.end(), [](const auto& e) { return e.get("class") == "measured"; }) == 2);
  CHECK(drawn.caption.find("1 measured point lies outside") != std::string::npos);
}

TEST_CASE("map: of diameters the finest are darkest, of everything else the least is palest") {
  const auto [column, finest_darkest] =
      GENERATE(table<std::string, bool>({{"dry_diameter_um", true}, {"line_diameter_um", true},
                                         {"line_speed_m_s", false}, {"end_temperature_degC", false}}));
  CAPTURE(column);
  whorl::figures::MapFigure map = demo_map();
  map.z_column = column;
  map.z_quantity = whorl::figures::quantified(map.z_column);
  map.measured = {{5000.0, 0.25, 3.5, ""}, {11000.0, 0.05, 12.5, ""}};  // below the first level, above the last
  std::vector<double> bands, measured;
  for (const auto& e : svg_reader::parse(whorl::figures::draw_map(map, {}).svg)) {
    if (e.get("class") == "band") bands.push_back(whorl::figures::relative_luminance(e.get("fill")));
    if (e.get("class") == "measured") measured.push_back(whorl::figures::relative_luminance(e.get("fill")));
  }
  REQUIRE(bands.size() >= 4);
  REQUIRE(measured.size() == 2);
  if (!finest_darkest) {
    std::reverse(bands.begin(), bands.end());
    std::reverse(measured.begin(), measured.end());
  }
  CHECK(std::is_sorted(bands.begin(), bands.end(), std::less_equal<>()));
  CHECK(measured[0] == bands.front());
  CHECK(measured[1] == bands.back());
}

TEST_CASE("map: regions of classes fill the map without gap or overlap") {
  whorl::figures::MapFigure map = demo_map();
  // three classes that meet
  for (std::size_t i = 0; i < map.classes.size(); ++i) {
    const std::size_t column = i % 9;
    const std::size_t row = i / 9;
    map.classes[i] = column < 3 ? "stalled" : row < 3 ? "beaded" : "wet-landing";
    if (column < 3) map.z[i] = NAN;
  }
  const auto elements = svg_reader::parse(whorl::figures::draw_map(map, {}).svg);
  const auto& frame = first_of(elements, "frame");
  double sum = 0.0;
  for (const auto& e : elements) {
    if (e.get("class") != "class-region") continue;
    // even-odd of nested outlines: the outer less the inner
    double region = 0.0;
    for (const auto& part : svg_reader::path_points(e.get("d"))) {
      double twice = 0.0;
      for (std::size_t i = 0; i < part.size(); ++i) {
        const auto& a = part[i];
        const auto& b = part[(i + 1) % part.size()];
        twice += a.x * b.y - b.x * a.y;
      }
      region = std::abs(region - std::abs(0.5 * twice));
    }
    sum += region;
  }
  const double whole = (frame.number("data-x-end") - frame.number("data-x-start")) * (frame.number("data-y-start") - frame.number("data-y-end"));
  CHECK_THAT(sum, WithinRel(whole, 1e-3));  // coordinates are rounded to 0.005 pt
}

TEST_CASE("path: jet, vessel and collector at one scale") {
  whorl::figures::PathFigure figure;
  figure.vessel_radius_mm = 31.0;
  figure.bore_radius_mm = 30.0;
  figure.collector_radius_mm = 151.0;
  whorl::figures::JetPath jet;
  for (int i = 0; i <= 300; ++i) {
    const double r = 31.0 + 0.4 * i;
    jet.x_mm.push_back(r * std::cos(-0.04 * i));
    jet.y_mm.push_back(r * std::sin(-0.04 * i));
  }
  jet.solid_from = 100;
  jet.dry_from = 250;
  figure.jets = {jet};
  const whorl::figures::Figure drawn = whorl::figures::draw_path(figure, {});
  check_texts(drawn);
  const auto elements = svg_reader::parse(drawn.svg);
  const auto& frame = first_of(elements, "frame");
  // Coordinates of points and frame are rounded to 0.005 pt each, of 0.6 pt/mm.
  const auto points = svg_reader::path_points(first_of(elements, "series").get("d"));
  REQUIRE(points.size() == 1);
  REQUIRE(points[0].size() == jet.x_mm.size());
  for (std::size_t i = 0; i < jet.x_mm.size(); ++i) {
    CHECK_THAT(svg_reader::value_at(frame, "x", points[0][i].x), WithinAbs(jet.x_mm[i], 0.02));
    CHECK_THAT(svg_reader::value_at(frame, "y", points[0][i].y), WithinAbs(jet.y_mm[i], 0.02));
  }
  const auto ring = svg_reader::path_points(first_of(elements, "collector").get("d"));
  for (const auto& p : ring.at(0))
    CHECK_THAT(std::hypot(svg_reader::value_at(frame, "x", p.x), svg_reader::value_at(frame, "y", p.y)), WithinAbs(151.0, 0.03));
  const double x_scale = std::abs(frame.number("data-x-end") - frame.number("data-x-start")) / (frame.number("data-x-high") - frame.number("data-x-low"));
  const double y_scale = std::abs(frame.number("data-y-end") - frame.number("data-y-start")) / (frame.number("data-y-high") - frame.number("data-y-low"));
  CHECK_THAT(x_scale, WithinRel(y_scale, 1e-3));
  CHECK_THROWS_AS(whorl::figures::draw_path({}, {}), std::invalid_argument);
  figure.jets[0].x_mm[5] = NAN;
  CHECK_THROWS_AS(whorl::figures::draw_path(figure, {}), std::domain_error);
}

TEST_CASE("split: bars follow one another to the total") {
  whorl::figures::SplitFigure split;
  split.parts = {{"throughput", 0.41, false}, {"centrifugal head", 0.55, true}, {"viscosity", -0.14, true}, {"polymer content", 0.0, false}, {"line speed", -0.66, false}};
  split.total = -0.25;
  split.total_name = "diameter";
  split.title = "Change";
  const whorl::figures::Figure drawn = whorl::figures::draw_split(split, {});
  check_texts(drawn);
  const auto elements = svg_reader::parse(drawn.svg);
  const auto& frame = first_of(elements, "frame");
  double end = 0.0;
  std::size_t bars = 0;
  for (std::size_t i = 0; i < elements.size(); ++i) {
    if (elements[i].get("class") != "bar") continue;
    const bool inner = bars == 1 || bars == 2;
    const double from = elements[i].number("data-from");
    const double value = elements[i].number("data-value");
    if (!inner && bars < split.parts.size()) {
      CHECK_THAT(from, WithinAbs(end, 1e-12));
      end = from + value;
    }
    const auto& box = elements[i + 1];  // its rectangle
    REQUIRE(box.name == "rect");
    CHECK_THAT(svg_reader::value_at(frame, "x", box.number("x")), WithinAbs(std::min(from, from + value), 0.01));
    CHECK_THAT(svg_reader::value_at(frame, "x", box.number("x") + box.number("width")), WithinAbs(std::max(from, from + value), 0.01));
    ++bars;
  }
  CHECK(bars == 6);
  CHECK_THAT(end, WithinAbs(split.total, 1e-12));
}

TEST_CASE("distribution: bars hold the whole length, the list each of its values") {
  const std::vector<double> d{6.0, 5.7, 5.4, 5.1, 4.9};
  const std::vector<double> share{0.12, 0.24, 0.28, 0.24, 0.12};
  CHECK(whorl::figures::share_up_to(d, share, 4.0) == 0.0);
  CHECK(whorl::figures::share_up_to(d, share, 7.0) == 1.0);
  CHECK_THAT(whorl::figures::share_up_to(d, share, 4.9), WithinAbs(0.06, 1e-12));
  CHECK_THAT(whorl::figures::share_up_to(d, share, 5.4), WithinAbs(0.12 + 0.24 + 0.14, 1e-12));
  whorl::figures::DistributionFigure figure{d, share, {4.7, 5.0, 5.2, 5.3, 5.5, 5.6, 6.4}, "trial", "demo"};
  const whorl::figures::Figure drawn = whorl::figures::draw_distribution(figure, {});
  check_texts(drawn);
  const auto elements = svg_reader::parse(drawn.svg);
  double sum = 0.0;
  for (const auto& e : elements)
    if (e.get("class") == "bar") {
      sum += e.number("data-value");
      CHECK_THAT(e.number("data-value"), WithinAbs(whorl::figures::share_up_to(d, share, e.number("data-to")) - whorl::figures::share_up_to(d, share, e.number("data-from")), 1e-9));
    }
  CHECK_THAT(sum, WithinAbs(1.0, 1e-9));
  const auto& frame = first_of(elements, "frame");
  const auto steps = svg_reader::path_points(first_of(elements, "series").get("d")).at(0);
  double counted = 0.0;
  for (std::size_t i = 1; i + 1 < steps.size(); i += 2) counted += svg_reader::value_at(frame, "y", steps[i].y);
  CHECK_THAT(counted, WithinAbs(100.0, 0.2));
}

TEST_CASE("fit: markers stand at the trials, residuals in units of their scatter") {
  whorl::figures::FitFigure fit{{4.0, 5.0, 7.0}, {4.6, 5.4, 8.1}, {4.1, 4.9, 7.2}, {0.05, 0.06, 0.07}, "demo", {}, {}};
  for (const double width : {60.0, 85.0, 175.0}) {
    whorl::figures::FigureFormat format;
    format.width_mm = width;
    const whorl::figures::Figure drawn = whorl::figures::draw_fit(fit, format);
    check_texts(drawn);
    const auto elements = svg_reader::parse(drawn.svg);
    std::vector<const svg_reader::Element*> frames;
    for (const auto& e : elements)
      if (e.get("class") == "frame") frames.push_back(&e);
    REQUIRE(frames.size() == 2);
    std::size_t after = 0, residuals = 0;
    for (const auto& e : elements) {
      if (e.get("class") == "after") {
        CHECK_THAT(e.number("data-computed"), WithinAbs(fit.after_um[after], 1e-9));
        CHECK_THAT(svg_reader::value_at(*frames[0], "x", e.number("cx")), WithinAbs(fit.measured_um[after], 0.01));
        CHECK_THAT(svg_reader::value_at(*frames[0], "y", e.number("cy")), WithinAbs(fit.after_um[after], 0.02));
        ++after;
      }
      if (e.get("class") == "residual-after") {
        const double wanted = std::log(fit.measured_um[residuals] / fit.after_um[residuals]) / fit.log_sd[residuals];
        CHECK_THAT(e.number("data-value"), WithinAbs(wanted, 1e-9));
        CHECK_THAT(svg_reader::value_at(*frames[1], "y", e.number("cy")), WithinAbs(wanted, 0.05));
        ++residuals;
      }
    }
    CHECK(after == 3);
    CHECK(residuals == 3);
  }
  fit.left_out_low_um = {3.0, 5.1, 6.0};  // the second trial lies below its band
  fit.left_out_high_um = {5.0, 6.1, 9.0};
  const whorl::figures::Figure banded = whorl::figures::draw_fit(fit, {});
  check_texts(banded);
  CHECK(banded.caption.find("which 2 of 3 meet") != std::string::npos);
  const auto drawn = svg_reader::parse(banded.svg);
  std::size_t bars = 0;
  for (const auto& e : drawn) {
    if (e.get("class") != "left-out") continue;
    const auto ends = svg_reader::path_points(e.get("d")).at(0);
    CHECK_THAT(svg_reader::value_at(first_of(drawn, "frame"), "y", ends.at(0).y), WithinAbs(fit.left_out_low_um[bars], 0.03));
    CHECK_THAT(svg_reader::value_at(first_of(drawn, "frame"), "y", ends.at(1).y), WithinAbs(fit.left_out_high_um[bars], 0.03));
    ++bars;
  }
  CHECK(bars == 3);
  fit.left_out_high_um.pop_back();
  CHECK_THROWS_AS(whorl::figures::draw_fit(fit, {}), std::invalid_argument);
  fit.left_out_low_um.clear();
  fit.left_out_high_um.clear();
  fit.after_um[1] = 0.0;
  CHECK_THROWS_AS(whorl::figures::draw_fit(fit, {}), std::domain_error);
  fit.after_um.pop_back();
  CHECK_THROWS_AS(whorl::figures::draw_fit(fit, {}), std::invalid_argument);
}

TEST_CASE("window: the region drawn is the ring, each piece of its boundary says what fails beyond it") {
  whorl::figures::WindowFigure window;
  window.x_column = "rotation_speed_rpm";
  window.y_column = "gas_overpressure_MPa";
  window.x_quantity = whorl::figures::quantified(window.x_column);
  window.y_quantity = whorl::figures::quantified(window.y_column);
  window.x_from = 4000.0;
  window.x_to = 14000.0;
  window.y_to = 0.3;
  window.rings = {{{4000.0, 14000.0, 14000.0, 9000.0, 4000.0}, {0.0, 0.0, 0.1, 0.2, 0.15}, {"diameter-least", "range", "diameter-most", "diameter-most", "range"}}};
  window.constraints = {{"class", "class continuous"}, {"diameter-least", "dry diameter at least 4 µm"}, {"diameter-most", "dry diameter at most 8 µm"}};
  window.runs = {{5000.0, 0.1}, {9000.0, 0.05}};
  window.trials = {{10000.0, 0.07, "most tolerant"}, {13999.0, 0.0, "lowest settings"}};
  window.share = 0.5;
  window.wanted = "4 µm to 8 µm";
  const whorl::figures::Figure drawn = whorl::figures::draw_window(window, {});
  check_texts(drawn);
  CHECK(drawn.caption.find("50 % of the range") != std::string::npos);
  CHECK(drawn.caption.find("2 model runs") != std::string::npos);
  const auto elements = svg_reader::parse(drawn.svg);
  const auto& frame = first_of(elements, "frame");
  const auto ring = svg_reader::path_points(first_of(elements, "region").get("d")).at(0);
  REQUIRE(ring.size() >= 5);
  for (std::size_t i = 0; i < 5; ++i) {
    CHECK_THAT(svg_reader::value_at(frame, "x", ring[i].x), WithinAbs(window.rings[0].x[i], 1.0));
    CHECK_THAT(svg_reader::value_at(frame, "y", ring[i].y), WithinAbs(window.rings[0].y[i], 1e-4));
  }
  std::vector<std::string> by;
  for (const auto& e : elements)
    if (e.get("class") == "boundary") by.push_back(e.get("data-by"));
  CHECK(by == std::vector<std::string>{"diameter-least", "range", "diameter-most", "range"});
  CHECK(drawn.svg.find("class continuous") == std::string::npos);  // bounds nothing: not in the legend
  window.rings.clear();
  window.trials.clear();
  CHECK(whorl::figures::draw_window(window, {}).caption.find("Nothing in this range meets it") != std::string::npos);
}

TEST_CASE("figures at every size: text stays on the page and apart") {
  for (const double width : {60.0, 85.0, 120.0, 175.0})
    for (const double font : {6.0, 8.0, 9.0}) {
      INFO("width " << width << " mm, font " << font);
      whorl::figures::FigureFormat format;
      format.width_mm = width;
      format.font_pt = font;
      check_texts(whorl::figures::draw_map(demo_map(), format));
    }
  whorl::figures::FigureFormat format;
  format.width_mm = 10.0;
  CHECK_THROWS_AS(whorl::figures::draw_map(demo_map(), format), whorl::InputError);
  format.width_mm = 85.0;
  format.font_pt = 50.0;
  CHECK_THROWS_AS(whorl::figures::draw_map(demo_map(), format), whorl::InputError);
}

TEST_CASE("figures: what a case says cannot break out of the text") {
  whorl::figures::MapFigure map = demo_map();
  map.about = "</title><script>alert(1)</script>\"'&\x01\xff";
  map.classes[5] = "<b>";
  const whorl::figures::Figure drawn = whorl::figures::draw_map(map, {});
  CHECK(drawn.svg.find("<script") == std::string::npos);
  CHECK(drawn.svg.find("<b>") == std::string::npos);
  const auto elements = svg_reader::parse(drawn.svg);
  CHECK(elements[1].name == "title");
  CHECK(elements[1].text.find("</title><script>alert(1)</script>\"'&??") != std::string::npos);
}

TEST_CASE("tables: one message for each fault") {
  const auto message = [](const std::string& text, const std::string& column) -> std::string {
    try {
      (void)parse_table(text, "t.csv").numbers(column);
    } catch (const whorl::InputError& error) {
      return error.what();
    }
    return "";
  };
  CHECK(message("a,b\n1,2\n", "a").empty());
  CHECK(message("", "a").find("empty file") != std::string::npos);
  CHECK(message("a,b\n1\n", "a").find("row 1 with 1 cells") != std::string::npos);
  CHECK(message("a,a\n1,2\n", "a").find("two columns") != std::string::npos);
  CHECK(message("a,b\n1,2\n", "c").find("no column") != std::string::npos);
  CHECK(message("a,b\n1,x\n", "b").find("row 1") != std::string::npos);
  CHECK(message("a,b\n1,inf\n", "b").find("a number") != std::string::npos);
  const auto table = parse_table("\xef\xbb\xbf" "a,b\r\n1,\r\ntrue,2\r\n", "t.csv");
  CHECK(table.columns == std::vector<std::string>{"a", "b"});
  CHECK(std::isnan(table.numbers("b")[0]));
  CHECK(table.numbers("a")[1] == 1.0);
}
