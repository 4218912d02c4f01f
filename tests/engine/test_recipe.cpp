// The sheet for the bench from a whole case.
#include <algorithm>
#include <cmath>
#include <set>
#include <sstream>
#include <string>

#include "app/commands.hpp"
#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/study/recipe.hpp"
#include "io/sheet.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;

TEST_CASE("recipe: both readings of % w/v, by hand", "[engine][recipe]") {
  // 18 g in 100 mL of chloroform against 18 g in 100 mL of solution; densities of the resolved case
  model::CaseInput input = io::read_case_file(testing::case_path("pcl-chloroform")).input;
  study::RecipeOptions options;
  options.runs = 2.0;
  options.allowance = 0.25;
  const study::Recipe recipe = study::make_recipe(input, io::built_in_library(), options);
  const engine::Setup setup = engine::resolve(input, io::built_in_library());
  const double rho_s = setup.fluid.solvent_density_kg_m3, rho_p = setup.fluid.polymer_density_kg_m3;
  const double w = 180.0 / (180.0 + rho_s);
  CHECK_THAT(recipe.polymer_mass_fraction, WithinRel(w, 1e-12));
  CHECK_THAT(recipe.batch_volume_m3, WithinRel(12.5e-6, 1e-12));
  const double rho = 1.0 / (w / rho_p + (1.0 - w) / rho_s);
  CHECK_THAT(recipe.batch.polymer_mass_kg, WithinRel(12.5e-6 * rho * w, 1e-12));
  CHECK_THAT(recipe.polymer_per_solvent_kg_m3, WithinRel(180.0, 1e-12));
  CHECK_THAT(recipe.polymer_per_solution_kg_m3, WithinRel(rho * w, 1e-12));
  REQUIRE(recipe.other_readings.size() == 1);
  CHECK_THAT(recipe.other_readings[0].weigh_out.polymer_mass_kg, WithinRel(12.5e-6 * 180.0, 1e-12));
  // stated by mass: there is nothing to mistake it for, and the same liquid asks for the same weights
  input.solution.concentration = {model::ConcentrationBasis::mass, w};
  const study::Recipe by_mass = study::make_recipe(input, io::built_in_library(), options);
  CHECK(by_mass.other_readings.empty());
  CHECK_THAT(by_mass.batch.solvent_mass_kg, WithinRel(recipe.batch.solvent_mass_kg, 1e-12));
}

TEST_CASE("recipe: masses add up, and each limit has its own averaging time", "[engine][recipe]") {
  const model::CaseInput input = io::read_case_file(testing::case_path("pmma-acetone-dry")).input;
  const study::Recipe recipe = study::make_recipe(input, io::built_in_library(), {});
  REQUIRE(recipe.estimate.status == model::Status::done);
  // all of the solvent of a charge ends in the air; the polymer only as far as it leaves the vessel
  const double left = recipe.estimate.run.emptied_fraction;
  CHECK_THAT(recipe.solvent_released_kg + recipe.polymer_spun_kg / left, WithinRel(recipe.charge_mass_kg, 1e-6));
  CHECK(std::is_sorted(recipe.limits.begin(), recipe.limits.end(), [](const auto& a, const auto& b) { return a.ratio > b.ratio; }));
  REQUIRE(recipe.limits.size() >= 3);
  for (const study::LimitCheck& check : recipe.limits) {
    INFO(check.limit->body << ", " << check.limit->kind);
    CHECK(check.concentration_kg_m3 > 0.0);
    CHECK(check.concentration_kg_m3 <= recipe.peak_kg_m3);
    CHECK_THAT(check.ratio, WithinRel(check.concentration_kg_m3 / check.limit->mass_concentration_kg_m3, 1e-12));
  }
  REQUIRE(recipe.lower_flammability_kg_m3);
  // acetone 2.5 % by volume at 22 degC: 60 g/m3 (2.5 % x 58.08/24.2)
  CHECK_THAT(*recipe.lower_flammability_kg_m3, WithinRel(0.060, 0.01));
  CHECK(study::averaging_time_s("short term (15 min)") == 900.0);
  CHECK(study::averaging_time_s("short term (60 min)") == 3600.0);
  CHECK(study::averaging_time_s("ceiling") == 0.0);
  CHECK(study::averaging_time_s("8 h time-weighted average") == 28800.0);
}

TEST_CASE("recipe: a vessel that only drips still gives off its charge, at once", "[engine][recipe]") {
  const model::CaseInput input = io::read_case_file(testing::case_path("slow-dripping")).input;
  const study::Recipe recipe = study::make_recipe(input, io::built_in_library(), {});
  REQUIRE(recipe.estimate.run.emptied_fraction < 0.5);
  CHECK_THAT(recipe.solvent_released_kg, WithinRel(recipe.charge_mass_kg * (1.0 - recipe.polymer_mass_fraction), 1e-12));
  CHECK(recipe.release_s == 1.0);
  CHECK_THAT(recipe.peak_kg_m3, WithinRel(recipe.unmixed_kg_m3, 1e-3));
}

TEST_CASE("recipe: limits of the country that was asked for, and the strictest of the others", "[engine][recipe]") {
  const auto sheet = [](const std::string& country) {
    std::ostringstream out, err;
    app::RecipeArguments arguments;
    arguments.case_file = testing::case_path("pcl-chloroform");
    arguments.country = country;
    CHECK(app::run_recipe(arguments, {out, err}) == console::kDone);
    return out.str();
  };
  const std::string all = sheet(""), german = sheet("de"), none = sheet("NZ");
  CHECK(all.find("OSHA PEL") != std::string::npos);
  CHECK(german.find("TRGS 900") != std::string::npos);
  CHECK(german.find("EU indicative") != std::string::npos);  // a member state
  CHECK(german.find("OSHA PEL") == std::string::npos);
  CHECK(german.find("Elsewhere, the strictest") != std::string::npos);
  CHECK(none.find("exposure limits of NZ") != std::string::npos);
  CHECK(none.find("no sign of safety") != std::string::npos);
  app::RecipeArguments wrong;
  std::ostringstream out;
  wrong.country = "Germany";
  CHECK_THROWS_AS(app::run_recipe(wrong, {out, out}), InputError);
  // every limit says where it is in use, and every organic solvent has lists of at least three bodies; few set one for
  // dimethyl sulfoxide (OSHA, for one, does not: its chemical sampling page, read)
  for (const model::Solvent& solvent : io::built_in_library().solvents) {
    std::set<std::string> bodies;
    for (const model::ExposureLimit& limit : solvent.exposure_limits) {
      CHECK(limit.country.size() == 2);
      bodies.insert(limit.body.substr(0, 4));
    }
    INFO(solvent.id);
    if (solvent.id != "water") CHECK(bodies.size() >= (solvent.id == "dimethyl-sulfoxide" ? 2U : 3U));
  }
}

TEST_CASE("recipe: the speed at the allowed stress is where the share is one", "[engine][recipe][eq:liquid-ring-pressure]") {
  model::CaseInput input = io::read_case_file(testing::case_path("pcl-chloroform")).input;
  const study::Recipe recipe = study::make_recipe(input, io::built_in_library(), {});
  REQUIRE(recipe.speed_limit_rad_s);
  input.operation.rotation_speed_rad_s = *recipe.speed_limit_rad_s;
  const study::Recipe there = study::make_recipe(input, io::built_in_library(), {});
  // the free surface moves a little with the speed
  CHECK_THAT(there.stress_share, WithinRel(1.0, 0.02));
  // whole bore full of liquid: rho omega^2 R^2/2, the paraboloid's pressure at the wall (any text)
  CHECK_THAT(study::liquid_ring_pressure_Pa(1000.0, 100.0, 0.1, 0.0), WithinRel(50000.0, 1e-12));
  study::RecipeOptions options;
  options.rotor_material = "cheese";
  CHECK_THROWS_AS(study::make_recipe(input, io::built_in_library(), options), InputError);
}

TEST_CASE("recipe: limits that are exceeded stand at the top, in words and by sign, on the page before anything else", "[engine][recipe]") {
  io::Sheet sheet;
  sheet.title = "Recipe";
  sheet.facts = {"9000 rpm"};
  io::SheetRow over{"exposure_ratio", "body A, short term", 12.4, "times the limit", "", "", "", false, 2, true};
  io::SheetRow under{"exposure_ratio", "body B, 8 h", 0.9, "of the limit", "", "", "", false, 2, false};
  sheet.sections = {{"Vapour", "", {over, under}, ""}};
  const std::string text = io::sheet_text(sheet);
  CHECK(text.find("  [!] 12 times the limit: EXCEEDED. body A, short term\n") < text.find("9000 rpm"));
  CHECK(text.find("body B, 8 h") > text.find("VAPOUR"));
  const std::string page = io::sheet_html(sheet);
  const auto at = page.find("<strong>&#9888; 12 times the limit: EXCEEDED</strong> body A, short term");
  CHECK(at < page.find("9000 rpm"));
  CHECK(at < page.find("class=\"sign\""));  // before the fields for name and date: the first thing on the first page
  sheet.sections.front().rows = {under};
  CHECK(io::sheet_text(sheet).find("EXCEEDED") == std::string::npos);
  CHECK(io::sheet_html(sheet).find("EXCEEDED") == std::string::npos);
}

TEST_CASE("recipe: page and text escape what the user wrote and carry the cautions", "[engine][recipe][hostile]") {
  io::Sheet sheet;
  sheet.title = "<script>alert(1)</script>";
  sheet.purpose = "=HYPERLINK(\"http://x\") & 'more'";
  sheet.sections = {{"Weigh-out", "", {{"polymer_mass", "polymer <b>", 1.5, "g", "a < b", "", "", true, 4}}, ""}};
  sheet.cautions = {"Mind the rotor."};
  const std::string page = io::sheet_html(sheet);
  CHECK(page.find("<script>") == std::string::npos);
  CHECK(page.find("polymer <b>") == std::string::npos);
  CHECK(page.find("&lt;script&gt;alert(1)&lt;/script&gt;") != std::string::npos);
  CHECK(page.find("&quot;http://x&quot;) &amp; &#39;more&#39;") != std::string::npos);
  CHECK(page.find("http://") == page.find("http://x"));  // nothing from the network
  CHECK(page.find("src=") == std::string::npos);
  CHECK(page.find("Mind the rotor.") != std::string::npos);
  CHECK(io::sheet_text(sheet).find("Mind the rotor.") != std::string::npos);
}
