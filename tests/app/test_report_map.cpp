// The map of the report page: what its points owe to the estimates of the same settings.
#include <cmath>

#include "answer/figure_data.hpp"
#include "catch.hpp"

using namespace whorl;

TEST_CASE("report: a point of its map is the estimate of that setting to 0.05 %, for less work") {
  const study::LoadedCase loaded = study::load_case(WHORL_SOURCE_DIR "/cases/pcl-chloroform.json");
  REQUIRE(loaded.file.input.model.tier == model::Tier::tension);
  answer::GridOptions grid;
  grid.vary = {"rotation_speed=8000 rpm..14000 rpm:3", "gas_overpressure=0.025 MPa..0.15 MPa:3"};
  grid.ignore_block = true;
  grid.keep_estimates = true;
  grid.run = false;
  grid.threads = 1;
  const answer::SweepData whole = answer::computed_sweep(loaded, grid);
  grid.closeness = engine::Closeness::map_point;
  const answer::SweepData points = answer::computed_sweep(loaded, grid);
  REQUIRE(points.estimates.size() == 9);
  REQUIRE(whole.estimates.size() == 9);
  std::size_t less = 0, all = 0;
  for (std::size_t i = 0; i < 9; ++i) {
    const model::Estimate& a = whole.estimates[i];
    const model::Estimate& b = points.estimates[i];
    CAPTURE(i, a.line_diameter_m, b.line_diameter_m);
    REQUIRE(a.status == model::Status::done);
    REQUIRE(b.status == model::Status::done);
    CHECK(b.fibre_class == a.fibre_class);
    CHECK(b.as_line.fibre_class == a.as_line.fibre_class);
    CHECK(b.torn == a.torn);
    CHECK(std::abs(b.line_diameter_m / a.line_diameter_m - 1.0) < 5e-4);
    CHECK(std::abs(b.jet.end_speed_m_s / a.jet.end_speed_m_s - 1.0) < 1e-3);
    less += b.jet.work.rhs_evaluations;
    all += a.jet.work.rhs_evaluations;
  }
  CHECK(10 * less < 7 * all);
}
