#include "whorl/engine/uncertain.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>
#include <tuple>
#include <utility>

#include "engine/sample_runs.hpp"
#include "model/normal.hpp"

namespace whorl::engine {
namespace {

using model::CaseInput;
using model::MeasuredProperties;
using model::ModelInput;
using model::PropertyFactors;

constexpr double kInfinity = std::numeric_limits<double>::infinity();

double normal_share(double z) {
  if (z == kInfinity) return 1.0;
  if (z == -kInfinity) return 0.0;
  return model::normal_below(z);
}

// Share u of what lies between the shares a and b, kept clear of 0 and 1.
double between(double a, double b, double u) {
  constexpr double kEdge = 1e-300;
  return std::clamp(a + u * (b - a), kEdge, 1.0 - 1e-16);
}

// A property that the library knows or estimates, and the factor that moves it. The limits are those of the key.
struct FactorOf {
  const char* property;
  const char* key;
  double PropertyFactors::* member;
  SpreadKind spread;
  double low, high;
};
constexpr std::array kFactors{
    FactorOf{"polymer_density", "model.polymer_density_factor", &PropertyFactors::polymer_density,
             SpreadKind::lognormal, 0.8, 1.25},
    FactorOf{"solvent_density", "model.solvent_density_factor", &PropertyFactors::solvent_density,
             SpreadKind::lognormal, 0.8, 1.25},
    FactorOf{"density", "model.density_factor", &PropertyFactors::density, SpreadKind::lognormal, 0.8, 1.25},
    FactorOf{"solvent_viscosity", "model.solvent_viscosity_factor", &PropertyFactors::solvent_viscosity,
             SpreadKind::lognormal, 0.1, 10.0},
    FactorOf{"zero_shear_viscosity", "model.zero_shear_viscosity_factor", &PropertyFactors::zero_shear_viscosity,
             SpreadKind::lognormal, 1e-3, 1e3},
    FactorOf{"shear_thinning", "model.shear_index_factor", &PropertyFactors::shear_index, SpreadKind::normal, 0.1, 4.0},
    FactorOf{"relaxation_time", "model.relaxation_time_factor", &PropertyFactors::relaxation_time,
             SpreadKind::lognormal, 1e-3, 1e3},
    FactorOf{"extensibility", "model.extensibility_factor", &PropertyFactors::extensibility, SpreadKind::lognormal,
             1e-3, 1e3},
    FactorOf{"entanglement_molar_mass", "model.entanglement_molar_mass_factor",
             &PropertyFactors::entanglement_molar_mass, SpreadKind::lognormal, 0.1, 10.0},
    FactorOf{"surface_tension", "model.surface_tension_factor", &PropertyFactors::surface_tension,
             SpreadKind::lognormal, 0.1, 10.0},
    FactorOf{"vapour_pressure", "model.vapour_pressure_factor", &PropertyFactors::vapour_pressure,
             SpreadKind::lognormal, 0.1, 10.0},
    FactorOf{"latent_heat", "model.latent_heat_factor", &PropertyFactors::latent_heat, SpreadKind::lognormal, 0.1,
             10.0},
    FactorOf{"diffusivity_in_air", "model.diffusivity_in_air_factor", &PropertyFactors::diffusivity_in_air,
             SpreadKind::lognormal, 0.1, 10.0},
    FactorOf{"flory_huggins_chi", "model.flory_huggins_chi_factor", &PropertyFactors::flory_huggins_chi,
             SpreadKind::normal, -5.0, 5.0},
    FactorOf{"solvent_diffusivity", "model.solvent_diffusivity_factor", &PropertyFactors::solvent_diffusivity,
             SpreadKind::lognormal, 1e-3, 1e3},
    FactorOf{"polymer_glass_transition", "model.polymer_glass_transition_factor",
             &PropertyFactors::polymer_glass_transition, SpreadKind::normal, 0.5, 2.0},
    FactorOf{"solvent_glass_transition", "model.solvent_glass_transition_factor",
             &PropertyFactors::solvent_glass_transition, SpreadKind::normal, 0.5, 2.0},
    FactorOf{"melting_point", "model.melting_point_factor", &PropertyFactors::melting_point, SpreadKind::normal, 0.8,
             1.25},
};

// A property that the case may state as measured.
struct MeasuredOf {
  const char* property;
  std::optional<double> MeasuredProperties::* member;
  SpreadKind spread;
  double low, high;
};
constexpr std::array kMeasured{
    MeasuredOf{"density", &MeasuredProperties::density_kg_m3, SpreadKind::normal, 500.0, 2500.0},
    MeasuredOf{"zero_shear_viscosity", &MeasuredProperties::zero_shear_viscosity_Pa_s, SpreadKind::normal, 1e-4, 1e3},
    MeasuredOf{"surface_tension", &MeasuredProperties::surface_tension_N_m, SpreadKind::normal, 5e-3, 0.1},
    MeasuredOf{"relaxation_time", &MeasuredProperties::relaxation_time_s, SpreadKind::normal, 0.0, 100.0},
    MeasuredOf{"flory_huggins_chi", &MeasuredProperties::flory_huggins_chi, SpreadKind::normal, -2.0, 3.0},
    MeasuredOf{"solvent_diffusivity", &MeasuredProperties::solvent_diffusivity_m2_s, SpreadKind::normal, 1e-16, 1e-7},
};

}  // namespace

const char* to_string(UncertainKind kind) noexcept {
  switch (kind) {
    case UncertainKind::measurement: return "measurement";
    case UncertainKind::property: return "property";
    case UncertainKind::model_form: return "model-form";
  }
  return "?";
}

const char* to_string(SpreadKind kind) noexcept {
  switch (kind) {
    case SpreadKind::normal: return "normal";
    case SpreadKind::uniform: return "uniform";
    case SpreadKind::lognormal: return "lognormal";
  }
  return "?";
}

double quantile(const Spread& spread, double u) {
  const double value = spread.value;
  const double sd = spread.sd;
  if (!(sd > 0.0)) return std::clamp(value, spread.low, spread.high);
  double x = value;
  switch (spread.kind) {
    case SpreadKind::normal:
      x = value + sd * model::normal_point(between(normal_share((spread.low - value) / sd),
                                               normal_share((spread.high - value) / sd), u));
      break;
    case SpreadKind::uniform: {
      const double half = sd * std::sqrt(3.0);
      const double low = std::max(value - half, spread.low);
      const double high = std::min(value + half, spread.high);
      x = low + u * (high - low);
      break;
    }
    case SpreadKind::lognormal: {
      const double s = sd / value;
      const auto share = [&](double limit) { return limit > 0.0 ? normal_share(std::log(limit / value) / s) : 0.0; };
      x = value * std::exp(s * model::normal_point(between(share(spread.low), share(spread.high), u)));
      break;
    }
  }
  return std::clamp(x, spread.low, spread.high);
}

std::vector<UncertainInput> uncertain_properties(const Setup& setup) {
  std::vector<UncertainInput> inputs;
  const bool tension = setup.input.model.tier == model::Tier::tension;
  for (const model::NamedProperty& named : setup.fluid.properties) {
    const model::Property& property = named.property;
    if (!(property.relative_sd > 0.0)) continue;
    UncertainInput input;
    input.property = named.key;
    input.source = property.source;
    const auto measured =
        std::find_if(kMeasured.begin(), kMeasured.end(), [&](const auto& m) { return m.property == named.key; });
    if (property.origin == model::Origin::measured && measured != kMeasured.end()) {
      input.key = "solution.measured." + named.key;
      input.kind = UncertainKind::measurement;
      input.spread = {measured->spread, property.value, property.relative_sd * std::abs(property.value), measured->low,
                      measured->high};
      input.apply = [member = measured->member](CaseInput& c, double x) { c.solution.measured.*member = x; };
      inputs.push_back(std::move(input));
      continue;
    }
    const auto factor =
        std::find_if(kFactors.begin(), kFactors.end(), [&](const auto& f) { return f.property == named.key; });
    if (factor == kFactors.end()) continue;                       // derived from others
    if (named.key == "extensibility" && !tension) continue;       // not used
    const double by = setup.input.solution.factors.*(factor->member);
    input.key = factor->key;
    input.kind = UncertainKind::property;
    input.spread = {factor->spread, by, property.relative_sd * std::abs(by), factor->low, factor->high};
    input.apply = [member = factor->member](CaseInput& c, double x) { c.solution.factors.*member = x; };
    inputs.push_back(std::move(input));
  }
  return inputs;
}

std::vector<UncertainInput> uncertain_model_form(const CaseInput& input, const ModelForm& form) {
  std::vector<UncertainInput> inputs;
  const model::ModelInput& m = input.model;
  const double z95 = model::normal_point(0.95);
  const double third = 1.0 / std::sqrt(3.0);
  inputs.push_back({"model.axial_drag_factor",
                    "",
                    UncertainKind::model_form,
                    {SpreadKind::lognormal, m.axial_drag_factor,
                     m.axial_drag_factor * std::log(form.axial_drag_factor) / z95, 0.01, 100.0},
                    "published laws differ by 2 to 5: 5 and 95 % at half and double",
                    [](CaseInput& c, double x) { c.model.axial_drag_factor = x; }});
  // One draw for both: they rest on the same Nusselt number.
  const double mass_over_heat = m.mass_transfer_factor / m.heat_transfer_factor;
  inputs.push_back(
      {"model.heat_transfer_factor",
       "",
       UncertainKind::model_form,
       {SpreadKind::lognormal, m.heat_transfer_factor, m.heat_transfer_factor * form.transfer_log_sd, 0.01, 100.0},
       "Nusselt number of a filament, and the Sherwood number with it: own choice",
       [mass_over_heat](CaseInput& c, double x) {
         c.model.heat_transfer_factor = x;
         c.model.mass_transfer_factor = std::clamp(mass_over_heat * x, 0.01, 100.0);
       }});
  inputs.push_back({"room.air_swirl",
                    "",
                    UncertainKind::model_form,
                    {SpreadKind::uniform, input.room.air_swirl, form.air_swirl_half_width * third, 0.0, 1.0},
                    "no measurement known: own choice",
                    [](CaseInput& c, double x) { c.room.air_swirl = x; }});
  const auto factor = [&](const char* key, double ModelInput::*member, double by, double low, double high,
                          const char* source) {
    const double value = m.*member;
    inputs.push_back({key,
                      "",
                      UncertainKind::model_form,
                      {SpreadKind::lognormal, value, value * std::log(by) / z95, low, high},
                      source,
                      [member](CaseInput& c, double x) { c.model.*member = x; }});
  };
  factor("model.excess_draw", &ModelInput::excess_draw, form.excess_draw_factor, 0.01, 1e3,
         "published lines are laid at 5 to 50 % of the collector's speed, others whip: own choice");
  inputs.push_back({"model.breakup_threshold",
                    "",
                    UncertainKind::model_form,
                    {SpreadKind::normal, m.breakup_threshold, form.breakup_threshold_sd, 1.0, 50.0},
                    "8 to 16 are in use: own choice",
                    [](CaseInput& c, double x) { c.model.breakup_threshold = x; }});
  if (input.operation.gas_overpressure_Pa > 0.0 && m.gas_breakthrough == model::GasBreakthrough::on) {
    factor("model.critical_layer_factor", &ModelInput::critical_layer_factor, form.critical_layer_factor, 0.05, 20.0,
           "two closures of when gas goes through differ by 1.5 to 4: own choice");
    if (m.splitting == model::Splitting::on) {
      factor("model.thread_size_factor", &ModelInput::thread_size_factor, form.thread_size_factor, 0.01, 100.0,
             "gas-only studies, study by study left out: a factor 4 holds 87 %, taken as 90 %");
      if (m.tearing == model::Tearing::likelier) {
        inputs.push_back({"model.tearing_quantile",
                          "",
                          UncertainKind::model_form,
                          {SpreadKind::uniform, m.tearing_quantile, 0.5 * third, 0.0, 1.0},
                          "whether gas tears the liquid: the probability that the estimate states",
                          [](CaseInput& c, double x) { c.model.tearing_quantile = x; }});
      }
    }
  }
  return inputs;
}

UncertainKind kind_of_key(const std::string& key) {
  if (std::any_of(kFactors.begin(), kFactors.end(), [&](const FactorOf& f) { return key == f.key; }))
    return UncertainKind::property;
  if (key.rfind("model.", 0) == 0 || key.rfind("numerics.", 0) == 0 || key == "room.air_swirl")
    return UncertainKind::model_form;
  return UncertainKind::measurement;
}

std::vector<UncertainInput> join_uncertain(std::vector<UncertainInput> stated, std::vector<UncertainInput> usual) {
  std::vector<UncertainInput> all = std::move(stated);
  const std::size_t count = all.size();
  for (auto& input : usual) {
    const auto same = [&](const UncertainInput& other) { return other.key == input.key; };
    const auto end = all.begin() + static_cast<std::ptrdiff_t>(count);
    const auto found = std::find_if(all.begin(), end, same);
    if (found == end) all.push_back(std::move(input));
    else if (found->property.empty()) found->property = input.property;
  }
  all.erase(
      std::remove_if(all.begin(), all.end(), [](const UncertainInput& input) { return !(input.spread.sd > 0.0); }),
      all.end());
  return all;
}

// ---------------------------------------------------------------------------------------------------------

SamplePlan plan_for(std::size_t samples, std::uint64_t seed) {
  if (samples < 16 || samples > (std::size_t{1} << 24U)) throw std::invalid_argument("16 to 16777216 samples");
  SamplePlan plan;
  plan.seed = seed;
  plan.points = 2;
  while (plan.size() < samples) plan.points *= 2;
  return plan;
}

bool KindSet::has(UncertainKind kind) const noexcept {
  switch (kind) {
    case UncertainKind::measurement: return measurement;
    case UncertainKind::property: return property;
    case UncertainKind::model_form: return model_form;
  }
  return false;
}

Sampler::Sampler(std::vector<UncertainInput> inputs, SamplePlan plan)
    : inputs_(std::move(inputs)), plan_(plan), sobol_(inputs_.size()) {
  if (plan_.replicates < 2) throw std::invalid_argument("two replicates or more");
  if (plan_.points == 0 || (plan_.points & (plan_.points - 1)) != 0)
    throw std::invalid_argument("points: a power of two");
}

double Sampler::unit(std::size_t index, std::size_t input) const {
  const std::size_t replicate = index / plan_.points;
  const std::uint64_t key = mix_bits(mix_bits(mix_bits(plan_.seed) ^ (replicate + 1)) ^ (input + 1));
  return owen_scrambled(sobol_.bits(index % plan_.points, input), key);
}

CaseInput Sampler::sample(const CaseInput& base, std::size_t index, const KindSet& kinds) const {
  CaseInput input = base;
  for (std::size_t k = 0; k < inputs_.size(); ++k)
    if (kinds.has(inputs_[k].kind)) inputs_[k].apply(input, quantile(inputs_[k].spread, unit(index, k)));
  return input;
}

// ---------------------------------------------------------------------------------------------------------

double sample_quantile(std::span<const double> sorted, double p) {
  const auto n = static_cast<double>(sorted.size());
  constexpr double kThird = 1.0 / 3.0;
  const double h = std::clamp((n + kThird) * p + kThird, 1.0, n);
  const auto below = static_cast<std::size_t>(h) - 1;
  const std::size_t above = std::min(below + 1, sorted.size() - 1);
  return sorted[below] + (h - std::floor(h)) * (sorted[above] - sorted[below]);
}

std::optional<Band> band_of(std::span<const std::optional<double>> values, std::size_t replicates) {
  std::vector<double> sorted;
  for (const auto& value : values)
    if (value) sorted.push_back(*value);
  if (sorted.empty()) return {};
  std::sort(sorted.begin(), sorted.end());
  Band band;
  band.count = sorted.size();
  band.in_full = sorted.size();
  band.median = sample_quantile(sorted, 0.5);
  band.low = sample_quantile(sorted, 0.05);
  band.high = sample_quantile(sorted, 0.95);

  // How the share below the pooled quantile scatters between replicates, turned into a distance along the pooled
  // sample.
  const std::size_t points = values.size() / replicates;
  const auto n = static_cast<double>(sorted.size());
  const auto error = [&](double p, double at) {
    double sum = 0.0;
    std::size_t used = 0;
    for (std::size_t r = 0; r < replicates; ++r) {
      std::size_t here = 0;
      double below = 0.0;
      for (std::size_t i = r * points; i < (r + 1) * points; ++i) {
        if (!values[i]) continue;
        ++here;
        below += *values[i] < at ? 1.0 : *values[i] == at ? 0.5 : 0.0;
      }
      if (here == 0) continue;
      ++used;
      // weighted by how many of its samples have the result
      const double share = static_cast<double>(here) / n;
      const double off = below / static_cast<double>(here) - p;
      sum += share * share * off * off;
    }
    if (used < 2) return 0.0;
    const auto m = static_cast<double>(used);
    const double share_error = std::max(std::sqrt(sum * m / (m - 1.0)), 0.5 / n);
    const double above = sample_quantile(sorted, std::min(1.0, p + share_error));
    const double under = sample_quantile(sorted, std::max(0.0, p - share_error));
    return 0.5 * (above - under);
  };
  band.median_error = error(0.5, band.median);
  band.low_error = error(0.05, band.low);
  band.high_error = error(0.95, band.high);
  return band;
}

double jackknife_error(std::span<const double> without) {
  const auto n = static_cast<double>(without.size());
  double mean = 0.0;
  for (const double value : without) mean += value / n;
  double sum = 0.0;
  for (const double value : without) sum += (value - mean) * (value - mean);
  return std::sqrt((n - 1.0) / n * sum);
}

std::pair<double, double> wilson_interval(double share, double samples, double z) {
  const double spread = z * z / samples;
  const double middle = (share + 0.5 * spread) / (1.0 + spread);
  const double half = z / (1.0 + spread) * std::sqrt(share * (1.0 - share) / samples + 0.25 * spread / samples);
  return {share > 0.0 ? std::max(0.0, middle - half) : 0.0, share < 1.0 ? std::min(1.0, middle + half) : 1.0};
}

Share share_with_error(double value, double scatter, double samples) {
  constexpr double k95 = 1.959963984540054;  // 97.5 % of the standard normal distribution
  Share share;
  share.value = std::clamp(value, 0.0, 1.0);
  const auto none = wilson_interval(0.0, samples, 1.0);
  share.error = std::max(scatter, 0.5 * (none.second - none.first));
  std::tie(share.low, share.high) = wilson_interval(share.value, samples, k95);
  return share;
}

Share share_of(const std::vector<bool>& marked, std::size_t replicates) {
  std::size_t count = 0;
  const std::size_t points = marked.size() / replicates;
  std::vector<double> parts(replicates);
  for (std::size_t i = 0; i < marked.size(); ++i) {
    if (!marked[i]) continue;
    ++count;
    parts[std::min(i / points, replicates - 1)] += 1.0 / static_cast<double>(points);
  }
  const auto total = static_cast<double>(marked.size());
  const double value = static_cast<double>(count) / total;
  double sum = 0.0;
  for (const double part : parts) sum += (part - value) * (part - value);
  const auto n = static_cast<double>(replicates);
  Share share = share_with_error(value, replicates > 1 ? std::sqrt(sum / (n * (n - 1.0))) : 0.0, total);
  share.count = count;
  share.total = marked.size();
  return share;
}

Spreadout spread_out(const CaseInput& base, const Sampler& sampler, const KindSet& kinds,
                     std::span<const ResultFunction> results, const BatchRunner& runner) {
  const std::size_t samples = sampler.size();
  const std::size_t replicates = sampler.plan().replicates;
  std::vector<std::size_t> numbers(samples);
  std::iota(numbers.begin(), numbers.end(), std::size_t{0});
  const SampleRuns runs =
      run_samples(numbers, [&](std::size_t i) { return sampler.sample(base, i, kinds); }, results, runner);
  std::map<model::FibreClass, std::vector<bool>> classes;
  std::map<model::Landing, std::vector<bool>> landings;
  std::vector<bool> failed(samples);
  for (std::size_t i = 0; i < samples; ++i) {
    const SampleEnd& end = runs.ends[i];
    failed[i] = !end.done;
    if (!end.done) continue;
    classes.try_emplace(end.fibre_class, samples).first->second[i] = true;
    if (end.landing != model::Landing::none) landings.try_emplace(end.landing, samples).first->second[i] = true;
  }
  Spreadout out;
  out.samples = samples;
  out.in_full = samples;
  out.not_converged = runs.not_converged;
  out.reasons = runs.reasons;
  out.no_result = share_of(failed, replicates);
  for (const auto& [fibre_class, marked] : classes) out.classes[fibre_class] = share_of(marked, replicates);
  for (const auto& [landing, marked] : landings) out.landings[landing] = share_of(marked, replicates);
  for (const auto& column : runs.values) out.bands.push_back(band_of(column, replicates));
  return out;
}

}  // namespace whorl::engine
