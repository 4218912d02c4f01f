// What is uncertain about a case, samples of it, and what the samples say of the results.
#pragma once
#include <array>
#include <cstdint>
#include <functional>
#include <limits>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "whorl/engine/batch.hpp"
#include "whorl/engine/setup.hpp"
#include "whorl/engine/sobol.hpp"
#include "whorl/model/case.hpp"
#include "whorl/model/result.hpp"

namespace whorl::engine {

/// Where a doubt comes from. A measurement can remove the first two kinds; the third is about the equations.
enum class UncertainKind {
  measurement,  ///< a setting or a measured property with what the case states behind "+-" (or a usual doubt of such a
                ///< measurement)
  property,     ///< a value of the library or of an estimate that the library makes
  model_form    ///< a relation between quantities: axial drag, heat and mass transfer, swirl of the air, excess draw
};
[[nodiscard]] const char* to_string(UncertainKind kind) noexcept;
inline constexpr std::array kUncertainKinds{UncertainKind::measurement, UncertainKind::property,
                                            UncertainKind::model_form};

enum class SpreadKind { normal, uniform, lognormal };
[[nodiscard]] const char* to_string(SpreadKind kind) noexcept;

/// Distribution of one value, cut off at `low` and `high`.
struct Spread {
  SpreadKind kind{SpreadKind::normal};
  double value{};  ///< mean of a normal, middle of a uniform, median of a lognormal value
  double sd{};     ///< standard deviation; lognormal: that of the logarithm, times `value`
  double low{-std::numeric_limits<double>::infinity()};
  double high{std::numeric_limits<double>::infinity()};
};

/// Value below which a share u of the distribution lies.
/// Eq: spread-quantile
/// Valid: 0 < u < 1; sd >= 0 (0: `value`); value > 0 when lognormal; [low, high] holds some of the distribution, else
/// its nearest end
[[nodiscard]] double quantile(const Spread& spread, double u);

/// One uncertain input of a case.
struct UncertainInput {
  std::string key;       ///< numeric key of the case file that a sample sets: "model.relaxation_time_factor"
  std::string property;  ///< key of the property that it stands for ("relaxation_time"); empty for a setting
  UncertainKind kind{};
  Spread spread;         ///< SI
  std::string source;    ///< where the spread comes from, for people
  std::function<void(model::CaseInput&, double)> apply;  ///< sets a value, SI
};

/// Measured properties with the doubt stated or usual (kind measurement), and what the library and its estimates say
/// with the standard deviation they state, as factors (kind property). Derived values are left out: intrinsic viscosity
/// and overlap are inside the viscosity, the modulus follows from viscosity and relaxation time, which keeps them
/// correlated.
/// Eq: library-spread
/// Source: lognormal about the library's value; normal for temperatures, chi and the index of shear thinning: own
/// choice
[[nodiscard]] std::vector<UncertainInput> uncertain_properties(const Setup& setup);

/// Doubts of the relations themselves. Own choices where no source is named; a case that states "+-" for the key
/// replaces them.
struct ModelForm {
  double axial_drag_factor{
      2.0};  ///< 5 and 95 % of the axial drag lie at 1/factor and factor: published laws differ by 2 to 5
  double transfer_log_sd{0.2};       ///< of heat and mass transfer together (their analogy holds better than either)
  double air_swirl_half_width{0.3};  ///< uniform about the value of the case, inside 0 to 1
  double excess_draw_factor{
      4.0};  ///< 5 and 95 % at 1/factor and factor: lines are laid at 5 to 50 % of the collector's speed, or whip
  double critical_layer_factor{2.0};  ///< 5 and 95 %: the two closures of the layer differ by 1.5 to 4
  double thread_size_factor{4.0};    ///< 5 and 95 %: gas-only studies, study by study left out (tools/thread-law)
  double breakup_threshold_sd{2.5};  ///< ln(a/eps0): 8 to 16 are in use
};
/// Eq: model-form-spread
[[nodiscard]] std::vector<UncertainInput> uncertain_model_form(const model::CaseInput& input,
                                                               const ModelForm& form = {});

/// `stated` first, then those of `usual` whose key is not among them. Spreads without width are dropped.
[[nodiscard]] std::vector<UncertainInput> join_uncertain(std::vector<UncertainInput> stated,
                                                         std::vector<UncertainInput> usual);

/// Kind of doubt that a "+-" behind this key of the case states.
[[nodiscard]] UncertainKind kind_of_key(const std::string& key);

// ---------------------------------------------------------------------------------------------------------

/// How many samples: independent scramblings ("replicates") of the first points of a Sobol sequence. The scatter
/// between replicates tells the error of the result.
struct SamplePlan {
  std::size_t points{32};     ///< per replicate; a power of two
  std::size_t replicates{8};  ///< at least 2
  std::uint64_t seed{1};
  bool all_in_full{};         ///< never on two levels (engine/two_levels.hpp)
  [[nodiscard]] std::size_t size() const noexcept { return points * replicates; }
};
/// The plan of at least `samples` runs with 8 replicates: 1000 gives 8 times 128.
/// Error: std::invalid_argument unless 16 <= samples <= 2^24.
[[nodiscard]] SamplePlan plan_for(std::size_t samples, std::uint64_t seed = 1);

/// Which kinds of doubt take part.
struct KindSet {
  bool measurement{true}, property{true}, model_form{true};
  [[nodiscard]] bool has(UncertainKind kind) const noexcept;
};

/// Samples of the uncertain inputs. Point i depends on the plan and i alone.
class Sampler {
 public:
  /// Error: std::invalid_argument: fewer than two replicates, points no power of two.
  Sampler(std::vector<UncertainInput> inputs, SamplePlan plan);

  [[nodiscard]] std::size_t size() const noexcept { return plan_.size(); }
  [[nodiscard]] const SamplePlan& plan() const noexcept { return plan_; }
  [[nodiscard]] const std::vector<UncertainInput>& inputs() const noexcept { return inputs_; }

  /// Coordinate in (0, 1) of sample `index` (replicate by replicate) for one input.
  /// Eq: owen-scrambling
  [[nodiscard]] double unit(std::size_t index, std::size_t input) const;

  /// The case with the values of sample `index`; kinds that do not take part keep the values of `base`. The same index
  /// has the same values whichever kinds take part.
  [[nodiscard]] model::CaseInput sample(const model::CaseInput& base, std::size_t index,
                                        const KindSet& kinds = {}) const;

 private:
  std::vector<UncertainInput> inputs_;
  SamplePlan plan_;
  Sobol sobol_;
};

// ---------------------------------------------------------------------------------------------------------

/// Median and 5 to 95 % band of one result, each with its standard error.
struct Band {
  std::size_t count{};    ///< samples that have this result; on two levels: how many would have it
  std::size_t in_full{};  ///< of those that were run in full
  double median{}, low{}, high{};
  double median_error{}, low_error{}, high_error{};
};

/// A share of all samples.
struct Share {
  std::size_t count{}, total{};
  double value{};
  double error{};        ///< standard error
  double low{}, high{};  ///< 95 % interval
};

/// Quantile p of sorted values, median-unbiased definition.
/// Eq: sample-quantile
/// Source: definition 8 of Hyndman & Fan, Amer. Statistician 50 (1996) 361 (from memory)
[[nodiscard]] double sample_quantile(std::span<const double> sorted, double p);

/// Band of the values that are there; values of one replicate stand together. Error: the scatter between replicates of
/// the share below the quantile, turned into a distance along the pooled sample.
/// Eq: replicate-error
/// Valid: two replicates or more with a value each, else errors are 0; 8 replicates know their error to a quarter
/// Source: R. S. Woodruff, J. Amer. Statist. Assoc. 47 (1952) 635 (interval of a quantile from that of a share; from
/// memory)
[[nodiscard]] std::optional<Band> band_of(std::span<const std::optional<double>> values, std::size_t replicates);

/// Standard error of a statistic from its values without one replicate after the other.
/// Eq: jackknife-error
/// Source: B. Efron & C. Stein, Ann. Statist. 9 (1981) 586
[[nodiscard]] double jackknife_error(std::span<const double> without);

/// Interval of a share of so many samples, `z` standard deviations of the normal distribution wide to either side.
/// Eq: wilson
/// Valid: independent samples; those of a Sampler are more even, so it is on the safe side
/// Source: E. B. Wilson, J. Amer. Statist. Assoc. 22 (1927) 209 (from memory)
[[nodiscard]] std::pair<double, double> wilson_interval(double share, double samples, double z);

/// A share as it is told, in the one place that knows its error: `scatter` is what its parts scatter, but they may
/// agree by chance, above all when all samples lie on one side. So the error is at least that of none or all of so many
/// independent ones, and the 95 % interval is Wilson's.
/// Eq: replicate-share
[[nodiscard]] Share share_with_error(double value, double scatter, double samples);

/// Share of the samples that are marked; error from the replicates.
/// Eq: replicate-share
[[nodiscard]] Share share_of(const std::vector<bool>& marked, std::size_t replicates);

/// A result to be summarised; SI or not is the caller's choice.
struct ResultFunction {
  std::string key;
  std::function<std::optional<double>(const model::Estimate&)> get;
  /// What stands for it where a sample is run cheaply; empty: the same.
  std::function<std::optional<double>(const model::Estimate&)> cheap{};
  bool fraction{};  ///< from 0 to 1
};

/// What a set of samples says.
struct Spreadout {
  std::size_t samples{};
  std::size_t in_full{};                             ///< of those, run in the tier of the case
  std::size_t not_converged{};                       ///< of those in full; refused ones among them
  Share no_result;                                   ///< of all samples
  std::map<std::string, std::size_t> reasons;        ///< of those, how often
  std::map<model::FibreClass, Share> classes;  ///< only those that occur; shares of all samples, failed ones included
  std::map<model::Landing, Share> landings;          ///< of those that land
  std::vector<std::optional<Band>> bands;  ///< one per result function, over the samples that have this result
};

/// Runs the samples of `kinds` in batches and sums them up.
/// Error: Interrupted.
[[nodiscard]] Spreadout spread_out(const model::CaseInput& base, const Sampler& sampler, const KindSet& kinds,
                                   std::span<const ResultFunction> results, const BatchRunner& runner);

}  // namespace whorl::engine
