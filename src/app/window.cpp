// `whorl window CASE`: which settings give the wanted fibre.
#include <nlohmann/json.hpp>
#include <ostream>

#include "answer/answer.hpp"
#include "answer/window_report.hpp"
#include "app/commands.hpp"
#include "run/parallel.hpp"
#include "run/progress.hpp"
#include "run/stop_signals.hpp"
#include "table/whole_file.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/magnitudes.hpp"
#include "whorl/study/uncertainty.hpp"
#include "whorl/study/window_runner.hpp"

namespace whorl::app {
namespace {

// Thousands of samples are run without tension unless the case asks for it. Says so, with what that does at the
// settings of the case.
std::string sampled_without_tension(const study::LoadedCase& loaded) {
  engine::EstimateOptions first_jet;
  first_jet.run_distribution = false;
  const auto found = [&](model::Tier tier) {
    model::CaseInput input = loaded.file.input;
    input.model.tier = tier;
    const model::Estimate e = engine::estimate(input, loaded.library, first_jet);
    if (e.status != model::Status::done) return std::string("no converged result");
    const std::string named = model::to_string(e.fibre_class);
    if (!e.jet.reached_collector) return named;
    return io::number_text(1e6 * e.dry_diameter_m, 3) + " um (" + named + ")";
  };
  return "Probabilities are sampled without tension along the jet (tier inertial), which takes a tenth of the time and "
         "less. At the settings of the case: " +
         found(model::Tier::inertial) + " without, " + found(model::Tier::tension) +
         " with tension, as the region and estimate have it. --set model.tier=tension samples with it.";
}

// Of one plane: the first cells and their halves along the boundary; with samples two kinds of them at the nodes of the
// plane, finer where the chance changes.
std::size_t usual_runs(const study::WindowSpec& spec, const std::optional<engine::SamplePlan>& samples) {
  constexpr std::size_t kUsualRuns = 450;
  constexpr std::size_t kUsualNodes = 140;
  return study::level_sets(spec).size() * (kUsualRuns + (samples ? 2 * kUsualNodes * samples->size() : 0));
}

}  // namespace

int run_window(const WindowArguments& arguments, const console::Streams& streams) {
  table::begin_command();
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  run::check_threads(arguments.threads);
  std::optional<engine::SamplePlan> samples;
  if (arguments.uncertainty.samples) {
    // a plane needs fewer at each of its points than a single estimate
    constexpr const char* kUsual = "64";
    samples = study::sample_plan(arguments.uncertainty.samples->empty() ? kUsual : *arguments.uncertainty.samples,
                                 arguments.uncertainty.seed);
  }
  const study::LoadedCase loaded = study::load_case(arguments.case_file, arguments.overlay);
  study::WindowWishes block;
  if (!loaded.file.window_json.empty())
    block = study::parse_window_block(nlohmann::ordered_json::parse(loaded.file.window_json), loaded.file.name);
  const study::WindowSpec spec = study::window_spec(
      block,
      study::parse_window_options({arguments.diameter, arguments.fibre_class, arguments.landing,
                                   arguments.least_throughput, arguments.over, arguments.setting_error}),
      loaded.file);
  study::check_resolves(loaded);

  if (!arguments.output.empty()) table::check_table_target(arguments.output, "-o", table::existing_if(arguments.force));
  if (!arguments.boundary.empty())
    table::check_table_target(arguments.boundary, "--boundary", table::existing_if(arguments.force));

  console::say_magnitudes(streams.err, study::take_magnitudes());  // before it takes minutes
  run::Progress progress(run::progress_stream(streams.err, arguments.quiet));
  progress.run_count()->expect(usual_runs(spec, samples));
  const run::ParallelOptions parallel{arguments.threads, progress.run_count(), true};
  study::WindowResult result;
  {
    const run::StopSignals signals;
    try {
      const study::WindowRunners runners{run::parallel_runner(study::window_runner(loaded), parallel),
                                         run::parallel_runner(study::told_runner(loaded), parallel),
                                         run::parallel_runner(study::window_sample_runner(loaded), parallel),
                                         study::samples_without_tension(loaded)};
      result = study::find_window(loaded, spec, runners, samples);
    } catch (const engine::Interrupted&) {
      progress.stop();
      streams.err << "whorl: interrupted\n";
      return console::kInterrupted;
    }
  }
  progress.stop();
  if (samples && study::samples_without_tension(loaded))
    result.notes.insert(result.notes.begin(), sampled_without_tension(loaded));
  if (!arguments.output.empty()) answer::write_window_points(loaded, result, arguments.output, arguments.force);
  if (!arguments.boundary.empty()) answer::write_window_boundary(loaded, result, arguments.boundary, arguments.force);
  answer::write_answer(answer::window_document(loaded, result), format, arguments.form.fragment,
                       {answer::basis_of(loaded)}, streams.out);
  return result.met() ? console::kDone : console::kNotMet;
}

}  // namespace whorl::app
