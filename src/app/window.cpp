#include "app/window.hpp"

#include <unistd.h>

#include <algorithm>
#include <iostream>
#include <nlohmann/json.hpp>

#include "app/answer.hpp"
#include "app/parallel.hpp"
#include "app/magnitudes.hpp"
#include "app/progress.hpp"
#include "app/stop_signals.hpp"
#include "app/sweep_run.hpp"
#include "app/uncertain_inputs.hpp"
#include "app/uncertainty.hpp"
#include "app/whole_file.hpp"
#include "engine/design.hpp"
#include "engine/estimate.hpp"
#include "io/cautions.hpp"
#include "io/keys.hpp"
#include "model/error.hpp"

namespace whorl::app {
namespace {

using engine::TolerantPoint;
using engine::UnitPoint;
using engine::WindowNode;

std::array<engine::WindowAxis, 2> engine_axes(const WindowSpec& spec) {
  std::array<engine::WindowAxis, 2> axes;
  for (std::size_t k = 0; k < 2; ++k) {
    const PlaneAxis& axis = spec.plane[k];
    axes[k] = {axis.from, axis.to, axis.logarithmic,
               [key = axis.key](model::CaseInput& input, double value) { key->set(input, io::from_display(*key, value)); }};
  }
  return axes;
}

engine::WindowScale scale_of(const WindowSpec& spec) {
  engine::WindowScale scale;
  const auto axes = engine_axes(spec);
  const double ex = spec.plane[0].setting_error;
  const double ey = spec.plane[1].setting_error;
  scale.to_errors = [axes, ex, ey](const UnitPoint& p) { return UnitPoint{axes[0].value(p.x) / ex, axes[1].value(p.y) / ey}; };
  // A range that ends where the key itself ends (no overpressure) has nothing beyond.
  for (std::size_t k = 0; k < 2; ++k) {
    const PlaneAxis& axis = spec.plane[k];
    const double rounding = 1e-9 * (axis.to - axis.from);
    scale.open[2 * k] = axis.from <= io::to_display(*axis.key, axis.key->minimum) + rounding;
    scale.open[2 * k + 1] = axis.to >= io::to_display(*axis.key, axis.key->maximum) - rounding;
  }
  return scale;
}

// Every combination of the levels of the further axes; one without any.
std::vector<std::vector<double>> level_sets(const WindowSpec& spec) {
  if (spec.slices.empty()) return {{}};
  std::vector<engine::Axis> axes;
  for (const SweptKey& slice : spec.slices) axes.push_back(slice.axis);
  const engine::Design design(engine::DesignKind::grid, axes, 0, 1);
  std::vector<std::vector<double>> sets(design.size(), std::vector<double>(axes.size()));
  for (std::uint64_t i = 0; i < design.size(); ++i) design.point(i, sets[i]);
  return sets;
}

// Points worth a trial: the most tolerant one, and the extremes among those that were run and keep their distance.
void choose_trials(WindowResult& result, const engine::WindowScale& scale,
                   const std::function<engine::WindowProbe(std::size_t, const UnitPoint&)>& run) {
  std::optional<std::size_t> best;
  for (std::size_t s = 0; s < result.slices.size(); ++s)
    if (const auto& point = result.slices[s].tolerant; point && (!best || point->tolerance > result.slices[*best].tolerant->tolerance)) best = s;
  if (!best) return;
  const TolerantPoint centre = *result.slices[*best].tolerant;
  result.trials.push_back({"most tolerant", *best, centre.at, centre.tolerance, centre.by, run(*best, centre.at)});

  struct Candidate {
    std::size_t slice;
    const WindowNode* node;
    TolerantPoint room;
  };
  const double least = std::min(1.0, 0.5 * centre.tolerance);
  std::vector<Candidate> candidates;
  for (std::size_t s = 0; s < result.slices.size(); ++s)
    for (const WindowNode& node : result.slices[s].map.nodes) {
      if (!node.probe.met()) continue;
      const TolerantPoint room = engine::tolerance_at(result.slices[s].map, scale, node.at);
      if (room.tolerance >= least) candidates.push_back({s, &node, room});
    }
  const auto add = [&](const char* why, const std::function<double(const WindowNode&)>& size) {
    const Candidate* found = nullptr;
    for (const Candidate& candidate : candidates)
      if (found == nullptr || size(*candidate.node) < size(*found->node)) found = &candidate;
    if (found == nullptr) return;
    const auto same = [&](const WindowTrial& trial) {
      return trial.slice == found->slice && trial.at.x == found->node->at.x && trial.at.y == found->node->at.y;
    };
    if (const auto other = std::find_if(result.trials.begin(), result.trials.end(), same); other != result.trials.end()) {
      other->why += std::string(", ") + why;
      return;
    }
    result.trials.push_back({why, found->slice, found->node->at, found->room.tolerance, found->room.by, found->node->probe});
  };
  add("finest fibre", [](const WindowNode& node) { return node.probe.diameter_m.value_or(1e9); });
  add("most fibre per hour", [](const WindowNode& node) { return -node.probe.throughput_kg_s.value_or(0.0); });
  add("lowest settings", [](const WindowNode& node) { return node.at.x + node.at.y; });
}

}  // namespace

WindowResult find_window(const LoadedCase& loaded, const WindowSpec& spec, const engine::BatchRunner& runner,
                         const std::optional<engine::SamplePlan>& samples) {
  WindowResult result;
  result.spec = spec;
  result.samples = samples;
  const auto constraints = engine::window_constraints(spec.target);
  const auto axes = engine_axes(spec);
  const engine::WindowScale scale = scale_of(spec);
  const engine::BatchRunner counted = engine::counting_runner(runner, result.runs);

  const auto varied = [&](std::string_view path) {
    const auto is = [&](const auto& axis) { return axis.key->path == path; };
    return std::any_of(spec.plane.begin(), spec.plane.end(), is) || std::any_of(spec.slices.begin(), spec.slices.end(), is);
  };
  const auto& measured = loaded.file.input.solution.measured;
  if ((varied("solution.concentration") || varied("solution.molar_mass")) &&
      (measured.zero_shear_viscosity_Pa_s || measured.relaxation_time_s || measured.density_kg_m3 || measured.shear_model != model::ShearModel::automatic))
    result.notes.push_back("The solution is varied, but properties that were measured on one solution stay as they are: viscosity, flow curve, "
                           "relaxation time and density would change with it. Leave the measured values out, or measure each solution.");

  std::vector<model::CaseInput> bases;
  for (const auto& levels : level_sets(spec)) {
    model::CaseInput base = loaded.file.input;
    for (std::size_t k = 0; k < levels.size(); ++k) spec.slices[k].key->set(base, io::from_display(*spec.slices[k].key, levels[k]));
    bases.push_back(base);
    WindowSlice slice;
    slice.levels = levels;
    slice.map = engine::map_window(constraints, engine::probe_model(base, axes, spec.target, counted));
    slice.tolerant = engine::most_tolerant(slice.map, scale);
    result.share += slice.map.share;
    result.slices.push_back(std::move(slice));
  }
  result.share /= static_cast<double>(result.slices.size());

  choose_trials(result, scale, [&](std::size_t s, const UnitPoint& at) {
    auto& nodes = result.slices[s].map.nodes;
    nodes.push_back({at, engine::probe_model(bases[s], axes, spec.target, counted)({at}).front()});
    return nodes.back().probe;
  });
  if (!result.met()) {
    const auto unmet_of = [&](const engine::NearestMiss& miss) {
      double amount = 0.0;
      for (const int k : miss.unmet) {
        const auto& margin = miss.node.probe.margins[static_cast<std::size_t>(k)];
        amount += constraints[static_cast<std::size_t>(k)].continuous && margin ? -*margin : 100.0;
      }
      return amount;
    };
    for (std::size_t s = 0; s < result.slices.size(); ++s) {
      WindowSlice& slice = result.slices[s];
      slice.miss = engine::nearest_miss(slice.map, engine::probe_model(bases[s], axes, spec.target, counted));
      if (!result.nearest || unmet_of(*slice.miss) < unmet_of(*result.slices[*result.nearest].miss)) result.nearest = s;
      // The search for the nearest miss may have met the target after all, in a sliver that the map has no cell for.
      if (slice.miss->unmet.empty()) {
        const WindowNode& node = slice.miss->node;
        result.trials.push_back({"the only point found (region narrower than the cells of the map)", s, node.at, 0.0, -1, node.probe});
      }
    }
    if (!result.met() && !varied("solution.concentration")) {
      std::vector<UnitPoint> misses;
      for (const WindowSlice& slice : result.slices) misses.push_back(slice.miss->node.at);
      result.other = other_solution(bases, misses, axes, spec.target, counted);
    }
  }
  for (const WindowSlice& slice : result.slices)
    for (const WindowNode& node : slice.map.nodes) result.not_converged += node.probe.converged ? 0 : 1;

  if (samples) {
    const engine::SamplerAt sampler = [&](const model::CaseInput& input) {
      return engine::Sampler(uncertain_inputs(loaded.file, input, loaded.library), *samples);
    };
    for (std::size_t s = 0; s < result.slices.size(); ++s) {
      result.slices[s].probability = engine::map_probability(bases[s], axes, spec.target, sampler, runner);
      result.probability_runs += result.slices[s].probability->runs;
      result.probability_not_converged += result.slices[s].probability->not_converged;
    }
  }
  return result;
}

std::optional<std::pair<std::size_t, std::size_t>> likeliest(const WindowResult& result) {
  std::optional<std::pair<std::size_t, std::size_t>> best;
  double most = -1.0;
  for (std::size_t s = 0; s < result.slices.size(); ++s) {
    if (!result.slices[s].probability) continue;
    const auto& nodes = result.slices[s].probability->nodes;
    for (std::size_t k = 0; k < nodes.size(); ++k) {
      if (nodes[k].interpolated || nodes[k].all.value <= most) continue;
      most = nodes[k].all.value;
      best = {s, k};
    }
  }
  return best;
}

namespace {

// Hundreds of settings are screened without tension unless the case asks for it. Says so, with what that does at the settings of the case.
std::string screen_without_tension(LoadedCase& loaded) {
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
  return "Screened without tension along the jet (tier inertial), which takes a tenth of the time and less. At the settings of the case: " + found() +
         " without, " + with + " with tension, as estimate gives it. --set model.tier=tension screens with it.";
}

// Of one plane: the first cells and their halves along the boundary; with samples two kinds of them at the nodes of the plane, finer where
// the chance changes.
std::size_t usual_runs(const WindowSpec& spec, const std::optional<engine::SamplePlan>& samples) {
  constexpr std::size_t kUsualRuns = 450;
  constexpr std::size_t kUsualNodes = 140;
  return level_sets(spec).size() * (kUsualRuns + (samples ? 2 * kUsualNodes * samples->size() : 0));
}

}  // namespace

int run_window(const WindowArguments& arguments, const Streams& streams) {
  begin_command();
  const document::Format format = answer_format(arguments.json, arguments.form);
  check_threads(arguments.threads);
  std::optional<engine::SamplePlan> samples;
  if (arguments.uncertainty.samples) {
    // a plane needs fewer at each of its points than a single estimate
    constexpr const char* kUsual = "64";
    samples = sample_plan(arguments.uncertainty.samples->empty() ? kUsual : *arguments.uncertainty.samples, arguments.uncertainty.seed);
  }
  LoadedCase loaded = load_case(arguments.case_file);
  WindowWishes block;
  if (!loaded.file.window_json.empty()) block = parse_window_block(nlohmann::ordered_json::parse(loaded.file.window_json), loaded.file.name);
  const WindowSpec spec = window_spec(block, parse_window_options(arguments), loaded.file);
  try {
    (void)engine::resolve(loaded.file.input, loaded.library);
  } catch (const InputError& error) {
    throw InputError(loaded.file.name, error.key(), error.found(), error.allowed());
  }

  if (!arguments.output.empty()) check_table_target(arguments.output, "-o", existing_if(arguments.force));
  if (!arguments.boundary.empty()) check_table_target(arguments.boundary, "--boundary", existing_if(arguments.force));

  say_magnitudes(streams.err);  // before it takes minutes
  Progress progress(progress_stream(streams.err, arguments.quiet));
  progress.run_count()->expect(usual_runs(spec, samples));
  const std::string screened = screen_without_tension(loaded);
  engine::EstimateOptions options;
  options.run_distribution = false;
  const ParallelOptions parallel{arguments.threads, progress.run_count(), true};
  WindowResult result;
  {
    const StopSignals signals;
    try {
      result = find_window(loaded, spec, parallel_runner(case_runner(loaded, options), parallel), samples);
    } catch (const engine::Interrupted&) {
      progress.stop();
      streams.err << "whorl: interrupted\n";
      return kInterrupted;
    }
  }
  progress.stop();
  if (!screened.empty()) result.notes.insert(result.notes.begin(), screened);
  try {
    if (!arguments.output.empty()) write_window_points(loaded, result, arguments.output, arguments.force);
    if (!arguments.boundary.empty()) write_window_boundary(loaded, result, arguments.boundary, arguments.force);
  } catch (const OutputError& error) {
    streams.err << "whorl: " << error.what() << '\n';
    return kNotMet;
  }
  write_answer(window_document(loaded, result), format, arguments.form.fragment, {basis_of(loaded)}, streams.out);
  return result.met() ? kDone : kNotMet;
}

}  // namespace whorl::app
