#include "whorl/study/window_search.hpp"

#include <algorithm>
#include <utility>

#include "whorl/engine/design.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/study/uncertain_inputs.hpp"

namespace whorl::study {
namespace {


std::array<WindowAxis, 2> engine_axes(const WindowSpec& spec) {
  std::array<WindowAxis, 2> axes;
  for (std::size_t k = 0; k < 2; ++k) {
    const PlaneAxis& axis = spec.plane[k];
    axes[k] = {axis.from, axis.to, axis.logarithmic, [key = axis.key](model::CaseInput& input, double value) {
                 key->set(input, io::from_display(*key, value));
               }};
  }
  return axes;
}

WindowScale scale_of(const WindowSpec& spec) {
  WindowScale scale;
  const auto axes = engine_axes(spec);
  const double ex = spec.plane[0].setting_error;
  const double ey = spec.plane[1].setting_error;
  scale.to_errors = [axes, ex, ey](const UnitPoint& p) {
    return UnitPoint{axes[0].value(p.x) / ex, axes[1].value(p.y) / ey};
  };
  // A range that ends where the key itself ends (no overpressure) has nothing beyond.
  for (std::size_t k = 0; k < 2; ++k) {
    const PlaneAxis& axis = spec.plane[k];
    const double rounding = 1e-9 * (axis.to - axis.from);
    scale.open[2 * k] = axis.from <= io::to_display(*axis.key, axis.key->minimum) + rounding;
    scale.open[2 * k + 1] = axis.to >= io::to_display(*axis.key, axis.key->maximum) - rounding;
  }
  return scale;
}

// Points worth a trial: the most tolerant one, and the extremes among those that were run and keep their distance.
void choose_trials(WindowResult& result, const WindowScale& scale,
                   const std::function<WindowProbe(std::size_t, const UnitPoint&)>& run) {
  std::optional<std::size_t> best;
  for (std::size_t s = 0; s < result.slices.size(); ++s)
    if (const auto& point = result.slices[s].tolerant;
        point && (!best || point->tolerance > result.slices[*best].tolerant->tolerance))
      best = s;
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
      const TolerantPoint room = tolerance_at(result.slices[s].map, scale, node.at);
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
    if (const auto other = std::find_if(result.trials.begin(), result.trials.end(), same);
        other != result.trials.end()) {
      other->why += std::string(", ") + why;
      return;
    }
    result.trials.push_back(
        {why, found->slice, found->node->at, found->room.tolerance, found->room.by, found->node->probe});
  };
  add("finest fibre", [](const WindowNode& node) { return node.probe.diameter_m.value_or(1e9); });
  add("most fibre per hour", [](const WindowNode& node) { return -node.probe.throughput_kg_s.value_or(0.0); });
  add("lowest settings", [](const WindowNode& node) { return node.at.x + node.at.y; });
}

}  // namespace

std::vector<std::vector<double>> level_sets(const WindowSpec& spec) {
  if (spec.slices.empty()) return {{}};
  std::vector<engine::Axis> axes;
  for (const SweptKey& slice : spec.slices) axes.push_back(slice.axis);
  const engine::Design design(engine::DesignKind::grid, axes, 0, 1);
  std::vector<std::vector<double>> sets(design.size(), std::vector<double>(axes.size()));
  for (std::uint64_t i = 0; i < design.size(); ++i) design.point(i, sets[i]);
  return sets;
}

namespace {

// The points that are told get the other answer, too, where `told` judges them alike: next to a boundary it might not.
void tell(WindowResult& result, const std::vector<model::CaseInput>& bases, const std::array<WindowAxis, 2>& axes,
          const engine::BatchRunner& told) {
  const auto at = [&](std::size_t slice, const UnitPoint& point) {
    return probe_model(bases[slice], axes, result.spec.target, told)({point}).front();
  };
  const auto renew = [&](std::size_t slice, const UnitPoint& point, WindowProbe& probe) {
    if (!probe.torn || !probe.diameter_m || probe.other_diameter_m) return;
    WindowProbe whole = at(slice, point);
    if (study::unmet_of(whole) == study::unmet_of(probe)) probe = std::move(whole);
  };
  for (WindowTrial& trial : result.trials) renew(trial.slice, trial.at, trial.probe);
  if (result.met() || !result.nearest) return;
  WindowNode& miss = result.slices[*result.nearest].miss->node;
  renew(*result.nearest, miss.at, miss.probe);
}

}  // namespace

WindowResult find_window(const LoadedCase& loaded, const WindowSpec& spec, const engine::BatchRunner& runner,
                         const std::optional<engine::SamplePlan>& samples) {
  return find_window(loaded, spec, WindowRunners{runner, {}, runner}, samples);
}

WindowResult find_window(const LoadedCase& loaded, const WindowSpec& spec, const WindowRunners& runners,
                         const std::optional<engine::SamplePlan>& samples) {
  WindowResult result;
  result.spec = spec;
  result.samples = samples;
  const auto constraints = window_constraints(spec.target);
  const auto axes = engine_axes(spec);
  const WindowScale scale = scale_of(spec);
  const engine::BatchRunner counted = engine::counting_runner(runners.points, result.runs);

  const auto varied = [&](std::string_view path) {
    const auto is = [&](const auto& axis) { return axis.key->path == path; };
    return std::any_of(spec.plane.begin(), spec.plane.end(), is) ||
           std::any_of(spec.slices.begin(), spec.slices.end(), is);
  };
  const auto& measured = loaded.file.input.solution.measured;
  if ((varied("solution.concentration") || varied("solution.molar_mass")) &&
      (measured.zero_shear_viscosity_Pa_s || measured.relaxation_time_s || measured.density_kg_m3 ||
       measured.shear_model != model::ShearModel::automatic))
    result.notes.push_back(
        "The solution is varied, but properties that were measured on one solution stay as they are: viscosity, flow "
        "curve, "
        "relaxation time and density would change with it. Leave the measured values out, or measure each solution.");

  std::vector<model::CaseInput> bases;
  for (const auto& levels : level_sets(spec)) {
    model::CaseInput base = loaded.file.input;
    for (std::size_t k = 0; k < levels.size(); ++k)
      spec.slices[k].key->set(base, io::from_display(*spec.slices[k].key, levels[k]));
    bases.push_back(base);
    WindowSlice slice;
    slice.levels = levels;
    slice.map = map_window(constraints, probe_model(base, axes, spec.target, counted));
    slice.tolerant = most_tolerant(slice.map, scale);
    result.share += slice.map.share;
    result.slices.push_back(std::move(slice));
  }
  result.share /= static_cast<double>(result.slices.size());

  choose_trials(result, scale, [&](std::size_t s, const UnitPoint& at) {
    auto& nodes = result.slices[s].map.nodes;
    nodes.push_back({at, probe_model(bases[s], axes, spec.target, counted)({at}).front()});
    return nodes.back().probe;
  });
  if (!result.met()) {
    const auto unmet_of = [&](const NearestMiss& miss) {
      double amount = 0.0;
      for (const int k : miss.unmet) {
        const auto& margin = miss.node.probe.margins[static_cast<std::size_t>(k)];
        amount += constraints[static_cast<std::size_t>(k)].continuous && margin ? -*margin : 100.0;
      }
      return amount;
    };
    for (std::size_t s = 0; s < result.slices.size(); ++s) {
      WindowSlice& slice = result.slices[s];
      slice.miss = nearest_miss(slice.map, probe_model(bases[s], axes, spec.target, counted));
      if (!result.nearest || unmet_of(*slice.miss) < unmet_of(*result.slices[*result.nearest].miss)) result.nearest = s;
      // The search for the nearest miss may have met the target after all, in a sliver that the map has no cell for.
      if (slice.miss->unmet.empty()) {
        const WindowNode& node = slice.miss->node;
        result.trials.push_back(
            {"the only point found (region narrower than the cells of the map)", s, node.at, 0.0, -1, node.probe});
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

  if (runners.told) tell(result, bases, axes, runners.told);

  if (samples) {
    const SamplerAt sampler = [&](model::CaseInput input) {
      if (runners.samples_without_tension) input.model.tier = model::Tier::inertial;
      return engine::Sampler(uncertain_inputs(loaded.file, input, loaded.library), *samples);
    };
    for (std::size_t s = 0; s < result.slices.size(); ++s) {
      result.slices[s].probability = map_probability(bases[s], axes, spec.target, sampler, runners.samples);
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

double value_at(const PlaneAxis& axis, double unit) {
  return WindowAxis{axis.from, axis.to, axis.logarithmic, {}}.value(unit);
}

std::vector<int> unmet_of(const WindowProbe& probe) {
  std::vector<int> list;
  for (std::size_t k = 0; k < probe.margins.size(); ++k)
    if (!probe.margins[k] || *probe.margins[k] < 0.0) list.push_back(static_cast<int>(k));
  return list;
}

}  // namespace whorl::study
