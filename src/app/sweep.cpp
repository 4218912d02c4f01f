#include "answer/answer.hpp"
#include "app/sweep.hpp"
#include "whorl/study/case_runner.hpp"

#include <unistd.h>

#include <charconv>
#include <iostream>
#include <nlohmann/json.hpp>

#include "answer/provenance.hpp"
#include "app/asked_samples.hpp"
#include "app/commands.hpp"
#include "run/parallel.hpp"
#include "run/progress.hpp"
#include "run/stop_signals.hpp"
#include "table/sweep_database.hpp"
#include "table/whole_file.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/magnitudes.hpp"
#include "whorl/study/trial_calibration.hpp"
#include "whorl/study/uncertainty.hpp"

namespace whorl::app {
namespace {

document::Value count_of(std::uint64_t count) { return static_cast<std::int64_t>(count); }

document::Document summary_document(const run::SweepReport& report, const SweepArguments& arguments,
                                    const SweepCase& of, const std::string& version) {
  const std::string& file = arguments.output;
  document::Document summary{"Sweep of " + of.file, {}};
  summary.blocks.emplace_back(document::Quantities{{
      {"file", "file", file},
      {"metadata", "its metadata", table::names_database(file) ? file : io::csvw_file(file)},
      document::fact("version", version),
      {"identity", "identity", "sha256:" + report.identity},
      {"points", "points", count_of(report.points)},
      {"kept", "kept from before", count_of(report.kept)},
      {"computed", "computed", count_of(report.computed)},
      {"done", "with a result", count_of(report.done)},
      {"not_converged", "not converged", count_of(report.not_converged)},
      {"refused", "refused", count_of(report.refused)},
      {"failed", "failed", count_of(report.failed)},
      {"interrupted", "interrupted", report.interrupted},
      {"seconds", "time taken", report.seconds, "s", 3},
  }});
  return summary;
}

std::string text_summary(const run::SweepReport& report, const std::string& output) {
  const std::uint64_t rows = report.kept + report.computed;
  std::string text = output.empty() ? std::string("sweep") : output;
  text += ": " + std::to_string(rows) + (report.interrupted ? " of " + std::to_string(report.points) : std::string()) +
          (rows == 1 ? " point" : " points");
  if (report.kept > 0) text += " (" + std::to_string(report.kept) + " kept from before)";
  text += ", " + std::to_string(report.done) + " done";
  if (report.not_converged > 0) text += ", " + std::to_string(report.not_converged) + " not converged";
  if (report.refused > 0) text += ", " + std::to_string(report.refused) + " refused";
  if (report.failed > 0) text += ", " + std::to_string(report.failed) + " failed";
  if (report.interrupted)
    text += output.empty() ? "; interrupted" : "; interrupted, go on with the same command and --resume";
  return text;
}

}  // namespace

std::pair<std::uint64_t, std::uint64_t> part_range(const std::string& part, std::uint64_t size) {
  const auto slash = part.find('/');
  std::uint64_t share = 0;
  std::uint64_t shares = 0;
  bool good = slash != std::string::npos;
  const auto read = [&](const char* begin, const char* end, std::uint64_t& value) {
    const auto [stop, error] = std::from_chars(begin, end, value);
    good = good && begin != end && stop == end && error == std::errc();
  };
  if (good) {
    read(part.data(), part.data() + slash, share);
    read(part.data() + slash + 1, part.data() + part.size(), shares);
  }
  if (!good || share < 1 || share > shares || shares > size)
    throw InputError("", "--part", '"' + part + '"',
                     "k/n with 1 <= k <= n <= number of points (" + std::to_string(size) + ")");
  // size <= 1e9 and shares <= size: no overflow.
  return {size * (share - 1) / shares, size * share / shares};
}

int sweep(const SweepArguments& arguments, const SweepCase& sweep_case, const std::string& program_version,
          const run::Evaluate& evaluate, std::ostream& out, std::ostream& err) {
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  const bool told = format != document::Format::text;
  if (arguments.output.empty() && (arguments.resume || arguments.force || told)) {
    const char* option = arguments.resume  ? "--resume"
                         : arguments.force ? "--force"
                         : arguments.json  ? "--json"
                                           : "--format";
    throw InputError("", option, "no output file", "-o FILE with it");
  }
  if (arguments.resume && arguments.force)
    throw InputError("", "--resume", "given together with --force", "one of the two");
  run::check_threads(arguments.threads);
  const table::SweepColumns columns = table::parse_sweep_columns(arguments.columns);

  const study::SweepSpec spec = study::combine(sweep_case.block, arguments.spec, sweep_case.file);
  engine::Design design = study::make_design(spec, sweep_case.file);
  const auto [first, last] = arguments.part ? part_range(*arguments.part, design.size())
                                            : std::pair<std::uint64_t, std::uint64_t>{0, design.size()};
  const run::SweepPlan plan{sweep_case.input,
                       spec.keys,
                       std::move(design),
                       sweep_case.file.substr(sweep_case.file.rfind('/') + 1),
                       sweep_case.sha256,
                       sweep_case.library_sha256,
                       program_version,
                       first,
                       last,
                       sweep_case.more_columns,
                       sweep_case.more_cells,
                       sweep_case.more_facts,
                       columns};
  run::SweepOptions options;
  options.output = arguments.output;
  options.resume = arguments.resume;
  options.force = arguments.force;
  options.threads = arguments.threads;
  console::say_magnitudes(err, study::take_magnitudes());  // before it takes hours
  options.progress = run::progress_stream(err, arguments.quiet);

  const run::SweepReport report = run::run_sweep(plan, options, evaluate);
  if (told) {
    const std::string name = sweep_case.file.substr(sweep_case.file.rfind('/') + 1);
    answer::write_answer(summary_document(report, arguments, sweep_case, program_version), format,
                         arguments.form.fragment, {{"case", name, sweep_case.sha256, {}}}, out);
  }
  if (!arguments.quiet) err << text_summary(report, arguments.output) << '\n';
  if (report.interrupted) return console::Exit::kInterrupted;
  return report.done == 0 ? console::Exit::kNotMet : console::Exit::kDone;
}

int run_sweep_command(const SweepCommand& command, const console::Streams& streams) {
  table::begin_command();
  const study::LoadedCase loaded = study::load_case(command.case_file, command.overlay);
  SweepCase sweep_case;
  sweep_case.file = command.case_file;
  sweep_case.input = loaded.file.input;
  sweep_case.sha256 = loaded.file.hash;
  sweep_case.library_sha256 = answer::built_in_basis().sha256;
  if (!loaded.file.sweep_json.empty()) {
    sweep_case.block =
        study::parse_sweep_block(nlohmann::ordered_json::parse(loaded.file.sweep_json), command.case_file);
  }
  if (const auto asked = asked_samples(command.arguments.uncertainty)) {
    const engine::SamplePlan samples = *asked;
    engine::EstimateOptions one;
    one.run_distribution = false;
    one.closeness = engine::Closeness::sample;
    // Points run side by side; the samples of one point one after the other.
    const engine::CaseRunner run = [inner = study::case_runner(loaded, one)](const model::CaseInput& input) {
      if (run::stop_requested()) throw engine::Interrupted();
      return inner(input);
    };
    sweep_case.more_columns = study::uncertainty_columns();
    sweep_case.more_cells = [&loaded, samples, runner = engine::serial_runner(run)](const model::CaseInput& input) {
      return study::uncertainty_cells(loaded, input, samples, runner);
    };
    sweep_case.more_facts = {{"uncertainty", std::to_string(samples.replicates) + " x " +
                                                 std::to_string(samples.points) + " samples of every doubt, seed " +
                                                 std::to_string(samples.seed) + study::levels_text(samples)}};
  }
  engine::EstimateOptions options;
  // Trials shift the mean over the run, and the answers with it.
  if (table::parse_sweep_columns(command.arguments.columns) == table::SweepColumns::answers && !loaded.trials)
    options.run_distribution = false;
  const auto evaluate = [&loaded, options](const model::CaseInput& input) {
    io::validate(input, loaded.file.name);
    return study::calibrated_estimate(loaded, input, options);
  };
  return sweep(command.arguments, sweep_case, WHORL_VERSION, evaluate, streams.out, streams.err);
}

}  // namespace whorl::app
