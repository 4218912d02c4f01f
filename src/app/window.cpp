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
#include "whorl/study/case_runner.hpp"
#include "whorl/study/magnitudes.hpp"
#include "whorl/study/uncertainty.hpp"

namespace whorl::app {
namespace {

// Hundreds of settings are screened without tension unless the case asks for it. Says so, with what that does at the
// settings of the case.
std::string screen_without_tension(study::LoadedCase& loaded) {
  if (loaded.file.tier_stated || loaded.file.input.model.tier == model::Tier::inertial) return {};
  engine::EstimateOptions first_jet;
  first_jet.run_distribution = false;
  const auto found = [&] {
    const model::Estimate e = engine::estimate(loaded.file.input, loaded.library, first_jet);
    if (e.status != model::Status::done) return std::string("no converged result");
    const std::string named = model::to_string(e.fibre_class);
    if (!e.jet.reached_collector) return named;
    return io::number_text(1e6 * e.dry_diameter_m, 3) + " um (" + named + ")";
  };
  const std::string with = found();
  loaded.file.input.model.tier = model::Tier::inertial;
  return "Screened without tension along the jet (tier inertial), which takes a tenth of the time and less. At the "
         "settings of the case: " +
         found() + " without, " + with +
         " with tension, as estimate gives it. --set model.tier=tension screens with it.";
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
  study::LoadedCase loaded = study::load_case(arguments.case_file, arguments.overlay);
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
  const std::string screened = screen_without_tension(loaded);
  engine::EstimateOptions options;
  options.run_distribution = false;
  const run::ParallelOptions parallel{arguments.threads, progress.run_count(), true};
  study::WindowResult result;
  {
    const run::StopSignals signals;
    try {
      result = study::find_window(loaded, spec, run::parallel_runner(study::case_runner(loaded, options), parallel),
                                  samples);
    } catch (const engine::Interrupted&) {
      progress.stop();
      streams.err << "whorl: interrupted\n";
      return console::kInterrupted;
    }
  }
  progress.stop();
  if (!screened.empty()) result.notes.insert(result.notes.begin(), screened);
  if (!arguments.output.empty()) answer::write_window_points(loaded, result, arguments.output, arguments.force);
  if (!arguments.boundary.empty()) answer::write_window_boundary(loaded, result, arguments.boundary, arguments.force);
  answer::write_answer(answer::window_document(loaded, result), format, arguments.form.fragment,
                       {answer::basis_of(loaded)}, streams.out);
  return result.met() ? console::kDone : console::kNotMet;
}

}  // namespace whorl::app
