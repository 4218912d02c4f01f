// `whorl explain`: why the diameter is what it is, why it changed, and which doubt matters.
#include <nlohmann/json.hpp>
#include <ostream>
#include <utility>

#include "answer/answer.hpp"
#include "answer/explanation_text.hpp"
#include "app/commands.hpp"
#include "console/page.hpp"
#include "document/from_io.hpp"
#include "io/unit_text.hpp"
#include "run/parallel.hpp"
#include "run/progress.hpp"
#include "run/stop_signals.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/case_runner.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kUsualRows = 64;
constexpr std::size_t kLeastRows = 32;
constexpr std::size_t kMostRows = 100'000;
constexpr const char* kBetweenExample = R"("rotation_speed=6000 rpm,12000 rpm")";

// "KEY=FROM,TO": sets both cases.
void apply_between(const std::string& text, const std::string& file, model::CaseInput& from, model::CaseInput& to) {
  const std::string option = "--between";
  const auto equals = text.find('=');
  const auto comma = text.find(',', equals == std::string::npos ? 0 : equals);
  if (equals == std::string::npos || comma == std::string::npos || text.find(',', comma + 1) != std::string::npos)
    throw InputError("", option, '"' + text + '"', std::string("KEY=FROM,TO, for example ") + kBetweenExample);
  const std::string name = std::string(io::trimmed(std::string_view(text).substr(0, equals)));
  const io::Key* key = io::find_key(name);
  if (key == nullptr)
    throw InputError(file, option, "no numeric key \"" + name + '"',
                     "any numeric key of a case; nearest: " + io::nearest_key(name));
  key->set(from,
           io::parse_value(
               *key, std::string(io::trimmed(std::string_view(text).substr(equals + 1, comma - equals - 1))), option));
  key->set(to, io::parse_value(*key, std::string(io::trimmed(std::string_view(text).substr(comma + 1))), option));
}

struct Place {
  const study::LoadedCase& loaded;
  const model::CaseInput& input;
};
auto two_points(const Place& first, const Place& second, run::Progress& progress) {
  engine::RunShare later(progress.run_count(), 1);
  auto at = study::point_of(first.loaded, first.input, false, progress.run_count());
  later.plan(0);  // from here on the second one expects it itself
  return std::pair{std::move(at), study::point_of(second.loaded, second.input, false, progress.run_count())};
}

engine::SamplePlan rows_plan(const std::string& text, std::uint64_t seed) {
  std::size_t rows = kUsualRows;
  if (!text.empty()) {
    const bool digits = text.find_first_not_of("0123456789") == std::string::npos && text.size() <= 9;
    rows = digits ? std::stoul(text) : 0;
    if (rows < kLeastRows || rows > kMostRows)
      throw InputError(
          "", "--sensitivity", '"' + text + '"',
          "a number of base samples from " + std::to_string(kLeastRows) + " to " + std::to_string(kMostRows));
  }
  return engine::plan_for(rows, seed);
}

}  // namespace

int run_explain(const ExplainArguments& arguments, const console::Streams& streams) {
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  const bool two = arguments.cases.size() == 2;
  if (arguments.cases.empty() || arguments.cases.size() > 2)
    throw InputError("", "CASE", std::to_string(arguments.cases.size()) + " cases", "one case, or two to compare");
  if (two && !arguments.between.empty())
    throw InputError("", "--between", "two cases", "one case when --between is given");
  const bool change = two || !arguments.between.empty();
  if (change && arguments.sensitivity.samples)
    throw InputError("", "--sensitivity", "a change between two points", "one case, without --between");
  run::check_threads(arguments.sensitivity.threads);
  std::vector<answer::Basis> bases;
  const study::LoadedCase loaded = study::load_case(arguments.cases.front(), arguments.overlay);
  const auto write = [&](Json json, io::Prose prose) {
    if (loaded.trials) {
      json["calibrated"] = study::calibrated_json(loaded);
      prose.blocks.insert(prose.blocks.begin(),
                          io::Paragraph{"What follows explains the model alone. The sizes that 'whorl estimate' gives "
                                        "are those of your own trials laid over it; their directions stand at the "
                                        "end."});
      prose.blocks.push_back(io::Paragraph{study::measured_directions(loaded)});
    }
    if (format == document::Format::json) {
      answer::put_provenance(json, bases);
      streams.out << json.dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
    } else {
      prose.blocks.push_back(io::Paragraph{"Made by " + answer::provenance_text(bases) + "."});
      switch (format) {
        case document::Format::markdown: streams.out << io::write_prose(prose, io::ProseFormat::markdown); break;
        case document::Format::latex:
          streams.out << io::write_prose(prose, io::ProseFormat::latex, arguments.form.fragment);
          break;
        case document::Format::html: streams.out << document::write_html(document::document_of(prose)); break;
        default: console::Page(streams.out).out() << io::write_prose(prose, io::ProseFormat::text);
      }
    }
  };
  bases.push_back(answer::basis_of(loaded));
  run::Progress progress(run::progress_stream(streams.err));
  if (change) {
    model::CaseInput from = loaded.file.input;
    study::ChangeReport report;
    if (two) {
      const study::LoadedCase other = study::load_case(arguments.cases.back(), arguments.overlay);
      bases.push_back(answer::basis_of(other));
      const auto [first, second] = two_points({loaded, from}, {other, other.file.input}, progress);
      report = study::report_change({loaded.file.name, first}, {other.file.name, second});
    } else {
      model::CaseInput to = from;
      for (const auto& text : arguments.between) apply_between(text, loaded.file.name, from, to);
      const auto name = [&](bool first) {
        std::string out;
        for (const auto& text : arguments.between) {
          const auto equals = text.find('=');
          const auto comma = text.find(',', equals);
          out += (out.empty() ? "" : ", ") + std::string(io::trimmed(std::string_view(text).substr(0, equals))) + ' ' +
                 std::string(io::trimmed(first ? std::string_view(text).substr(equals + 1, comma - equals - 1)
                                               : std::string_view(text).substr(comma + 1)));
        }
        return out;
      };
      const auto [first, second] = two_points({loaded, from}, {loaded, to}, progress);
      report = study::report_change({name(true), first}, {name(false), second});
    }
    progress.stop();
    write(answer::explain_json(report), answer::explain_change(report));
    return report.split.made ? console::kDone : console::kNotMet;
  }
  run::ParallelOptions parallel;
  parallel.threads = arguments.sensitivity.threads;
  parallel.run_count = progress.run_count();
  parallel.announced = true;
  std::optional<engine::SamplePlan> rows;
  if (arguments.sensitivity.samples) rows = rows_plan(*arguments.sensitivity.samples, arguments.sensitivity.seed);
  progress.run_count()->expect(study::runs_of_point(loaded.file.input) +
                               (rows ? study::runs_of_sensitivity(loaded, *rows) : 0));
  engine::EstimateOptions one;
  one.run_distribution = false;
  const run::StopSignals signals;
  try {
    const engine::BatchRunner runner = run::parallel_runner(study::case_runner(loaded, one), parallel);
    study::PointReport report = study::report_point(
        loaded, loaded.file.name, run::parallel_neighbours(loaded, one, parallel), progress.run_count());
    const bool made = study::why_not_explained(report.at.point.estimate).empty();
    if (made && rows) report.sensitivity = study::report_sensitivity(loaded.file.input, report.doubts, *rows, runner);
    progress.stop();
    write(answer::explain_json(report), answer::explain_point(report));
    return made ? console::kDone : console::kNotMet;
  } catch (const engine::Interrupted&) {
    progress.stop();
    streams.err << "whorl: interrupted\n";
    return console::kInterrupted;
  }
}

}  // namespace whorl::app
