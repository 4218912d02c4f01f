// Indices of functions whose indices are known in closed form.
#include <array>
#include <cmath>
#include <vector>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/study/sensitivity.hpp"
#include "whorl/model/constants.hpp"

using namespace whorl;
using study::Indices;

namespace {

study::UnitModel model_of(double (*f)(const std::vector<double>&)) {
  return [f](const std::vector<std::vector<double>>& points) {
    std::vector<std::vector<std::optional<double>>> out;
    for (const auto& point : points) out.push_back({f(point)});
    return out;
  };
}

// T. Ishigami, T. Homma, Proc. ISUMA '90, Univ. of Maryland 1990, 398-403: a = 7, b = 0.1, inputs uniform in (-pi, pi)
double ishigami(const std::vector<double>& u) {
  const auto x = [&](std::size_t i) { return model::kPi * (2.0 * u[i] - 1.0); };
  return std::sin(x(0)) + 7.0 * std::sin(x(1)) * std::sin(x(1)) + 0.1 * std::pow(x(2), 4) * std::sin(x(0));
}

// Sobol's g function
constexpr std::array kG{0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0};
double g_function(const std::vector<double>& u) {
  double product = 1.0;
  for (std::size_t i = 0; i < kG.size(); ++i) product *= (std::abs(4.0 * u[i] - 2.0) + kG[i]) / (1.0 + kG[i]);
  return product;
}

void check_inside(const study::Index& index, double truth, double widest) {
  INFO(index.value << " +- " << index.half_width << ", true " << truth);
  CHECK(index.half_width < widest);
  // twice the 95 % half width: with t(7) some 1 in 500 would fall outside by chance; the points are fixed
  CHECK(std::abs(index.value - truth) < 2.0 * index.half_width + 1e-6);
}

}  // namespace

TEST_CASE("Ishigami's function: the published indices", "[eq:sobol-indices]") {
  const auto found = study::sobol_indices(3, 1, {512, 8, 1}, model_of(&ishigami));
  REQUIRE(found.size() == 1);
  REQUIRE(found[0].made);
  CHECK(found[0].rows_used == 4096);
  // A. Saltelli, S. Tarantola, K. P.-S. Chan, Technometrics 41 (1999) 39 and later reviews: S = 0.3139, 0.4424, 0; S_T = 0.5576, 0.4424,
  // 0.2437 (from memory). The same from the closed form V_1 = (1 + b pi^4/5)^2/2, V_2 = a^2/8, V_13 = 8 b^2 pi^8/225:
  const double p4 = std::pow(model::kPi, 4);
  const double v1 = 0.5 * std::pow(1.0 + 0.1 * p4 / 5.0, 2);
  const double v2 = 49.0 / 8.0;
  const double v13 = 8.0 * 0.01 * p4 * p4 / 225.0;
  const double v = v1 + v2 + v13;
  CHECK(std::abs(v1 / v - 0.3139) < 5e-5);
  CHECK(std::abs(v2 / v - 0.4424) < 5e-5);
  CHECK(std::abs(v13 / v - 0.2437) < 5e-5);
  CHECK(std::abs(found[0].variance / v - 1.0) < 0.01);
  const std::array first{v1 / v, v2 / v, 0.0};
  const std::array total{(v1 + v13) / v, v2 / v, v13 / v};
  for (std::size_t i = 0; i < 3; ++i) {
    check_inside(found[0].inputs[i].first, first[i], 0.06);
    check_inside(found[0].inputs[i].total, total[i], 0.06);
  }
}

TEST_CASE("intervals of the indices hold the truth about as often as they say", "[eq:sobol-indices]") {
  // 40 seeds, six indices each: 95 % of 240 is 228; by chance fewer than 210 would be some 5 standard deviations off if they were
  // independent. Jackknife intervals from 8 replicates at 64 points are themselves approximate.
  const std::array first{0.3139, 0.4424, 0.0};
  const std::array total{0.5576, 0.4424, 0.2437};
  int inside = 0;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const auto found = study::sobol_indices(3, 1, {64, 8, seed}, model_of(&ishigami));
    REQUIRE(found[0].made);
    for (std::size_t i = 0; i < 3; ++i) {
      inside += std::abs(found[0].inputs[i].first.value - first[i]) <= found[0].inputs[i].first.half_width ? 1 : 0;
      inside += std::abs(found[0].inputs[i].total.value - total[i]) <= found[0].inputs[i].total.half_width ? 1 : 0;
    }
  }
  INFO(inside << " of 240");
  CHECK(inside >= 210);
  CHECK(inside <= 240);
}

TEST_CASE("Sobol's g function", "[eq:sobol-indices]") {
  const auto found = study::sobol_indices(8, 1, {512, 8, 3}, model_of(&g_function));
  REQUIRE(found[0].made);
  // V_i = 1/(3 (1 + a_i)^2), V = prod (1 + V_i) - 1, V_Ti = V_i prod_{j != i} (1 + V_j): A. Saltelli, I. M. Sobol', Reliab. Eng. Syst.
  // Saf. 50 (1995) 225 (from memory); it follows from the product form
  double product = 1.0;
  std::array<double, 8> partial{};
  for (std::size_t i = 0; i < kG.size(); ++i) {
    partial[i] = 1.0 / (3.0 * (1.0 + kG[i]) * (1.0 + kG[i]));
    product *= 1.0 + partial[i];
  }
  const double v = product - 1.0;
  CHECK(std::abs(partial[0] / v - 0.7162) < 1e-3);  // as tabulated for a = 0, 1, 4.5, 9, 99... (Saltelli et al. 2010, from memory)
  for (std::size_t i = 0; i < kG.size(); ++i) {
    check_inside(found[0].inputs[i].first, partial[i] / v, 0.06);
    check_inside(found[0].inputs[i].total, partial[i] * (product / (1.0 + partial[i])) / v, 0.06);
  }
}

TEST_CASE("samples without the result are counted and left out as whole rows", "[eq:sobol-indices]") {
  const auto holes = [](double above) {
    return [above](const std::vector<std::vector<double>>& points) {
      std::vector<std::vector<std::optional<double>>> out;
      for (const auto& u : points)
        out.push_back({u[2] > above ? std::optional<double>() : std::optional<double>(2.0 * u[0] + u[1]), u[2] > above ? 1.0 : 0.0, 3.0});
      return out;
    };
  };
  const auto found = study::sobol_indices(3, 3, {256, 8, 1}, holes(0.9));
  REQUIRE(found[0].made);
  // a row needs u_2 of A and of B: 0.81 of them
  CHECK(std::abs(static_cast<double>(found[0].rows_used) / 2048.0 - 0.81) < 0.03);
  check_inside(found[0].inputs[0].first, 0.8, 0.06);  // variances 4/12 and 1/12
  check_inside(found[0].inputs[1].first, 0.2, 0.06);
  CHECK(std::abs(found[0].inputs[2].total.value) < 1e-12);
  REQUIRE(found[1].made);  // whether there is a result: all by the third input
  CHECK(found[1].rows_used == 2048);
  check_inside(found[1].inputs[2].first, 1.0, 0.1);
  CHECK_FALSE(found[2].made);
  CHECK(found[2].reason == "does not vary");
  const auto few = study::sobol_indices(3, 1, {64, 8, 1}, holes(0.5));
  CHECK_FALSE(few[0].made);
  CHECK(few[0].inputs.empty());
}

TEST_CASE("a band narrows by what the known input carried", "[eq:narrowed-band]") {
  // Stand-in for the model: ln d = x + y, normal with sd 0.3 and 0.4. Width 2 x 1.6449 x sd: 0.5 before, 0.3 when y is known.
  std::vector<engine::UncertainInput> inputs(2);
  inputs[0].spread = {engine::SpreadKind::lognormal, 1.0, 0.3};
  inputs[1].spread = {engine::SpreadKind::lognormal, 1.0, 0.4};
  inputs[0].apply = [](model::CaseInput& c, double x) { c.operation.rotation_speed_rad_s = x; };
  inputs[1].apply = [](model::CaseInput& c, double x) { c.operation.charge_volume_m3 = x; };
  const auto runner = engine::serial_runner([](const model::CaseInput& c) {
    model::Estimate e;
    e.status = model::Status::done;
    e.dry_diameter_m = c.operation.rotation_speed_rad_s * c.operation.charge_volume_m3;
    return e;
  });
  const engine::ResultFunction d{"d", [](const model::Estimate& e) { return std::optional(e.dry_diameter_m); }};
  const auto narrowed = study::narrowed_band({}, inputs, 1, {256, 8, 1}, d, runner);
  REQUIRE(narrowed.made);
  CHECK(std::abs(narrowed.before / (2.0 * 1.644854 * 0.5) - 1.0) < 0.03);  // error of a quantile from 2,048 points
  CHECK(std::abs(narrowed.after / (2.0 * 1.644854 * 0.3) - 1.0) < 0.03);
  CHECK(narrowed.runs == 4096);
  CHECK(narrowed.without_result == 0);
  const engine::ResultFunction log_d{"d", [](const model::Estimate& e) { return std::optional(std::log(e.dry_diameter_m)); }};
  const std::array results{log_d};
  const auto all = study::case_sensitivity({}, inputs, {256, 8, 1}, results, runner);
  REQUIRE(all.results[0].made);
  check_inside(all.results[0].inputs[1].first, 0.64, 0.06);   // 0.4^2/0.5^2
  check_inside(all.results[0].inputs[1].spread, 0.6, 0.06);   // mean differences go with the standard deviations
  CHECK(all.runs == 4 * 2048);
}
