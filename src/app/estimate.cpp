// `whorl estimate CASE`: what fibre, how much, dry or wet, at this operating point.
#include <nlohmann/json.hpp>
#include <optional>
#include <ostream>

#include "answer/answer.hpp"
#include "answer/estimate_statement.hpp"
#include "answer/figure_data.hpp"
#include "app/asked_samples.hpp"
#include "app/commands.hpp"
#include "console/page.hpp"
#include "run/parallel.hpp"
#include "run/progress.hpp"
#include "run/stop_signals.hpp"
#include "table/whole_file.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/io/profile_table.hpp"
#include "whorl/io/prose.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/case_runner.hpp"
#include "whorl/study/trial_calibration.hpp"
#include "whorl/study/uncertainty.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;

// A table of stations that was asked for: checked before the run, written after it.
struct StationFile {
  std::string path, option, metadata;

  template <class Columns>
  StationFile(const study::LoadedCase& loaded, std::string path_, std::string option_, const char* title,
              const Columns& columns, table::Existing existing)
      : path(std::move(path_)), option(std::move(option_)) {
    if (path.empty()) return;
    io::TableMetadata table = answer::table_metadata(loaded, title, path);
    for (const auto& column : columns)
      table.columns.push_back({std::string(column.column), "double", column.unit == "1" ? "" : std::string(column.unit),
                               std::string(column.symbol), std::string(column.description), true});
    metadata = answer::finish_metadata(std::move(table));
    table::check_table_target(path, option, existing, metadata);
  }
  template <class... What>
  void write(table::Existing existing, const What&... what) const {
    if (!path.empty()) table::write_whole_table(path, option, metadata, io::profile_csv(what...), existing);
  }
};

}  // namespace

int run_estimate(const EstimateArguments& arguments, const console::Streams& streams) {
  table::begin_command();
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  const bool text = format == document::Format::text;
  const study::LoadedCase loaded = study::load_case(arguments.case_file, arguments.overlay);
  const auto answer = [&](const document::Document& document) {
    answer::write_answer(document, format, arguments.form.fragment, {answer::basis_of(loaded)}, streams.out);
  };
  engine::EstimateOptions options;
  options.keep_profile = !arguments.profile.empty() || !arguments.thread_profile.empty();
  options.audit = arguments.audit;
  if (arguments.full && arguments.without_variants)
    throw InputError("", "--without-variants", "together with --full", "one of the two");
  if (arguments.without_run && (format != document::Format::json || !arguments.without_variants))
    throw InputError("", "--without-run", "alone", "together with --json --without-variants");
  // Trials shift the mean over the run, and the answers with it.
  if (arguments.without_run && !loaded.trials) options.run_distribution = false;
  options.air_variants = options.gas_variants = arguments.full || (!text && !arguments.without_variants);
  options.band = true;
  options.both_runs = options.air_variants;
  options.last_digit = true;
  if (arguments.cautions && !text && format != document::Format::json) {
    answer(answer::cautions_document(loaded));
    return console::kDone;
  }
  if (arguments.cautions) {
    for (const auto& paragraph :
         io::full_cautions(loaded.file.input, loaded.library.solvent(loaded.file.input.solution.solvent))) {
      console::Page(streams.out).out() << io::folded(paragraph, 0) << '\n';
    }
    return console::kDone;
  }
  const table::Existing existing = table::existing_if(arguments.force);
  const auto columns = io::chosen_profile_columns(arguments.profile_columns, "--profile-columns");
  const StationFile along_jet(loaded, arguments.profile, "--profile", "Stations along the first jet", columns,
                              existing);
  const StationFile along_threads(loaded, arguments.thread_profile, "--thread-profile", "Stations along torn threads",
                                  io::thread_columns(), existing);
  const std::optional<engine::SamplePlan> plan = asked_samples(arguments.uncertainty);
  if (plan) run::check_threads(arguments.uncertainty.threads);
  run::Progress progress(run::progress_stream(streams.err));
  options.run_count = progress.run_count();
  if (plan)  // every doubt, measurements alone, relations alone
    progress.run_count()->expect(3 * study::sample_runs(loaded.file.input, *plan));
  const model::Estimate estimate = answer::case_estimate(loaded, options);
  if (!arguments.thread_profile.empty() && estimate.threads.profile.empty())
    throw InputError(loaded.file.name, "", "no torn threads",
                     "a case in which gas leaves with the liquid, for --thread-profile");
  along_jet.write(existing, estimate.jet.profile, columns);
  along_threads.write(existing, estimate.threads.profile);
  std::optional<study::UncertaintyReport> doubt;
  if (plan) {
    engine::EstimateOptions one;
    one.run_distribution = false;
    one.closeness = engine::Closeness::sample;
    const run::ParallelOptions parallel{arguments.uncertainty.threads, progress.run_count(), true};
    const run::StopSignals signals;
    try {
      // Samples show the doubts of the model itself: laid over them, a law of trials would hold every sample to its
      // mean.
      study::LoadedCase untaught = loaded;
      untaught.trials = nullptr;
      doubt = study::uncertainty(untaught, untaught.file.input, *plan,
                                 run::parallel_runner(study::case_runner(untaught, one), parallel));
    } catch (const engine::Interrupted&) {
      progress.stop();
      streams.err << "whorl: interrupted\n";
      return console::kInterrupted;
    }
  }
  progress.stop();
  const study::UncertaintyReport* bands = doubt ? &*doubt : nullptr;
  if (format == document::Format::json) {
    streams.out << answer::estimate_json(loaded, estimate, bands).dump(2, ' ', false, Json::error_handler_t::replace)
                << '\n';
  } else if (text) {
    console::Page(streams.out).out() << answer::estimate_text(loaded, estimate, arguments.full, bands);
  } else {
    answer(answer::estimate_document(loaded, estimate, bands));
  }
  return estimate.status == model::Status::done ? console::kDone : console::kNotMet;
}

}  // namespace whorl::app
