// The sentences of `whorl explain` must follow the numbers, case by case; the LaTeX must compile.
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "app/commands.hpp"
#include "answer/explanation_text.hpp"
#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/splitting.hpp"

using namespace whorl;

namespace {

study::LoadedCase lumped(const std::string& name) {
  study::LoadedCase loaded = study::load_case(testing::case_path(name));
  loaded.file.input.model.tier = model::Tier::inertial;  // quick; the sentences on the flow do not depend on it
  loaded.file.input.model.drying = model::DryingModel::lumped;
  loaded.file.input.numerics.run_points = 2;
  return loaded;
}

study::PointReport report_of(const study::LoadedCase& loaded) {
  engine::EstimateOptions options;
  options.run_distribution = false;
  const engine::OptionRunner one = [&](const model::CaseInput& c, const engine::EstimateOptions& o) { return engine::estimate(c, loaded.library, o); };
  return study::report_point(loaded, "the case", engine::neighbour_runner(one, options, engine::serial_loop()));
}

std::string text_of(const io::Prose& prose) { return io::write_prose(prose, io::ProseFormat::text); }
// Folded lines joined, so that sentences can be looked for.
std::string sentences(const io::Prose& prose) {
  std::string out;
  std::istringstream words(text_of(prose));
  for (std::string word; words >> word;) out += (out.empty() ? "" : " ") + word;
  return out;
}
bool has(const std::string& text, const std::string& what) { return text.find(what) != std::string::npos; }

}  // namespace

TEST_CASE("sentences on the flow follow its numbers", "[eq:diameter-split]") {
  for (const double overpressure_Pa : {0.0, 1e4, 1e5, 4e5}) {
    study::LoadedCase loaded = lumped("pvp-ethanol-measured");
    loaded.file.input.operation.gas_overpressure_Pa = overpressure_Pa;
    const auto report = report_of(loaded);
    const auto& e = report.at.point.estimate;
    const std::string text = sentences(answer::explain_point(report));
    INFO(text.substr(0, 2500));
    if (!study::why_not_explained(e).empty()) {
      CHECK(has(text, "No explanation of the diameter of one line is given for this point: "));
      CHECK_FALSE(has(text, "WHAT SETS THE FLOW"));
      continue;
    }
    const double gas = e.orifice.gas_overpressure_Pa;
    const double rotation = e.orifice.centrifugal_head_Pa;
    CHECK(has(text, "No gas pushes") == (gas == 0.0));
    CHECK(has(text, "drives the flow more than the rotation") == (gas > 1.1 * rotation));
    CHECK(has(text, "drives the flow more than the overpressure") == (gas > 0.0 && rotation > 1.1 * gas));
    // the identity that is printed holds for the numbers of the run
    const double phi = report.at.point.setup.fluid.initial.concentration_kg_m3 / report.at.point.setup.fluid.polymer_density_kg_m3;
    const double d = 2.0 * std::sqrt(e.orifice.flow_m3_s * phi / (model::kPi * e.jet.end_speed_m_s * e.excess_draw));
    CHECK(std::abs(d / e.line_diameter_m - 1.0) < 1e-9);
    for (const auto& row : report.elasticities.rows) {
      if (row.key != "solution.measured.zero_shear_viscosity" || !row.made) continue;
      // of one line, whose flow this part is about, also where torn threads are likelier: mass balance
      const double on_line = 0.5 * (row.slopes[1].value - row.slopes[2].value);
      CHECK(has(text, "The viscosity matters here") == (std::abs(on_line) >= 0.05));
      CHECK(has(text, "The viscosity hardly matters") == (std::abs(on_line) < 0.05));
      CHECK(has(text, "that of torn threads by") == e.torn);
    }
  }
}

TEST_CASE("finer or coarser than at the collector's speed: by the speed at which fibre is laid, draw and all",
          "[eq:diameter-split]") {
  for (const double draw : {0.3, 1.0, 4.0}) {
    study::LoadedCase loaded = lumped("pvp-ethanol-measured");
    loaded.file.input.model.excess_draw = draw;
    const auto report = report_of(loaded);
    const auto& e = report.at.point.estimate;
    const std::string text = sentences(answer::explain_point(report));
    INFO(draw << ": " << text.substr(0, 2500));
    REQUIRE(study::why_not_explained(e).empty());
    const double laid = std::pow(e.kinematic_bound_m / e.line_diameter_m, 2.0);  // over the collector's speed
    CHECK(has(text, "and the fibre finer") == (laid >= 1.05));
    CHECK(has(text, "and the fibre coarser") == (laid <= 0.95));
  }
}

TEST_CASE("a probability of tearing is told with all its factors, or as stated", "[eq:tearing-probability]") {
  study::LoadedCase loaded = lumped("pvp-ethanol-measured");
  const auto judged = report_of(loaded);
  const auto& chance = judged.at.point.estimate.chance;
  CHECK(std::abs(model::kSureTearing * chance.by_share * chance.by_weber * chance.by_supply / chance.probability - 1.0) < 1e-12);
  CHECK(has(sentences(answer::explain_point(judged)), ": 76 % from published studies, times "));
  loaded.file.input.model.tearing = model::Tearing::threads;
  const std::string stated = sentences(answer::explain_point(report_of(loaded)));
  CHECK(has(stated, "That the gas tears the liquid is stated in the case, not judged."));
  CHECK_FALSE(has(stated, "has a probability of"));
}

TEST_CASE("a viscosity that does not matter is said not to matter", "[eq:elasticity]") {
  study::LoadedCase loaded = lumped("pvp-ethanol-measured");
  loaded.file.input.solution.measured.zero_shear_viscosity_Pa_s = 0.004;  // the flow is limited by entrance and speed
  loaded.file.input.vessel.wall_thickness_m = 0.2e-3;
  const auto report = report_of(loaded);
  const auto& o = report.at.point.estimate.orifice;
  const std::string text = sentences(answer::explain_point(report));
  INFO(text.substr(0, 2500));
  if (study::why_not_explained(report.at.point.estimate).empty()) {
    CHECK(o.viscous_loss_Pa < 0.5 * o.driving_pressure_Pa);
    CHECK(has(text, "entrance and speed of the liquid take more than that"));
  } else {
    CHECK(has(text, "No explanation"));
  }
}

TEST_CASE("points without a fibre say why", "[eq:diameter-split]") {
  for (const char* name : {"slow-dripping", "thin-jet-stalled"}) {
    const auto loaded = lumped(name);
    const auto report = report_of(loaded);
    const std::string text = sentences(answer::explain_point(report));
    INFO(name << ": " << text);
    CHECK(has(text, "No explanation of the diameter of one line is given for this point: "));
    CHECK(has(text, std::string(name) == "slow-dripping" ? "drip" : "drops land, not a fibre"));
    CHECK_FALSE(has(text, "WHAT EACH INPUT DOES"));
    CHECK_FALSE(answer::explain_json(report)["explained"].get<bool>());
  }
}

TEST_CASE("a change is told by its parts", "[eq:diameter-split]") {
  const study::LoadedCase loaded = lumped("pvp-ethanol-measured");
  engine::EstimateOptions options;
  options.run_distribution = false;
  const auto point = [&](double overpressure_Pa, model::Tier tier) {
    model::CaseInput input = loaded.file.input;
    input.operation.gas_overpressure_Pa = overpressure_Pa;
    input.model.tier = tier;
    study::OperatingPoint p{engine::resolve(input, loaded.library), {}};
    p.estimate = engine::estimate(p.setup, options);
    return study::NamedPoint{"p", p};
  };
  const auto report = study::report_change(point(5e4, model::Tier::inertial), point(1.5e5, model::Tier::inertial));
  REQUIRE(report.split.made);
  const std::string text = sentences(answer::explain_change(report));
  INFO(text);
  REQUIRE(report.inputs.size() == 1);
  CHECK(has(report.inputs.front(), "operation.gas_overpressure from 0.05 MPa to 0.15 MPa"));
  // more pressure, and nothing but the flow answers: the table, the sentence and the numbers agree
  CHECK(report.split.diameter[0].value > 0.9 * report.split.total);
  CHECK(has(text, "The throughput does most"));
  CHECK(has(text, "the gas overpressure matters more than the rotation"));
  const auto json = answer::explain_json(report);
  double sum = 0.0;
  for (const auto& part : json["split"]["diameter"]) sum += part["d_ln_diameter"].get<double>();
  CHECK(std::abs(sum - json["split"]["d_ln_diameter"].get<double>()) < 1e-10);
  const auto tension = study::report_change(point(5e4, model::Tier::inertial), point(5e4, model::Tier::tension));
  const std::string told = sentences(answer::explain_change(tension));
  INFO(told);
  if (tension.split.made) {
    CHECK(has(told, "model.tier from inertial to tension"));
    CHECK(has(told, "The throughput hardly changes"));
  } else {
    CHECK(has(told, "No split is made: second point: "));
  }
}

TEST_CASE("prose: escaping, numbering, symbols", "[prose]") {
  io::Prose prose;
  prose.title = "50 % & more_of_it";
  prose.blocks = {io::Equation{"a = b", "a = b", "one"}, io::Equation{"c = d", "c = d", "two"},
                  io::Paragraph{"x " + io::symbol("d_f", "d_\\mathrm{f}") + " = " + io::quantity(1.2e6, "um") + " +-3"},
                  io::ProseTable{"T", {"a_b", "c"}, {{"1", "<2"}}, false}};
  const std::string text = io::write_prose(prose, io::ProseFormat::text);
  CHECK(has(text, "x d_f = 1.2e+06 um +-3"));
  CHECK(has(text, "c = d    (2)"));
  const std::string latex = io::write_prose(prose, io::ProseFormat::latex);
  CHECK(has(latex, "50 \\% \\& more\\_"));
  CHECK(has(latex, "$1.2\\times10^{6}\\,\\mathrm{\\mu m}$ $\\pm$3"));
  CHECK(has(latex, "\\label{eq:two}"));
  CHECK(has(latex, "\\toprule"));
  const std::string fragment = io::write_prose(prose, io::ProseFormat::latex, true);
  CHECK_FALSE(has(fragment, "\\documentclass"));
  const std::string markdown = io::write_prose(prose, io::ProseFormat::markdown);
  CHECK(has(markdown, "\\tag{2}"));
  CHECK(has(markdown, "| a\\_b | c |"));
  CHECK(has(markdown, "# 50 % \\& more\\_of\\_it"));
  // the same hostile text in both: nothing of it is a command
  io::Prose hostile;
  hostile.title = R"(\input{x} $a$ #1 ~~b~~ &amp; ^c [l](u) `d` <i> |e|)";
  CHECK(has(io::write_prose(hostile, io::ProseFormat::latex, true),
            R"(\textbackslash{}input\{x\} \$a\$ \#1 \~{}\~{}b\~{}\~{} \&amp; \^{}c [l](u) `d` $<$i$>$ $\vert$e$\vert$)"));
  CHECK(has(io::write_prose(hostile, io::ProseFormat::markdown), R"(# \\input{x} \$a\$ #1 \~\~b\~\~ \&amp; ^c \[l\](u) \`d\` \<i\> \|e\|)"));
}

// Where pdflatex is installed: packages texlive-latex-base, texlive-latex-recommended.
TEST_CASE("LaTeX output compiles: one point, a pair, a change of settings", "[latex]") {
  if (std::system("command -v pdflatex > /dev/null 2>&1") != 0) {
    WARN("pdflatex not found: not tested");
    return;
  }
  const std::string hostile = R"(50 %_of~{x}^#&$ \emph "a|b" <c>.json)";  // names come from the file system
  std::vector<std::pair<std::string, io::Prose>> documents;
  auto report = report_of(lumped("pvp-ethanol-measured"));
  report.at.name = hostile;
  documents.emplace_back("point", answer::explain_point(report));
  const auto other = lumped("pcl-chloroform");
  engine::EstimateOptions options;
  options.run_distribution = false;
  study::OperatingPoint second{engine::resolve(other.file.input, other.library), {}};
  second.estimate = engine::estimate(second.setup, options);
  auto pair = study::report_change({hostile, report.at.point}, {"b", second});
  REQUIRE(pair.split.made);
  documents.emplace_back("pair", answer::explain_change(pair));
  model::CaseInput pushed = report.at.point.setup.input;
  pushed.operation.gas_overpressure_Pa *= 2.0;
  study::OperatingPoint third{engine::resolve(pushed, other.library), {}};
  third.estimate = engine::estimate(third.setup, options);
  auto between = study::report_change({"gas_overpressure 0.05 MPa", report.at.point}, {"gas_overpressure 0.1 MPa", third});
  REQUIRE(between.split.made);
  documents.emplace_back("between", answer::explain_change(between));

  const auto folder = std::filesystem::temp_directory_path() / ("whorl-explain-" + std::to_string(std::hash<std::string>{}(WHORL_BINARY)));
  std::filesystem::create_directories(folder);
  for (const auto& [name, prose] : documents) {
    for (const bool fragment : {false, true}) {
      std::ofstream file(folder / "explain.tex");
      // what a chapter needs for the body alone
      if (fragment) file << "\\documentclass{book}\n\\usepackage[T1]{fontenc}\n\\usepackage{textcomp,amsmath,booktabs,tabularx}\n\\begin{document}\n\\chapter{C}\n";
      file << io::write_prose(prose, io::ProseFormat::latex, fragment);
      if (fragment) file << "\\end{document}\n";
      file.close();
      std::filesystem::remove(folder / "explain.pdf");
      const std::string command = "cd '" + folder.string() + "' && pdflatex -interaction=nonstopmode -halt-on-error explain.tex > explain.out 2>&1";
      INFO(name << (fragment ? ", fragment" : ""));
      CHECK(std::system(command.c_str()) == 0);
      CHECK(std::filesystem::exists(folder / "explain.pdf"));
    }
  }
  std::filesystem::remove_all(folder);
}

TEST_CASE("the tension tier is explained as what it is", "[eq:diameter-split]") {
  study::LoadedCase loaded = lumped("ps-thf-sweep");
  loaded.file.input.model.tier = model::Tier::tension;
  engine::EstimateOptions options;
  options.run_distribution = false;
  const auto point = [&](double overpressure_Pa) {
    model::CaseInput input = loaded.file.input;
    input.operation.gas_overpressure_Pa = overpressure_Pa;
    study::OperatingPoint p{engine::resolve(input, loaded.library), {}};
    p.estimate = engine::estimate(p.setup, options);
    return study::NamedPoint{"p", p};
  };
  const auto report = study::report_change(point(1e5), point(1.5e5));
  INFO(report.split.reason);
  REQUIRE(report.split.made);
  const auto total = [](const std::vector<study::Part>& parts) {
    double sum = 0.0;
    for (const auto& part : parts) sum += part.value;
    return sum;
  };
  CHECK(std::abs(total(report.split.diameter) - report.split.total) < 1e-10);
  CHECK(std::abs(total(report.split.line_speed) - report.split.diameter[2].value) < 1e-10);
  CHECK(std::abs(total(report.split.throughput) - report.split.diameter[0].value) < 1e-10);
  CHECK(std::abs(total(report.split.orifice) - report.split.diameter[0].value) < 1e-10);
  CHECK_FALSE(has(sentences(answer::explain_change(report)), "which this tier leaves out"));

  study::PointReport alone;
  alone.at = point(1e5);
  alone.responses = study::responses_for_explain();
  alone.elasticities.reason = "not asked for here";
  const std::string text = sentences(answer::explain_point(alone));
  INFO(text);
  CHECK_FALSE(has(text, "This tier leaves the pull along the liquid jet out"));
  CHECK_FALSE(has(text, "tension along the liquid (tier: tension has it)"));
  CHECK(has(text, "The pull along the liquid (viscous, elastic and surface together) "));
  const auto& budget = alone.at.point.estimate.jet.budget;
  const double pull = budget.viscous_J_kg + budget.elastic_J_kg + budget.surface_tension_J_kg;
  CHECK(has(text, "together) takes ") == (pull < 0.0));
}
